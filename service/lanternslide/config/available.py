"""Keys whose feature is still to come: accepted at their off value, otherwise refused by name."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from lanternslide.config.settings import Destination, Settings

__all__ = ["Unavailable", "unavailable"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Unavailable:
    """A key that asks for something that is not there yet."""

    key: str  #: The key's path.
    found: object  #: What the config says.
    off: str  #: The value that is accepted, as it stands in TOML; empty where only leaving it out will do.
    feature: str  #: What is missing, as the beginning of a sentence.


@dataclass(frozen=True, kw_only=True, slots=True)
class _Coming:
    key: str
    off: Callable[[Any], bool]
    off_text: str
    feature: str


def _is(*values: object) -> Callable[[Any], bool]:
    return lambda value: value in values


OF_SERVICE = (
    _Coming(key="executor", off=_is("local"), off_text='"local"', feature="Work on more than one machine"),
    _Coming(key="proofs_keep_days", off=_is(90), off_text="90", feature="The proof sheet"),
)
OF_DESTINATION = (
    _Coming(key="quality", off=lambda value: value != "auto", off_text="90", feature="Quality by need"),
    _Coming(key="min_ssim", off=_is(0.98), off_text="0.98", feature="Quality by need"),
    _Coming(key="max_bytes", off=_is(None), off_text="", feature="A limit on bytes"),
    _Coming(key="min_quality", off=_is(80), off_text="80", feature="A limit on bytes"),
    _Coming(key="forecast", off=_is(None), off_text="", feature="A forecast"),
)


def _look(prefix: str, part: object, rules: tuple[_Coming, ...]) -> Iterator[Unavailable]:
    for rule in rules:
        value = getattr(part, rule.key)
        if not rule.off(value):
            yield Unavailable(key=f"{prefix}.{rule.key}", found=value, off=rule.off_text, feature=rule.feature)


def unavailable(settings: Settings, overridden: dict[tuple[str, str], Destination]) -> Iterator[Unavailable]:
    """Yield every key of *settings* that asks for a feature still to come."""
    yield from _look("service", settings.service, OF_SERVICE)
    for name, destination in settings.destinations.items():
        yield from _look(f"destinations.{name}", destination, OF_DESTINATION)
    for (owner, name), destination in overridden.items():
        # What the destination itself already says is reported once, there.
        plain = {
            (item.key.rpartition(".")[2], str(item.found))
            for item in _look("", settings.destinations[name], OF_DESTINATION)
        }
        for item in _look(f"photographers.{owner}.overrides.{name}", destination, OF_DESTINATION):
            if (item.key.rpartition(".")[2], str(item.found)) not in plain:
                yield item
    if settings.cluster is not None:
        yield Unavailable(key="cluster", found="a table", off="", feature="Work on more than one machine")
