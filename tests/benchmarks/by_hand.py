"""What is written by hand where a library or a plain method would do, against that.

Run it with ``python -m tests.benchmarks.by_hand``. It prints two tables:

* a record of the ledger brought up to date, 100,000 times: by the pattern of `records.stored`, by SQLite's own JSON
  functions, and by taking the record apart and writing it anew;
* how often a picture is encoded until its quality is found: by the search of `chain.quality`, and by halving what is
  allowed. The pictures are those of the demo inbox and, where they lie beside the checkout, the shared photographs.
"""

from __future__ import annotations

import json
import sqlite3
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from statistics import mean, median
from typing import get_args

from pydantic import BaseModel

from lanternslide.chain.quality import Aim, Encoded, find_quality
from lanternslide.errors import OriginalHeldError
from lanternslide.imaging.encode import decode_again, encode_jpeg
from lanternslide.imaging.measuring.ssim import ssim
from lanternslide.records import Record, updated_line
from tests.support.chain import recipe, render
from tests.support.happenings import whole_record

ROOT = Path(__file__).resolve().parents[2]
FOLDERS = (ROOT / "demo_inbox", ROOT.parent / "shared" / "data" / "photos")
RECORDS = 100_000
ROUNDS = 5
AIMS = {
    "SSIM of 0.98": Aim(quality=None, min_ssim=0.98, floor=1),
    "at most 150,000 bytes": Aim(quality=90, max_bytes=150_000, floor=1),
    "both": Aim(quality=None, min_ssim=0.98, max_bytes=150_000, floor=1),
}
SET = "json_set(record, '$.state', state, '$.attempts', attempts, '$.filed_to', filed_to, '$.delivered_at', at)"
READ = "SELECT record, state, attempts, filed_to, at FROM stored"


def places(model: type[BaseModel], within: str = "$") -> Iterator[str]:
    """Yield the path of each field of a model, as SQLite writes it."""
    for name, field in model.model_fields.items():
        yield f"{within}.{name}"
        for part in (field.annotation, *get_args(field.annotation)):
            if isinstance(part, type) and issubclass(part, BaseModel):
                yield from places(part, f"{within}.{name}")


def by_pattern(connection: sqlite3.Connection) -> Iterator[str]:
    """Yield the lines as the ledger does."""
    for line, state, attempts, filed_to, at in connection.execute(READ):
        yield updated_line(line, state=state, attempts=attempts, filed_to=filed_to, delivered_at=at)


def by_sqlite(connection: sqlite3.Connection) -> Iterator[str]:
    """Yield the lines as SQLite's JSON functions write them; a field that a record does not know is there as null."""
    nulls = ", ".join(f"'{place}', NULL" for place in places(Record))
    for (line,) in connection.execute(f"SELECT json_insert({SET}, {nulls}) FROM stored"):  # noqa: S608 - of our own names
        yield line


def anew(connection: sqlite3.Connection) -> Iterator[str]:
    """Yield the lines of records that were read and written again."""
    for line, state, attempts, filed_to, at in connection.execute(READ):
        now = {"state": state, "attempts": attempts, "filed_to": filed_to, "delivered_at": at}
        yield Record.model_validate_json(line).model_copy(update=now).to_line()


def print_records() -> None:
    """Print how long each way takes, and how that compares with the pattern in the same rounds."""
    connection = sqlite3.connect(":memory:")
    connection.execute("CREATE TABLE stored (record TEXT, state TEXT, attempts INTEGER, filed_to TEXT, at TEXT)")
    row = (whole_record().to_line(), "delivered", 1, None, "2026-11-25T12:00:00+00:00")
    connection.executemany("INSERT INTO stored VALUES (?, ?, ?, ?, ?)", [row] * RECORDS)
    ways: dict[str, Callable[[sqlite3.Connection], Iterator[str]]] = {
        "by the pattern": by_pattern, "by SQLite": by_sqlite, "read and written": anew,
    }  # fmt: skip
    taken: dict[str, list[float]] = {name: [] for name in ways}
    for _ in range(ROUNDS):
        for name, way in ways.items():
            start = time.perf_counter()
            assert sum(1 for _ in way(connection)) == RECORDS
            taken[name].append(time.perf_counter() - start)
    earlier = json.loads(row[0])
    del earlier["ssim"], earlier["forecast"], earlier["original_file"]["profile"]
    for stored in (row[0], json.dumps(earlier)):
        connection.execute("UPDATE stored SET record = ?", (stored,))
        one, *others = (json.loads(next(way(connection))) for way in ways.values())
        assert others == [one, one]
    print(f"{RECORDS} records      seconds   / pattern")
    for name, seconds in taken.items():
        ratio = median(one / other for one, other in zip(seconds, taken["by the pattern"], strict=True))
        print(f"{name:20s} {median(seconds):8.2f}   {ratio:8.1f}")


def halvings(encode: Callable[[int], Encoded], aim: Aim) -> int:
    """Return how many encodes halving takes to find the quality that *aim* leads to."""
    best = 100 if aim.quality is None else aim.quality
    number = 0

    def is_too_low(quality: int) -> bool:
        nonlocal number
        number += 1
        encoded = encode(quality)
        if aim.max_bytes is not None and encoded.size > aim.max_bytes:
            return False
        if aim.quality is not None:
            return True
        assert aim.min_ssim is not None
        assert encoded.ssim is not None
        return encoded.ssim < aim.min_ssim

    if aim.quality is not None and is_too_low(best):  # what the owner asks for fits
        return number
    low, high = aim.floor, best if aim.quality is None else best - 1
    while low <= high:
        middle = (low + high) // 2
        if is_too_low(middle):
            low = middle + 1
        else:
            high = middle - 1
    return number


def print_search() -> None:
    """Print how many encodes each way takes on real pictures at 1050 and 2048 pixels."""
    found: dict[str, list[tuple[int, int]]] = {name: [] for name in AIMS}
    pictures = 0
    for original in sorted(path for folder in FOLDERS for path in folder.rglob("*") if path.is_file()):
        for edge in (1050, 2048):
            try:
                codes = render(original, recipe(edge)).codes
            except (OriginalHeldError, ValueError):  # no picture, or none that is read
                continue
            pictures += 1
            known: dict[int, Encoded] = {}

            def encode(quality: int, codes: object = codes, known: dict[int, Encoded] = known) -> Encoded:
                if quality not in known:
                    jpeg = encode_jpeg(codes, quality=quality, chroma="4:4:4", progressive=True, density=None)  # type: ignore[arg-type]
                    likeness = ssim(codes, decode_again(jpeg))  # type: ignore[arg-type]
                    known[quality] = Encoded(quality=quality, jpeg=b"", size=len(jpeg), ssim=likeness)
                return known[quality]

            for name, aim in AIMS.items():
                found[name].append((len(find_quality(encode, aim).tried), halvings(encode, aim)))
    print(f"{pictures} renderings            search, mean (most)    halving, mean (most)   search / halving")
    for name, numbers in found.items():
        ours, plain = zip(*numbers, strict=True)
        print(
            f"{name:25s} {mean(ours):12.2f} ({max(ours)}) {mean(plain):20.2f} ({max(plain)}) "
            f"{sum(ours) / sum(plain):16.2f}"
        )


if __name__ == "__main__":
    print_records()
    print_search()
