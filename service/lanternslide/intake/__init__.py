"""From a file in a drop folder to the decision what it is: watching, scanning, settling, routing, what is news."""

from lanternslide.intake.decisions import Decisions, findings_of
from lanternslide.intake.drop_scanner import DropScanner, ScanContext
from lanternslide.intake.original_files import OriginalFiles
from lanternslide.intake.routing import route
from lanternslide.intake.scan import Round, count_others, dropped, is_left_alone, look_at, look_through, scan
from lanternslide.intake.settler import Settler
from lanternslide.intake.watch import DropWatcher, watches_in_place
from lanternslide.intake.whole import held_for_writing

__all__ = [
    "Decisions",
    "DropScanner",
    "DropWatcher",
    "OriginalFiles",
    "Round",
    "ScanContext",
    "Settler",
    "count_others",
    "dropped",
    "findings_of",
    "held_for_writing",
    "is_left_alone",
    "look_at",
    "look_through",
    "route",
    "scan",
    "watches_in_place",
]
