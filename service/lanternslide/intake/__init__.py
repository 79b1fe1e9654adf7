"""Finding originals: watching, settling, routing. The rules are pure; the clock is passed in."""

from lanternslide.intake.mounts import Mount, is_mapped_drive, is_remote, mount_of, mounts
from lanternslide.intake.routing import route
from lanternslide.intake.scan import Entry, Round, count_others, dropped, is_left_alone, look_at, look_through, scan
from lanternslide.intake.settler import Settler
from lanternslide.intake.watch import DropWatcher, watches_in_place
from lanternslide.intake.whole import held_for_writing

__all__ = [
    "DropWatcher",
    "Entry",
    "Mount",
    "Round",
    "Settler",
    "count_others",
    "dropped",
    "held_for_writing",
    "is_left_alone",
    "is_mapped_drive",
    "is_remote",
    "look_at",
    "look_through",
    "mount_of",
    "mounts",
    "route",
    "scan",
    "watches_in_place",
]
