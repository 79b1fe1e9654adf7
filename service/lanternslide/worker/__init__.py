"""What runs in a worker process: survey an original, make its deliveries, look ahead, make ring-arounds."""

import logging
from typing import assert_never

from lanternslide.records import Job, Result, SurveyTask, Task, TraceTask
from lanternslide.records.ring import RingTask
from lanternslide.worker.make import make
from lanternslide.worker.ring import ring
from lanternslide.worker.survey import survey
from lanternslide.worker.trace import trace

__all__ = ["do", "make", "ring", "survey", "trace"]


def do(task: Task) -> Result:
    """Do a task and return what came of it."""
    match task:
        case SurveyTask():
            return survey(task)
        case Job():
            return make(task)
        case TraceTask():
            return trace(task)
        case RingTask():
            return ring(task)
        case _:
            assert_never(task)


# libvips remarks on files in a log of its own; what matters of it comes back as an error, and the service's log takes
# one event a line.
logging.getLogger("pyvips").addHandler(logging.NullHandler())
logging.getLogger("pyvips").propagate = False
