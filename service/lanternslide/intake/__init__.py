"""Finding originals: watching, settling, routing. The rules are pure; the clock is passed in."""

from lanternslide.intake.routing import Place, route
from lanternslide.intake.scan import Entry, dropped, look_at, look_through, scan
from lanternslide.intake.settler import Settler
from lanternslide.intake.watch import DropWatcher

__all__ = [
    "DropWatcher",
    "Entry",
    "Place",
    "Settler",
    "dropped",
    "look_at",
    "look_through",
    "route",
    "scan",
]
