"""Events of real folders: asked for, checked, and asked for again."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest

from lanternslide.daemon.inbox import Inbox
from lanternslide.intake import watches_in_place
from lanternslide.intake.event_monitor import EventMonitor
from lanternslide.intake.hints import Hint
from lanternslide.records.events import Event, Passed, Waits
from lanternslide.report.obstacles import Obstacles
from lanternslide.words import Passing
from tests.support.executors import PATIENCE

LATER = 1000.0


@dataclass
class Watched:
    """A monitor of a drop folder, what it leaves, and what is told."""

    monitor: EventMonitor
    drop: Path
    inbox: Inbox
    told: list[Event]

    def keys(self) -> list[str]:
        """Return what is in the way, in the order in which it was told."""
        return [event.said.key for event in self.told if isinstance(event, Waits)]

    def passed(self) -> list[str]:
        """Return what has passed."""
        return [event.what for event in self.told if isinstance(event, Passed)]

    def look(self, *, remote: bool = False) -> bool:
        """Look at the folder; return whether events tell of all that happens there."""
        self.monitor.look_at("ida", self.drop, remote=remote)
        return self.monitor.see("ida")


@pytest.fixture
def watched_by(tmp_path: Path) -> Iterator[Callable[[str], Watched]]:
    """Return how to have eyes that see what a config wants."""
    made: list[EventMonitor] = []

    def watched(wanted: str) -> Watched:
        told: list[Event] = []
        inbox = Inbox()
        monitor = EventMonitor(wanted, Obstacles(told.append))
        monitor.open(inbox.put)
        made.append(monitor)
        drop = tmp_path / "drop"
        drop.mkdir()
        return Watched(monitor, drop, inbox, told)

    yield watched
    for monitor in made:
        monitor.close()


@pytest.fixture
def watched(watched_by: Callable[[str], Watched]) -> Watched:
    """Return eyes that see what the system tells of, on a local folder."""
    return watched_by("auto")


@pytest.mark.parametrize(
    ("wanted", "remote", "sees"),
    [
        ("auto", False, True),
        ("auto", True, False),
        ("events", False, True),
        ("events", True, True),
        ("poll", False, False),
        ("poll", True, False),
    ],
)
def test_events_are_asked_for_where_they_come(
    watched_by: Callable[[str], Watched], wanted: str, *, remote: bool, sees: bool
) -> None:
    """A share sends none by itself; its owner may know better, or want none at all."""
    watched = watched_by(wanted)

    assert watched.look(remote=remote) is sees
    assert watched.monitor.see("juno") is False, "nobody looks at another's folder"
    assert watched.told == []


def test_what_happens_leaves_a_hint(watched: Watched) -> None:
    """With the photographer's name and the path below the drop folder, from the first look on."""
    watched.look()
    watched.look()
    (watched.drop / "seal.jpg").write_bytes(b"original")

    assert watched.inbox.read(PATIENCE) == [Hint("ida", Path("seal.jpg"))]


def test_a_sweep_has_no_eyes(tmp_path: Path) -> None:
    """It looks through everything once, and nobody reads hints."""
    monitor = EventMonitor("events", Obstacles(lambda _event: None))

    monitor.look_at("ida", tmp_path, remote=False)

    assert not monitor.see("ida")
    assert monitor.ping()
    assert monitor.blinded(LATER, lambda _name: False) == []
    monitor.close()


def test_a_folder_that_is_away_is_the_scans_to_tell(watched: Watched) -> None:
    """Nothing is said here, and it is watched once it is there."""
    watched.drop.rmdir()

    assert not watched.look()
    assert watched.told == []
    watched.drop.mkdir()
    assert watched.look()


@contextmanager
def no_more_open_files() -> Iterator[None]:
    """Let this process open no file meanwhile: the system says then what it says at its limit of watching programs."""
    resource = pytest.importorskip("resource")
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    resource.setrlimit(resource.RLIMIT_NOFILE, (3, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_NOFILE, (soft, hard))


@pytest.mark.skipif(sys.platform != "linux", reason="other systems have no such limit")
def test_at_the_systems_limit_of_watching_programs_scans_do_it(watched: Watched) -> None:
    """Its owner hears what to raise, once; when there is room again, that has passed."""
    with no_more_open_files():
        assert not watched.look()
        assert not watched.look()
    assert watched.keys() == [Passing.INSTANCE_LIMIT]

    assert watched.look()
    assert watched.passed() == ["ida: events"]


@pytest.mark.skipif(watches_in_place() is None, reason="the system does not tell what it watches")
def test_where_fewer_folders_are_watched_than_there_are_events_are_not_relied_on(watched: Watched) -> None:
    """The system leaves subfolders out without a word at its limit; scans come more often then."""
    for name in ("islands", "harbour"):
        (watched.drop / name).mkdir()
    watched.look()
    in_place = watches_in_place()
    assert in_place is not None
    assert in_place >= 3

    watched.monitor.count("ida", in_place)
    assert (watched.monitor.see("ida"), watched.keys()) == (True, [])
    watched.monitor.count("ida", in_place + 1)
    assert (watched.monitor.see("ida"), watched.keys()) == (False, [Passing.WATCH_LIMIT])
    watched.monitor.count("ida", 3)
    assert (watched.monitor.see("ida"), watched.passed()) == (True, ["events"])


def test_folders_that_are_not_watched_do_not_count(watched_by: Callable[[str], Watched]) -> None:
    """Whoever polls has no limit to reach."""
    watched = watched_by("poll")
    watched.look()
    watched.monitor.count("ida", 10**6)

    assert watched.told == []


# Are they still there


def replace_folder(watched: Watched) -> None:
    """Put another folder under the drop folder's name, as a share does that is connected anew."""
    watched.drop.rename(watched.drop.with_name("elsewhere"))
    watched.drop.mkdir()


def answers(_photographer: str) -> bool:
    """Return that a drop folder answers."""
    return True


def test_healthy_events_are_left_alone(watched: Watched) -> None:
    """Nothing is scanned for it."""
    watched.look()

    assert watched.monitor.blinded(LATER, answers) == []
    assert watched.monitor.see("ida")


def test_events_that_have_stopped_are_told_and_asked_for_again(watched: Watched) -> None:
    """What happened meanwhile only a scan tells; the scan watches the folder anew."""
    watched.look()
    replace_folder(watched)

    assert watched.monitor.blinded(LATER, answers) == ["ida"]
    assert (watched.monitor.see("ida"), watched.keys()) == (False, [Passing.EVENTS_STOPPED])

    assert watched.look()
    assert watched.passed() == ["ida: events"]
    (watched.drop / "seal.jpg").write_bytes(b"original")
    assert Hint("ida", Path("seal.jpg")) in watched.inbox.read(PATIENCE)


def test_a_folder_that_does_not_answer_is_asked_nothing_else(watched: Watched) -> None:
    """A share that hangs would stop the service; a scan says so, and that its events have stopped nobody knows."""
    watched.look()
    replace_folder(watched)

    assert watched.monitor.blinded(LATER, lambda _name: False) == ["ida"]
    assert watched.told == []


@pytest.mark.parametrize(("seconds", "found"), [(4.9, []), (5.0, ["ida"])])
def test_it_is_checked_every_five_seconds(watched: Watched, seconds: float, found: list[str]) -> None:
    """Not in each round of the main loop."""
    watched.look()
    assert watched.monitor.blinded(LATER, answers) == []
    replace_folder(watched)

    assert watched.monitor.blinded(LATER + seconds, answers) == found


def test_a_folder_that_was_shut_is_watched_again_when_it_is_looked_at(watched: Watched) -> None:
    """Meanwhile nothing is expected of it."""
    watched.look()
    watched.monitor.shut("ida")
    replace_folder(watched)

    assert not watched.monitor.see("ida")
    assert watched.monitor.blinded(LATER, answers) == []
    assert watched.look()


def test_eyes_that_are_closed_hand_nothing_on(watched: Watched) -> None:
    """As where their thread has died: the supervisor gets no sign of life then."""
    watched.look()
    assert watched.monitor.ping()

    watched.monitor.close()

    assert not watched.monitor.ping()
