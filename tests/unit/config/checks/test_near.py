"""The nearest right name."""

from __future__ import annotations

import pytest

from lanternslide.config.checks.near import nearest, or_near

KNOWN = ("portfolio", "Journal", "club", "notice_board")


@pytest.mark.parametrize(
    ("name", "near"),
    [
        ("portfolo", "portfolio"),
        ("protfolio", "portfolio"),
        ("jurnal", "Journal"),
        ("JOURNAL", "Journal"),
        ("noticeboard", "notice_board"),
        ("clubs", "club"),
        ("xyz", None),
        ("harbour", None),
        ("", None),
    ],
)
def test_the_nearest_is_named_as_it_is_written(name: str, near: str | None) -> None:
    """Case does not count in finding it; what is like nothing has none."""
    assert nearest(name, KNOWN) == near
    assert or_near(name, KNOWN) == ("" if near is None else f" (did you mean “{near}”?)")


def test_nothing_is_near_where_nothing_is_known() -> None:
    """An empty list is no error."""
    assert nearest("club", ()) is None


def test_how_near_is_near_enough_can_be_said() -> None:
    """A stricter question has no answer where a looser one has."""
    assert nearest("portal", KNOWN, cutoff=0.5) == "portfolio"
    assert nearest("portal", KNOWN, cutoff=0.95) is None
