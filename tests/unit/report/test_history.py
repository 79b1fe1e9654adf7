"""The records as a list for a person."""

from __future__ import annotations

import json
import time
from collections.abc import Iterator

import pytest

from lanternslide.records import Record
from lanternslide.report import readable_held, readable_records
from lanternslide.words import Held, say
from tests.support.happenings import record


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
        "         club 2x        1600 × 1067   412 kB  quality 90  SSIM 0.987  withdrawn",
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
        "Held, until you act:",
        "  ida: y.jpg",
        "    The file is empty (0 bytes). Export",
        "    or copy it again.",
    ]


def test_an_original_that_was_made_again_later_is_named_again() -> None:
    """As is another one of the same minute, and the same one of another photographer."""
    first = record("club", 1).model_copy(update={"width": 9, "height": 9, "delivered_at": "2026-11-25T12:00:00+00:00"})
    later = first.model_copy(update={"delivered_at": "2026-11-25T12:01:00+00:00"})
    other = later.model_copy(update={"original": "y.jpg"})
    junos = other.model_copy(update={"photographer": "juno"})

    names = [line.split("  ")[-1] for line in listed(first, later, other, junos) if ".jpg" in line]

    assert names == ["ida: x.jpg", "ida: x.jpg", "ida: y.jpg", "juno: y.jpg"]


def test_nothing_held_is_no_list() -> None:
    """Not even its title."""
    assert list(readable_held([], 80)) == []
    assert list(readable_records([], 80)) == []
