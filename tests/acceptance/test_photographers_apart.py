"""A service for each photographer: apart from the others', with a state folder of its own."""

from __future__ import annotations

import json
import os
import shutil
import signal
from pathlib import Path

import pytest

from tests.support.pictures import save_jpeg
from tests.support.service import PLAIN, make_home, run, watching

BOTH = (
    PLAIN
    + """
[photographers.juno]
drop = "drop/juno"
otherwise = ["club"]
"""
)


def test_each_service_does_its_own_photographers_work(tmp_path: Path) -> None:
    """Two services share a config and a destination, and neither touches the other's."""
    home = make_home(tmp_path, BOTH)
    with (
        watching(home, "--photographer", "ida", log="ida.log") as ida,
        watching(home, "--photographer", "juno", log="juno.log") as juno,
    ):
        save_jpeg(home.drop("ida") / "stack@club.jpg", 1500, 1000)
        ida.until(lambda: "club/stack.jpg" in home.delivered(), "the first delivery")
        save_jpeg(home.drop("juno") / "stack.jpg", 1600, 1000)
        juno.until(lambda: [event for event in juno.events() if event["event"] == "batch done"], "the second")
        status = run(home, "status", "--photographer", "juno")
        assert (ida.stop(), juno.stop()) == (0, 0)

    names = {path for path in home.delivered() if not Path(path).name.startswith(".")}
    assert names == {"club/stack.jpg", "club/stack-2.jpg"}
    assert "watch" in status.output
    assert "ida" not in status.output
    states = {path.parent.name for path in (tmp_path / "state").rglob("ledger.sqlite")}
    assert states == {"ida", "juno"}
    mine = run(home, "history", "--json", "--photographer", "ida").output
    assert [json.loads(line)["photographer"] for line in mine.splitlines()] == ["ida"]


def test_memory_is_shared(tmp_path: Path) -> None:
    """Each service has its share of the budget."""
    home = make_home(tmp_path, BOTH.replace("workers = 2", 'workers = 1\nmemory = "3 GiB"'))

    whole, share = (run(home, "check", *more).output for more in ((), ("--photographer", "ida")))

    assert "3.0 GiB of memory" in whole
    assert "1.5 GiB of memory" in share


def test_without_a_name_no_second_ledger_is_begun(tmp_path: Path) -> None:
    """Where services are divided, a command that names nobody says so and does nothing."""
    home = make_home(tmp_path, BOTH)
    save_jpeg(home.drop("ida") / "stack.jpg", 1500, 1000)
    assert run(home, "sweep", "--photographer", "ida").status == 0
    before = home.delivered()

    ran = run(home, "sweep")

    assert ran.status == 2
    assert "--photographer NAME" in ran.errors
    assert home.delivered() == before
    assert not (tmp_path / "state" / "ledger.sqlite").exists()


def test_a_manifest_that_services_would_share_is_refused(tmp_path: Path) -> None:
    """The key is named; one service for all may keep it."""
    shared = BOTH.replace("size = { box = [1920, 1080] }", "size = { box = [1920, 1080] }\nmanifest = true")
    home = make_home(tmp_path, shared)

    ran = run(home, "sweep", "--photographer", "ida")

    assert ran.status == 2
    assert "destinations.club.manifest" in ran.errors
    assert run(home, "sweep").status == 0


def test_an_unknown_photographer_is_named(tmp_path: Path) -> None:
    """Who there is instead is said."""
    ran = run(make_home(tmp_path, BOTH), "status", "--photographer", "ide")

    assert ran.status == 2
    assert "ida, juno" in ran.errors


def test_a_config_that_no_longer_names_the_photographer_is_refused(tmp_path: Path) -> None:
    """A service whose photographer is gone from the config, or called otherwise now, goes on with the former one."""
    home = make_home(tmp_path, BOTH)
    with watching(home, "--photographer", "juno") as juno:
        juno.until(lambda: [event for event in juno.events() if event["event"] == "watching"], "the start")
        home.config.write_text(PLAIN)
        juno.process.send_signal(signal.SIGHUP)
        juno.until(lambda: [event for event in juno.events() if event["event"] == "config refused"], "the refusal")
        assert juno.stop() == 0


@pytest.mark.skipif(os.name != "posix" or os.geteuid() != 0, reason="only root can leave files that others cannot use")
def test_root_leaves_nothing_in_another_users_state(tmp_path: Path) -> None:
    """A command of root's in the state folder of the service's user is refused, and says as whom to do it."""
    home = make_home(tmp_path)
    state = tmp_path / "state"
    state.mkdir()
    shutil.chown(state, "nobody")

    ran = run(home, "sweep")

    assert ran.status == 4
    assert "sudo -u nobody" in ran.errors
    assert list(state.iterdir()) == []
