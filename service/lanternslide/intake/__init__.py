"""Finding originals: watching, settling, routing. The rules are pure; the clock is passed in."""

from lanternslide.intake.routing import Place, route
from lanternslide.intake.scan import look_at, scan
from lanternslide.intake.settler import Settler
from lanternslide.intake.watch import DropWatcher

__all__ = ["DropWatcher", "Place", "Settler", "look_at", "route", "scan"]
