"""What the service says: log lines, and the summary of a batch."""

from lanternslide.report.batch import Batch
from lanternslide.report.log import LogReport, configure_log

__all__ = ["Batch", "LogReport", "configure_log"]
