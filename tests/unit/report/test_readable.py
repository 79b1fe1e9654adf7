"""Events for a person at a terminal."""

from __future__ import annotations

import time
from collections.abc import Iterator

import pytest

from lanternslide.report.readable import readable_event


@pytest.fixture(autouse=True)
def far_east(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Have the local time nine hours ahead of UTC."""
    monkeypatch.setenv("TZ", "UTC-9")
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


def line_of(event: str, **fields: object) -> str:
    """Return an event as a person reads it."""
    return readable_event({"event": event, "level": "info", "timestamp": "2026-11-25T15:04:05.123456Z", **fields})


@pytest.mark.parametrize(
    ("event", "fields", "said"),
    [
        (
            "delivered",
            {
                "original": "ida: x.jpg", "destination": "club", "width": 60, "height": 40, "bytes": 1500,
                "quality": 90, "doubts": [], "notes": [], "output": "/out/x.jpg",
            },
            "delivered: ida: x.jpg for club: 60 × 40 pixels, 1.5 kB, quality 90",
        ),
        ("goes on", {"what": "club"}, "goes on: club"),
        ("watching", {"folders": ["drop/ida", "drop/juno"]}, "watching: drop/ida, drop/juno (Ctrl-C stops)"),
        ("progress", {"done": 1, "all": 2, "seconds_left": None}, "progress: 1 of 2 originals"),
        ("progress", {"done": 0, "all": 1, "seconds_left": 0}, "progress: 0 of 1 original, about 1 minute left"),
        (
            "batch done",
            {"pictures": 1, "deliveries": 2, "bytes_out": 2_500_000, "held": 0},
            "batch done: 1 picture, 2 deliveries, 2.5 MB; 0 held",
        ),
        ("stopped", {}, "stopped"),
        ("worker left", {"host": "studio", "why": "gone"}, "worker left: host: studio, why: gone"),
    ],
)  # fmt: skip
def test_an_event_is_a_line(event: str, fields: dict[str, object], said: str) -> None:
    """Local time, what happened, and what of it matters."""
    assert line_of(event, **fields) == f"00:04:05  {said}"


@pytest.mark.parametrize(("event", "what"), [("held", "original"), ("waits", "what"), ("worker refused", "host")])
def test_reasons_stand_below(event: str, what: str) -> None:
    """With what they are said of above them; the key is for programs."""
    text = line_of(event, **{what: "ida: x.jpg"}, reason="It is empty.", key="empty")

    assert text == f"00:04:05  {event}: ida: x.jpg\n          It is empty."


def test_doubts_and_notes_stand_below_their_delivery() -> None:
    """Each in a line of its own."""
    text = line_of(
        "delivered", original="ida: x.jpg", destination="club", width=1, height=1, bytes=1, quality=90,
        doubts=["Small.", "Dark."],
        notes=["Grey."],
    )  # fmt: skip

    assert text.splitlines()[1:] == ["          ? Small.", "          ? Dark.", "          - Grey."]


@pytest.mark.parametrize("event", ["crashed", "stopped"])
def test_a_trace_comes_last(event: str) -> None:
    """As it is, for whoever mends it."""
    assert line_of(event, exception="Traceback\n  line").endswith("\nTraceback\n  line")
    assert line_of(event, exception="x", detail="d") == f"00:04:05  {event}: detail: d\nx"
