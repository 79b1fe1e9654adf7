"""What the service says: log lines, a batch's figures, records."""

from __future__ import annotations

import io
import json
import os
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
import structlog

from lanternslide.records import DroppedFile, Fingerprint, OriginalFile, Record
from lanternslide.records.events import Delivered, Event, Failed, Finished, HeldBack, Idle, Passed, Waits
from lanternslide.report import Batch, LogReport, Range, configure_log, readable_held, readable_records
from lanternslide.words import Held, Passing, readable_bytes, say

HOSTILE = os.fsdecode(b"caf\xe9\n\x1b[31m\xe2\x80\xae.jpg")
SHOWN = r"ida: caf\xe9\n\x1b[31m\u202e.jpg"

# The record's fields, transcribed from the contract.
FIELDS = [
    "original",
    "photographer",
    "destination",
    "density",
    "state",
    "reason",
    "output",
    "digest",
    "width",
    "height",
    "bytes",
    "quality",
    "quality_by",
    "chroma",
    "original_file",
    "strength",
    "rungs",
    "ssim",
    "delta_e",
    "acutance",
    "halo",
    "tone_shift",
    "out_of_gamut",
    "clipped",
    "forecast",
    "doubts",
    "attempts",
    "seconds",
    "peak_mib",
    "filed_to",
    "delivered_at",
    "plan",
    "version",
]


def file_of(name: str = "x.jpg") -> DroppedFile:
    """Return a file of 500 bytes."""
    fingerprint = Fingerprint(size=500, mtime_ns=0, inode=1)
    return DroppedFile(photographer="ida", drop=Path("drop"), relative=Path(name), fingerprint=fingerprint)


def record(destination: str, size: int, *doubts: str) -> Record:
    """Return the record of a delivery."""
    return Record(
        original="x.jpg", photographer="ida", destination=destination, density=1, state="delivered",
        bytes=size, quality=90, doubts=doubts, version="0", original_file=OriginalFile(bytes=500),
    )  # fmt: skip


def test_a_record_has_the_fields_of_the_contract() -> None:
    """Others build on the record: its fields are exactly those, in that order, null where not known."""
    line = json.loads(record("club", 1).to_line())

    assert list(line) == FIELDS
    assert line["ssim"] is None
    assert list(line["original_file"]) == ["width", "height", "bits", "profile", "bytes", "digest"]


def test_a_batch_adds_up() -> None:
    """Pictures, deliveries, bytes, doubts and what is held are counted by destination."""
    batch = Batch()
    events: list[Event] = [
        Delivered(record=record("club", 100)),
        Delivered(record=record("journal", 200, "Small.")),
        Delivered(record=record("journal", 300)),
        Finished(file=file_of(), changed=True),
        HeldBack(file=file_of("y.jpg"), said=say(Held.EMPTY)),
        Finished(file=file_of("y.jpg"), changed=False),
        Finished(file=file_of("z.jpg"), changed=False),
        Waits(what="ida: w.jpg", said=say(Passing.READ_ONLY, folder="out")),
    ]
    for event in events:
        batch(event)

    assert (batch.pictures, batch.unchanged, batch.deliveries) == (1, 1, 3)
    assert (batch.bytes_in, batch.bytes_out) == (500, 600)
    assert batch.destinations["journal"].doubts == 1
    assert batch.destinations["journal"].quality == Range(90, 90)
    assert batch.doubts == [("ida: x.jpg", "journal", "Small.")]
    assert list(batch.held) == ["ida: y.jpg"]
    assert list(batch.waits) == ["ida: w.jpg"]


@pytest.fixture
def log() -> Iterator[io.StringIO]:
    """Return where the log is written as JSON."""
    stream = io.StringIO()
    configure_log("json", stream)
    yield stream
    structlog.reset_defaults()


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


def listed(*records: Record, width: int = 80) -> list[str]:
    """Return the list of records for a person."""
    return list(readable_records([json.loads(made.to_line()) for made in records], width))


@pytest.fixture
def far_east(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Have the local time nine hours ahead of UTC."""
    monkeypatch.setenv("TZ", "UTC-9")
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


@pytest.mark.usefixtures("far_east")
def test_days_are_local_and_an_original_is_named_once() -> None:
    """What an original was delivered to together stands below its name; a new day begins at local midnight."""
    made = record("club", 412_000).model_copy(
        update={"width": 1600, "height": 1067, "delivered_at": "2026-11-25T14:59:59+00:00"}
    )
    big = made.model_copy(update={"density": 2.0, "ssim": 0.9874, "state": "withdrawn"})
    late = made.model_copy(update={"delivered_at": "2026-11-25T15:00:00+00:00"})

    assert listed(made, big, late) == [
        "Wednesday 2026-11-25",
        "  23:59  ida: x.jpg",
        "         club           1600 × 1067   412 kB  quality 90",
        "         club @2x       1600 × 1067   412 kB  quality 90  SSIM 0.987  withdrawn",
        "",
        "Thursday 2026-11-26",
        "  00:00  ida: x.jpg",
        "         club           1600 × 1067   412 kB  quality 90",
    ]


def test_a_list_fits_its_terminal() -> None:
    """Doubts and reasons are broken between words; figures of pictures up to 9999 pixels fit 80 columns."""
    doubt = "It was delivered at its own size, " * 5
    made = record("portfolio", 99_900_000, doubt).model_copy(
        update={"width": 9999, "height": 9999, "quality": 90, "ssim": 0.9874, "state": "withdrawn",
                "delivered_at": "2026-11-25T14:59:59+00:00"}
    )  # fmt: skip

    lines = listed(made)

    assert max(map(len, lines)) <= 80
    assert " ".join(" ".join(lines[3:]).split()) == f"? {doubt.strip()}"
    held = Record(original="y.jpg", photographer="ida", state="held", reason=say(Held.EMPTY).text)
    assert list(readable_held([json.loads(held.to_line())], 40)) == [
        "",
        "Held, until their owner acts",
        "  ida: y.jpg",
        "    The file is empty (0 bytes). Export",
        "    or copy it again.",
    ]


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


@pytest.mark.parametrize(
    ("number", "text"), [(0, "0 bytes"), (999, "999 bytes"), (1000, "1 kB"), (499_600, "500 kB"), (1_500_000, "1.5 MB")]
)
def test_bytes_for_a_person(number: int, text: str) -> None:
    """Sizes are told in decimal units."""
    assert readable_bytes(number) == text
