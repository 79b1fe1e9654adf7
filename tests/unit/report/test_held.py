"""What is held, as a text for the photographer."""

from __future__ import annotations

from lanternslide.report import HELD_TITLE, held_text


def test_nothing_held_is_no_text() -> None:
    """The file exists only while something is held."""
    assert held_text([]) is None


def test_each_name_with_what_to_do() -> None:
    """In the order of the names, the title first, by which the file is known again."""
    text = held_text([("isles/b.jpg", "It is empty."), ("a.jpg", "It was cut off.")])

    assert text == (
        f"{HELD_TITLE} What to do stands below each.\n\na.jpg\n    It was cut off.\n\nisles/b.jpg\n    It is empty.\n"
    )


def test_reasons_are_broken_between_words() -> None:
    """So that they can be read in any editor: at most 78 columns, none of it lost."""
    reason = "Export it again, as a JPEG or a TIFF of eight or sixteen bits. " * 5

    text = held_text([("a.jpg", reason)])

    assert text is not None
    _, _, name, *lines = text.splitlines()
    assert name == "a.jpg"
    assert max(map(len, lines)) <= 78
    assert all(line.startswith("    ") for line in lines)
    assert " ".join(" ".join(lines).split()) == reason.strip()
