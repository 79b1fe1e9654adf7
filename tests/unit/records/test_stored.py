"""Lines of records as the ledger keeps them."""

from __future__ import annotations

import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lanternslide.records import OriginalFile, Record, updated_line
from lanternslide.records.stored import _todays
from tests.support.happenings import whole_record

NOW: dict[str, Any] = {
    "state": "withdrawn", "attempts": 2, "filed_to": 'done/"a".jpg', "delivered_at": "2026-11-25T12:00:00+00:00",
}  # fmt: skip


def test_what_the_ledger_knows_better_is_put_in() -> None:
    """State, attempts, filing place and time come from the ledger; nothing else changes, nor does the order."""
    before = json.loads(whole_record().to_line())

    after = json.loads(updated_line(whole_record().to_line(), **NOW))

    assert after == {**before, **NOW}
    assert list(after) == list(before)


@pytest.mark.parametrize(
    "line",
    [whole_record().to_line(), Record(original="a.jpg", photographer="ida", state="delivered", version="0").to_line()],
)
def test_a_line_with_all_fields_is_passed_on(line: str) -> None:
    """It is not taken apart, whether its values are known or null: there may be a hundred thousand."""
    assert _todays().fullmatch(line)


def test_a_line_of_an_earlier_version() -> None:
    """Fields that it did not know are there as null, also inside others, in their place."""
    earlier = json.loads(whole_record().to_line())
    del earlier["ssim"], earlier["forecast"], earlier["original_file"]["profile"]

    after = json.loads(updated_line(json.dumps(earlier), **NOW))

    whole = json.loads(whole_record().to_line())
    whole["original_file"]["profile"] = None
    assert after == {**whole, "ssim": None, "forecast": None, **NOW}
    assert list(after) == list(whole)


TEXTS = st.text(st.characters(exclude_categories=["Cs"])) | st.sampled_from(['"', "\\", '", "state": "held', "}"])


@given(
    texts=st.lists(TEXTS, min_size=4, max_size=4),
    attempts=st.none() | st.integers(0, 9),
    filed_to=st.none() | TEXTS,
)
def test_any_text_stays_a_text(texts: list[str], attempts: int | None, filed_to: str | None) -> None:
    """Whatever stands in names and doubts, the line is the same as by taking it apart and writing it anew."""
    name, doubt, profile, output = texts
    made = whole_record(original=name, doubts=(doubt, "]"), output=output, original_file=OriginalFile(profile=profile))
    now = {**NOW, "attempts": attempts, "filed_to": filed_to}

    assert updated_line(made.to_line(), **now) == json.dumps({**json.loads(made.to_line()), **now}, ensure_ascii=False)
