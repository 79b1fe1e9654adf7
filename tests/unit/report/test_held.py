"""What is held, as a text for the photographer."""

from __future__ import annotations

import pytest

from lanternslide.report import held_text, is_held_text


def test_nothing_held_is_no_text() -> None:
    """The file exists only while something is held."""
    assert held_text([]) is None


def test_each_name_with_what_to_do() -> None:
    """In the order of the names, the title first, by which the file is known again."""
    text = held_text([("isles/b.jpg", "It is empty."), ("a.jpg", "It was cut off.")])

    assert text == (
        "These files are held: they were not published.\nUnder each you see why, and what to do.\n\n"
        "a.jpg\n    It was cut off.\n\nisles/b.jpg\n    It is empty.\n"
    )


@pytest.mark.parametrize(
    ("text", "is_ours"),
    [
        ("These files are held: they were not published. Below each", True),
        ("Held pictures: nothing was published of these. What to do", True),
        ("My notes on held pictures", False),
        ("", False),
    ],
)
def test_it_is_known_by_its_title(text: str, *, is_ours: bool) -> None:
    """Also by the one that earlier versions gave it; somebody else's file is not ours."""
    assert is_held_text(text) is is_ours


def test_reasons_are_broken_between_words() -> None:
    """So that they can be read in any editor: at most 78 columns, none of it lost."""
    reason = "Export it again, as a JPEG or a TIFF of eight or sixteen bits. " * 5

    text = held_text([("a.jpg", reason)])

    assert text is not None
    _, _, _, name, *lines = text.splitlines()
    assert name == "a.jpg"
    assert max(map(len, lines)) <= 78
    assert all(line.startswith("    ") for line in lines)
    assert " ".join(" ".join(lines).split()) == reason.strip()
