"""The ledger on a real SQLite file."""

from __future__ import annotations

import json
import os
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from lanternslide.errors import StateDamagedError, StateLockedError, StateNewerError, StateUnwritableError
from lanternslide.ledger import DeliveryRow, Kept, Ledger, OriginalRow, OriginalState, Published, StateLock, Wanted
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
        row.id,
        Published(path=Path("/out") / f"{row.id}-{name}", size=3, digest="j"),
        made_from=digest,
        kept=Kept(record=RECORD),
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
    assert ledger.finish(row.id) is OriginalState.WAITING
    publish(ledger, wanted[1])
    ledger.leave_out(wanted[2].id, "d1")
    assert ledger.finish(row.id) is OriginalState.DELIVERED

    assert [item.state for item in ledger.deliveries_of(row.id)] == ["delivered", "delivered", "left out"]
    assert [json.loads(line)["delivered_at"] for line in ledger.record_lines()] == ["2026-11-25T12:00:00+00:00"] * 2


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
        ((path, known),) = after.known_of("ida").items()
        assert path == b"caf\xe9.jpg"
        row = after.original(known.id)
        assert row.known == known
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
    ledger.intend(delivery.id, intent, made_from="d1", kept=Kept(record=RECORD))

    ledger.give_back_work()

    assert ledger.known_of("ida")[b"grey-seal.jpg"].state is OriginalState.WAITING
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
    ledger.hold(row.id, say(Held.EMPTY), "2026-11-26T09:00:00+00:00")
    assert take_in(ledger, size=2).attempts == 0


def test_held_and_counts(ledger: Ledger) -> None:
    """What is held is listed with its reason, and states are counted by photographer."""
    held, _ = take_in(ledger, "a.jpg"), take_in(ledger, "b.jpg")
    ledger.hold(held.id, say(Held.EMPTY), "2026-11-26T09:00:00+00:00")

    assert [(row.path, row.reason_key) for row in ledger.held()] == [(Path("a.jpg"), "empty")]
    assert ledger.counts() == {("ida", OriginalState.HELD): 1, ("ida", OriginalState.WAITING): 1}


def test_used_folders_are_remembered(ledger: Ledger) -> None:
    """A destination's folder is known after its first use."""
    assert not ledger.has_used(Path("/out"))
    ledger.use_folder(Path("/out"), Path("/"))
    ledger.use_folder(Path("/out"), Path("/"))

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
        ledger.intend(
            item.id, Published(path=Path("/out/x.jpg"), size=3, digest="j"), made_from="d1", kept=Kept(record=RECORD)
        )
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

    with pytest.raises(StateNewerError, match=r"format 99.*up to 5"):
        Ledger(folder)


def columns_of(file: Path) -> dict[str, set[tuple[object, ...]]]:
    """Return every table and index of a database with its columns."""
    with closing(sqlite3.connect(file)) as connection:
        names = [(kind, name) for kind, name in connection.execute("SELECT type, name FROM sqlite_master")]
        return {
            name: {tuple(row[1:]) for row in connection.execute(f"PRAGMA {kind}_xinfo({name})")} for kind, name in names
        }


@pytest.mark.parametrize("number", [1, 2, 3, 4])
def test_an_older_ledger_is_brought_forward_and_a_copy_kept(number: int, folder: Path, tmp_path: Path) -> None:
    """Everything is still known afterwards, the schema is that of a new ledger, and the old file can be put back."""
    file = folder / "ledger.sqlite"
    with closing(sqlite3.connect(file)) as connection:
        connection.executescript((Path(__file__).parent / f"format-{number}.sql").read_text("utf-8"))
        connection.execute("INSERT INTO ledger (only, name) VALUES (1, 'abc')")
        connection.execute(
            "INSERT INTO original (photographer, picture, path, size, mtime_ns, inode, state) "
            "VALUES ('ida', X'78', X'78', 1, 5, 7, 'delivered')"
        )
        connection.execute(
            "INSERT INTO delivery (original, destination, density, state, recipe, output, output_size, output_digest) "
            "VALUES (1, 'club', 1, 'delivered', '{}', ?, 3, 'j')", (b"/out/Seal.jpg",)
        )  # fmt: skip
        if number > 1:
            connection.execute("UPDATE delivery SET place = ?", (b"/out/seal.jpg",))
        connection.execute("INSERT INTO used_folder (path) VALUES (?)", (b"/out",))
        connection.execute(f"PRAGMA user_version = {number}")
        connection.commit()
    before = file.read_bytes()

    only_read = Ledger.to_read(folder)
    assert only_read is not None
    with only_read as ledger:
        assert ledger.known_of("ida")[b"x"].state is OriginalState.DELIVERED
        assert ledger.faults() == []
    assert file.read_bytes() == before

    with Ledger(folder) as ledger:
        assert (ledger.has_used(Path("/out")), ledger.mount_of(Path("/out"))) == (True, None)
        assert ledger.name == "abc"
        assert ledger.known_of("ida")[b"x"].state is OriginalState.DELIVERED
        owner = ledger.owner_of(Path("/out/seal.jpg"))
        assert owner is not None
        assert owner.output is not None
        assert owner.output.path == Path("/out/Seal.jpg")
    fresh = tmp_path / "fresh"
    fresh.mkdir()
    with Ledger(fresh):
        pass
    assert {name: {c[:3] for c in found} for name, found in columns_of(file).items()} == {
        name: {c[:3] for c in found} for name, found in columns_of(fresh / "ledger.sqlite").items()
    }
    with closing(sqlite3.connect(folder / f"ledger.sqlite.format-{number}")) as copy:
        assert copy.execute("PRAGMA user_version").fetchone() == (number,)
        assert copy.execute("SELECT count(*) FROM delivery").fetchone() == (1,)


def test_a_migration_that_fails_changes_nothing(folder: Path) -> None:
    """The older ledger is as it was, and that is said."""
    file = folder / "ledger.sqlite"
    with closing(sqlite3.connect(file)) as connection:
        connection.executescript((Path(__file__).parent / "format-1.sql").read_text("utf-8"))
        connection.execute("CREATE TABLE noted (in_the_way)")
        connection.execute("PRAGMA user_version = 1")
        connection.commit()

    with pytest.raises(StateDamagedError, match="noted"):
        Ledger(folder)

    with closing(sqlite3.connect(file)) as connection:
        assert connection.execute("PRAGMA user_version").fetchone() == (1,)
        assert "filed_to" not in {row[1] for row in connection.execute("PRAGMA table_info(original)")}


def test_a_ledger_can_be_read_beside_its_service(folder: Path, ledger: Ledger) -> None:
    """Reading changes nothing and sees what was committed; where there is no ledger there is none to read."""
    take_in(ledger)
    reader = Ledger.to_read(folder)
    assert reader is not None
    with reader:
        assert reader.counts() == {("ida", OriginalState.WAITING): 1}
        assert reader.faults() == []
        with pytest.raises(StateUnwritableError, match="readonly"):
            take_in(reader, "another.jpg")
    assert Ledger.to_read(folder / "none") is None


def test_reading_leaves_nothing_behind(folder: Path) -> None:
    """Where no service is at work, a ledger is read without a file being made or touched; an empty one needs none."""
    with Ledger(folder) as ledger:
        take_in(ledger)
    before = {path.name: path.stat().st_mtime_ns for path in (folder, *folder.iterdir())}

    reader = Ledger.to_read(folder)
    assert reader is not None
    with reader, Ledger.empty(folder) as empty:
        assert reader.counts() == {("ida", OriginalState.WAITING): 1}
        assert empty.counts() == {}
    assert {path.name: path.stat().st_mtime_ns for path in (folder, *folder.iterdir())} == before


def test_names_that_a_file_system_takes_for_one_have_one_owner(ledger: Ledger) -> None:
    """Case and Unicode's normal forms make no difference to who a name belongs to; other letters do."""
    row = take_in(ledger)
    (delivery,) = ledger.want(row.id, "d1", [CLUB])
    path = Path("/out/R\u00f6st \u00c9.jpg")
    ledger.intend(delivery.id, Published(path=path, size=3, digest="j"), made_from="d1", kept=Kept(record=RECORD))
    ledger.confirm(delivery.id, "now")

    for name in ("R\u00f6st \u00c9.jpg", "Ro\u0308st E\u0301.jpg", "r\u00f6st \u00e9.JPG"):
        owner = ledger.owner_of(path.with_name(name))
        assert owner is not None
        assert owner.id == delivery.id
    assert ledger.owner_of(path.with_name("Rost E.jpg")) is None
    assert ledger.owner_of(Path("/elsewhere") / path.name) is None


def test_who_loses_a_name_is_gone_only_when_nothing_else_stands(ledger: Ledger) -> None:
    """An original that stands elsewhere too stays known there; with its last name it is gone."""
    first = take_in(ledger, "x.tif")
    lost = ledger.want(first.id, "d1", JOURNAL)
    for row in lost:
        publish(ledger, row)
    ledger.finish(first.id)
    heir = take_in(ledger, "x.jpg")
    states = []
    for row, before in zip(ledger.want(heir.id, "d2", JOURNAL), lost, strict=True):
        name = Published(path=Path("/out") / f"{before.id}-out.jpg", size=4, digest="k")
        ledger.intend(row.id, name, made_from="d2", kept=Kept(record=RECORD), inherits=True)
        ledger.confirm(row.id, "2026-11-25T12:00:00+00:00")
        states.append((ledger.original(first.id).state, [found.id for found in ledger.originals_with_deliveries()]))
    assert states == [
        (OriginalState.DELIVERED, [first.id, heir.id]), (OriginalState.GONE, [heir.id]),
    ]  # fmt: skip


def test_what_is_taken_back_stays_so_until_its_original_changes(ledger: Ledger) -> None:
    """The same bytes do not bring it back; other bytes do, and so does a retry."""
    row = take_in(ledger)
    club, journal = ledger.want(row.id, "d1", [CLUB, JOURNAL[0]])
    for item in (club, journal):
        publish(ledger, item)
    assert ledger.finish(row.id) is OriginalState.DELIVERED
    ledger.withdraw(row.id, "club", row.fingerprint)
    assert [item.id for item in ledger.open_withdrawals()] == [club.id]
    ledger.withdrawn(club.id)
    assert ledger.open_withdrawals() == []
    assert ledger.original(row.id).state is OriginalState.DELIVERED
    assert ledger.want(row.id, "d1", [CLUB, JOURNAL[0]]) == []
    assert [item.destination for item in ledger.want(row.id, "d2", [CLUB])] == ["club"]
    ledger.withdraw(row.id, None, row.fingerprint)
    assert ledger.original(row.id).state is OriginalState.WITHDRAWN
    ledger.retry(row.id)
    assert ledger.original(row.id).state is OriginalState.WAITING
    assert len(ledger.want(row.id, "d1", [CLUB, JOURNAL[0]])) == 2


def test_paths_below_a_folder(ledger: Ledger) -> None:
    """A folder names all that lies in it, and nothing whose name merely begins like it."""
    for name in ("isles/a.jpg", "isles/b/c.jpg", "isles.jpg", "isles2/d.jpg"):
        take_in(ledger, name)

    found = {str(row.path) for row in ledger.originals_below("ida", Path("isles"))}
    assert found == {"isles/a.jpg", "isles/b/c.jpg"}
    assert len(ledger.originals_below("ida", Path())) == 4
    assert ledger.originals_below("juno", Path()) == []


def test_what_is_noted_is_remembered(ledger: Ledger) -> None:
    """One value for each name, and all names that begin alike."""
    assert ledger.noted("max_megapixels") is None
    for value in ("100", "200"):
        ledger.note("max_megapixels", value)
        assert ledger.noted("max_megapixels") == value
    ledger.note("drop/ida", "2f")
    assert ledger.noted_below("drop/") == [("ida", "2f")]


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
