"""Metadata of originals whose names exiv2 cannot open on Windows."""

from __future__ import annotations

import sys
from pathlib import Path

import pyexiv2
import pytest

from lanternslide.metadata import source
from tests.support.pictures import save_jpeg


@pytest.mark.parametrize("name", ["grey-seal.jpg", "Töne 灯台.jpg"])
def test_every_name_can_be_opened(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str) -> None:
    """A name beyond ASCII is read by its bytes, the others by their path; what they say is the same.

    The library that takes only ASCII stands in for what was reported of it; it was not seen on Windows.
    """
    original = save_jpeg(tmp_path / name, 60, 40)
    with pyexiv2.Image(str(original)) as image:
        image.modify_exif({"Exif.Image.Artist": "Ida Marrow"})
    whole = pyexiv2.Image

    class OfAscii(whole):  # type: ignore[misc, valid-type]
        def __init__(self, filename: str) -> None:
            filename.encode("ascii")
            super().__init__(filename)

    monkeypatch.setattr(pyexiv2, "Image", OfAscii)
    monkeypatch.setattr(sys, "platform", "win32")
    with source.image_of(original) as image:
        assert image.read_exif()["Exif.Image.Artist"] == "Ida Marrow"
