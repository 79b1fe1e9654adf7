"""What a sweep is limited to."""

from __future__ import annotations

from dataclasses import dataclass

from lanternslide.records.files import Fingerprint

__all__ = ["Scope"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Scope:
    """What a sweep is limited to; nothing is left out by default."""

    only: str | None = None  #: A destination.
    since_ns: int | None = None  #: Originals changed at this time or later, nanoseconds since 1970.

    def __bool__(self) -> bool:
        """Return whether it leaves anything out."""
        return self.only is not None or self.since_ns is not None

    def takes_file(self, fingerprint: Fingerprint) -> bool:
        """Return whether an original that looks like this is in it."""
        return self.since_ns is None or fingerprint.mtime_ns >= self.since_ns

    def takes_destination(self, name: str) -> bool:
        """Return whether a destination is in it."""
        return self.only is None or name == self.only
