"""What a worker is asked to do, and what it may answer."""

from __future__ import annotations

from typing import TypeAlias

from lanternslide.records.job import Job, Survey, SurveyTask
from lanternslide.records.made import Changed, JobDone, Refused, Stalled
from lanternslide.records.ring import Ringed, RingTask
from lanternslide.records.trace import Traced, TraceTask

__all__ = ["Result", "Task"]

Task: TypeAlias = SurveyTask | Job | TraceTask | RingTask
"""Each kind of task has one function of the worker that does it."""

Result: TypeAlias = Survey | JobDone | Traced | Ringed | Refused | Stalled | Changed
"""What came of a task whose worker did not fail; the first four belong to a kind of task each."""
