"""A back catalogue: many small originals that were delivered once, files and ledger, without making each."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any, NamedTuple

from lanternslide.ledger.database import place_of
from tests.support.pictures import save_jpeg
from tests.support.service import PLAIN, Home, make_home, sweep

__all__ = ["CHANGED", "FEW_DESTINATIONS", "make_catalogue", "numbered", "remade"]

FEW_DESTINATIONS = PLAIN.replace('otherwise = ["portfolio", "journal"]', 'otherwise = ["club"]')
"""Every original goes to one destination."""

CHANGED = ("box = [1920, 1080] }", "box = [1920, 1080] }\nquality = 85")
"""What to replace in a config so that everything in the club's folder is to be made again."""

IN_FOLDER = 1000


class _Rows(NamedTuple):
    """A ledger, and the two rows of the first original in it."""

    connection: sqlite3.Connection
    original: dict[str, Any]
    delivery: dict[str, Any]


def numbered(content: bytes, index: int) -> bytes:
    """Return a JPEG with a comment behind the end of the picture, which makes other bytes of it."""
    return content[:-2] + b"\xff\xfe" + (10).to_bytes(2) + b"%08d" % index + b"\xff\xd9"


def make_catalogue(root: Path, number: int, config: str = FEW_DESTINATIONS, *, seconds: float | None = None) -> Home:
    """Return a home with so many originals, 90 × 60 pixels each, no two the same, all delivered to the club.

    The first one is delivered by the service itself; the others stand in the ledger as that one does. In their records
    each has taken as many *seconds* as is said, or as the first one took.
    """
    home = make_home(root, config)
    content = save_jpeg(home.drop() / "first.jpg", 90, 60).read_bytes()
    ran = sweep(home)
    assert ran.status == 0, ran.errors
    output = home.out("club", "first.jpg")
    with closing(sqlite3.connect(home.root / "state" / "ledger.sqlite", isolation_level=None)) as connection:
        connection.row_factory = sqlite3.Row
        connection.execute("BEGIN")
        original = connection.execute("SELECT * FROM original").fetchone()
        delivery = connection.execute("SELECT * FROM delivery").fetchone()
        rows = _Rows(connection, dict(original), dict(delivery))
        for index in range(1, number):
            name = f"{index // IN_FOLDER:03d}/{index:06d}.jpg"
            path, stands = home.drop() / name, home.out("club", name)
            for folder in {path.parent, stands.parent}:
                folder.mkdir(exist_ok=True)
            path.write_bytes(numbered(content, index))
            shutil.copyfile(output, stands)
            _copy_rows(rows, index, path, stands)
        if seconds is not None:
            connection.execute("UPDATE delivery SET record = json_set(record, '$.seconds', ?)", (seconds,))
        connection.execute("COMMIT")
    return home


def _copy_rows(rows: _Rows, index: int, path: Path, stands: Path) -> None:
    """Note an original that lies at *path* and is delivered to where it *stands*."""
    status, name = path.stat(), f"{path.parent.name}/{path.name}"
    digest = hashlib.sha256(path.read_bytes()).hexdigest()
    row = {
        **rows.original,
        "id": rows.original["id"] + index, "picture": os.fsencode(name), "path": os.fsencode(name), "digest": digest,
        "size": status.st_size, "mtime_ns": status.st_mtime_ns, "inode": status.st_ino,
    }  # fmt: skip
    _insert(rows.connection, "original", row)
    record = json.loads(rows.delivery["record"]) | {"original": name, "output": str(stands)}
    row = {
        **rows.delivery,
        "id": rows.delivery["id"] + index, "original": rows.original["id"] + index, "made_from": digest,
        "output": os.fsencode(stands), "place": place_of(stands),
        "record": json.dumps(record, ensure_ascii=False, separators=(",", ":")),
    }  # fmt: skip
    _insert(rows.connection, "delivery", row)


def _insert(connection: sqlite3.Connection, table: str, row: dict[str, Any]) -> None:
    marks = ", ".join("?" * len(row))
    connection.execute(f"INSERT INTO {table} ({', '.join(row)}) VALUES ({marks})", tuple(row.values()))  # noqa: S608


def remade(home: Home) -> int:
    """Return how many deliveries stand that were made with the changed config."""
    with closing(sqlite3.connect(home.root / "state" / "ledger.sqlite")) as connection:
        question = "SELECT count(*) FROM delivery WHERE state = 'delivered' AND json_extract(recipe, '$.quality') = 85"
        (number,) = connection.execute(question).fetchone()
    return int(number)
