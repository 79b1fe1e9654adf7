"""A state folder that goes away under a running service, and a disk that is full: real mounts, real processes."""

from __future__ import annotations

import shutil
import subprocess
import time
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import pytest

from tests.support.pictures import save_jpeg
from tests.support.service import Home, Watching, make_home, run, sweep, watching

pytestmark = pytest.mark.skipif(shutil.which("mount") is None, reason="needs mounts")


@pytest.fixture
def home(tmp_path: Path) -> Home:
    """Return a home with one photographer and three destinations."""
    return make_home(tmp_path)


def away(service: Watching) -> bool:
    """Return whether the service has said that its state folder is away."""
    return any(event["key"] == "state-away" for event in service.told("waits"))


def test_nothing_is_delivered_while_the_state_folder_is_away(home: Home) -> None:
    """It is said within seconds; when the folder is back, everything goes on, each picture once."""
    state = home.root / "state"
    with watching(home) as service:
        save_jpeg(home.drop() / "first@club.jpg", 90, 60)
        service.until(lambda: "club/first.jpg" in home.delivered(), "the first delivery")
        state.rename(home.root / "elsewhere")
        service.until(lambda: away(service), "the obstacle")
        save_jpeg(home.drop() / "second@club.jpg", 90, 60, seed=2)
        time.sleep(2)  # as long as it took before, several times over: nothing may happen now
        assert set(home.delivered()) == {"club/first.jpg"}
        assert not state.exists()
        (home.root / "elsewhere").rename(state)
        service.until(lambda: "club/second.jpg" in home.delivered(), "the second delivery")

    assert sweep(home).status == 0
    assert set(home.delivered()) == {"club/first.jpg", "club/second.jpg"}
    assert len(run(home, "history", "--json").output.splitlines()) == 2


def test_a_state_folder_that_was_deleted_ends_the_service_with_its_reason(home: Home) -> None:
    """Not in silence, and not with status 0; nothing is made anew in its place."""
    state = home.root / "state"
    with watching(home) as service:
        save_jpeg(home.drop() / "first@club.jpg", 90, 60)
        service.until(lambda: "club/first.jpg" in home.delivered(), "the first delivery")
        shutil.rmtree(state)
        service.until(lambda: away(service), "the obstacle")
        assert service.stop() == 4

    assert not state.exists()
    assert "lanternslide repair" in " ".join((home.root / "watch.log").read_text("utf-8").split())


@pytest.fixture
def small_disk(home: Home) -> Iterator[Path]:
    """Return a state folder on a disk of its own, which is small."""
    state = home.root / "state"
    state.mkdir(mode=0o700)
    mounted = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=96m,mode=0700", "tmpfs", state], check=False)
    if mounted.returncode:
        pytest.skip("needs the right to mount")
    yield state
    subprocess.run(["umount", "-l", state], check=True)


def test_pictures_can_be_taken_back_on_a_full_disk(home: Home, small_disk: Path) -> None:
    """From the room that is kept for that; `check` says that the disk is full."""
    original = save_jpeg(home.drop() / "first@club.jpg", 90, 60)
    assert sweep(home).status == 0
    with (small_disk / "filler").open("wb", buffering=0) as filler, suppress(OSError):
        while True:
            filler.write(bytes(4096))

    checked = run(home, "check")
    assert checked.status == 4, checked.output
    assert "is full" in " ".join(checked.output.split())
    withdrawn = run(home, "withdraw", original)
    assert withdrawn.status == 0, (withdrawn.output, withdrawn.errors)
    assert home.delivered() == {}
    (small_disk / "filler").unlink()
    assert sweep(home).status == 0
    assert home.delivered() == {}
    assert "is full" not in run(home, "check").output
