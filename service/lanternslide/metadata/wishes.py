"""What is to travel with a delivery."""

from __future__ import annotations

from dataclasses import dataclass

from lanternslide.metadata.geometry import Frame
from lanternslide.metadata.keys import Policy
from lanternslide.records import Rights

__all__ = ["Wishes"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Wishes:
    """What is to travel with a delivery, and what its file is."""

    policy: Policy
    keep_location: bool
    rights: Rights
    width: int  #: Pixels of the delivery.
    height: int
    year: str  #: Of the original's file, for one that does not say when it was taken.
    keep_serials: bool = False
    stored: tuple[int, int] | None = None  #: Width and height of the original as it is stored; None: not known.
    orientation: int = 1
    density: tuple[int, int] | None = None  #: Dots per inch of the delivery, across and down.

    @property
    def frame(self) -> Frame:
        """The original's frame and the delivery's."""
        stored = self.stored or (self.width, self.height)
        return Frame(
            stored_width=stored[0], stored_height=stored[1], orientation=self.orientation,
            width=self.width, height=self.height,
        )  # fmt: skip
