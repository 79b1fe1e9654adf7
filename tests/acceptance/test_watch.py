"""``lanternslide watch``, run as a service runs it."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import termios
from collections.abc import Callable
from pathlib import Path

import pytest
from PIL import Image

from tests.support.pictures import save_jpeg, size_of
from tests.support.service import PLAIN, SERVICE, Home, make_home, watching


@pytest.fixture
def home(tmp_path: Path) -> Home:
    """Return a photographer's folders, with three destinations."""
    return make_home(tmp_path)


@pytest.mark.parametrize(
    ("stored", "orientation", "expected"),
    [
        pytest.param((6000, 4000), 1, {"portfolio": (1050, 700), "journal": (1600, 1067)}, id="landscape"),
        pytest.param((2000, 3000), 1, {"portfolio": (700, 1050), "journal": (1067, 1600)}, id="portrait"),
        pytest.param((3000, 2000), 6, {"portfolio": (700, 1050), "journal": (1067, 1600)}, id="turned"),
    ],
)
def test_a_full_size_export_is_delivered_at_exact_sizes(
    home: Home, stored: tuple[int, int], orientation: int, expected: dict[str, tuple[int, int]]
) -> None:
    """Dropped while the service runs, a picture reaches two destinations: long edges exact, the others rounded."""
    with watching(home) as service:
        save_jpeg(home.drop() / "north-stack.jpg", *stored, orientation=orientation)
        service.until_told("batch done")
        assert service.stop() == 0

    for place, size in expected.items():
        with Image.open(home.out("ida", place, "north-stack.jpg")) as delivered:
            assert delivered.size == size
            assert delivered.getexif().get(0x0112) == 1


def test_a_folder_moved_in_whole_is_done(home: Home, tmp_path: Path) -> None:
    """All pictures of a folder that is moved into the drop folder are delivered."""
    elsewhere = tmp_path / "islands"
    elsewhere.mkdir()
    for number in range(3):
        save_jpeg(elsewhere / f"picture-{number}.jpg", 390, 270, seed=number)
    with watching(home) as service:
        service.until_started()
        shutil.move(elsewhere, home.drop() / "islands")
        service.until(lambda: len(home.delivered()) == 6, "six deliveries")
        assert service.stop() == 0

    assert {Path(name).parent.name for name in home.delivered()} == {"islands"}


def test_a_slow_copy_is_read_whole(home: Home) -> None:
    """A file that grows is not read before it has stopped growing."""
    whole = save_jpeg(home.root / "whole.jpg", 390, 270)
    data = whole.read_bytes()
    with watching(home) as service:
        service.until_started()
        with (home.drop() / "slow@club.jpg").open("wb") as stream:
            for start in range(0, len(data), len(data) // 8 + 1):
                stream.write(data[start : start + len(data) // 8 + 1])
                stream.flush()
                assert not home.delivered()
                # The writer holds the file open, so that even a pause longer than the settling time is no end.
                service.until(_pause(5), "a pause")
        service.until(lambda: home.out("club", "slow.jpg").exists(), "the delivery")
        assert service.stop() == 0

    assert size_of(home.out("club", "slow.jpg")) == (390, 270)


def _pause(looks: int) -> Callable[[], bool]:
    """Return a condition that holds after so many looks at it."""
    left = iter(range(looks))
    return lambda: next(left, None) is None


def test_new_drop_folder_without_restart(home: Home) -> None:
    """A drop folder that is missing at the start and comes later is found without a restart."""
    home.config.write_text(PLAIN.replace("workers = 2", "workers = 2\nscan_seconds = 1"))
    home.drop().rmdir()
    with watching(home) as service:
        service.until_told("waits")
        home.drop().mkdir()
        save_jpeg(home.drop() / "late@club.jpg", 390, 270)
        service.until(lambda: home.out("club", "late.jpg").exists(), "the delivery")
        assert service.stop() == 0

    assert [e["event"] for e in service.events() if e["event"] in ("waits", "goes on")] == ["waits", "goes on"]


def test_a_table_after_each_batch_on_a_terminal(home: Home) -> None:
    """On a terminal 80 columns wide it fits; the figures of a batch stand in it once the batch is done."""
    save_jpeg(home.drop() / "north-stack.jpg", 2000, 1300)
    master, terminal = os.openpty()
    termios.tcsetwinsize(terminal, (40, 80))
    command = [sys.executable, "-m", "lanternslide", "--config", str(home.config), "watch"]
    environment = {**os.environ, "PYTHONPATH": str(SERVICE), "TERM": "dumb"}
    process = subprocess.Popen(command, env=environment, stderr=terminal)
    os.close(terminal)
    shown = b""
    while b"2 deliveries" not in shown.partition(b"Quality")[2]:  # below the table
        shown += os.read(master, 4096)  # ends with an error if the service does
    process.terminate()
    assert process.wait(60) == 0
    os.close(master)

    table = shown.decode().partition("batch done")[2]
    assert re.search(r"portfolio +1 +\d+ kB +90 +90 ", table)
    assert re.search(r"journal +1 +\d+ kB +90 +90 ", table)
    assert max(map(len, table.splitlines())) <= 80


def test_no_table_where_nobody_looks(home: Home) -> None:
    """Into a file or a pipe go log lines alone, also where they are for a person."""
    home.config.write_text(PLAIN.replace("workers = 2", 'workers = 2\nlog = "console"'))
    save_jpeg(home.drop() / "north-stack.jpg", 2000, 1300)
    with watching(home) as service:
        service.until(lambda: "batch done" in (home.root / "watch.log").read_text(), "the batch")
        assert service.stop() == 0

    lines = (home.root / "watch.log").read_text().splitlines()
    assert [line for line in lines if not re.match(r"\d\d:\d\d:\d\d  | {10}[?-] ", line)] == []
