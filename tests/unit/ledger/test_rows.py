"""Rows of the ledger as records, and back."""

from __future__ import annotations

import json
import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lanternslide.ledger import (
    DeliveryRow,
    Kept,
    Ledger,
    OriginalRow,
    OriginalState,
    Published,
    ShownRow,
    Standing,
    stored,
    stored_fingerprint,
)
from lanternslide.ledger.database import open_empty
from lanternslide.ledger.rows import below
from lanternslide.records import About, DroppedFile, Fingerprint, Record, Shown

NO_TEXT = Path(os.fsdecode(b"isles/caf\xe9.jpg"))
RECORD = Record(original="x.jpg", photographer="ida", state="delivered", version="0")
SHOWN = Shown(
    pictures="2026-11-26/01", thumbnail=(60, 40), closeup=(1, 2, 3, 4), tones=(0, 5), tried=((80, 9), (90, 12)),
    has_map=True,
)  # fmt: skip
ABOUT = About(title="Grey seal", alt="A seal on a skerry", creator="Ida Marrow")


@pytest.fixture
def database() -> Iterator[sqlite3.Connection]:
    """Return an empty ledger's database."""
    with closing(open_empty()) as connection:
        yield connection


def put(database: sqlite3.Connection, table: str, **columns: object) -> sqlite3.Row:
    """Insert a row and return it as it is read."""
    names, marks = ", ".join(columns), ", ".join("?" * len(columns))
    made = database.execute(f"INSERT INTO {table} ({names}) VALUES ({marks})", tuple(columns.values()))  # noqa: S608
    row: sqlite3.Row = database.execute(f"SELECT * FROM {table} WHERE id = ?", (made.lastrowid,)).fetchone()  # noqa: S608
    return row


def original(database: sqlite3.Connection, **columns: object) -> sqlite3.Row:
    """Insert an original."""
    plain = {"photographer": "ida", "picture": b"x.jpg", "path": b"x@club.jpg", "size": 1, "mtime_ns": 2, "inode": 3}
    return put(database, "original", **{**plain, **columns})


# Fingerprints


@pytest.mark.parametrize(
    ("inode", "number"),
    [(0, 0), (2**63 - 1, 2**63 - 1), (2**63, -(2**63)), (2**64 - 1, -1)],
)
def test_numbers_of_files_fit_the_database(database: sqlite3.Connection, inode: int, number: int) -> None:
    """SQLite's integers are signed; a file's number comes back as it was."""
    fingerprint = Fingerprint(size=5, mtime_ns=-6, inode=inode)

    kept = stored_fingerprint(fingerprint)

    assert kept == stored(5, -6, inode) == (5, -6, number)
    row = original(database, **dict(zip(("size", "mtime_ns", "inode"), kept, strict=True)))
    assert OriginalRow.from_row(row).fingerprint == fingerprint


@given(st.integers(0, 2**64 - 1), st.integers(0, 2**64 - 1))
def test_different_files_stay_different(one: int, other: int) -> None:
    """No two numbers become one."""
    assert (stored(1, 1, one) == stored(1, 1, other)) is (one == other)


# Originals


def test_an_original_as_it_is_read(database: sqlite3.Connection) -> None:
    """Paths are bytes in the database; what is not known is None."""
    row = OriginalRow.from_row(
        original(
            database, path=os.fsencode(NO_TEXT), state="held", reason_key="empty", reason="It is empty.", attempts=2,
            held_at="2026-11-26T09:00:00+00:00", filed_to=b"/filed/x.jpg",
        )
    )  # fmt: skip

    assert (row.photographer, row.picture, row.path) == ("ida", Path("x.jpg"), NO_TEXT)
    assert (row.state, row.reason_key, row.reason) == (OriginalState.HELD, "empty", "It is empty.")
    assert (row.digest, row.attempts, row.filed_to) == (None, 2, Path("/filed/x.jpg"))
    assert (row.held_at, row.is_older) == ("2026-11-26T09:00:00+00:00", False)


def test_a_scan_compares_with_the_little_of_it(database: sqlite3.Connection) -> None:
    """What a scan knows is what the row says."""
    row = OriginalRow.from_row(original(database, inode=-1, older=1))

    assert row.known.fingerprint == (1, 2, -1)
    assert (row.known.state, row.known.reason_key, row.known.id) == (OriginalState.WAITING, None, row.id)
    assert row.known.is_older


# Deliveries


def test_a_delivery_as_it_is_read(database: sqlite3.Connection) -> None:
    """What stands, and what is about to, are three columns each or nothing."""
    number = original(database)["id"]
    waiting = put(database, "delivery", original=number, destination="club", density=2, recipe="{}", wanted=0)
    publishing = put(
        database, "delivery", original=number, destination="journal", density=1, recipe="{}", state="publishing",
        output=b"/out/x.jpg", output_size=3, output_digest="a", intent=os.fsencode(NO_TEXT), intent_size=4,
        intent_digest="b", made_from="d1",
    )  # fmt: skip

    first, second = DeliveryRow.from_row(waiting), DeliveryRow.from_row(publishing)

    assert (first.output, first.intent, first.wanted, first.density, first.made_from) == (None, None, False, 2, None)
    assert second.output == Published(path=Path("/out/x.jpg"), size=3, digest="a")
    assert second.intent == Published(path=NO_TEXT, size=4, digest="b")
    assert (second.wanted, second.state, second.made_from) == (True, "publishing", "d1")


@pytest.mark.parametrize("shown", [None, SHOWN])
def test_what_is_kept_of_a_delivery_comes_back(database: sqlite3.Connection, shown: Shown | None) -> None:
    """Record, words and what a sheet shows survive the database; nothing shown is nothing."""
    kept = Kept(record=RECORD, about=ABOUT, shown=shown)
    row = put(
        database, "delivery", original=original(database)["id"], destination="club", density=1, recipe="{}",
        delivered_at="2026-11-26T09:00:00+00:00", **kept.stored(),
    )  # fmt: skip

    found = ShownRow.from_row(row)

    assert (found.about, found.shown) == (ABOUT, shown)
    assert found.record == RECORD.model_copy(update={"delivered_at": "2026-11-26T09:00:00+00:00"})


@pytest.mark.parametrize(
    ("state", "shown_as"),
    [("delivered", "delivered"), ("waiting", "delivered"), ("publishing", "delivered"), ("withdrawn", "withdrawn")],
)
def test_what_is_made_again_still_stands_on_a_sheet(database: sqlite3.Connection, state: str, shown_as: str) -> None:
    """Only what was taken back is told so."""
    intent = {"intent": b"/out/y.jpg", "intent_size": 1, "intent_digest": "b"} if state == "publishing" else {}
    row = put(
        database, "delivery", original=original(database)["id"], destination="club", density=1, recipe="{}",
        state=state, output=b"/out/x.jpg", output_size=3, output_digest="a", record=RECORD.to_line(), **intent,
    )  # fmt: skip

    assert ShownRow.from_row(row).record.state == shown_as


def test_a_delivery_of_an_earlier_version_has_no_words(database: sqlite3.Connection) -> None:
    """What was not kept then is not known now."""
    database.execute(
        "CREATE TEMP TABLE standing (photographer, picture, output, output_size, output_digest, record, about)"
    )
    database.execute("INSERT INTO standing VALUES ('ida', ?, ?, 3, 'a', '{}', NULL)", (b"x.jpg", b"/out/x.jpg"))

    found = Standing.from_row(database.execute("SELECT * FROM standing").fetchone())

    assert found.about == About()
    assert (found.picture, found.output.path) == (Path("x.jpg"), Path("/out/x.jpg"))


def test_words_are_kept_as_they_are() -> None:
    """Letters of every script, as JSON that a person can read in the database."""
    line = Kept(record=RECORD, about=About(title="灯台")).stored()["about"]

    assert line is not None
    assert "灯台" in line
    assert json.loads(line)["alt"] is None


# Folders


@pytest.mark.parametrize(
    ("path", "inside"),
    [
        ("isles", True),
        ("isles/a.jpg", True),
        ("isles/b/c.jpg", True),
        ("isles.jpg", False),
        ("isles2/d.jpg", False),
        ("isles0/d.jpg", False),
        ("isle", False),
        ("Isles/a.jpg", False),
        ("x/isles/a.jpg", False),
    ],
)
def test_what_lies_in_a_folder(path: str, *, inside: bool) -> None:
    """The path itself and all below it; nothing whose name merely begins like it. The empty path is everything."""
    name = path.encode()
    for folder, expected in ((Path("isles"), inside), (Path(), True)):
        limits = below(folder)
        found = name == limits["path"] or limits["below"] <= name < limits["beyond"]
        assert found is expected


def test_paths_below_a_folder(tmp_path: Path) -> None:
    """The ledger finds them for one photographer."""
    fingerprint = Fingerprint(size=1, mtime_ns=5, inode=7)
    with Ledger(tmp_path) as ledger:
        for name in ("isles/a.jpg", "isles/b/c.jpg", "isles.jpg", "isles2/d.jpg"):
            file = DroppedFile(photographer="ida", drop=Path("/drop"), relative=Path(name), fingerprint=fingerprint)
            ledger.originals.take_in(file, Path(name))

        assert {str(row.path) for row in ledger.originals.below("ida", Path("isles"))} == {
            "isles/a.jpg",
            "isles/b/c.jpg",
        }
        assert len(ledger.originals.below("ida", Path())) == 4
        assert ledger.originals.below("juno", Path()) == []
