"""Lines that fit a terminal."""

from __future__ import annotations

import io
import os

import pytest

from lanternslide.report.folding import columns_of, folded

TEXT = "12:00:00  held: ida: x.jpg\n          The file is empty (0 bytes). Export it again.\n\nend"


def test_what_is_indented_goes_on_as_far_in() -> None:
    """Each line by itself; an empty one stays."""
    assert folded(TEXT, 40, 10) == (
        "12:00:00  held: ida: x.jpg\n          The file is empty (0 bytes).\n          Export it again.\n\nend"
    )


def test_other_lines_go_on_a_little_further_in() -> None:
    """So that one sees where the next begins."""
    assert folded("one two three four", 9, 2) == "one two\n  three\n  four"


def test_wide_letters_count_twice() -> None:
    """As a terminal shows them."""
    assert folded("写真 写真 写真", 9, 2) == "写真 写真\n  写真"


def test_spaces_stay_as_they_are() -> None:
    """In the name of a folder."""
    assert folded("in my  pictures", 40, 2) == "in my  pictures"


def test_a_path_stays_whole() -> None:
    """To be copied."""
    path = "/srv/lanternslide/drop/ida/" + "north-stack-" * 8

    assert path in folded(f"There is no room in {path}. Free some.", 40, 2).splitlines()[1]


def test_nothing_is_folded_for_programs() -> None:
    """Where there is no terminal."""
    assert columns_of(io.StringIO()) is None
    assert columns_of(None) is None
    assert folded(TEXT, None, 10) == TEXT


def test_a_terminal_says_how_wide_it_is(monkeypatch: pytest.MonkeyPatch) -> None:
    """As the system has it."""
    stream = io.StringIO()
    monkeypatch.setattr(stream, "isatty", lambda: True)
    monkeypatch.setattr("shutil.get_terminal_size", lambda: os.terminal_size((72, 20)))

    assert columns_of(stream) == 72
