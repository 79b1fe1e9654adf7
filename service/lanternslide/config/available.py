"""Keys whose feature is still to come: accepted at their off value, otherwise refused by name."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from lanternslide.config.settings import Settings

__all__ = ["Unavailable", "unavailable"]

ELSEWHERE = "Work on more than one machine"


@dataclass(frozen=True, kw_only=True, slots=True)
class Unavailable:
    """A key that asks for something that is not there yet."""

    key: str  #: The key's path.
    found: object  #: What the config says.
    off: str  #: The value that is accepted, as it stands in TOML; empty where only leaving it out will do.
    feature: str  #: What is missing, as the beginning of a sentence.


def unavailable(settings: Settings) -> Iterator[Unavailable]:
    """Yield every key of *settings* that asks for a feature still to come."""
    if settings.service.executor != "local":
        yield Unavailable(key="service.executor", found=settings.service.executor, off='"local"', feature=ELSEWHERE)
    if settings.cluster is not None:
        yield Unavailable(key="cluster", found="a table", off="", feature=ELSEWHERE)
