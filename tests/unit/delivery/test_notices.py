"""HELD.txt for photographers, and stamps for sync jobs."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from lanternslide.delivery.notices import PAUSE_SECONDS, HeldNotes, Stamps
from lanternslide.ledger import OriginalState
from lanternslide.records import DroppedFile
from lanternslide.records.events import Event, Passed, Waits
from lanternslide.report.obstacles import Obstacles
from lanternslide.storage.probe import Probe
from lanternslide.words import Held, Passing, Said
from tests.support.hanging import DEADLINE, Share
from tests.support.household import CONFIG, Household, household

PROOFS = CONFIG.replace('drop = "drop/ida"', 'drop = "drop/ida"\nproofs = "proofs/ida"').replace(
    'drop = "drop/juno"', 'drop = "drop/juno"\nproofs = "proofs/juno"'
)
BECAUSE = "It is cut short: export it again."


@pytest.fixture
def home(tmp_path: Path) -> Iterator[Household]:
    """Return a home where both photographers have proof sheets."""
    with household(tmp_path, PROOFS) as home:
        (tmp_path / "proofs").mkdir()
        yield home


@pytest.fixture
def notes(home: Household) -> HeldNotes:
    """Return what keeps HELD.txt."""
    return HeldNotes(home.photographers, home.ledger.reading, Obstacles(home.told.append), Probe(DEADLINE))


def hold(home: Household, name: str, reason: str = BECAUSE, photographer: str = "ida") -> DroppedFile:
    """Drop an original that is held."""
    file = home.drop(name, photographer=photographer)
    row = home.ledger.originals.take_in(file, file.relative)
    home.decisions.hold(row.id, file, Said(key=Held.CUT_SHORT.value, text=reason))
    return file


def let_go(home: Household, file: DroppedFile) -> None:
    """Hold an original no longer."""
    home.ledger.originals.set_state(home.row(file).id, OriginalState.GONE)


def note_of(home: Household, photographer: str = "ida") -> Path:
    """Return where a photographer's HELD.txt is."""
    return home.home.root / "proofs" / photographer / "HELD.txt"


def told(events: list[Event]) -> list[tuple[str, str]]:
    """Return what was told to be in the way, of what, and that it has passed."""
    return [
        (event.what, "passed" if isinstance(event, Passed) else event.said.key)
        for event in events
        if isinstance(event, Waits | Passed)
    ]


# HELD.txt


def test_a_photographer_reads_what_is_held_and_why(home: Household, notes: HeldNotes) -> None:
    """Their own pictures alone, with the path below the drop folder."""
    hold(home, "islands/seal.jpg")
    hold(home, "kelp.jpg", "Nobody can read this.", photographer="juno")
    notes.write()

    ida, juno = (note_of(home, name).read_text("utf-8") for name in ("ida", "juno"))
    assert "islands/seal.jpg" in ida
    assert BECAUSE in ida
    assert "kelp" not in ida
    assert "Nobody can read this." in juno


def test_it_exists_only_while_something_is_held(home: Household, notes: HeldNotes) -> None:
    """With the last picture it goes, and says less with each before; without any there never is one."""
    notes.write()
    assert list((home.home.root / "proofs").iterdir()) == []

    files = [hold(home, "seal.jpg"), hold(home, "gull.jpg")]
    notes.write()
    let_go(home, files[0])
    notes.write()
    assert "seal.jpg" not in note_of(home).read_text("utf-8")
    let_go(home, files[1])
    notes.write()
    assert not note_of(home).exists()


def test_one_that_its_owner_deleted_is_written_again(home: Household, notes: HeldNotes) -> None:
    """As long as something is held; one that says what it should is left alone."""
    hold(home, "seal.jpg")
    notes.write()
    first = note_of(home).stat()
    notes.write()
    assert note_of(home).stat().st_mtime_ns == first.st_mtime_ns

    note_of(home).unlink()
    notes.write()
    assert note_of(home).is_file()


def test_what_an_earlier_run_left_is_brought_up_to_date(home: Household, notes: HeldNotes) -> None:
    """It is known by its first words."""
    hold(home, "seal.jpg")
    notes.write()
    let_go(home, home.look("seal.jpg"))
    HeldNotes(home.photographers, home.ledger.reading, Obstacles(home.told.append), Probe(DEADLINE)).write()

    assert not note_of(home).exists()


@pytest.mark.parametrize("content", [b"my own notes", b"", b"\xff\xfe"])
def test_a_note_of_somebody_elses_is_never_touched(home: Household, notes: HeldNotes, content: bytes) -> None:
    """It is in the way only while something is held."""
    note_of(home).parent.mkdir()
    note_of(home).write_bytes(content)
    notes.write()
    assert (told(home.told), notes.is_due) == ([], False)

    file = hold(home, "seal.jpg")
    notes.write()
    assert told(home.told) == [("ida: proofs", Passing.NOTE_IN_THE_WAY)]
    assert notes.is_due
    let_go(home, file)
    notes.write()
    assert told(home.told)[1:] == [("ida: proofs", "passed")]
    assert note_of(home).read_bytes() == content


def test_a_folder_in_its_place_is_an_obstacle(home: Household, notes: HeldNotes) -> None:
    """Others have their notes all the same."""
    note_of(home).mkdir(parents=True)
    hold(home, "seal.jpg")
    hold(home, "kelp.jpg", photographer="juno")
    notes.write()

    assert told(home.told) == [("ida: proofs", Passing.FOLDER_TROUBLE)]
    assert note_of(home, "juno").is_file()


def test_a_proof_folder_that_hangs_stops_nobody_elses(home: Household, notes: HeldNotes) -> None:
    """It is looked at again as long as it does not answer."""
    hold(home, "seal.jpg")
    hold(home, "kelp.jpg", photographer="juno")
    with Share.made() as share:
        share.hang(note_of(home).parent)
        notes.write()

        assert told(home.told) == [("ida: proofs", Passing.FOLDER_TROUBLE)]
        assert (note_of(home).exists(), note_of(home, "juno").is_file(), notes.is_due) == (False, True, True)


def test_a_proof_folder_that_answers_again_is_in_the_way_no_more(
    home: Household, notes: HeldNotes, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Also if nothing has changed meanwhile."""
    hold(home, "seal.jpg")
    notes.write()
    later = time.monotonic() + 100
    monkeypatch.setattr(time, "monotonic", lambda: later)
    with Share.made() as share:
        share.hang(note_of(home).parent)
        notes.write()
        assert told(home.told) == [("ida: proofs", Passing.FOLDER_TROUBLE)]

        share.come_back()
        for _ in range(10_000):  # until what was asked before has heard of it
            notes.write()
            if not notes.is_due:
                break

    assert told(home.told)[1:] == [("ida: proofs", "passed")]


def test_notes_are_written_when_due_and_after_a_pause(home: Household, notes: HeldNotes) -> None:
    """At the start too; then at most every five seconds."""
    hold(home, "seal.jpg")
    notes.write_if_due(1000.0)
    assert "seal.jpg" in note_of(home).read_text("utf-8")

    hold(home, "gull.jpg")
    notes.write_if_due(1000.0 + PAUSE_SECONDS)
    assert "gull.jpg" not in note_of(home).read_text("utf-8"), "nobody has said that something changed"
    notes.is_due = True
    notes.write_if_due(1000.0 + PAUSE_SECONDS - 0.01)
    assert "gull.jpg" not in note_of(home).read_text("utf-8")
    notes.write_if_due(1000.0 + PAUSE_SECONDS)
    assert "gull.jpg" in note_of(home).read_text("utf-8")


def test_who_has_no_proof_folder_has_no_note(home: Household) -> None:
    """There is nowhere to put it."""
    home.read(CONFIG)
    hold(home, "seal.jpg")
    HeldNotes(home.photographers, home.ledger.reading, Obstacles(home.told.append), Probe(DEADLINE)).write()

    assert not note_of(home).parent.exists()


# Stamps


class Stamped:
    """Stamps in a folder of their own, and what was touched of them since one looked last."""

    def __init__(self, folder: Path) -> None:
        self.events: list[Event] = []
        self.folder = folder
        self.stamps = Stamps(folder, Obstacles(self.events.append))

    def touched(self) -> set[str]:
        """Return the destinations whose stamp was touched."""
        found = {path.name for path in self.folder.iterdir()} if self.folder.is_dir() else set()
        for name in found:
            (self.folder / name).unlink()
        return found


@pytest.fixture
def stamped(tmp_path: Path) -> Stamped:
    """Return stamps of which none was touched yet."""
    return Stamped(tmp_path / "stamps")


def test_a_stamp_is_touched_when_its_queue_has_become_empty(stamped: Stamped) -> None:
    """Once, after the last picture, so that a sync job runs when all is there; each destination by itself."""
    stamped.stamps.begin(["club", "journal"])
    stamped.stamps.begin(["club"])
    stamped.stamps.deliver("club")
    stamped.stamps.deliver("journal")
    assert stamped.touched() == set()

    stamped.stamps.end(["club", "journal"])
    assert stamped.touched() == {"journal"}
    stamped.stamps.end(["club"])
    assert stamped.touched() == {"club"}
    stamped.stamps.begin(["club"])
    stamped.stamps.end(["club"])
    assert stamped.touched() == set(), "nothing new was delivered"


def test_older_work_is_stamped_once_at_its_end(stamped: Stamped) -> None:
    """It is in no queue; what is fresh and still on its way is waited for."""
    stamped.stamps.deliver("club", is_older=True)
    stamped.stamps.end(())
    assert stamped.touched() == set()

    stamped.stamps.begin(["club"])
    stamped.stamps.end_older()
    assert stamped.touched() == set()
    stamped.stamps.end(["club"])
    assert stamped.touched() == {"club"}
    stamped.stamps.end_older()
    assert stamped.touched() == set()


@pytest.mark.parametrize(
    ("stamp", "touched"), [(None, True), (-1, True), (0, False), (1, False)]
)  # fmt: skip
def test_what_a_killed_service_delivered_is_stamped_at_the_start(
    stamped: Stamped, stamp: float | None, *, touched: bool
) -> None:
    """Where the stamp, if there is any, is older than the last delivery; *stamp* is how much later it was touched."""
    delivered_at = 1_577_836_800  # the beginning of 2020 (POSIX time)
    if stamp is not None:
        stamped.folder.mkdir()
        (stamped.folder / "club").touch()
        os.utime(stamped.folder / "club", (delivered_at + stamp,) * 2)

    stamped.stamps.catch_up({"club": "2020-01-01T00:00:00+00:00"})

    path = stamped.folder / "club"
    assert (path.stat().st_mtime > delivered_at + 1) is touched, "a touch is of today"


def test_a_stamp_that_cannot_be_touched_is_touched_later(stamped: Stamped) -> None:
    """That is told once, for each destination."""
    stamped.folder.touch()
    stamped.stamps.deliver("club")
    stamped.stamps.end(())
    stamped.stamps.end(())
    assert told(stamped.events) == [("stamp of club", Passing.FOLDER_TROUBLE)]

    stamped.folder.unlink()
    stamped.stamps.end(())
    assert stamped.touched() == {"club"}
    assert told(stamped.events)[1:] == [("stamp of club", "passed")]
