"""The table of a batch on a terminal."""

from __future__ import annotations

import io
import re
from pathlib import Path

import pytest
from rich.console import Console

from lanternslide.cli.output.batch_table import BatchTable
from lanternslide.records import DroppedFile, Fingerprint, Record
from lanternslide.records.events import Delivered, Event, HeldBack, Idle
from lanternslide.words import Held, say

TORN = DroppedFile(
    photographer="ida", drop=Path("drop"), relative=Path("torn.jpg"),
    fingerprint=Fingerprint(size=5, mtime_ns=0, inode=1),
)  # fmt: skip


def delivered(destination: str, quality: int, ssim: float | None = None, *doubts: str) -> Delivered:
    """Return that a delivery of a million bytes stands."""
    record = Record(
        original=f"{quality}.jpg", photographer="ida", destination=destination, density=1, state="delivered",
        bytes=1_000_000, quality=quality, ssim=ssim, doubts=doubts,
    )  # fmt: skip
    return Delivered(record=record)


def shown(*events: Event, width: int = 80) -> str:
    """Return what a terminal shows after *events*."""
    stream = io.StringIO()
    table = BatchTable(Console(file=stream, width=width, highlight=False), ["portfolio", "club"])
    for event in events:
        table(event)
    return stream.getvalue()


def row_of(text: str, name: str) -> list[str]:
    """Return the cells of a destination's row."""
    (line,) = (line for line in text.splitlines() if line.split()[:1] == [name])
    return re.split(r" {2,}", line.strip())


def test_median_and_worst_for_each_destination() -> None:
    """Deliveries, size, quality, likeness and doubts stand in one row, destinations in the config's order."""
    text = shown(
        delivered("club", 90, 0.991), delivered("club", 84, 0.97, "Small."), delivered("club", 88, 0.985),
        delivered("portfolio", 90, 0.99), Idle(),
    )  # fmt: skip

    assert row_of(text, "club") == ["club", "3", "3.0 MB", "88", "84", "0.985", "0.970", "1"]
    assert row_of(text, "portfolio") == ["portfolio", "1", "1.0 MB", "90", "90", "0.990", "0.990", "0"]
    assert text.index("portfolio") < text.index("club")


def test_likeness_that_nobody_measured_takes_no_columns() -> None:
    """Where it is known for some deliveries only, the others' cells are empty."""
    assert "SSIM" not in shown(delivered("club", 90), Idle())

    text = shown(delivered("club", 90), delivered("portfolio", 91, 0.99), Idle())
    assert "SSIM" in text
    assert row_of(text, "club") == ["club", "1", "1.0 MB", "90", "90", "0"]


@pytest.mark.parametrize("name", ["club", "a-place-with-a-very-long-name-indeed", "[red]x"])
def test_it_fits_eighty_columns(name: str) -> None:
    """Whatever destinations are called, no figure is cut off."""
    text = shown(*(delivered(name, 90, 0.991, "Small.") for _ in range(12_345)), Idle())

    assert max(map(len, text.splitlines())) <= 80
    assert "12345" in text
    assert "12.3 GB" in text
    assert text.count("0.991") == 2
    assert name[:8] in text


def test_once_for_each_batch() -> None:
    """Each batch has its own figures, one with held originals alone is told, and one without anything is not."""
    assert shown(Idle()) == ""
    text = shown(delivered("club", 90), Idle(), Idle(), delivered("club", 80), Idle())
    assert re.findall(r"club +1 +1.0 MB +(\d\d)", text) == ["90", "80"]

    text = shown(HeldBack(file=TORN, said=say(Held.EMPTY)), Idle())
    assert "Nothing new was delivered." in text
    assert "1 original was held" in text
