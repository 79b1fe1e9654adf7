"""The small parts of the main loop, and what the main process loads."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from lanternslide.config import load_settings
from lanternslide.config.settings import Service
from lanternslide.daemon.limits import Limits
from lanternslide.daemon.mail import Hint, Mailbox, Stop
from lanternslide.daemon.obstacles import Obstacles
from lanternslide.daemon.pauses import FIRST_SECONDS, LONGEST_SECONDS, Pauses
from lanternslide.daemon.recipes import place_of, recipe_of, wanted_by
from lanternslide.intake import route
from lanternslide.records import SizeRule
from lanternslide.records.events import Event, Passed, Waits
from lanternslide.words import Passing, say

CONFIG = Path(__file__).resolve().parents[3] / "config" / "home-server.toml"


def test_the_main_process_never_loads_the_imaging_code() -> None:
    """Pixels live and die in workers: nothing of what decodes them is loaded with the command line."""
    heavy = ("numpy", "PIL", "pyvips", "pyexiv2", "lanternslide.imaging", "lanternslide.worker", "lanternslide.chain")
    script = f"import lanternslide.cli.main, sys; print([name for name in {heavy!r} if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)

    assert done.stdout.strip() == "[]"


def test_time_limits_follow_the_work() -> None:
    """Automatic limits grow with megapixels, deliveries and bytes; a fixed one holds for everything."""
    auto, fixed = Limits.of(Service()), Limits.of(Service(job_timeout_seconds=60))

    assert auto.make_timeout(24, 2) == 120 + 2 * 24 * 2
    assert auto.survey_timeout(5_000_000) == 121
    assert (fixed.make_timeout(24, 2), fixed.survey_timeout(5_000_000)) == (60, 60)
    assert (auto.scan_pause(events=True), auto.scan_pause(events=False)) == (600, 30)
    assert auto.workers >= 1


def test_pauses_grow_and_are_forgotten() -> None:
    """A pause doubles up to a limit, for each thing by itself, and begins anew when it has passed."""
    pauses = Pauses()
    found = [pauses.next_pause("club") for _ in range(10)]

    assert found[:3] == [FIRST_SECONDS, 2 * FIRST_SECONDS, 4 * FIRST_SECONDS]
    assert found[-1] == LONGEST_SECONDS
    assert pauses.next_pause("feed") == FIRST_SECONDS
    pauses.forget("club")
    assert pauses.next_pause("club") == FIRST_SECONDS


def test_an_obstacle_is_told_once() -> None:
    """A line when it begins, one when it becomes another, one when it has passed; none for each try."""
    told: list[Event] = []
    obstacles = Obstacles(told.append)
    first, second = say(Passing.READ_ONLY, folder="out"), say(Passing.DISK_FULL, folder="out")
    for said in (first, first, second, second):
        obstacles.meet("club", said)
    assert obstacles
    obstacles.pass_by("club")
    obstacles.pass_by("club")

    assert told == [Waits(what="club", said=first), Waits(what="club", said=second), Passed(what="club")]
    assert not obstacles


def test_mail_is_read_at_once_and_hints_only_once() -> None:
    """All mail is taken together; many events of one file are one hint."""
    mailbox = Mailbox()
    hint = Hint("ida", Path("x.jpg"))
    for item in (hint, hint, Stop(), Hint("ida", Path("y.jpg"))):
        mailbox.put(item)

    assert mailbox.read(0) == [Stop(), hint, Hint("ida", Path("y.jpg"))]
    assert mailbox.read(0) == []


def test_the_config_becomes_wishes() -> None:
    """Tags of a config lead to its destinations, each with a wish for every density and the photographer's own size."""
    settings = load_settings(CONFIG)
    place = place_of(settings, "juno")

    routing = route(Path("grey-seal@blog@club.tif"), place)
    wanted = wanted_by(settings, "juno", routing)

    assert [(wish.destination, wish.density) for wish in wanted] == [("journal", 1), ("journal", 2), ("club", 1)]
    juno = settings.photographers["juno"]
    journal, club = (recipe_of(settings.destination_for("juno", name), juno) for name in ("journal", "club"))
    assert journal.size == SizeRule(rule="long_edge", values=(1400,))
    assert club.size == SizeRule(rule="box", values=(1920, 1080))
    assert journal.rights.creator == juno.creator
    with pytest.raises(KeyError):
        _ = place.tags["portfolio"]
