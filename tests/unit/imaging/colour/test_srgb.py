"""The sRGB profile that is shipped."""

from __future__ import annotations

from lanternslide.imaging.colour.srgb import srgb_profile
from tests.support.icc_write import srgb_written


def test_it_is_what_its_standard_says() -> None:
    """The file is what the standard's numbers make, byte for byte; `reference/test_colour.py` reads it by others."""
    assert srgb_profile() == srgb_written()
