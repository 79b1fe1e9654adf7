"""The frozen records that flow from the drop folder to the ledger, and what the config says for a worker (`recipe`)."""

from lanternslide.records.files import DroppedFile, Fingerprint, shown_path, shown_text
from lanternslide.records.job import DeliveryTask, Job, Survey, SurveyTask
from lanternslide.records.made import (
    About,
    Changed,
    JobDone,
    LeftOut,
    Made,
    Outcome,
    Refused,
    Shown,
    Stalled,
    Unrecognised,
)
from lanternslide.records.orders import Result, Task
from lanternslide.records.recipe import Recipe, Recompression, Rights, Sharpening, SizeRule, UnsharpMask, Watermark
from lanternslide.records.record import OriginalFile, Record
from lanternslide.records.routing import Routing
from lanternslide.records.scope import Scope
from lanternslide.records.stored import updated_line
from lanternslide.records.trace import Traced, TracedPlan, TraceTask
from lanternslide.records.work_item import Key, SurveyedItem, WorkItem

__all__ = [
    "About",
    "Changed",
    "DeliveryTask",
    "DroppedFile",
    "Fingerprint",
    "Job",
    "JobDone",
    "Key",
    "LeftOut",
    "Made",
    "OriginalFile",
    "Outcome",
    "Recipe",
    "Recompression",
    "Record",
    "Refused",
    "Result",
    "Rights",
    "Routing",
    "Scope",
    "Sharpening",
    "Shown",
    "SizeRule",
    "Stalled",
    "Survey",
    "SurveyTask",
    "SurveyedItem",
    "Task",
    "TraceTask",
    "Traced",
    "TracedPlan",
    "Unrecognised",
    "UnsharpMask",
    "Watermark",
    "WorkItem",
    "shown_path",
    "shown_text",
    "updated_line",
]
