"""Opening the ledger's database: what is made, what is brought forward, what is refused."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import pytest

from lanternslide.errors import StateDamagedError, StateError, StateNewerError
from lanternslide.ledger import Ledger, OriginalState, Wanted, place_of
from lanternslide.ledger.database import FORMAT, open_database, open_empty, open_to_read, stored_place
from lanternslide.ledger.state_folder.soundness import faults_of
from lanternslide.records import DroppedFile, Fingerprint

CLUB = Wanted(destination="club", density=1, recipe="{}")


def take_in(ledger: Ledger, name: str = "grey-seal.jpg") -> int:
    """Note a settled file that is its own picture; return its number."""
    fingerprint = Fingerprint(size=1, mtime_ns=5, inode=7)
    file = DroppedFile(photographer="ida", drop=Path("/drop"), relative=Path(name), fingerprint=fingerprint)
    return ledger.originals.take_in(file, Path(name)).id


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return a state folder."""
    return tmp_path


@pytest.fixture
def ledger(folder: Path) -> Iterator[Ledger]:
    """Open a new ledger."""
    with Ledger(folder) as opened:
        yield opened


def bytes_of(folder: Path) -> dict[str, bytes]:
    """Return what lies in a folder."""
    return {path.name: path.read_bytes() for path in folder.iterdir()}


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
    ledger.deliveries.want(take_in(ledger), "d1", [CLUB])

    with pytest.raises(sqlite3.IntegrityError):
        ledger._connection.execute(change)


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

    with pytest.raises(StateNewerError, match=r"format 99.*up to 7"):
        Ledger(folder)


def columns_of(file: Path) -> dict[str, set[tuple[object, ...]]]:
    """Return every table and index of a database with its columns."""
    with closing(sqlite3.connect(file)) as connection:
        names = [(kind, name) for kind, name in connection.execute("SELECT type, name FROM sqlite_master")]
        return {
            name: {tuple(row[1:]) for row in connection.execute(f"PRAGMA {kind}_xinfo({name})")} for kind, name in names
        }


@pytest.mark.parametrize("number", [1, 2, 3, 4, 5, 6])
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
            "INSERT INTO delivery (original, destination, density, state, recipe, output, output_size, output_digest, "
            "record) VALUES (1, 'club', 1, 'delivered', '{}', ?, 3, 'j', '{\"bytes\": 3}')", (b"/out/Seal.jpg",)
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
        assert ledger.originals.known_of("ida")[b"x"].state is OriginalState.DELIVERED
        assert ledger.faults() == []
    assert file.read_bytes() == before

    with Ledger(folder) as ledger:
        assert (ledger.folders.has_used(Path("/out")), ledger.folders.mount_of(Path("/out"))) == (True, None)
        assert ledger.name == "abc"
        assert ledger.originals.known_of("ida")[b"x"].state is OriginalState.DELIVERED
        owner = ledger.deliveries.owner_of(Path("/out/seal.jpg"))
        assert owner is not None
        assert owner.output is not None
        assert owner.output.path == Path("/out/Seal.jpg")
        assert [row.id for row in ledger.deliveries.of_size("ida", 3)] == [owner.id]
        assert ledger.deliveries.of_size("juno", 3) == ledger.deliveries.of_size("ida", 4) == []
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


def test_reading_leaves_nothing_behind(folder: Path) -> None:
    """Where no service is at work, a ledger is read without a file being made or touched; an empty one needs none."""
    with Ledger(folder) as ledger:
        take_in(ledger)
    before = {path.name: path.stat().st_mtime_ns for path in (folder, *folder.iterdir())}

    reader = Ledger.to_read(folder)
    assert reader is not None
    with reader, Ledger.empty(folder) as empty:
        assert reader.reading.counts() == {("ida", OriginalState.WAITING): 1}
        assert empty.reading.counts() == {}
    assert {path.name: path.stat().st_mtime_ns for path in (folder, *folder.iterdir())} == before


# Names that are one


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ("/out/Seal.jpg", "/out/seal.JPG", True),
        ("/out/R\u00f6st.jpg", "/out/Ro\u0308st.jpg", True),
        ("/out/STRASSE.jpg", "/out/stra\u00dfe.jpg", True),
        ("/out/Rost.jpg", "/out/R\u00f6st.jpg", False),
        ("/out/seal.jpg", "/Out/seal.jpg", False),
        (os.fsdecode(b"/out/caf\xe9.jpg"), os.fsdecode(b"/out/CAF\xe9.jpg"), False),
        (os.fsdecode(b"/out/caf\xe9.jpg"), os.fsdecode(b"/out/caf\xe8.jpg"), False),
    ],
)
def test_names_that_some_file_system_takes_for_one(one: str, other: str, *, same: bool) -> None:
    """Case and form make no difference in a name; letters do, folders do, and names that are no text are their own."""
    assert (place_of(Path(one)) == place_of(Path(other))) is same
    assert stored_place(os.fsencode(one)) == place_of(Path(one))


# Opening


def test_a_new_database_has_this_format_and_a_name_of_its_own(tmp_path: Path) -> None:
    """Two ledgers are told apart by their names."""
    names = set()
    for file in (tmp_path / "one.sqlite", tmp_path / "other.sqlite"):
        with closing(open_database(file)) as connection:
            assert connection.execute("PRAGMA user_version").fetchone()[0] == FORMAT
            names.add(connection.execute("SELECT name FROM ledger").fetchone()["name"])
            assert faults_of(connection) == []
    with closing(open_empty()) as connection:
        names.add(connection.execute("SELECT name FROM ledger").fetchone()["name"])

    assert len(names) == 3


def test_what_a_start_that_was_cut_off_has_left_is_in_nobodys_way(tmp_path: Path) -> None:
    """The database is made under another name, so half of one never counts."""
    (tmp_path / ".ledger.sqlite.new").write_bytes(b"half of a database")

    with closing(open_database(tmp_path / "ledger.sqlite")):
        pass

    assert not (tmp_path / ".ledger.sqlite.new").exists()


@pytest.mark.parametrize("read", [False, True])
@pytest.mark.parametrize("made", ["nothing", "another table"])
def test_a_database_without_a_format_is_no_ledger(tmp_path: Path, made: str, *, read: bool) -> None:
    """An empty file, or somebody else's database, is refused as damaged and left as it is."""
    file = tmp_path / "ledger.sqlite"
    file.touch()
    if made == "another table":
        with closing(sqlite3.connect(file)) as connection:
            connection.execute("CREATE TABLE theirs (what)")
            connection.commit()
    before = bytes_of(tmp_path)

    with pytest.raises(StateDamagedError, match=r"ledger\.sqlite is damaged"):
        (open_to_read if read else open_database)(file)

    assert bytes_of(tmp_path) == before


@pytest.mark.parametrize("open_it", [open_database, open_to_read])
def test_a_ledger_of_this_format_that_lacks_a_table_is_damaged(
    tmp_path: Path, open_it: Callable[[Path], object]
) -> None:
    """The number alone makes no ledger."""
    file = tmp_path / "ledger.sqlite"
    with closing(sqlite3.connect(file)) as connection:
        connection.execute(f"PRAGMA user_version = {FORMAT}")

    with pytest.raises(StateDamagedError, match="it lacks delivery"):
        open_it(file)


@pytest.mark.parametrize("read", [False, True])
def test_a_newer_ledger_is_not_even_touched(tmp_path: Path, *, read: bool) -> None:
    """Neither for reading nor for work."""
    file = tmp_path / "ledger.sqlite"
    with closing(sqlite3.connect(file)) as connection:
        connection.execute(f"PRAGMA user_version = {FORMAT + 1}")
    before = bytes_of(tmp_path)

    with pytest.raises(StateNewerError):
        (open_to_read if read else open_database)(file)

    assert bytes_of(tmp_path) == before


@pytest.mark.parametrize("open_it", [open_database, open_to_read])
def test_a_folder_in_the_databases_place_is_no_damage(tmp_path: Path, open_it: Callable[[Path], object]) -> None:
    """Nothing was lost: what is named is to be mended."""
    (tmp_path / "ledger.sqlite").mkdir()

    with pytest.raises(StateError, match="cannot be opened") as error:
        open_it(tmp_path / "ledger.sqlite")
    assert type(error.value) is StateError


def test_a_state_folder_that_is_not_there_is_said(tmp_path: Path) -> None:
    """No database can be made in it; to read there is none."""
    with pytest.raises(StateError, match="away"):
        open_database(tmp_path / "away" / "ledger.sqlite")
    assert open_to_read(tmp_path / "away" / "ledger.sqlite") is None


def test_who_only_reads_sees_what_waits_in_the_log(tmp_path: Path) -> None:
    """What a running service has committed lies in the write-ahead log for a while."""
    file = tmp_path / "ledger.sqlite"
    with closing(open_database(file)) as service:
        service.execute("INSERT INTO noted VALUES ('seen', 'yes')")
        reader = open_to_read(file)
        assert reader is not None
        with closing(reader):
            assert reader.execute("SELECT value FROM noted").fetchone()["value"] == "yes"


def test_a_copy_of_the_former_format_is_made_anew(folder: Path) -> None:
    """What a migration that was cut off has left of one does not hinder the next."""
    with closing(sqlite3.connect(folder / "ledger.sqlite")) as connection:
        connection.executescript((Path(__file__).parent / "format-5.sql").read_text("utf-8"))
        connection.execute("INSERT INTO ledger (only, name) VALUES (1, 'abc')")
        connection.execute("PRAGMA user_version = 5")
        connection.commit()
    (folder / "ledger.sqlite.format-5").write_bytes(b"half of a copy")

    with Ledger(folder) as ledger:
        assert ledger.name == "abc"
    with closing(sqlite3.connect(folder / "ledger.sqlite.format-5")) as copy:
        assert copy.execute("SELECT name FROM ledger").fetchone() == ("abc",)


# Faults


def test_rows_that_belong_to_nothing_are_a_fault(ledger: Ledger) -> None:
    """A delivery without its original, as a disk that lost a page may leave it."""
    connection = ledger._connection
    connection.execute("PRAGMA foreign_keys = OFF")
    connection.execute("INSERT INTO delivery (original, destination, density, recipe) VALUES (99, 'club', 1, '{}')")

    assert faults_of(connection) == ["a row of delivery belongs to nothing"]


def test_a_damaged_page_is_a_fault(folder: Path) -> None:
    """The rest may still be read; what is wrong is listed, and listing it is no error."""
    with Ledger(folder) as ledger:
        for number in range(200):
            take_in(ledger, f"{number:03}-{'x' * 100}.jpg")
    file = folder / "ledger.sqlite"
    with closing(sqlite3.connect(file)) as connection:
        page = connection.execute("PRAGMA page_size").fetchone()[0]
        (root,) = connection.execute("SELECT rootpage FROM sqlite_master WHERE name = 'original_path'").fetchone()
    with file.open("r+b") as stream:
        stream.seek((root - 1) * page)
        stream.write(b"\xff" * page)

    with closing(sqlite3.connect(file)) as connection:
        assert faults_of(connection) != []
