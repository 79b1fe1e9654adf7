"""What an original's header says that its owner should know."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from lanternslide.imaging.colour.working_space import WorkingSpace
from lanternslide.imaging.reading.source import Header
from lanternslide.words import Doubt, Note, Said, say
from lanternslide.worker.findings import findings_of


def header(*, extra: int = 0, pages: int = 1) -> Header:
    """Return the header of a small TIFF."""
    return Header(
        path=Path("seal.tif"), kind="TIFF", stored_width=60, stored_height=40, channels=3, alpha=False, extra=extra,
        bits=16, orientation=1, icc=None, declared=None, density=None, held_bytes=0, page=0, pages=pages,
    )  # fmt: skip


def space(doubt: Said | None) -> WorkingSpace:
    """Return a space that was chosen with a doubt, or without."""
    return WorkingSpace(name=None, label="", curves=None, to_srgb=np.eye(3), finding=doubt)


NO_PROFILE = say(Doubt.NO_PROFILE, hint="it says so")


@pytest.mark.parametrize(
    ("extra", "pages", "chosen", "expected"),
    [
        (0, 1, None, []),
        (0, 1, NO_PROFILE, [NO_PROFILE]),
        (1, 1, None, [say(Note.EXTRA_CHANNELS)]),
        (0, 2, None, [say(Note.OTHER_PAGES, pages=2)]),
        (2, 3, NO_PROFILE, [NO_PROFILE, say(Note.EXTRA_CHANNELS), say(Note.OTHER_PAGES, pages=3)]),
    ],
)
def test_each_thing_that_was_left_out_or_assumed_is_told(
    extra: int, pages: int, chosen: Said | None, expected: list[Said]
) -> None:
    """Colour comes first; a single page without further channels has nothing to tell."""
    assert list(findings_of(header(extra=extra, pages=pages), space(chosen))) == expected
