"""Profiles that work through tables, against LittleCMS through Pillow."""

from __future__ import annotations

import io
import struct
from pathlib import Path

import colour
import numpy as np
import numpy.typing as npt
import pytest
import pyvips
import tifffile
from PIL import Image, ImageCms
from skimage.color import deltaE_ciede2000, rgb2lab

from lanternslide.imaging.colour.chromaticity import D50_XYZ, SRGB_PRIMARIES, colorants
from tests.support.chain import deliver, doubted_of_file, recipe, render_codes
from tests.support.outside import DATA, needs_data

CLOSE_ENOUGH = 1.0
"""CIEDE2000: Pillow hands LittleCMS 8 bits, which alone can differ by a level, up to 1 in the dark."""

PATCH = 24
GRID = 17


def inks() -> npt.NDArray[np.uint8]:
    """Return patches of ink, shape (rows, columns, 4): single inks, greys, and mixtures as pictures have them."""
    random = np.random.default_rng(1)
    single = [np.eye(4)[ink] * share for ink in range(4) for share in (0.25, 0.6, 1.0)]
    mixed = random.random((16, 4)) * (0.8, 0.8, 0.8, 0.4)
    shares = np.concatenate([np.array(single), mixed, np.zeros((2, 4))])
    codes: npt.NDArray[np.uint8] = np.rint(shares * 255).astype(np.uint8)
    return codes.reshape(5, 6, 4)


def spread(codes: npt.NDArray[np.uint8]) -> npt.NDArray[np.uint8]:
    """Return a chart with a flat patch for each of *codes*."""
    return codes.repeat(PATCH, axis=0).repeat(PATCH, axis=1)


def by_littlecms(codes: npt.NDArray[np.uint8], mode: str, profile: bytes) -> npt.NDArray[np.float64]:
    """Return sRGB codes by LittleCMS, relative colorimetric with black point compensation."""
    transform = ImageCms.buildTransform(
        ImageCms.ImageCmsProfile(io.BytesIO(profile)),
        ImageCms.createProfile("sRGB"),
        mode,
        "RGB",
        renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
        flags=ImageCms.Flags.BLACKPOINTCOMPENSATION | ImageCms.Flags.NOOPTIMIZE,
    )
    result = ImageCms.applyTransform(Image.fromarray(codes, mode), transform)
    assert result is not None
    return np.asarray(result).astype(np.float64)


def agrees(found: npt.NDArray[np.uint8], expected: npt.NDArray[np.float64]) -> None:
    """Hold the middle of each patch to what LittleCMS finds, where it did not have to clip."""
    middle = found[PATCH // 2 :: PATCH, PATCH // 2 :: PATCH].astype(np.float64)
    inside = ((expected > 0) & (expected < 255)).all(axis=-1) | (expected == 255).all(axis=-1)
    assert inside.sum() >= 8
    assert deltaE_ciede2000(rgb2lab(middle / 255), rgb2lab(expected / 255))[inside].max() < CLOSE_ENOUGH


def ink_profile() -> bytes:
    """Return the profile of ordinary printing inks that libvips ships."""
    return bytes(pyvips.Operation.call("profile_load", "cmyk"))


def save_inks(path: Path, profile: bytes | None) -> Path:
    """Write a chart of inks."""
    Image.fromarray(spread(inks()), "CMYK").save(path, quality=100, subsampling=0, icc_profile=profile)
    return path


def longest(codes: npt.NDArray[np.uint8]) -> int:
    """Return the long edge of a chart: it is delivered at its own size."""
    return int(max(codes.shape[:2])) * PATCH


@pytest.mark.parametrize("ending", ["tif", "jpg"])
def test_inks_agree_with_littlecms(tmp_path: Path, ending: str) -> None:
    """A picture in ink colours comes out as LittleCMS has it, TIFF and JPEG alike."""
    original = save_inks(tmp_path / f"inks.{ending}", ink_profile())

    agrees(render_codes(original, recipe(longest(inks()))), by_littlecms(inks(), "CMYK", ink_profile()))


@needs_data("icc")
def test_inks_by_a_profile_of_others(tmp_path: Path) -> None:
    """The same with another profile for inks."""
    profile = (DATA / "icc" / "CGATS001Compat-v2-micro.icc").read_bytes()
    original = save_inks(tmp_path / "inks.tif", profile)

    agrees(render_codes(original, recipe(longest(inks()))), by_littlecms(inks(), "CMYK", profile))


@pytest.mark.parametrize(
    ("profile", "doubt"),
    [(None, "no-ink-profile"), (b"not a profile" * 20, "broken-profile"), (ink_profile()[:50_000], "broken-profile")],
)
def test_inks_without_a_profile_are_assumed(tmp_path: Path, profile: bytes | None, doubt: str) -> None:
    """Without a usable profile ordinary inks are assumed, and said."""
    original = save_inks(tmp_path / "inks.tif", profile)

    _, made = deliver(original, recipe(100))

    assert doubt in [said.key for said in made.findings]


def table_profile() -> bytes:
    """Return an RGB profile that works through tables alone: sRGB as a lut16Type (ICC.1:2022, 10.10) with 17 points."""
    axis = np.linspace(0, 1, GRID)
    code = np.stack(np.meshgrid(axis, axis, axis, indexing="ij"), axis=-1)
    # The tables hold a curve, so that interpolation between their points is exact enough.
    xyz = code @ colorants(*SRGB_PRIMARIES, (0.3127, 0.3290)).T
    lab = colour.XYZ_to_Lab(xyz, colour.XYZ_to_xy(np.array(D50_XYZ)))
    # Lab in 16 bits as version 2 has it: 100 is 0xFF00, 0 is 0x8000 (ICC.1:2022, 6.3.4.2, table 12).
    coded = np.rint(np.stack([lab[..., 0] / 100 * 65280, *((lab[..., at] + 128) * 256 for at in (1, 2))], axis=-1))
    curve = np.rint(colour.models.eotf_sRGB(np.linspace(0, 1, 1024)) * 65535).astype(">u2").tobytes()
    straight = np.array([0, 65535], ">u2").tobytes()
    table = (
        b"mft2\0\0\0\0" + bytes([3, 3, GRID, 0])
        + struct.pack(">9i", 65536, 0, 0, 0, 65536, 0, 0, 0, 65536)
        + struct.pack(">HH", 1024, 2) + curve * 3
        + np.clip(coded, 0, 65535).astype(">u2").tobytes() + straight * 3
    )  # fmt: skip
    name = b"desc\0\0\0\0" + struct.pack(">I", 7) + b"tables\0" + bytes(79)
    parts = [
        (b"desc", name),
        (b"cprt", b"text\0\0\0\0none\0"),
        (b"wtpt", b"XYZ \0\0\0\0" + _fixed(D50_XYZ)),
        (b"A2B0", table),
    ]
    start, body, tags = 128 + 4 + 12 * len(parts), b"", struct.pack(">I", len(parts))
    for signature, data in parts:
        tags += signature + struct.pack(">II", start + len(body), len(data))
        body += data + bytes(-len(data) % 4)
    head = struct.pack(
        ">I4sI4s4s4s12s4s", start + len(body), b"", 0x02400000, b"scnr", b"RGB ", b"Lab ", bytes(12), b"acsp"
    )
    return (head + bytes(28) + _fixed(D50_XYZ)).ljust(128, b"\0") + tags + body


def _fixed(values: tuple[float, ...]) -> bytes:
    return struct.pack(">3i", *(round(value * 65536) for value in values))


@pytest.mark.parametrize("bits", [8, 16])
def test_tables_for_rgb_agree_with_littlecms(tmp_path: Path, bits: int) -> None:
    """An RGB profile of tables is followed, in 8 and 16 bits; this one describes sRGB, so codes stay what they are."""
    codes = np.random.default_rng(2).integers(20, 236, (5, 6, 3)).astype(np.uint8)
    original = tmp_path / "tables.tif"
    pixels = spread(codes).astype(np.uint16) * 257 if bits == 16 else spread(codes)
    tifffile.imwrite(original, pixels, photometric="rgb", iccprofile=table_profile())

    found = render_codes(original, recipe(longest(codes)))
    _, made = deliver(original, recipe(60))

    agrees(found, by_littlecms(codes, "RGB", table_profile()))
    assert made.figures.original_file.profile == "tables"
    assert doubted_of_file(made) == []


def test_transparent_parts_are_white_here_too(tmp_path: Path) -> None:
    """Opacity is flattened over white in linear light whatever the profile."""
    original = tmp_path / "half.png"
    Image.new("RGBA", (90, 60), (0, 0, 0, 128)).save(original, icc_profile=table_profile())

    codes = render_codes(original, recipe(45))

    # 127/255 of the light of white: 255 * (1.055 * 0.498 ** (1 / 2.4) - 0.055) = 187.2 (IEC 61966-2-1:1999).
    assert abs(codes.astype(float) - 187.2).max() < 1
