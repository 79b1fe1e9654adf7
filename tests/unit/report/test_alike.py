"""Saying once what is said of many."""

from __future__ import annotations

from lanternslide.report.alike import by_kind


def test_each_text_stands_once_with_all_it_is_said_of() -> None:
    """In the order in which they were said first."""
    said = [("a", "Small."), ("b", "Dark."), ("c", "Small."), ("a", "Small.")]

    assert by_kind(said) == [("Small.", ["a", "c"]), ("Dark.", ["b"])]


def test_texts_that_differ_in_their_figures_are_of_one_kind() -> None:
    """The first of them is an example."""
    assert by_kind([("a", "1.5 % is black."), ("b", "20 % is black.")]) == [
        ("For example: 1.5 % is black.", ["a", "b"])
    ]
    assert by_kind([("a", "1.5 % is black."), ("b", "1.5 % is black.")]) == [("1.5 % is black.", ["a", "b"])]


def test_numbers_in_names_are_names() -> None:
    """What stands in quotation marks is called so."""
    said = [(n, f"Another file had the name “DSC_000{n}.jpg”.") for n in (1, 2)]

    assert [text for text, _ in by_kind(said)] == [text for _, text in said]
