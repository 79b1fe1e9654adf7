"""The ledger on a real SQLite file."""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from lanternslide.errors import StateDamagedError, StateLockedError, StateNewerError, StateUnwritableError
from lanternslide.ledger import DeliveryRow, Ledger, OriginalRow, OriginalState, Published, StateLock, Wanted
from lanternslide.records import DroppedFile, Fingerprint, Record
from lanternslide.words import Held, say

RECORD = Record(original="x.jpg", photographer="ida", state="delivered", version="0")
CLUB = Wanted(destination="club", density=1, recipe="{}")
JOURNAL = [Wanted(destination="journal", density=density, recipe="{}") for density in (1, 2)]


def file_of(name: str = "grey-seal.jpg", size: int = 1) -> DroppedFile:
    """Return a file that has settled."""
    fingerprint = Fingerprint(size=size, mtime_ns=5, inode=2**64 - 1)
    return DroppedFile(photographer="ida", drop=Path("/drop"), relative=Path(name), fingerprint=fingerprint)


def take_in(ledger: Ledger, name: str = "grey-seal.jpg", size: int = 1) -> OriginalRow:
    """Note a settled file that is its own picture."""
    return ledger.take_in(file_of(name, size), Path(name))


def publish(ledger: Ledger, row: DeliveryRow, digest: str = "d1", name: str = "out.jpg") -> None:
    """Note that a delivery stands."""
    ledger.intend(
        row.id, Published(path=Path("/out") / f"{row.id}-{name}", size=3, digest="j"), made_from=digest, record=RECORD
    )
    ledger.confirm(row.id, "2026-11-25T12:00:00+00:00")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return a state folder."""
    return tmp_path


@pytest.fixture
def ledger(folder: Path) -> Iterator[Ledger]:
    """Open a new ledger."""
    with Ledger(folder) as opened:
        yield opened


def test_a_life(ledger: Ledger) -> None:
    """An original waits, is worked on, and is delivered when all that it asks for stands."""
    row = take_in(ledger)
    assert (row.state, row.attempts, row.digest) == (OriginalState.WAITING, 0, None)

    wanted = ledger.want(row.id, "d1", [CLUB, *JOURNAL])
    assert [(item.destination, item.density) for item in wanted] == [("club", 1), ("journal", 1), ("journal", 2)]
    publish(ledger, wanted[0])
    assert not ledger.finish(row.id)
    publish(ledger, wanted[1])
    ledger.leave_out(wanted[2].id, "d1")
    assert ledger.finish(row.id)

    assert [item.state for item in ledger.deliveries_of(row.id)] == ["delivered", "delivered", "left out"]
    assert [record.delivered_at for record in ledger.records()] == ["2026-11-25T12:00:00+00:00"] * 2


def test_the_same_bytes_want_nothing(ledger: Ledger) -> None:
    """What was made from the same bytes is not made again; changed bytes want everything anew."""
    row = take_in(ledger)
    (delivery,) = ledger.want(row.id, "d1", [CLUB])
    publish(ledger, delivery)

    assert ledger.want(row.id, "d1", [CLUB]) == []
    (again,) = ledger.want(row.id, "d2", [CLUB])
    assert again.output == Published(path=Path(f"/out/{delivery.id}-out.jpg"), size=3, digest="j")


def test_other_tags_keep_what_stands(ledger: Ledger) -> None:
    """A delivery that is no longer asked for stays and is marked; it is no unfinished work."""
    row = take_in(ledger)
    (club,) = ledger.want(row.id, "d1", [CLUB])
    publish(ledger, club)

    ledger.want(row.id, "d1", JOURNAL[:1])

    assert [(item.destination, item.wanted, item.state) for item in ledger.deliveries_of(row.id)] == [
        ("club", False, "delivered"),
        ("journal", True, "waiting"),
    ]


def test_everything_survives_a_restart(folder: Path) -> None:
    """What was noted is there after closing and opening, with the ledger's own name."""
    with Ledger(folder) as before:
        row = take_in(before, os.fsdecode(b"caf\xe9.jpg"))
        (delivery,) = before.want(row.id, "d1", [CLUB])
        publish(before, delivery, name=os.fsdecode(b"caf\xe9.jpg"))
        name = before.name

    with Ledger(folder) as after:
        assert after.name == name
        assert after.originals_of("ida").keys() == {Path(os.fsdecode(b"caf\xe9.jpg"))}
        (row,) = after.originals_of("ida").values()
        assert row.fingerprint == file_of().fingerprint
        (found,) = after.deliveries_of(row.id)
        assert found.output is not None
        assert after.owner_of(found.output.path) == found


def test_what_was_worked_on_waits_after_a_restart(ledger: Ledger) -> None:
    """Work that was interrupted is given back; open intents are found."""
    row = take_in(ledger)
    (delivery,) = ledger.want(row.id, "d1", [CLUB])
    ledger.set_state(row.id, OriginalState.WORKING)
    intent = Published(path=Path("/out/x.jpg"), size=3, digest="j")
    ledger.intend(delivery.id, intent, made_from="d1", record=RECORD)

    ledger.give_back_work()

    assert ledger.originals_of("ida")[Path("grey-seal.jpg")].state is OriginalState.WAITING
    assert [row.intent for row in ledger.open_intents()] == [intent]
    ledger.take_back_intent(delivery.id)
    assert ledger.open_intents() == []
    assert [row.state for row in ledger.want(row.id, "d1", [CLUB])] == ["waiting"]


def test_attempts_belong_to_one_state_of_a_file(ledger: Ledger) -> None:
    """Attempts add up while the file stays as it is, and begin anew when it changes or after it was held."""
    row = take_in(ledger)
    assert [ledger.count_attempt(row.id), ledger.count_attempt(row.id)] == [1, 2]
    assert take_in(ledger).attempts == 2
    assert take_in(ledger, size=2).attempts == 0
    ledger.count_attempt(row.id)
    ledger.hold(row.id, say(Held.EMPTY))
    assert take_in(ledger, size=2).attempts == 0


def test_held_and_counts(ledger: Ledger) -> None:
    """What is held is listed with its reason, and states are counted by photographer."""
    held, _ = take_in(ledger, "a.jpg"), take_in(ledger, "b.jpg")
    ledger.hold(held.id, say(Held.EMPTY))

    assert [(row.path, row.reason_key) for row in ledger.held()] == [(Path("a.jpg"), "empty")]
    assert ledger.counts() == {("ida", OriginalState.HELD): 1, ("ida", OriginalState.WAITING): 1}


def test_used_folders_are_remembered(ledger: Ledger) -> None:
    """A destination's folder is known after its first use."""
    assert not ledger.has_used(Path("/out"))
    ledger.use_folder(Path("/out"))
    ledger.use_folder(Path("/out"))

    assert ledger.has_used(Path("/out"))
    assert ledger.used_folders() == [Path("/out")]


def test_commits_survive_a_power_cut_by_their_settings(folder: Path, ledger: Ledger) -> None:
    """Write-ahead log and full synchronisation, which SQLite's documentation asks for durable commits."""
    assert ledger._connection.execute("PRAGMA synchronous").fetchone()[0] == 2
    assert ledger._connection.execute("PRAGMA journal_mode").fetchone()[0] == "wal"
    assert (folder / "ledger.sqlite").exists()


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE original SET state = 'lost'",
        "UPDATE original SET state = 'held'",
        "UPDATE original SET reason = 'why'",
        "UPDATE original SET attempts = -1",
        "UPDATE original SET path = 'text'",
        "UPDATE delivery SET state = 'publishing'",
        "UPDATE delivery SET state = 'delivered'",
        "UPDATE delivery SET intent = x'00'",
        "UPDATE delivery SET output = x'00'",
        "UPDATE delivery SET density = 0.5",
        "UPDATE delivery SET wanted = 2",
        "UPDATE delivery SET original = 99",
        "INSERT INTO delivery (original, destination, density, recipe) VALUES (1, 'club', 1, '{}')",
        (
            "INSERT INTO original (photographer, picture, path, size, mtime_ns, inode) "
            "VALUES ('ida', CAST('grey-seal.jpg' AS BLOB), x'00', 1, 1, 1)"
        ),
        "INSERT INTO ledger VALUES (2, 'second')",
    ],
)
def test_wrong_states_are_impossible(ledger: Ledger, change: str) -> None:
    """The schema refuses every row that would mean nothing."""
    row = take_in(ledger)
    ledger.want(row.id, "d1", [CLUB])

    with pytest.raises(sqlite3.IntegrityError):
        ledger._connection.execute(change)


def test_two_deliveries_never_share_a_file(ledger: Ledger) -> None:
    """A published file belongs to one delivery."""
    row = take_in(ledger)
    club, journal = ledger.want(row.id, "d1", [CLUB, JOURNAL[0]])
    for item in (club, journal):
        ledger.intend(item.id, Published(path=Path("/out/x.jpg"), size=3, digest="j"), made_from="d1", record=RECORD)
    ledger.confirm(club.id, "now")

    with pytest.raises(StateUnwritableError):
        ledger.confirm(journal.id, "now")


def test_a_damaged_ledger_is_said_and_left_as_it_is(folder: Path) -> None:
    """A file that is no database is a clear error and is not written over."""
    file = folder / "ledger.sqlite"
    file.write_bytes(b"not a database, but long enough to look like one " * 100)
    before = file.read_bytes()

    with pytest.raises(StateDamagedError, match=r"ledger\.sqlite is damaged"):
        Ledger(folder)

    assert file.read_bytes() == before


def test_a_newer_ledger_is_refused(folder: Path) -> None:
    """A ledger of a newer version is not touched, and both versions are named."""
    with Ledger(folder):
        pass
    with closing(sqlite3.connect(folder / "ledger.sqlite")) as connection:
        connection.execute("PRAGMA user_version = 99")

    with pytest.raises(StateNewerError, match=r"format 99.*up to 1"):
        Ledger(folder)


def test_a_locked_database_stops_loudly(folder: Path, ledger: Ledger) -> None:
    """A failure of the ledger itself is no bad input: it stops the service."""
    ledger._connection.execute("PRAGMA busy_timeout = 50")
    with closing(sqlite3.connect(folder / "ledger.sqlite", isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(StateUnwritableError, match="locked"):
            take_in(ledger)


def test_a_state_folder_has_one_service(folder: Path) -> None:
    """A second process is refused and told who holds the folder; after that one ends, the folder is free."""
    holder = (
        "import sys; from pathlib import Path; from lanternslide.ledger import StateLock\n"
        "with StateLock(Path(sys.argv[1]), 'lanternslide watch'):\n    print('held', flush=True); sys.stdin.read()\n"
    )
    with subprocess.Popen(
        [sys.executable, "-c", holder, str(folder)],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, env={**os.environ, "PYTHONPATH": "service"},
    ) as process:  # fmt: skip
        assert process.stdout is not None
        assert process.stdout.readline() == "held\n"
        with (
            pytest.raises(StateLockedError, match=f"lanternslide watch, process {process.pid}"),
            StateLock(folder, "me"),
        ):
            pass
        process.communicate("")

    with StateLock(folder, "me"):
        pass
