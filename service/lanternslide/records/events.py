"""What happens, told to whoever wants to know: the log, a terminal, the summary."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

from lanternslide.records.files import DroppedFile
from lanternslide.records.record import Record
from lanternslide.words import Said

__all__ = [
    "Began",
    "Behind",
    "ConfigRefused",
    "Delivered",
    "Ended",
    "EngineFailed",
    "Event",
    "Failed",
    "FiledAway",
    "Finished",
    "Found",
    "HeldBack",
    "Idle",
    "Listener",
    "Passed",
    "RequestFailed",
    "Reread",
    "SheetFailed",
    "Started",
    "Waits",
    "Withdrawn",
    "WorkerJoined",
    "WorkerLeft",
    "WorkerRefused",
    "nobody",
]


@dataclass(frozen=True, kw_only=True, slots=True)
class Began:
    """The service watches its drop folders from now on."""

    folders: tuple[str, ...]  #: The drop folders, safe to print.


@dataclass(frozen=True, kw_only=True, slots=True)
class Ended:
    """The service has stopped in order."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Found:
    """An original was seen that is to be done."""

    file: DroppedFile  #: As it looks now.


@dataclass(frozen=True, kw_only=True, slots=True)
class Behind:
    """So many originals are to be made again beyond those that were found."""

    number: int  #: How many of them.


@dataclass(frozen=True, kw_only=True, slots=True)
class Started:
    """A worker makes an original's deliveries."""

    file: DroppedFile  #: The original.
    deliveries: int  #: How many are made of it.


@dataclass(frozen=True, kw_only=True, slots=True)
class Delivered:
    """A delivery stands."""

    record: Record  #: As the ledger has it.


@dataclass(frozen=True, kw_only=True, slots=True)
class Withdrawn:
    """A delivery was taken back."""

    original: str  #: Photographer and path, safe to print.
    destination: str  #: Its name.
    output: str  #: The path where it stood, safe to print.


@dataclass(frozen=True, kw_only=True, slots=True)
class FiledAway:
    """A finished original was moved out of the drop folder."""

    file: DroppedFile  #: As it lay in the drop folder.
    to: str  #: Where it lies now, safe to print.


@dataclass(frozen=True, kw_only=True, slots=True)
class Reread:
    """The config was read again."""

    folders: tuple[str, ...]  #: The drop folders now, safe to print.


@dataclass(frozen=True, kw_only=True, slots=True)
class ConfigRefused:
    """The config was read again and is not valid; the one before stays."""

    detail: str  #: Every fault, for a person.


@dataclass(frozen=True, kw_only=True, slots=True)
class RequestFailed:
    """An owner's command could not be done, through no fault that is known."""

    detail: str  #: The error in one line.
    trace: str  #: Where it came from.


@dataclass(frozen=True, kw_only=True, slots=True)
class SheetFailed:
    """A proof sheet could not be written, through no fault that is known; deliveries go on."""

    photographer: str  #: Whose it is.
    detail: str  #: The error in one line.
    trace: str  #: Where it came from.


@dataclass(frozen=True, kw_only=True, slots=True)
class HeldBack:
    """An original waits for its owner."""

    file: DroppedFile  #: The original.
    said: Said  #: Why, and what to do.


@dataclass(frozen=True, kw_only=True, slots=True)
class Failed:
    """An attempt failed through no fault that is known; it is made again."""

    file: DroppedFile  #: The original.
    attempts: int  #: How many have failed so far.
    detail: str  #: How it has failed, for a person.
    trace: str | None  #: Where it came from, if the failure is the code's own.


@dataclass(frozen=True, kw_only=True, slots=True)
class Finished:
    """An original needs nothing more for now: delivered, held, gone, or the same as before."""

    file: DroppedFile  #: The original.
    changed: bool  #: Whether something was delivered.


@dataclass(frozen=True, kw_only=True, slots=True)
class Waits:
    """Something is in the way that may pass; told once, when it begins or becomes another."""

    what: str  #: The original or the folder.
    said: Said  #: What is in the way.


@dataclass(frozen=True, kw_only=True, slots=True)
class Passed:
    """What was in the way has passed."""

    what: str  #: What it was in the way of.


@dataclass(frozen=True, kw_only=True, slots=True)
class Idle:
    """Nothing is left to do."""


@dataclass(frozen=True, kw_only=True, slots=True)
class EngineFailed:
    """The engine of a cluster has failed through no fault that is known; it is begun with anew."""

    detail: str  #: The error in one line.
    trace: str  #: Where it came from.


@dataclass(frozen=True, kw_only=True, slots=True)
class WorkerJoined:
    """A worker of a cluster may have work from now on."""

    host: str  #: Its machine.
    memory: str  #: How large a job it takes.


@dataclass(frozen=True, kw_only=True, slots=True)
class WorkerRefused:
    """A worker of a cluster gets no work for now."""

    host: str  #: Its machine.
    said: Said  #: Why it gets no work.


@dataclass(frozen=True, kw_only=True, slots=True)
class WorkerLeft:
    """A worker of a cluster is not there any more."""

    host: str  #: Its machine.


Event: TypeAlias = (
    Began
    | Ended
    | Found
    | Behind
    | Started
    | Delivered
    | Withdrawn
    | FiledAway
    | HeldBack
    | Failed
    | Finished
    | Waits
    | Passed
    | Idle
    | RequestFailed
    | SheetFailed
    | Reread
    | ConfigRefused
    | EngineFailed
    | WorkerJoined
    | WorkerRefused
    | WorkerLeft
)
Listener: TypeAlias = Callable[[Event], None]


def nobody(_event: Event) -> None:
    """Listen to nothing: for what is told in another way, or to nobody."""
