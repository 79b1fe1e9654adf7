"""What is said of metadata that did not travel."""

from __future__ import annotations

import pytest

from lanternslide.worker.left_behind import listed_plainly


@pytest.mark.parametrize(
    ("text", "plain"),
    [
        # Of the library, which did not open the file.
        (
            "/proc/self/fd/4: The file contains data of an unknown image type",
            "Exif: it is damaged",
        ),
        ("Failed to read image data", "Exif: it is damaged"),
        ("Not a valid ICC Profile", "Exif: it is damaged"),
        # Of a part.
        ("Exif: Offset out of range", "Exif: it is damaged"),
        ("Exif: 'utf-8' codec can't decode byte 0xff in position 3: invalid start byte", "Exif: it is damaged"),
        ("XMP: it is damaged (mismatched tag: line 1, column 284)", "XMP: it is damaged"),
        ("XMP: it is damaged (not well-formed (invalid token): line 1, column 37)", "XMP: it is damaged"),
        (
            "Exif: the maker note (Size of Exif JPEG segment is larger than 65535 bytes)",
            "Exif: the maker note",
        ),
        # Ours stays.
        ("XMP: it holds no RDF", "XMP: it holds no RDF"),
        ("Exif: Artist, XResolution, damaged", "Exif: Artist, XResolution, damaged"),
        ("what lies beside the picture: a box is damaged", "what lies beside the picture: a box is damaged"),
        ("Exif: Artist, ImageDescription", "Exif: Artist, ImageDescription"),
        ("XMP: a part of Xmp.dc.title (in two languages)", "XMP: a part of Xmp.dc.title (in two languages)"),
        ("IPTC: the letters of Caption are not known", "IPTC: the letters of Caption are not known"),
        ("its texts: its text chunks are too long", "its texts: its text chunks are too long"),
    ],
)
def test_it_is_said_plainly(text: str, plain: str) -> None:
    """Which metadata, and why, in words that a photographer knows."""
    assert listed_plainly([text]) == plain


def test_nothing_is_said_twice() -> None:
    """Two faults that sound alike are one."""
    texts = ["Exif: Offset out of range", "XMP: it holds no RDF", "Exif: Failed to read image data"]

    assert listed_plainly(texts) == "Exif: it is damaged; XMP: it holds no RDF"
