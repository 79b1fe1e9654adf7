"""Under which name a delivery may be put: its own, one that is free, or one that its former owner has left."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from itertools import chain
from pathlib import Path
from typing import TypeAlias

from lanternslide.config import ResolvedDestination
from lanternslide.delivery.name_patterns import called, folder_called
from lanternslide.delivery.naming import delivered_names, is_name_of
from lanternslide.delivery.reachability import Reachability
from lanternslide.delivery.succession import is_left
from lanternslide.ledger import Deliveries, DeliveryRow, Originals, Published
from lanternslide.records import DroppedFile, Recipe, Record, Routing, shown_path
from lanternslide.storage import check_folder, is_file_with, is_there
from lanternslide.storage.faults import folder_fault

__all__ = ["Call", "Target", "TargetNames", "day_of_file", "name_of"]

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)

Call: TypeAlias = tuple[str, float, str]
"""What `delivered_names` takes: the name, the density and the ending."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Target:
    """A path that a delivery may be put at."""

    path: Path
    over: bool = False  #: Whether a delivery of ours stands there, which is replaced; otherwise the name has to be new.
    inherits: bool = False  #: Whether the name belonged to another kind of file of the same picture, which is gone.
    moved_from: Path | None = None  #: Where it was put, if its owner has moved its folder since.
    is_first: bool = False  #: Whether nothing of the delivery ever stood, and nobody's stood at this path.


class TargetNames:
    """Knows where deliveries may be put; reads, and writes nothing."""

    def __init__(self, originals: Originals, deliveries: Deliveries, reachability: Reachability) -> None:
        self._originals = originals
        self._deliveries = deliveries
        self._reachability = reachability

    def folder_for(self, destination: ResolvedDestination, below: Path) -> Path:
        """Return the folder that a delivery goes into; *below* is what it keeps of the original's path.

        Raises
        ------
        PassingFaultError
            If the destination's folder is away.
        """
        folder = destination.folder
        self._reachability.check(folder, destination.name)
        used = self._reachability.has_used(folder)
        check_folder(destination.fixed_folder, folder, destination=destination.name, used=used)
        return folder / folder_called(below, slug=destination.recipe.slug)

    def of(
        self, file: DroppedFile, picture: Path, row: DeliveryRow | None, folder: Path, call: Call
    ) -> Iterator[Target]:
        """Yield where a delivery of a *picture* may be put, the best first; *row* is what the ledger knows of it.

        One that has to be new may be taken in the meantime; then the next one is tried.

        Raises
        ------
        PassingFaultError
            If it cannot be told what stands there.
        """
        own = None if row is None else _own_name(row, folder, call)
        if own is not None and self.stands(own):
            yield Target(path=own.path, over=True)
        moved = None if row is None else self.moved(row, folder)
        if moved is not None and row is not None and row.output is not None and is_name_of(moved.name, *call):
            yield Target(path=moved, over=True, moved_from=row.output.path)
        # A name that this delivery had before, and that its owner has emptied, is its own again.
        # What was withdrawn and comes back takes its former name, too.
        before = _names_before(row, folder, call) if own is None else [own.path.name]
        for candidate in chain(before, delivered_names(*call)):
            path = folder / candidate
            owner = self._deliveries.owner_of(path)
            if owner is not None and row is not None and owner.id == row.id:
                owner = None
            if owner is not None and not is_left(self._originals, self._reachability, owner, path, file, picture):
                continue
            # Or it stood here before its destination had another folder, and still does.
            earlier = self._deliveries.earlier_at(path)
            left = earlier[1] if row is not None and earlier is not None and earlier[0] == row.id else None
            if owner is not None and owner.output is not None and self.stands(owner.output):
                yield Target(path=path, over=True, inherits=True)
            elif left is not None and self.stands(left):
                yield Target(path=path, over=True)
            elif not is_there(path):
                is_first = owner is None and earlier is None and (row is None or row.output is None)
                yield Target(path=path, inherits=owner is not None, is_first=is_first)

    def stands(self, published: Published) -> bool:
        """Return whether what was published is still there as it was; otherwise its owner has changed it."""
        try:
            return is_file_with(published.path, published.size, published.digest)
        except OSError as error:
            raise folder_fault(published.path.parent, error) from error

    def moved(self, row: DeliveryRow, folder: Path) -> Path | None:
        """Return where in *folder* a delivery stands whose folder its owner has moved there, with all that is in it."""
        own = row.output
        if own is None or own.path.parent == folder or not self._reachability.is_gone(own.path, row.destination):
            return None
        path = folder / own.path.name
        if self._deliveries.owner_of(path) is None and self.stands(replace(own, path=path)):
            return path
        return None


def name_of(
    file: DroppedFile, routing: Routing, destination: str, recipe: Recipe, size: tuple[int, int], captured: str | None
) -> tuple[str, str]:
    """Return the name and the ending of a delivery of so many pixels; *captured* is the day, if it is known."""
    day = captured or day_of_file(file)
    values = {
        "stem": routing.stem,
        "photographer": file.photographer,
        "destination": destination,
        "width": str(size[0]),
        "height": str(size[1]),
        "date": day,
        "year": day[:4],
    }
    return called(recipe.name, values, slug=recipe.slug)


def day_of_file(file: DroppedFile) -> str:
    """Return the day on which a file was last modified (ISO 8601)."""
    # Not `fromtimestamp`, which Windows refuses for years before 1970.
    return (EPOCH + timedelta(microseconds=file.fingerprint.mtime_ns // 1000)).date().isoformat()


def _names_before(row: DeliveryRow | None, folder: Path, call: Call) -> list[str]:
    """Return the name under which a delivery last stood in *folder*, if it is one that it may have."""
    if row is None or row.record is None:
        return []
    output = Path(Record.model_validate_json(row.record).output or "")
    return [output.name] if str(output.parent) == shown_path(folder) and is_name_of(output.name, *call) else []


def _own_name(row: DeliveryRow, folder: Path, call: Call) -> Published | None:
    """Return what stands under one of the names that a delivery may have; otherwise it gets another and leaves that."""
    own = row.output
    return own if own is not None and own.path.parent == folder and is_name_of(own.path.name, *call) else None
