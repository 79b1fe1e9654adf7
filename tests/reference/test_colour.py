"""Colours through the worker against LittleCMS, from profiles that are ours and profiles that are not."""

from __future__ import annotations

import io
from pathlib import Path

import colour
import numpy as np
import numpy.typing as npt
import pyexiv2
import pytest
import pyvips
import tifffile
from PIL import Image, ImageCms
from skimage.color import deltaE_ciede2000, rgb2lab

from lanternslide.imaging.colour.srgb import srgb_profile
from tests.support.chain import decoded, deliver, doubted_of_file, recipe, render_codes
from tests.support.icc_write import matrix_profile
from tests.support.outside import DATA, needs_data

CLOSE_ENOUGH = 0.5
"""CIEDE2000, to LittleCMS."""

PATCH = 96
Space = tuple[tuple[float, float], tuple[float, float], tuple[float, float], tuple[float, float], float | None]
SPACES: dict[str, Space] = {
    # Chromaticities and curves: Adobe RGB (1998) 4.3.1 and 4.3.4; SMPTE EG 432-1 (Display P3 with the sRGB curve);
    # ISO 22028-2 (ROMM RGB, here with a plain gamma of 1.8).
    "Adobe RGB (1998)": ((0.64, 0.33), (0.21, 0.71), (0.15, 0.06), (0.3127, 0.3290), 563 / 256),
    "Display P3": ((0.68, 0.32), (0.265, 0.69), (0.15, 0.06), (0.3127, 0.3290), None),
    "ROMM RGB": ((0.7347, 0.2653), (0.1596, 0.8404), (0.0366, 0.0001), (0.3457, 0.3585), 1.8),
}
OUTSIDE = ["AdobeCompat-v2", "AdobeCompat-v4", "DisplayP3-v2-magic", "DisplayP3-v4", "ProPhoto-v2-magic", "ProPhoto-v4"]


def our_profile(space: str) -> bytes:
    """Return a profile of *space* by our own writer."""
    red, green, blue, white, gamma = SPACES[space]
    table = [round(v * 65535) for v in colour.models.eotf_sRGB(np.linspace(0, 1, 1024))]
    return matrix_profile(space, red, green, blue, white, table if gamma is None else gamma)


def patches() -> npt.NDArray[np.uint8]:
    """Return codes of 24 chart colours, greys and saturated mixtures, shape (rows, columns, 3)."""
    chart = colour.CCS_COLOURCHECKERS["ColorChecker24 - After November 2014"]
    xyz = colour.xyY_to_XYZ(np.array(list(chart.data.values())))
    rgb = colour.XYZ_to_RGB(xyz, "ROMM RGB", chart.illuminant, apply_cctf_encoding=True)
    greys = np.repeat(np.linspace(0, 1, 6)[:, None], 3, axis=1)
    codes: npt.NDArray[np.uint8] = np.rint(np.clip(np.concatenate([rgb, greys]), 0, 1) * 255).astype(np.uint8)
    return codes.reshape(5, 6, 3)


def spread(codes: npt.NDArray[np.uint8]) -> npt.NDArray[np.uint8]:
    """Return a chart with a patch for each of *codes*.

    Each patch has a grain of ±4 levels. In flat ones a JPEG's rounding of Y, Cb and Cr alone (ITU-T T.871) moves single
    channels by a level, up to CIEDE2000 1 in the dark; over a grain it averages out.
    """
    flat = codes.repeat(PATCH, axis=0).repeat(PATCH, axis=1).astype(int)
    grain = np.random.default_rng(1).integers(-4, 5, flat.shape)
    return np.clip(flat + grain, 0, 255).astype(np.uint8)


def centres(
    picture: npt.NDArray[np.uint8] | npt.NDArray[np.float64], shape: tuple[int, int]
) -> npt.NDArray[np.float64]:
    """Return the code of the mean light in the middle of each patch: what an eye sees of a grain."""
    linear = colour.models.eotf_sRGB(picture / 255)
    height, width = picture.shape[0] / shape[0], picture.shape[1] / shape[1]
    found = np.empty((*shape, 3))
    for row in range(shape[0]):
        for column in range(shape[1]):
            top, left = int((row + 0.35) * height), int((column + 0.35) * width)
            part = linear[top : top + int(0.3 * height), left : left + int(0.3 * width)]
            found[row, column] = part.reshape(-1, 3).mean(axis=0)
    return np.asarray(colour.models.eotf_inverse_sRGB(found), np.float64) * 255


def by_littlecms(codes: npt.NDArray[np.uint8], profile: bytes) -> npt.NDArray[np.float64]:
    """Return sRGB codes (0 to 255, with fractions) by LittleCMS, relative colorimetric.

    It works on 16 bits here, through libvips: in 8 bits its rounding tints greys by half a level.
    """
    picture = pyvips.Image.new_from_array(codes.astype(np.uint16) * 257, interpretation="rgb16").copy()
    picture.set_type(pyvips.GValue.blob_type, "icc-profile-data", profile)
    result = picture.icc_transform("srgb", intent="relative", embedded=True, depth=16)
    return np.asarray(result.numpy()).astype(np.float64) / 257


def difference(one: npt.NDArray[np.float64], other: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """Return CIEDE2000 (Sharma et al. 2005) between two arrays of sRGB codes."""
    return np.asarray(deltaE_ciede2000(rgb2lab(one / 255), rgb2lab(other / 255)))


def in_gamut(codes: npt.NDArray[np.float64]) -> npt.NDArray[np.bool_]:
    """Return where LittleCMS did not have to clip: colours outside are ours to bring in, in our own way."""
    return np.asarray(((codes > 0) & (codes < 255)).all(axis=-1) | (np.ptp(codes, axis=-1) == 0))


def save(path: Path, codes: npt.NDArray[np.uint8], profile: bytes) -> Path:
    """Write a chart as 8-bit PNG or JPEG, or as 16-bit TIFF, by what the name ends in."""
    picture = spread(codes)
    if path.suffix == ".tif":
        tifffile.imwrite(path, picture.astype(np.uint16) * 257, photometric="rgb", iccprofile=profile)
    else:
        # PNG takes no notice of what is for JPEG.
        Image.fromarray(picture).save(path, icc_profile=profile, quality=100, subsampling=0)
    return path


@pytest.mark.parametrize("ending", ["png", "jpg", "tif"])
@pytest.mark.parametrize("space", SPACES)
def test_chart_agrees_with_littlecms(tmp_path: Path, space: str, ending: str) -> None:
    """A chart in a wide space is delivered in the colours that LittleCMS finds, where sRGB can show them."""
    codes, profile = patches(), our_profile(space)
    original = save(tmp_path / f"chart.{ending}", codes, profile)

    jpeg, made = deliver(original, recipe(288, quality=100))

    inside = in_gamut(by_littlecms(codes, profile))
    assert inside.sum() >= 15
    assert made.figures.original_file.profile == space
    expected = centres(by_littlecms(spread(codes), profile), (5, 6))
    assert difference(centres(decoded(jpeg), (5, 6)), expected)[inside].max() < CLOSE_ENOUGH


@needs_data("icc")
@pytest.mark.parametrize("name", OUTSIDE)
def test_profiles_of_others_agree_with_littlecms(tmp_path: Path, name: str) -> None:
    """Profiles that we did not write, versions 2 and 4, give the colours that LittleCMS finds."""
    codes, profile = patches(), (DATA / "icc" / f"{name}.icc").read_bytes()
    original = save(tmp_path / "chart.png", codes, profile)

    found = centres(render_codes(original, recipe(288)), (5, 6))

    expected = centres(by_littlecms(spread(codes), profile), (5, 6))
    assert difference(found, expected)[in_gamut(by_littlecms(codes, profile))].max() < CLOSE_ENOUGH


@needs_data("icc")
@pytest.mark.parametrize(
    ("name", "code", "expected"),
    [
        # Seen with transicc and colour-science, relative colorimetric; see the README beside the data.
        ("AdobeCompat-v4", (200, 100, 50), (227.05, 100.05, 42.34)),
        ("AdobeCompat-v4", (128, 128, 128), (129.00, 129.00, 129.00)),
        ("DisplayP3-v4", (64, 128, 192), (31.74, 129.87, 197.41)),
        ("DisplayP3-v4", (200, 100, 50), (214.90, 92.63, 30.97)),
        ("ProPhoto-v4", (128, 128, 128), (146.41, 146.41, 146.41)),
    ],
)
def test_single_colours(tmp_path: Path, name: str, code: tuple[int, ...], expected: tuple[float, ...]) -> None:
    """Single colours come out as two independent programs find them, within rounding."""
    profile = (DATA / "icc" / f"{name}.icc").read_bytes()
    original = save(tmp_path / "one.png", np.array(code, np.uint8).reshape(1, 1, 3), profile)

    found = render_codes(original, recipe(20))

    np.testing.assert_allclose(found.reshape(-1, 3).mean(axis=0), expected, atol=0.75)


@needs_data("patches")
@pytest.mark.parametrize(
    "name", ["sRGB-rgswap", "v2-ProPhoto", "v4-ProPhoto", "v40-DisplayP3", "v2-CIE-Lstar", "v4-CIE-Lstar"]
)
def test_charts_of_others_agree(name: str, tmp_path: Path) -> None:
    """Charts in other encodings, one with red and green swapped, look like the sRGB chart."""
    source = DATA / "patches" / f"macbeth-{name}.png"
    with Image.open(DATA / "patches" / "macbeth-sRGB.png") as image:
        expected = np.asarray(image.convert("RGB"))
    copy = tmp_path / source.name
    copy.write_bytes(source.read_bytes())

    found = render_codes(copy, recipe(max(expected.shape[:2]), sharpen=False))

    # Flat parts alone: between two patches the encodings of the files differ.
    flat = np.ptp(np.stack([np.roll(expected, shift, (0, 1)) for shift in ((0, 0), (9, 9), (-9, -9), (9, -9))]), axis=0)
    same = (flat.max(axis=-1) == 0) & ((expected > 2) & (expected < 253)).all(axis=-1)
    assert same.mean() > 0.2
    assert abs(found.astype(int) - expected)[same].max() <= 2


def test_the_embedded_profile_is_srgb(tmp_path: Path) -> None:
    """Read back by Pillow's colour module, a delivery's profile converts to LittleCMS's own sRGB without change."""
    original = save(tmp_path / "chart.png", patches(), our_profile("Display P3"))
    jpeg, _ = deliver(original, recipe(288))
    with Image.open(io.BytesIO(jpeg)) as image:
        embedded = image.info["icc_profile"]
    grid = np.stack(np.meshgrid(*[np.arange(0, 256, 15)] * 3), axis=-1).reshape(-1, 18, 3).astype(np.uint8)

    assert abs(by_littlecms(grid, embedded) - grid).max() <= 1
    profile = ImageCms.ImageCmsProfile(io.BytesIO(embedded)).profile
    assert profile.xcolor_space.strip() == "RGB"
    # IEC 61966-2-1:1999 primaries adapted to D50 by linear Bradford, as the ICC's own sRGB profiles have them.
    for found, expected in (
        (profile.red_colorant, (0.4360, 0.2225, 0.0139)),
        (profile.green_colorant, (0.3851, 0.7169, 0.0971)),
        (profile.blue_colorant, (0.1431, 0.0606, 0.7139)),
    ):
        assert found is not None
        assert found[0] == pytest.approx(expected, abs=2e-4)


def test_an_untagged_original_is_taken_as_srgb(tmp_path: Path) -> None:
    """Without a profile the codes stay what they are, with a note."""
    original = tmp_path / "plain.png"
    Image.fromarray(spread(patches())).save(original)

    jpeg, made = deliver(original, recipe(288, quality=100))

    found = centres(decoded(jpeg), (5, 6))
    assert difference(found, centres(spread(patches()), (5, 6))).max() < CLOSE_ENOUGH
    assert doubted_of_file(made) == ["srgb-assumed"]


@pytest.mark.parametrize(
    ("profile", "doubt"),
    [
        pytest.param(b"not a profile" * 20, "broken-profile", id="nonsense"),
        pytest.param(srgb_profile()[:1000], "broken-profile", id="cut"),
        pytest.param(srgb_profile()[:16] + b"GRAY" + srgb_profile()[20:], "other-kind-of-profile", id="grey"),
    ],
)
def test_an_unusable_profile_is_a_doubt(tmp_path: Path, profile: bytes, doubt: str) -> None:
    """A broken profile, or one for another kind of picture, never stops a delivery: sRGB is assumed, and said."""
    original = tmp_path / "chart.tif"
    tifffile.imwrite(original, spread(patches()), photometric="rgb", iccprofile=profile)

    _, made = deliver(original, recipe(288))

    assert doubted_of_file(made) == [doubt]


def test_sixteen_bits_are_kept(tmp_path: Path) -> None:
    """A dark 16-bit ROMM ramp shows every level that 8-bit sRGB has; cut down to 8 bits first it would skip some."""
    codes = np.repeat(np.linspace(0, 0.25, 3000)[None, :, None], 40, axis=0).repeat(3, axis=2)
    profile = our_profile("ROMM RGB")
    full, cut = tmp_path / "full.tif", tmp_path / "cut.tif"
    tifffile.imwrite(full, np.rint(codes * 65535).astype(np.uint16), photometric="rgb", iccprofile=profile)
    tifffile.imwrite(cut, np.rint(codes * 255).astype(np.uint8), photometric="rgb", iccprofile=profile)

    levels, cut_levels = (np.unique(render_codes(path, recipe(1500, sharpen=False))[..., 1]) for path in (full, cut))

    assert np.diff(levels).tolist() == [1] * (len(levels) - 1)
    assert len(cut_levels) < len(levels)


def test_colours_that_srgb_cannot_show_keep_their_lightness(tmp_path: Path) -> None:
    """What is out of gamut is brought in along constant luminance, within one level of rounding, and its share said."""
    codes = np.array([[[10, 250, 10], [0, 60, 230], [128, 128, 128], [240, 60, 20]]], np.uint8)
    profile = our_profile("ROMM RGB")
    original = save(tmp_path / "wide.png", codes, profile)

    jpeg, made = deliver(original, recipe(80, quality=100))
    found = centres(decoded(jpeg), (1, 4))

    linear = (codes / 255) ** 1.8
    luminance = colour.RGB_to_XYZ(linear, "ROMM RGB", apply_cctf_decoding=False)
    adapted = colour.chromatic_adaptation(
        luminance, colour.xy_to_XYZ([0.3457, 0.3585]), colour.xy_to_XYZ([0.3127, 0.3290]), transform="Bradford"
    )[..., 1]
    L = colour.lightness(np.clip(adapted, 0, 1) * 100, method="CIE 1976")
    assert abs(rgb2lab(found / 255)[..., 0] - L).max() < 1
    assert made.figures.out_of_gamut == pytest.approx(0.75, abs=0.1)


@pytest.mark.parametrize(("mark", "profile"), [("R03", None), ("R98", None), ("R03", "sRGB")])
def test_the_mark_of_a_camera_counts_without_a_profile(tmp_path: Path, mark: str, profile: str | None) -> None:
    """Without a profile R03 means Adobe RGB (DCF 2.0) and is a note; R98 contradicts the rest; a profile beats both."""
    original = tmp_path / "camera.jpg"
    picture = np.full((120, 160, 3), (200, 100, 50), np.uint8)
    icc = None if profile is None else srgb_profile()
    Image.fromarray(picture).save(original, quality=100, subsampling=0, icc_profile=icc)
    with pyexiv2.Image(str(original)) as image:
        image.modify_exif({"Exif.Iop.InteroperabilityIndex": mark, "Exif.Photo.ColorSpace": "65535"})

    codes = render_codes(original, recipe(80)).reshape(-1, 3).mean(axis=0)
    jpeg, made = deliver(original, recipe(80))
    with pyexiv2.ImageData(jpeg) as image:
        assert image.read_exif()["Exif.Iop.InteroperabilityIndex"] == "R98"

    # As transicc and colour-science convert Adobe RGB 200, 100, 50; see the README beside the outside data.
    expected = (227.05, 100.05, 42.34) if (mark, profile) == ("R03", None) else (200, 100, 50)
    np.testing.assert_allclose(codes, expected, atol=1.5)
    told: dict[tuple[str, str | None], list[str]] = {
        ("R03", None): ["space-declared"],
        ("R98", None): ["no-profile"],
    }
    assert doubted_of_file(made) == told.get((mark, profile), [])


def linear_by_littlecms(codes: npt.NDArray[np.uint8], profile: bytes) -> npt.NDArray[np.float64]:
    """Return linear sRGB, not clipped: by LittleCMS as far as L*a*b* in floating point, by colour-science from there.

    In 16-bit integers LittleCMS itself is off by up to CIEDE2000 0.43 on this grid in the dark parts of ROMM RGB.
    """
    picture = pyvips.Image.new_from_array(codes.astype(np.uint16) * 257, interpretation="rgb16").copy()
    picture.set_type(pyvips.GValue.blob_type, "icc-profile-data", profile)
    lab = np.asarray(picture.icc_import(intent="relative", pcs="lab", embedded=True).numpy(), np.float64)
    xyz = colour.Lab_to_XYZ(lab, colour.XYZ_to_xy([0.9642, 1.0, 0.8249]))
    return np.asarray(colour.XYZ_to_RGB(xyz, "sRGB", [0.3457, 0.3585], chromatic_adaptation_transform="Bradford"))


@pytest.mark.parametrize("space", SPACES)
def test_a_dense_grid_agrees_with_littlecms(tmp_path: Path, space: str) -> None:
    """Every mixture of 18 levels, one pixel each at its own size: within 0.3 where sRGB can show it.

    But for rounding to 8 bits, which comes after: the nearest value that rounds to the code found is what counts.
    """
    levels = np.rint(np.linspace(0, 255, 18)).astype(np.uint8)
    grid = np.stack(np.meshgrid(levels, levels, levels, indexing="ij"), axis=-1).reshape(54, 108, 3)
    profile = our_profile(space)
    original = tmp_path / "grid.png"
    Image.fromarray(grid).save(original, icc_profile=profile)

    found = render_codes(original, recipe(108)).astype(np.float64)
    linear = linear_by_littlecms(grid, profile)
    expected = 255 * np.asarray(colour.models.eotf_inverse_sRGB(np.clip(linear, 0, 1)), np.float64)
    nearest = np.clip(expected, found - 0.5, found + 0.5)
    inside = ((linear > 1e-3) & (linear < 1 - 1e-3)).all(axis=-1)

    assert inside.mean() > 0.2
    assert difference(nearest, expected)[inside].max() <= 0.3
