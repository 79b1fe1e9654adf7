"""What can still be read of a damaged ledger."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from lanternslide.ledger import Ledger
from lanternslide.ledger.upkeep.salvage import salvage
from tests.support.ledgers import CLUB, file_of, publish

MANY = 3000
PAGE = 4096


@pytest.fixture
def damaged(tmp_path: Path) -> Path:
    """Return the file of a ledger with many pictures, each delivered."""
    folder = tmp_path / "state"
    folder.mkdir()
    with Ledger(folder) as ledger:
        for number in range(30):
            row = ledger.originals.take_in(file_of(f"{number}.jpg"), Path(f"{number}.jpg"))
            (wanted,) = ledger.deliveries.want(row.id, f"d{number}", [CLUB])
            publish(ledger, wanted, f"d{number}")
        ledger.notes.put("drop/ida", "2f64726f70")
        ledger.folders.use(Path("/out"), Path("/"))
    with closing(sqlite3.connect(folder / "ledger.sqlite")) as connection:
        connection.execute(
            "INSERT INTO original (photographer, picture, path, size, mtime_ns, inode) WITH RECURSIVE n (i) AS "
            "(SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < ?) "
            "SELECT 'juno', CAST(i AS BLOB), CAST(i AS BLOB), 1, 1, 1 FROM n",
            (MANY,),
        )
        connection.commit()
    return folder / "ledger.sqlite"


def pages_of(file: Path, table: str) -> list[int]:
    """Return the leaves of a table, in the order of its rows."""
    with closing(sqlite3.connect(file)) as connection:
        rows = connection.execute(
            "SELECT pageno FROM dbstat WHERE name = ? AND pagetype = 'leaf' ORDER BY path", (table,)
        ).fetchall()
    return [row[0] for row in rows]


def overwrite(file: Path, page: int) -> None:
    """Spoil one page."""
    with file.open("r+b") as stream:
        stream.seek((page - 1) * PAGE)
        stream.write(b"\xa5" * PAGE)


def test_a_whole_ledger_is_copied_whole(damaged: Path, tmp_path: Path) -> None:
    """Rows, notes, used folders, and the name that its temporary files carry."""
    place = tmp_path / "new"
    place.mkdir()
    found = salvage(damaged, place / "ledger.sqlite")

    assert (found.originals, found.deliveries) == (MANY + 30, 30)
    with Ledger(damaged.parent) as old, Ledger(place) as new:
        assert new.name == old.name
        assert new.faults() == []
        assert new.notes.get("drop/ida") == "2f64726f70"
        assert new.folders.has_used(Path("/out"))
        assert [row.output for row in new.deliveries.of_original(7)] == [
            row.output for row in old.deliveries.of_original(7)
        ]


@pytest.mark.parametrize("where", ["first", "middle", "last"])
def test_rows_before_and_behind_a_spoilt_page_are_kept(damaged: Path, tmp_path: Path, where: str) -> None:
    """No more is lost than what stood in that page."""
    pages = pages_of(damaged, "original")
    page = {"first": pages[0], "middle": pages[len(pages) // 2], "last": pages[-1]}[where]
    with closing(sqlite3.connect(damaged)) as connection:
        held = connection.execute(
            "SELECT ncell FROM dbstat WHERE name = 'original' AND pageno = ?", (page,)
        ).fetchone()[0]
    overwrite(damaged, page)
    place = tmp_path / "new"
    place.mkdir()

    found = salvage(damaged, place / "ledger.sqlite")

    assert found.originals == MANY + 30 - held
    with Ledger(place) as new:
        assert new.faults() == []
    # What belongs to a row that is lost is lost with it.
    assert (found.deliveries < 30) == (where == "first")


@pytest.mark.parametrize("content", [None, b"", b"not a database " * 1000])
def test_where_nothing_can_be_read_the_new_one_is_empty(tmp_path: Path, content: bytes | None) -> None:
    """And sound."""
    damaged = tmp_path / "damaged.sqlite"
    if content is not None:
        damaged.write_bytes(content)
    place = tmp_path / "new"
    place.mkdir()

    found = salvage(None if content is None else damaged, place / "ledger.sqlite")

    assert (found.originals, found.deliveries) == (0, 0)
    with Ledger(place) as new:
        assert new.faults() == []


def test_a_ledger_of_a_former_format_is_brought_forward(tmp_path: Path) -> None:
    """It is whole, but for what was wrong with it."""
    damaged = tmp_path / "damaged.sqlite"
    with closing(sqlite3.connect(damaged)) as connection:
        script = Path(__file__).parents[1] / "format-3.sql"
        connection.executescript(script.read_text("utf-8"))
        connection.execute("INSERT INTO ledger (only, name) VALUES (1, 'abc')")
        connection.execute(
            "INSERT INTO original (photographer, picture, path, size, mtime_ns, inode, state) "
            "VALUES ('ida', X'78', X'78', 1, 5, 7, 'delivered')"
        )
        connection.execute("PRAGMA user_version = 3")
        connection.commit()
    place = tmp_path / "new"
    place.mkdir()

    assert salvage(damaged, place / "ledger.sqlite").originals == 1
    with Ledger(place) as new:
        assert new.name == "abc"
