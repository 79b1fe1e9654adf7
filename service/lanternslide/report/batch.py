"""The figures of a batch: from the first file seen until nothing is left to do."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from statistics import median
from typing import NamedTuple

from lanternslide.records.events import Delivered, Event, Finished, HeldBack, Waits

__all__ = ["Batch", "DestinationFigures", "Range"]


class Range(NamedTuple):
    """What a figure is in the middle, and at its worst, which is its lowest."""

    median: float
    worst: float

    @classmethod
    def of(cls, values: Sequence[float]) -> Range | None:
        """Return that of some values, None where there are none."""
        return cls(median(values), min(values)) if values else None


@dataclass(slots=True)
class DestinationFigures:
    """What went to one destination."""

    deliveries: int = 0
    bytes: int = 0
    doubts: int = 0  #: Deliveries with at least one doubt.
    qualities: list[int] = field(default_factory=list)
    ssims: list[float] = field(default_factory=list)  #: Of those where it is known.

    @property
    def quality(self) -> Range | None:
        """The JPEG quality."""
        return Range.of(self.qualities)

    @property
    def ssim(self) -> Range | None:
        """How like the rendering the deliveries are."""
        return Range.of(self.ssims)


@dataclass(slots=True)
class Batch:
    """Adds up what happens; a listener."""

    originals: dict[str, int] = field(default_factory=dict)  #: Bytes of each original that something was delivered of.
    unchanged: int = 0  #: Originals that were looked at and needed nothing.
    destinations: dict[str, DestinationFigures] = field(default_factory=dict)
    doubts: list[tuple[str, str, str]] = field(default_factory=list)  #: (original, destination, doubt).
    notes: list[tuple[str, str, str]] = field(default_factory=list)  #: (original, destination, note).
    held: dict[str, str] = field(default_factory=dict)  #: Reason by original.
    waits: dict[str, str] = field(default_factory=dict)  #: What is in the way, by original or folder.

    def __call__(self, event: Event) -> None:
        """Add *event* up."""
        match event:
            case Delivered():
                self._deliver(event)
            case HeldBack():
                self.held[event.file.shown] = event.said.text
            case Waits():
                self.waits[event.what] = event.said.text
            case Finished(changed=False) if event.file.shown not in self.held:
                self.unchanged += 1
            case _:
                pass

    def _deliver(self, event: Delivered) -> None:
        record = event.record
        name = record.destination or ""
        figures = self.destinations.setdefault(name, DestinationFigures())
        figures.deliveries += 1
        figures.bytes += record.bytes or 0
        figures.doubts += bool(record.doubts)
        if record.quality is not None:
            figures.qualities.append(record.quality)
        if record.ssim is not None:
            figures.ssims.append(record.ssim)
        original = f"{record.photographer}: {record.original}"
        self.originals[original] = (record.original_file.bytes if record.original_file else None) or 0
        self.doubts += [(original, name, doubt) for doubt in record.doubts]
        self.notes += [(original, name, note) for note in record.notes]

    def __bool__(self) -> bool:
        """Return whether something was delivered or held."""
        return bool(self.destinations or self.held)

    @property
    def pictures(self) -> int:
        """How many originals something was delivered of."""
        return len(self.originals)

    @property
    def bytes_in(self) -> int:
        """How many bytes these originals have."""
        return sum(self.originals.values())

    @property
    def deliveries(self) -> int:
        """How many deliveries were made."""
        return sum(figures.deliveries for figures in self.destinations.values())

    @property
    def doubtful(self) -> int:
        """How many deliveries have a doubt."""
        return sum(figures.doubts for figures in self.destinations.values())

    @property
    def bytes_out(self) -> int:
        """How many bytes were delivered."""
        return sum(figures.bytes for figures in self.destinations.values())
