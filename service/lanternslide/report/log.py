"""Log lines: one event each, through structlog; what is quoted from files is escaped by the renderers."""

from __future__ import annotations

import os
import sys
import time
import traceback
from collections.abc import Callable, Iterator, Mapping, MutableMapping
from contextlib import contextmanager
from typing import Any, TextIO

import structlog

from lanternslide.errors import LanternslideError
from lanternslide.records.events import (
    Began,
    ConfigRefused,
    Delivered,
    Ended,
    EngineFailed,
    Event,
    Failed,
    FiledAway,
    Finished,
    HeldBack,
    Idle,
    Passed,
    RequestFailed,
    Reread,
    SheetFailed,
    Waits,
    Withdrawn,
    WorkerJoined,
    WorkerLeft,
    WorkerRefused,
)
from lanternslide.report.batch import Batch, DestinationFigures
from lanternslide.report.folding import columns_of
from lanternslide.report.journal import goes_to_journal, with_priority
from lanternslide.report.pace import Pace
from lanternslide.report.readable import readable_event
from lanternslide.words import named, without_inside

__all__ = ["LogReport", "configure_log", "crashes_logged"]

TENTHS, PROGRESS_SECONDS = 10, 30.0
"""How much more has to be done, and how much time to have passed, before progress is said again."""

CRASHED = 1
"""The exit status of any program in Python that an exception ends."""


def configure_log(kind: str, stream: TextIO | None = None, environment: Mapping[str, str] = os.environ) -> None:
    """Set the log up: "console", "json", or "auto" (console on a terminal, else JSON).

    It goes to *stream*, or else to what the error stream is now. Where that leads to systemd's journal, each line says
    how urgent it is.
    """
    stream = stream or sys.stderr
    console = kind == "console" or (kind == "auto" and stream.isatty())
    renderer: structlog.typing.Processor = (
        _for_person(stream) if console else structlog.processors.JSONRenderer(ensure_ascii=not _takes_text(stream))
    )
    structlog.configure(
        processors=[
            structlog.processors.add_log_level,
            structlog.processors.TimeStamper(fmt="iso", utc=True),
            _begin_with_event,
            _clean,
            renderer,
            *([_set_priority] if goes_to_journal(stream, environment) else []),
        ],
        logger_factory=structlog.WriteLoggerFactory(file=stream),
        cache_logger_on_first_use=False,
    )


def _takes_text(stream: TextIO) -> bool:
    """Return whether a stream takes every letter; one with an old code page gets JSON's own escapes."""
    return (stream.encoding or "utf-8").lower().replace("-", "").startswith("utf")


def _for_person(stream: TextIO) -> structlog.typing.Processor:
    def render(_logger: Any, _method: str, event: MutableMapping[str, Any]) -> str:
        return readable_event(dict(event), columns_of(stream))

    return render


def _begin_with_event(_logger: Any, _method: str, event: MutableMapping[str, Any]) -> MutableMapping[str, Any]:
    """Return *event* with what a reader looks for first at its beginning."""
    first = {key: event[key] for key in ("event", "level") if key in event}
    return {**first, **event}


def _clean(_logger: Any, _method: str, event: MutableMapping[str, Any]) -> MutableMapping[str, Any]:
    """Return *event* without paths of the inside, which libraries and traces quote."""
    return {key: without_inside(value) if isinstance(value, str) else value for key, value in event.items()}


def _set_priority(_logger: Any, method: str, line: Any) -> str:
    return with_priority(line, method)


@contextmanager
def crashes_logged() -> Iterator[None]:
    """While open, log what nobody has foreseen as one event, and end with it."""
    try:
        yield
    except LanternslideError:
        raise
    except Exception as error:
        trace = "".join(traceback.format_exception(error))
        structlog.get_logger().critical("crashed", detail=named(error), exception=trace)
        raise SystemExit(CRASHED) from error


class LogReport:
    """Writes an event for each delivery and each held original, and a summary when nothing is left to do.

    Where there is much to do, a line says now and then how far it has come: with each tenth of it.
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._log = structlog.get_logger()
        self._batch = Batch()
        self._clock = clock
        self._pace = Pace(clock)
        self._said_at: float | None = None  # when progress was said, or might first have been
        self._said = 0

    def __call__(self, event: Event) -> None:
        """Write *event*."""
        self._batch(event)
        self._pace(event)
        match event:
            case Finished():
                self._progress()
            case Delivered():
                self._delivered(event)
            case Idle():
                self._summary()
            case HeldBack() | Failed() | Withdrawn() | FiledAway():
                self._of_an_original(event)
            case WorkerJoined() | WorkerRefused() | WorkerLeft() | EngineFailed():
                self._of_a_worker(event)
            case _:
                self._of_the_service(event)

    def _of_an_original(self, event: HeldBack | Failed | Withdrawn | FiledAway) -> None:
        match event:
            case HeldBack(file=file, said=said):
                self._log.warning("held", original=file.shown, reason=said.text, key=said.key)
            case Failed(file=file, attempts=attempts, detail=detail, trace=trace):
                more = {"exception": trace} if trace else {}
                self._log.warning("attempt failed", original=file.shown, attempts=attempts, detail=detail, **more)
            case Withdrawn(original=original, destination=destination, output=output):
                self._log.info("withdrawn", original=original, destination=destination, output=output)
            case FiledAway(file=file, to=to):
                self._log.info("filed away", original=file.shown, to=to)

    def _of_a_worker(self, event: WorkerJoined | WorkerRefused | WorkerLeft | EngineFailed) -> None:
        match event:
            case WorkerJoined(host=host, memory=memory):
                self._log.info("worker joined", host=host, memory=memory)
            case WorkerRefused(host=host, said=said):
                self._log.warning("worker refused", host=host, reason=said.text, key=said.key)
            case WorkerLeft(host=host):
                self._log.info("worker left", host=host)
            case EngineFailed(detail=detail, trace=trace):
                self._log.error("engine failed", detail=detail, exception=trace)

    def _of_the_service(self, event: Event) -> None:
        match event:
            case Waits(what=what, said=said):
                self._log.warning("waits", what=what, reason=said.text, key=said.key)
            case Passed(what=what):
                self._log.info("goes on", what=what)
            case Began(folders=folders):
                self._log.info("watching", folders=list(folders))
            case Reread(folders=folders):
                self._log.info("config read again", folders=list(folders))
            case RequestFailed(detail=detail, trace=trace):
                self._log.error("request failed", detail=detail, exception=trace)
            case SheetFailed(photographer=name, detail=detail, trace=trace):
                self._log.error("proof sheet failed", photographer=name, detail=detail, exception=trace)
            case ConfigRefused(detail=detail):
                self._log.error("config refused", detail=detail)
            case Ended():
                self._log.info("stopped")
            case _:  # found, begun and finished originals are for those who watch progress
                pass

    def _delivered(self, event: Delivered) -> None:
        record = event.record
        self._log.info(
            "delivered",
            original=f"{record.photographer}: {record.original}",
            destination=record.destination, density=record.density, output=record.output,
            width=record.width, height=record.height, bytes=record.bytes, quality=record.quality,
            seconds=record.seconds, doubts=list(record.doubts), notes=list(record.notes),
        )  # fmt: skip

    def _progress(self) -> None:
        now, pace = self._clock(), self._pace
        if self._said_at is None:
            self._said_at = now
        tenth = pace.done * TENTHS // pace.all
        if tenth <= self._said or tenth == TENTHS or now < self._said_at + PROGRESS_SECONDS:
            return
        self._said_at, self._said = now, tenth
        left = pace.seconds_left
        self._log.info("progress", done=pace.done, all=pace.all, seconds_left=None if left is None else round(left))

    def _summary(self) -> None:
        self._said_at, self._said = None, 0
        batch, self._batch = self._batch, Batch()
        if not batch:
            return
        self._log.info(
            "batch done",
            pictures=batch.pictures, deliveries=batch.deliveries, held=len(batch.held), doubts=batch.doubtful,
            bytes_in=batch.bytes_in, bytes_out=batch.bytes_out,
            destinations={name: _figures(figures) for name, figures in batch.destinations.items()},
        )  # fmt: skip


def _figures(figures: DestinationFigures) -> dict[str, object]:
    ranges = {"quality": figures.quality, "ssim": figures.ssim}
    return {
        "deliveries": figures.deliveries, "bytes": figures.bytes, "doubts": figures.doubts,
        **{name: None if found is None else found._asdict() for name, found in ranges.items()},
    }  # fmt: skip
