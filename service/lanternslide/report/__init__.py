"""What the service says: log lines, and the summary of a batch."""

from lanternslide.report.alike import by_kind
from lanternslide.report.batch import Batch, Range
from lanternslide.report.held import held_text, is_held_text
from lanternslide.report.history import readable_held, readable_records
from lanternslide.report.journal import complaint
from lanternslide.report.log import LogReport, configure_log, crashes_logged
from lanternslide.report.manifest import MANIFEST_FILE, Standing, is_manifest, manifest_text
from lanternslide.report.pace import Pace

__all__ = [
    "MANIFEST_FILE",
    "Batch",
    "LogReport",
    "Pace",
    "Range",
    "Standing",
    "by_kind",
    "complaint",
    "configure_log",
    "crashes_logged",
    "held_text",
    "is_held_text",
    "is_manifest",
    "manifest_text",
    "readable_held",
    "readable_records",
]
