"""What a PNG says of its colours: chunks in the order of the specification (third edition), against colour-science."""

from __future__ import annotations

import struct
import zlib
from pathlib import Path

import colour
import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from lanternslide.imaging.colour.chromaticity import colorants
from lanternslide.imaging.colour.png_colour import WANTED, read_png_colour
from lanternslide.imaging.colour.srgb import srgb_profile
from tests.support.chain import deliver, recipe, render_codes
from tests.support.icc_write import matrix_profile

PATCH = (180, 90, 60)
GAMMA_22 = struct.pack(">I", 45455)
SRGB_POINTS = struct.pack(">8I", 31270, 32900, 64000, 33000, 30000, 60000, 15000, 6000)
"""The values of PNG (third edition), 11.3.2.5, for sRGB."""

SRGB_POINTS_D50 = struct.pack(">8I", 34570, 35850, 64000, 33000, 30000, 60000, 15000, 6000)
"""The same, with the white of a print under D50 (CIE 15)."""

P3_POINTS = struct.pack(">8I", 31270, 32900, 68000, 32000, 26500, 69000, 15000, 6000)
LINEAR_PROFILE = matrix_profile("linear", (0.64, 0.33), (0.30, 0.60), (0.15, 0.06), (0.3127, 0.3290), 1.0)


def png(path: Path, *chunks: tuple[bytes, bytes], mode: str = "RGB", icc: bytes | None = None) -> Path:
    """Write a patch with *chunks* in front of its pixels."""
    Image.new(mode, (120, 90), PATCH if mode == "RGB" else PATCH[1]).save(path, icc_profile=icc)
    data = path.read_bytes()
    at = data.index(b"IHDR") + 4 + 13 + 4
    added = b"".join(
        struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body)) for kind, body in chunks
    )
    path.write_bytes(data[:at] + added + data[at:])
    return path


def colour_of(path: Path) -> npt.NDArray[np.float64]:
    """Return the rendered colour."""
    found: npt.NDArray[np.float64] = render_codes(path, recipe(60)).reshape(-1, 3).mean(axis=0)
    return found


def by_science(space: str, curve: float | None = None) -> npt.NDArray[np.float64]:
    """Return the sRGB codes of the patch as colour-science converts it from *space*."""
    code = np.array(PATCH) / 255
    linear = np.asarray(colour.models.eotf_sRGB(code), np.float64) if curve is None else code**curve
    found = colour.RGB_to_RGB(linear, space, "sRGB", chromatic_adaptation_transform="Bradford")
    return np.asarray(255 * colour.models.eotf_inverse_sRGB(np.clip(found, 0, 1)), np.float64)


@pytest.mark.parametrize(
    ("chunks", "icc", "space", "curve"),
    [
        pytest.param([(b"sRGB", b"\0")], None, "sRGB", None, id="sRGB"),
        pytest.param([(b"gAMA", GAMMA_22), (b"cHRM", SRGB_POINTS)], None, "sRGB", 2.2, id="gamma and points"),
        pytest.param([(b"gAMA", GAMMA_22)], None, "sRGB", 2.2, id="gamma alone"),
        pytest.param([(b"cHRM", P3_POINTS)], None, "Display P3", None, id="points alone"),
        pytest.param([(b"gAMA", struct.pack(">I", 100_000)), (b"sRGB", b"\0")], None, "sRGB", None, id="sRGB first"),
        pytest.param([(b"cICP", bytes([12, 13, 0, 1]))], None, "Display P3", None, id="number"),
        pytest.param([(b"cICP", bytes([9, 4, 0, 1]))], None, "ITU-R BT.2020", 2.2, id="wide by number"),
        pytest.param([(b"cICP", bytes([12, 13, 0, 1])), (b"sRGB", b"\0")], None, "Display P3", None, id="number first"),
        pytest.param([(b"cICP", bytes([12, 13, 0, 1]))], LINEAR_PROFILE, "Display P3", None, id="number over profile"),
        pytest.param([], LINEAR_PROFILE, "sRGB", 1.0, id="profile"),
        pytest.param([(b"cHRM", P3_POINTS), (b"gAMA", GAMMA_22)], LINEAR_PROFILE, "sRGB", 1.0, id="profile over gamma"),
        # A high dynamic range, limited range, and numbers that nobody assigned are as if they were not there.
        pytest.param([(b"cICP", bytes([9, 16, 0, 1])), (b"sRGB", b"\0")], None, "sRGB", None, id="not this curve"),
        pytest.param([(b"cICP", bytes([12, 13, 0, 0])), (b"sRGB", b"\0")], None, "sRGB", None, id="not this range"),
        pytest.param([(b"cICP", bytes([77, 13, 0, 1])), (b"sRGB", b"\0")], None, "sRGB", None, id="not this number"),
    ],
)
def test_the_first_statement_counts(
    tmp_path: Path, chunks: list[tuple[bytes, bytes]], icc: bytes | None, space: str, curve: float | None
) -> None:
    """Of several statements the first in the order cICP, iCCP, sRGB, gAMA with cHRM counts, and is no doubt."""
    original = png(tmp_path / "patch.png", *chunks, icc=icc)

    np.testing.assert_allclose(colour_of(original), by_science(space, curve), atol=1.0)
    assert deliver(original, recipe(60))[1].doubts == ()


def test_the_white_counts_too(tmp_path: Path) -> None:
    """The primaries of sRGB under another white are another space, as colour-science has it."""
    original = png(tmp_path / "patch.png", (b"cHRM", SRGB_POINTS_D50))
    srgb = colour.RGB_COLOURSPACES["sRGB"]
    space = colour.RGB_Colourspace("D50", srgb.primaries, np.array([0.3457, 0.3585]), "D50")
    linear = np.asarray(colour.models.eotf_sRGB(np.array(PATCH) / 255), np.float64)
    found = colour.RGB_to_RGB(linear, space, "sRGB", chromatic_adaptation_transform="Bradford")
    meant = 255 * colour.models.eotf_inverse_sRGB(np.clip(found, 0, 1))

    np.testing.assert_allclose(colour_of(original), meant, atol=1.0)
    assert np.abs(meant - PATCH).max() > 3


@pytest.mark.parametrize(
    "chunks",
    [
        [],
        [(b"gAMA", struct.pack(">I", 0))],
        [(b"gAMA", struct.pack(">I", 1))],
        [(b"cHRM", struct.pack(">8I", *[0] * 8))],
        [(b"cHRM", struct.pack(">8I", *[33333] * 8))],
    ],
)
def test_what_makes_no_sense_is_as_if_it_were_not_there(tmp_path: Path, chunks: list[tuple[bytes, bytes]]) -> None:
    """Without anything to go by sRGB is assumed, with a note."""
    original = png(tmp_path / "patch.png", *chunks)

    np.testing.assert_allclose(colour_of(original), PATCH, atol=1.0)
    assert [doubt.key for doubt in deliver(original, recipe(60))[1].findings] == ["srgb-assumed"]


def test_grey_takes_the_curve(tmp_path: Path) -> None:
    """A grey picture of gamma 1 is lighter than sRGB's: 90 / 255 of the light is code 160 (IEC 61966-2-1 by hand)."""
    original = png(tmp_path / "grey.png", (b"gAMA", struct.pack(">I", 100_000)), mode="L")

    expected = 255 * (1.055 * (90 / 255) ** (1 / 2.4) - 0.055)
    np.testing.assert_allclose(colour_of(original), [expected] * 3, atol=1.0)


CHUNKS = st.lists(
    st.sampled_from(sorted(WANTED.items())).flatmap(
        lambda kind: st.tuples(st.just(kind[0]), st.binary(min_size=kind[1], max_size=kind[1]))
    ),
    max_size=4,
)


@given(chunks=CHUNKS, rest=st.binary(max_size=60))
def test_any_numbers_give_a_space_or_none(
    tmp_path_factory: pytest.TempPathFactory, chunks: list[tuple[bytes, bytes]], rest: bytes
) -> None:
    """Whatever the chunks hold, and whatever follows them: a space that can be computed with, or none."""
    path = tmp_path_factory.mktemp("png") / "x.png"
    body = b"".join(struct.pack(">I", len(data)) + kind + data + bytes(4) for kind, data in chunks)
    path.write_bytes(b"\x89PNG\r\n\x1a\n" + body + rest)

    found = read_png_colour(path)

    for declared in filter(None, (found.before_profile, found.without_profile)):
        matrix = colorants(*declared.primaries, declared.white)
        light = declared.curve(np.array([0.0, 0.5, 1.0]))
        assert np.isfinite(matrix).all()
        assert abs(np.linalg.det(matrix)) > 1e-9
        assert 0 <= light[0] <= light[1] <= light[2] <= 1


def test_the_profile_of_a_display_is_doubted(tmp_path: Path) -> None:
    """A profile with the correction curves of a calibrated display is used and doubted; a working space is not."""
    plain = srgb_profile()
    count = int.from_bytes(plain[128:132], "big")
    # One more tag: the table of tags grows by 12 bytes, so every offset does.
    tags = b"".join(
        plain[at : at + 4]
        + (int.from_bytes(plain[at + 4 : at + 8], "big") + 12).to_bytes(4, "big")
        + plain[at + 8 : at + 12]
        for at in range(132, 132 + 12 * count, 12)
    )
    body = plain[132 + 12 * count :]
    size = len(plain) + 12
    extra = b"vcgt" + size.to_bytes(4, "big") + (18).to_bytes(4, "big")
    measured = plain[:128] + (count + 1).to_bytes(4, "big") + tags + extra + body + b"vcgt" + bytes(14)
    measured = len(measured).to_bytes(4, "big") + measured[4:]

    found = {}
    for name, icc in (("plain", plain), ("measured", measured)):
        original = png(tmp_path / f"{name}.png", icc=icc)
        np.testing.assert_allclose(colour_of(original), PATCH, atol=1.0)
        found[name] = [doubt.key for doubt in deliver(original, recipe(60))[1].findings]

    assert found == {"plain": [], "measured": ["display-profile"]}


@pytest.mark.parametrize("curve", [16, 18])
def test_a_space_that_is_not_read_is_doubted(tmp_path: Path, curve: int) -> None:
    """A picture for bright displays (ITU-T H.273, table 3): nobody may take it for sRGB without a word."""
    original = png(tmp_path / "patch.png", (b"cICP", bytes((9, curve, 0, 1))))

    assert [said.key for said in deliver(original, recipe(60))[1].doubts] == ["no-profile"]


@pytest.mark.parametrize(
    ("chunks", "label", "told"),
    [
        ([(b"cICP", bytes((12, 13, 0, 1)))], "Display P3, as the file says", ["space-declared"]),
        ([(b"cICP", bytes((1, 8, 0, 1)))], "sRGB primaries, linear, as the file says", ["space-declared"]),
        ([(b"gAMA", struct.pack(">I", 45455))], "sRGB, as the file says", []),
        ([(b"gAMA", struct.pack(">I", 55556))], "sRGB primaries, gamma 1.8, as the file says", ["space-declared"]),
        ([], "sRGB, assumed", ["srgb-assumed"]),
    ],
)
def test_the_record_says_which_space_it_was(
    tmp_path: Path, chunks: list[tuple[bytes, bytes]], label: str, told: list[str]
) -> None:
    """In words of people; what is sRGB under another name is not told."""
    made = deliver(png(tmp_path / "patch.png", *chunks), recipe(60))[1]

    assert made.figures.original_file.profile == label
    assert [said.key for said in made.notes if said.key != "halo-at-limit"] == told
