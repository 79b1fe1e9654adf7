"""A ledger for tests: files that were never there, and deliveries that stand by word alone."""

from __future__ import annotations

from pathlib import Path

from lanternslide.ledger import DeliveryRow, Kept, Ledger, OriginalRow, Published, Wanted
from lanternslide.records import DroppedFile, Fingerprint, Record

__all__ = ["CLUB", "JOURNAL", "RECORD", "file_of", "publish", "take_in"]

RECORD = Record(original="x.jpg", photographer="ida", state="delivered", version="0")
CLUB = Wanted(destination="club", density=1, recipe="{}")
JOURNAL = [Wanted(destination="journal", density=density, recipe="{}") for density in (1, 2)]


def file_of(name: str = "grey-seal.jpg", size: int = 1) -> DroppedFile:
    """Return a file that has settled."""
    fingerprint = Fingerprint(size=size, mtime_ns=5, inode=2**64 - 1)
    return DroppedFile(photographer="ida", drop=Path("/drop"), relative=Path(name), fingerprint=fingerprint)


def take_in(ledger: Ledger, name: str = "grey-seal.jpg", size: int = 1) -> OriginalRow:
    """Note a settled file that is its own picture."""
    return ledger.originals.take_in(file_of(name, size), Path(name))


def publish(ledger: Ledger, row: DeliveryRow, digest: str = "d1", name: str = "out.jpg") -> None:
    """Note that a delivery stands."""
    ledger.deliveries.intend(
        row.id,
        Published(path=Path("/out") / f"{row.id}-{name}", size=3, digest="j"),
        made_from=digest,
        kept=Kept(record=RECORD),
    )
    ledger.deliveries.confirm(row.id, "2026-11-25T12:00:00+00:00")
