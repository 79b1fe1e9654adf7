"""What is said of files that cannot be decoded: cut short, or damaged."""

from __future__ import annotations

import struct
from pathlib import Path

import pytest

from lanternslide.errors import OriginalHeldError
from lanternslide.imaging.reading.damage import not_decoded, not_opened
from lanternslide.words import Held
from tests.support.odd_files import sound_files

SOUND = sound_files()
KINDS = {".jpg": "JPEG", ".png": "PNG", ".webp": "WebP", ".tif": "TIFF"}


def key_of(error: Exception) -> str:
    """Return the key of what is said."""
    assert isinstance(error, OriginalHeldError)
    return error.said.key


@pytest.mark.parametrize("name", SOUND)
def test_whole_files_do_not_end_early(tmp_path: Path, name: str) -> None:
    """What is wrong with them is something else."""
    ending, data = SOUND[name]
    path = tmp_path / f"x{ending}"
    path.write_bytes(data)

    assert key_of(not_decoded(path, KINDS[ending], "")) == Held.DAMAGED
    opened = not_opened(path, KINDS[ending])
    assert "its header makes no sense" in str(opened)


@pytest.mark.parametrize("length", [13, 20, 30])
@pytest.mark.parametrize("name", SOUND)
def test_files_that_end_in_their_header_are_cut_short(tmp_path: Path, name: str, length: int) -> None:
    """The file itself says how long it would have to be."""
    ending, data = SOUND[name]
    path = tmp_path / f"x{ending}"
    path.write_bytes(data[:length])

    assert key_of(not_opened(path, KINDS[ending])) == Held.CUT_SHORT


@pytest.mark.parametrize("name", [name for name, (ending, _) in SOUND.items() if ending in (".png", ".webp")])
@pytest.mark.parametrize("share", [0.3, 0.8, 0.99])
def test_pngs_and_webps_tell_their_length_to_the_end(tmp_path: Path, name: str, share: float) -> None:
    """Their decoders do not say why they fail."""
    ending, data = SOUND[name]
    path = tmp_path / f"x{ending}"
    path.write_bytes(data[: int(len(data) * share)])

    assert key_of(not_decoded(path, KINDS[ending], "unable to read")) == Held.CUT_SHORT


@pytest.mark.parametrize(
    ("kind", "data"),
    [
        ("JPEG", b"\xff\xd8\xff\xe0\0\4ab not a marker"),
        ("JPEG", b"\xff\xd8\xff\xff\xd9"),
        ("JPEG", b"\xff\xd8\xff\xd0\xff\x01\xff\xda"),
        ("JPEG", b"\xff\xd8" + b"\xff\xe0\0\2" * 100_001),
        ("PNG", b"\x89PNG\r\n\x1a\n\0\0\0\x0d\1\2\3\4" + bytes(20)),
        ("TIFF", b"II*\0\0\0\0\0"),
        ("TIFF", b"MM\0*\0\0\0\7" + bytes(20)),
        ("TIFF", b"II*\0\x08\0\0\0\0\0"),
        ("TIFF", b"II+\0\x08\0\0\0" + struct.pack("<QQ", 16, 10**12) + bytes(20)),
    ],
)
def test_nonsense_is_damage(tmp_path: Path, kind: str, data: bytes) -> None:
    """Lengths that no file would have tell nothing."""
    path = tmp_path / "x"
    path.write_bytes(data)

    assert key_of(not_opened(path, kind)) == Held.DAMAGED


@pytest.mark.parametrize(
    "text",
    [
        "tiff2vips: Read error at scanline 28; got 185 bytes, expected 2304",
        "VipsJpeg: premature end of JPEG image",
        "image file is truncated (12 bytes not processed)",
    ],
)
def test_what_decoders_say_of_an_end_counts(tmp_path: Path, text: str) -> None:
    """It is said in plain words."""
    path = tmp_path / "x.tif"
    path.write_bytes(SOUND["TIFF"][1])

    error = not_decoded(path, "TIFF", text)

    assert key_of(error) == Held.CUT_SHORT
    assert text not in str(error)


def test_a_name_says_nothing(tmp_path: Path) -> None:
    """Decoders quote it."""
    path = tmp_path / "a truncated cone, out of memory.tif"
    path.write_bytes(SOUND["TIFF"][1])

    assert key_of(not_decoded(path, "TIFF", f"{path}: bad seek to 17")) == Held.DAMAGED


def test_a_number_that_is_damaged_is_no_lack_of_memory(tmp_path: Path) -> None:
    """Libtiff calls it that where a tag claims to be huge."""
    path = tmp_path / "x.tif"
    path.write_bytes(SOUND["TIFF"][1])

    assert key_of(not_opened(path, "TIFF", 'tiff2vips: Out of memory reading of "Compression"')) == Held.DAMAGED


@pytest.mark.parametrize("text", ["vips_tracked: out of memory -- size == 12MB", "Insufficient memory (case 4)"])
def test_too_little_memory_is_no_damage(tmp_path: Path, text: str) -> None:
    """It costs an attempt, and the picture is tried again."""
    path = tmp_path / "x.tif"
    path.write_bytes(SOUND["TIFF"][1])

    assert isinstance(not_decoded(path, "TIFF", text), MemoryError)
