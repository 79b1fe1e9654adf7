"""What is in the way at the moment; said once when it begins and once when it has passed."""

from __future__ import annotations

from collections.abc import Iterable

from lanternslide.records.events import Listener, Passed, Waits
from lanternslide.words import Said

__all__ = ["Obstacles"]


class Obstacles:
    """Remembers what is in the way, so that a log line is written when that changes, not for each try."""

    def __init__(self, tell: Listener) -> None:
        self._tell = tell
        self._met: dict[str, Said] = {}

    def __bool__(self) -> bool:
        return bool(self._met)

    def meet(self, what: str, said: Said) -> None:
        """Note that something is in the way of *what*."""
        if self._met.get(what) != said:
            self._met[what] = said
            self._tell(Waits(what=what, said=said))

    def pass_by(self, what: str) -> None:
        """Note that nothing is in the way of *what* any more."""
        if self._met.pop(what, None) is not None:
            self._tell(Passed(what=what))

    def of(self, photographer: str, destinations: Iterable[str]) -> tuple[str, ...]:
        """Return what is in the way of a photographer's pictures, *destinations* or of everybody, not of others'."""
        shared = {"workers", "state folder", *(f"destination {name}" for name in destinations)}
        found = (
            said.text for what, said in self._met.items() if what in shared or what.startswith(f"{photographer}: ")
        )
        return tuple(dict.fromkeys(found))

    def forget(self) -> None:
        """Forget everything: what still is in the way is met again."""
        self._met.clear()
