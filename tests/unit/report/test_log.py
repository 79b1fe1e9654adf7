"""Log lines: one event each."""

from __future__ import annotations

import io
import json
import sys
from collections.abc import Iterator
from typing import Any

import pytest
import structlog

from lanternslide.errors import UsageError
from lanternslide.records.events import (
    Began,
    Behind,
    ConfigRefused,
    Delivered,
    Ended,
    EngineFailed,
    Event,
    Failed,
    FiledAway,
    Finished,
    Found,
    HeldBack,
    Idle,
    Passed,
    RequestFailed,
    Reread,
    SheetFailed,
    Started,
    Waits,
    Withdrawn,
    WorkerJoined,
    WorkerLeft,
    WorkerRefused,
)
from lanternslide.report import LogReport, configure_log, crashes_logged
from lanternslide.words import Held, Passing, say
from tests.support.happenings import HOSTILE, SHOWN, file_of, record

WORDS = "Bass Rock → 灯台 “café” 😀"
EMPTY, READ_ONLY = say(Held.EMPTY), say(Passing.READ_ONLY, folder="out")


@pytest.fixture
def log() -> Iterator[io.StringIO]:
    """Return where the log is written as JSON."""
    stream = io.StringIO()
    configure_log("json", stream)
    yield stream
    structlog.reset_defaults()


def lines_of(log: io.StringIO) -> list[dict[str, Any]]:
    """Return what was logged."""
    return [json.loads(line) for line in log.getvalue().splitlines()]


# Events


def test_one_line_for_each_event(log: io.StringIO) -> None:
    """Each event is one JSON object on one line, whatever a file is called."""
    report = LogReport()
    for event in (
        HeldBack(file=file_of(HOSTILE), said=say(Held.EMPTY)),
        Delivered(record=record("club", 100)),
        Failed(file=file_of(HOSTILE), attempts=1, detail="it failed", trace="Traceback\n  line"),
        Passed(what="club"),
        Idle(),
        Idle(),
    ):
        report(event)

    lines = [json.loads(line) for line in log.getvalue().splitlines()]
    assert [line["event"] for line in lines] == ["held", "delivered", "attempt failed", "goes on", "batch done"]
    assert lines[0]["original"] == SHOWN
    assert "\x1b" not in log.getvalue()
    assert lines[4]["deliveries"] == 1


@pytest.mark.parametrize(
    ("event", "level", "fields"),
    [
        (HeldBack(file=file_of(), said=EMPTY), "warning", {"original": "ida: x.jpg", "key": "empty"}),
        (
            Failed(file=file_of(), attempts=2, detail="it failed", trace="Traceback"),
            "warning",
            {"attempts": 2, "detail": "it failed", "exception": "Traceback"},
        ),
        (Withdrawn(original="ida: x.jpg", destination="club", output="/out/x.jpg"), "info", {"output": "/out/x.jpg"}),
        (FiledAway(file=file_of(), to="/filed/x.jpg"), "info", {"original": "ida: x.jpg", "to": "/filed/x.jpg"}),
        (Waits(what="club", said=READ_ONLY), "warning", {"what": "club", "key": "read-only", "reason": READ_ONLY.text}),
        (Passed(what="club"), "info", {"what": "club"}),
        (Began(folders=("drop/ida",)), "info", {"folders": ["drop/ida"]}),
        (Reread(folders=("drop/ida",)), "info", {"folders": ["drop/ida"]}),
        (Ended(), "info", {}),
        (RequestFailed(detail="d", trace="t"), "error", {"detail": "d", "exception": "t"}),
        (SheetFailed(photographer="ida", detail="d", trace="t"), "error", {"photographer": "ida", "exception": "t"}),
        (ConfigRefused(detail="d"), "error", {"detail": "d"}),
        (WorkerJoined(host="studio", memory="4 GiB"), "info", {"host": "studio", "memory": "4 GiB"}),
        (WorkerRefused(host="studio", said=READ_ONLY), "warning", {"host": "studio", "key": "read-only"}),
        (WorkerLeft(host="studio"), "info", {"host": "studio"}),
        (EngineFailed(detail="d", trace="t"), "error", {"detail": "d", "exception": "t"}),
    ],
    ids=lambda value: type(value).__name__ if not isinstance(value, str | dict) else "",
)
def test_each_event_has_a_level_and_its_fields(
    log: io.StringIO, event: Event, level: str, fields: dict[str, object]
) -> None:
    """What asks its owner for something is a warning, what the service could not do an error, the rest information."""
    LogReport()(event)

    (line,) = lines_of(log)
    assert line["level"] == level
    assert fields.items() <= line.items()
    assert list(line)[:2] == ["event", "level"]
    assert line["timestamp"].endswith("Z")


def test_every_kind_of_event_is_called_otherwise(log: io.StringIO) -> None:
    """So that whoever reads the log can ask for one."""
    report = LogReport()
    for event in (
        Began(folders=()), Reread(folders=()), Ended(), ConfigRefused(detail=""), RequestFailed(detail="", trace=""),
        SheetFailed(photographer="", detail="", trace=""), EngineFailed(detail="", trace=""),
        WorkerJoined(host="", memory=""), WorkerLeft(host=""), WorkerRefused(host="", said=EMPTY), Passed(what=""),
        Waits(what="", said=EMPTY), HeldBack(file=file_of(), said=EMPTY), FiledAway(file=file_of(), to=""),
        Withdrawn(original="", destination="", output=""), Delivered(record=record("club", 1)),
        Failed(file=file_of(), attempts=1, detail="", trace=None), Idle(),
    ):  # fmt: skip
        report(event)

    names = [line["event"] for line in lines_of(log)]
    assert len(set(names)) == len(names) == 18


def test_progress_is_for_those_who_watch_it(log: io.StringIO) -> None:
    """What was found, begun and finished is no line of the log."""
    report = LogReport()
    for event in (Found(file=file_of()), Behind(number=3), Started(file=file_of(), deliveries=1)):
        report(event)
    report(Finished(file=file_of(), changed=False))

    assert log.getvalue() == ""


def test_a_failure_that_is_not_the_codes_own_has_no_trace(log: io.StringIO) -> None:
    """A worker that died has none to show."""
    LogReport()(Failed(file=file_of(), attempts=1, detail="it died", trace=None))

    assert "exception" not in lines_of(log)[0]


def test_no_line_holds_the_inside(log: io.StringIO) -> None:
    """Neither a detail nor a trace quotes the path by which a worker opened an original, or a temporary name."""
    trace = "Traceback\nRuntimeError: /proc/self/fd/6: an odd file\n"
    LogReport()(Failed(file=file_of(), attempts=1, detail="cannot read '/dev/fd/6'", trace=trace))
    with pytest.raises(SystemExit), crashes_logged():
        raise OSError(28, "No space left on device", "/out/.lanternslide-1f2e3d4c-a1b2-7.part")

    failed, crashed = lines_of(log)
    assert (failed["detail"], failed["exception"]) == (
        "cannot read the file", "Traceback\nRuntimeError: an odd file\n",
    )  # fmt: skip
    assert crashed["detail"] == "OSError: No space left on device"
    assert ".part" not in crashed["exception"]


def test_a_delivery_tells_what_was_made(log: io.StringIO) -> None:
    """Which, where, how large, and what is doubtful."""
    noted = record("club", 100, "Small.").model_copy(update={"notes": ("Grey.",)})
    made = noted.model_copy(update={"width": 60, "height": 40, "output": "/out/x.jpg"})
    LogReport()(Delivered(record=made))

    (line,) = lines_of(log)
    expected = {
        "event": "delivered", "original": "ida: x.jpg", "destination": "club", "density": 1, "output": "/out/x.jpg",
        "width": 60, "height": 40, "bytes": 100, "quality": 90, "doubts": ["Small."], "notes": ["Grey."],
    }  # fmt: skip
    assert expected.items() <= line.items()


# Batches


def test_a_batch_is_one_event_with_its_figures(log: io.StringIO) -> None:
    """For each destination deliveries, bytes and doubts, the median and the worst of quality and likeness."""
    report = LogReport()
    for quality, ssim in ((90, 0.99), (80, 0.97), (85, None)):
        made = record("club", 100, *(["Small."] if quality == 80 else []))
        report(Delivered(record=made.model_copy(update={"quality": quality, "ssim": ssim})))
    report(Delivered(record=record("journal", 300)))
    report(HeldBack(file=file_of("y.jpg"), said=say(Held.EMPTY)))
    report(Idle())

    batch = json.loads(log.getvalue().splitlines()[-1])
    assert {name: batch[name] for name in ("event", "pictures", "deliveries", "held", "doubts")} == {
        "event": "batch done", "pictures": 1, "deliveries": 4, "held": 1, "doubts": 1,
    }  # fmt: skip
    assert (batch["bytes_in"], batch["bytes_out"]) == (500, 600)
    assert batch["destinations"] == {
        "club": {"deliveries": 3, "bytes": 300, "doubts": 1, "quality": {"median": 85, "worst": 80},
                 "ssim": {"median": 0.98, "worst": 0.97}},
        "journal": {"deliveries": 1, "bytes": 300, "doubts": 0, "quality": {"median": 90, "worst": 90}, "ssim": None},
    }  # fmt: skip


def test_a_batch_of_held_pictures_alone_is_one_event(log: io.StringIO) -> None:
    """What came was seen to, though nothing was delivered."""
    report = LogReport()
    report(HeldBack(file=file_of("y.jpg"), said=say(Held.EMPTY)))
    report(Idle())
    report(Idle())

    batches = [line for line in map(json.loads, log.getvalue().splitlines()) if line["event"] == "batch done"]
    assert [(batch["held"], batch["deliveries"], batch["destinations"]) for batch in batches] == [(1, 0, {})]


# Where it goes


def test_lines_for_a_person_say_the_same() -> None:
    """On a console an event is readable, its doubts and reasons below it, and still without control characters."""
    stream = io.StringIO()
    configure_log("console", stream)
    report = LogReport()
    report(HeldBack(file=file_of(HOSTILE), said=say(Held.EMPTY)))
    report(Finished(file=file_of(HOSTILE), changed=False))
    structlog.reset_defaults()

    head, reason = stream.getvalue().splitlines()
    assert head.endswith(f"held: {SHOWN}")
    assert reason.strip() == "The file is empty (0 bytes). Export or copy it again."


class Terminal(io.StringIO):
    """A stream that is a terminal."""

    def isatty(self) -> bool:
        """Return that it is one."""
        return True


@pytest.mark.parametrize(
    ("kind", "stream", "json_lines"),
    [
        ("auto", Terminal, False),
        ("auto", io.StringIO, True),
        ("json", Terminal, True),
        ("console", io.StringIO, False),
    ],
)
def test_lines_are_for_a_terminal_or_a_program(kind: str, stream: type[io.StringIO], *, json_lines: bool) -> None:
    """By itself the log is readable on a terminal and JSON elsewhere; whoever asks for one of them gets it."""
    written = stream()
    configure_log(kind, written)
    LogReport()(Ended())
    structlog.reset_defaults()

    assert written.getvalue().startswith("{") is json_lines
    assert "stopped" in written.getvalue()


def test_the_error_stream_is_the_one_there_is_then(monkeypatch: pytest.MonkeyPatch) -> None:
    """If no other is named."""
    now = io.StringIO()
    monkeypatch.setattr(sys, "stderr", now)
    configure_log("json")
    LogReport()(Ended())
    structlog.reset_defaults()

    assert "stopped" in now.getvalue()


@pytest.mark.parametrize(("encoding", "escaped"), [("utf-8", False), ("UTF8", False), ("cp1252", True)])
def test_json_says_every_letter_on_every_stream(encoding: str, *, escaped: bool) -> None:
    """On a stream with an old code page by JSON's own escapes."""
    stream = io.TextIOWrapper(io.BytesIO(), encoding=encoding, errors="strict", newline="\n")
    configure_log("json", stream)
    structlog.get_logger().info(WORDS)
    structlog.reset_defaults()
    stream.flush()

    assert isinstance(stream.buffer, io.BytesIO)
    text = stream.buffer.getvalue().decode(encoding)
    assert json.loads(text)["event"] == WORDS
    assert text.isascii() is escaped


# Crashes


def test_what_nobody_has_foreseen_is_one_event(log: io.StringIO) -> None:
    """With its trace; the program ends as any does that an exception ends."""
    with pytest.raises(SystemExit) as caught, crashes_logged():
        raise ZeroDivisionError("by hand")

    (line,) = lines_of(log)
    assert caught.value.code == 1
    assert (line["event"], line["level"]) == ("crashed", "critical")
    assert line["detail"] == "ZeroDivisionError: by hand"
    assert "Traceback" in line["exception"]


@pytest.mark.parametrize("error", [UsageError("not so"), SystemExit(3), KeyboardInterrupt()])
def test_what_is_foreseen_is_no_crash(log: io.StringIO, error: BaseException) -> None:
    """It is told elsewhere, as it was raised."""
    with pytest.raises(type(error)) as caught, crashes_logged():
        raise error

    assert caught.value is error
    assert log.getvalue() == ""
