"""SSIM against scikit-image, and the quality that is chosen by it and by bytes against trying each."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
from PIL import Image
from skimage.metrics import structural_similarity

from lanternslide.imaging.encode import decode_again, encode_jpeg
from lanternslide.imaging.measuring.ssim import luma, ssim
from lanternslide.records import Recompression
from tests.support.chain import decoded, deliver, recipe, render, render_codes
from tests.support.outside import DATA, needs_data
from tests.support.pictures import landscape, save_jpeg

Array8 = npt.NDArray[np.uint8]
DEMO = Path(__file__).resolve().parents[2] / "demo_inbox"
KELP = DEMO / "ida" / "kelp-ledges.jpg"
PHOTOGRAPHS = sorted((DATA / "photos").glob("*.jpg"))


def expected(first: Array8, second: Array8) -> float:
    """Return SSIM by scikit-image, with the settings that its documentation names for Wang et al. 2004."""
    return float(
        structural_similarity(
            luma(first).astype(np.float64), luma(second).astype(np.float64),
            gaussian_weights=True, sigma=1.5, use_sample_covariance=False, data_range=255,
        )
    )  # fmt: skip


def test_luma_is_that_of_jfif() -> None:
    """It is the Y of Pillow's YCbCr, which JFIF 1.02 defines; Pillow cuts off, or rounds, to whole numbers."""
    picture = landscape(60, 40)

    found = luma(np.asarray(picture))

    np.testing.assert_allclose(found, np.asarray(picture.convert("YCbCr"))[..., 0], atol=1.01)


@pytest.mark.parametrize("shape", [(11, 11), (12, 400), (75, 139), (300, 200), (140, 141)])
def test_ssim_is_that_of_scikit_image(shape: tuple[int, int]) -> None:
    """Within 1e-4 on noise, blur and a shift of tone, in any shape."""
    random = np.random.default_rng(7)
    first = random.integers(0, 256, (*shape, 3)).astype(np.uint8)
    for second in (
        np.clip(first.astype(int) + random.integers(-20, 21, first.shape), 0, 255).astype(np.uint8),
        np.asarray(Image.fromarray(first).resize((30, 30)).resize((shape[1], shape[0]))),
        (first // 2 + 90).astype(np.uint8),
    ):
        assert ssim(first, second) == pytest.approx(expected(first, second), abs=1e-4)


@pytest.mark.parametrize("quality", [30, 80, 95])
def test_ssim_of_a_compressed_picture(quality: int) -> None:
    """Within 1e-4 on what a JPEG leaves of a picture with texture and sky; the same picture has 1."""
    codes = render_codes(KELP, recipe(1050))
    seen = decode_again(encode_jpeg(codes, quality=quality, chroma="4:4:4", progressive=True, density=None))

    assert ssim(codes, seen) == pytest.approx(expected(codes, seen), abs=1e-4)
    assert ssim(codes, codes) == pytest.approx(1, abs=1e-6)


def test_nothing_is_said_of_a_picture_smaller_than_the_window() -> None:
    """Below 11 pixels there is no place where the whole window fits."""
    assert ssim(np.zeros((10, 50, 3), np.uint8), np.zeros((10, 50, 3), np.uint8)) is None


def test_the_record_says_how_alike_the_delivery_is(tmp_path: Path) -> None:
    """The figure on the record is that of the delivered file against the rendering."""
    original = save_jpeg(tmp_path / "x.jpg", 900, 600)
    how = recipe(300)

    jpeg, made = deliver(original, how)

    assert made.figures.ssim == pytest.approx(expected(render_codes(original, how), decoded(jpeg)), abs=1e-4)
    assert (made.figures.quality, made.figures.quality_by) == (90, "config")


@pytest.mark.slow
@needs_data("photos")
@pytest.mark.parametrize("photograph", PHOTOGRAPHS, ids=lambda path: path.stem)
def test_the_trades_rule_of_thumb(tmp_path: Path, photograph: Path) -> None:
    """From quality 100 to 90 to 80 bytes and fidelity fall; 90 is near 100 at much fewer bytes (common practice)."""
    original = tmp_path / photograph.name
    original.write_bytes(photograph.read_bytes())
    made = {quality: deliver(original, recipe(1050, quality=quality)) for quality in (100, 90, 80)}
    figures = [made[quality][1].figures for quality in (100, 90, 80)]
    sizes = [len(made[quality][0]) for quality in (100, 90, 80)]

    assert sizes[0] > 1.8 * sizes[1] > sizes[1] > sizes[2]
    likenesses = [found.ssim or 0 for found in figures]
    assert likenesses == sorted(likenesses, reverse=True)
    assert figures[0].delta_e.mean < figures[1].delta_e.mean < figures[2].delta_e.mean
    assert _median_difference(made[100][0], made[90][0]) < 2


def _median_difference(first: bytes, second: bytes) -> float:
    from skimage.color import deltaE_ciede2000, rgb2lab  # noqa: PLC0415

    labs = [rgb2lab(decoded(jpeg)[::3, ::3] / 255) for jpeg in (first, second)]
    return float(np.median(deltaE_ciede2000(*labs)))


@pytest.mark.parametrize("min_ssim", [0.95, 0.975, 0.99])
def test_need_takes_the_least_quality_that_keeps_the_likeness(tmp_path: Path, min_ssim: float) -> None:
    """The quality chosen keeps the SSIM, the one below does not, by scikit-image on files made apart."""
    original = save_jpeg(tmp_path / "x.jpg", 1500, 1000)
    how = replace(recipe(500), quality=None, min_ssim=min_ssim, min_quality=1)
    codes = render_codes(original, how)

    def likeness(quality: int) -> float:
        stream = io.BytesIO()
        Image.fromarray(codes).save(stream, "JPEG", quality=quality, subsampling=0)
        return expected(codes, decoded(stream.getvalue()))

    _, made = deliver(original, how)

    chosen = made.figures.quality
    assert made.figures.quality_by == "ssim"
    assert likeness(chosen) >= min_ssim - 1e-4
    assert likeness(chosen - 1) < min_ssim + 1e-4
    assert made.findings == ()


def test_need_stops_at_the_lowest_quality_allowed(tmp_path: Path) -> None:
    """Likeness alone would go far below; haze and skies would show it."""
    original = save_jpeg(tmp_path / "x.jpg", 1500, 1000)

    _, made = deliver(original, replace(recipe(500), quality=None, min_ssim=0.5, min_quality=80))

    assert (made.figures.quality, made.figures.quality_by) == (80, "ssim")


def test_likeness_that_cannot_be_had_is_doubted(tmp_path: Path) -> None:
    """The best quality is delivered, with both figures in the doubt."""
    original = save_jpeg(tmp_path / "x.jpg", 900, 600)

    _, made = deliver(original, replace(recipe(300), quality=None, min_ssim=0.999999, min_quality=80))

    assert (made.figures.quality, [doubt.key for doubt in made.findings]) == (100, ["unlike"])


@pytest.mark.parametrize("metadata", ["whole", "bare"])
def test_a_budget_counts_the_whole_file(tmp_path: Path, metadata: str) -> None:
    """The file fits with its metadata, and one step better would not."""
    original = tmp_path / "x.jpg"
    landscape(1500, 1000).save(original, quality=95, comment=b"x", exif=_exif("A" * 9000))
    free, _ = deliver(original, replace(recipe(500), quality=95, metadata=metadata))
    budget = round(len(free) * 0.72)

    how = replace(recipe(500), quality=95, metadata=metadata, max_bytes=budget, min_quality=50)
    jpeg, made = deliver(original, how)

    better, _ = deliver(original, replace(recipe(500), quality=made.figures.quality + 1, metadata=metadata))
    assert len(jpeg) == made.bytes <= budget < len(better)
    assert made.figures.quality_by == "bytes"


def _exif(text: str) -> Image.Exif:
    exif = Image.Exif()
    exif[0x010E] = text
    return exif


def test_a_budget_that_is_kept_changes_nothing(tmp_path: Path) -> None:
    """A file that fits is delivered at the quality of the config, byte for byte as without a budget."""
    original = save_jpeg(tmp_path / "x.jpg", 900, 600)
    plain, _ = deliver(original, recipe(300))

    jpeg, made = deliver(original, replace(recipe(300), max_bytes=len(plain), min_quality=80))

    assert jpeg == plain
    assert (made.figures.quality_by, made.findings) == ("config", ())


def test_a_budget_that_cannot_be_kept_is_doubted(tmp_path: Path) -> None:
    """It is delivered at the lowest quality allowed, with the figures in the doubt."""
    original = save_jpeg(tmp_path / "x.jpg", 900, 600)

    jpeg, made = deliver(original, replace(recipe(300), max_bytes=5000, min_quality=80))

    (doubt,) = made.findings
    assert (made.figures.quality, doubt.key) == (80, "over-bytes")
    assert f"{len(jpeg) / 1000:.1f} kB" in doubt.text
    assert "5.0 kB" in doubt.text


def test_a_low_quality_for_bytes_is_doubted(tmp_path: Path) -> None:
    """A budget that is met at a quality that shows is doubted too."""
    original = save_jpeg(tmp_path / "x.jpg", 900, 600)
    low, _ = deliver(original, recipe(300, quality=70))

    _, made = deliver(original, replace(recipe(300), max_bytes=len(low), min_quality=50))

    assert made.figures.quality in (70, 71)
    assert [doubt.key for doubt in made.findings] == ["low-quality-for-bytes"]


@pytest.mark.parametrize("long_edge", [400, 2000])
def test_the_forecast_is_an_independent_recompression(tmp_path: Path, long_edge: int) -> None:
    """Bytes are those of Pillow alone on the delivered file; SSIM that against the rendering at that size."""
    original = save_jpeg(tmp_path / "x.jpg", 1500, 1000)
    operator = Recompression(long_edge=long_edge, quality=70, chroma="4:2:0")

    jpeg, made = deliver(original, replace(recipe(600), forecast=operator))

    stream = io.BytesIO()
    with Image.open(io.BytesIO(jpeg)) as upload:
        smaller = upload.resize((400, 267), Image.Resampling.LANCZOS) if long_edge == 400 else upload
        smaller.save(stream, "JPEG", quality=70, subsampling="4:2:0")
    assert made.figures.forecast is not None
    assert made.figures.forecast.bytes == len(stream.getvalue())
    if long_edge == 2000:
        likeness = expected(render(original, recipe(600)).codes, decoded(stream.getvalue()))
        assert made.figures.forecast.ssim == pytest.approx(likeness, abs=1e-4)
    else:
        finished = Image.fromarray(render(original, recipe(600)).codes).resize((400, 267), Image.Resampling.BICUBIC)
        likeness = expected(np.asarray(finished), decoded(stream.getvalue()))
        # The finished picture is sized in linear light here, and in encoded values there.
        assert made.figures.forecast.ssim == pytest.approx(likeness, abs=0.02)


def test_the_recompressed_file_is_the_same_byte_for_byte() -> None:
    """What the forecast measures is what Pillow makes of the upload."""
    from lanternslide.imaging.recompress import recompressed  # noqa: PLC0415

    codes = np.asarray(landscape(640, 480))
    upload = encode_jpeg(codes, quality=92, chroma="4:4:4", progressive=True, density=(300, 300))
    stream = io.BytesIO()
    with Image.open(io.BytesIO(upload)) as image:
        image.resize((320, 240), Image.Resampling.LANCZOS).save(stream, "JPEG", quality=75, subsampling="4:2:0")

    assert recompressed(upload, 320, 75, "4:2:0") == stream.getvalue()


def test_a_likeness_that_bytes_do_not_allow_is_doubted(tmp_path: Path) -> None:
    """Where a limit on bytes wins over the likeness asked for, both figures are said, cut off and not rounded."""
    original = save_jpeg(tmp_path / "x.jpg", 1500, 1000)
    limit = len(deliver(original, recipe(500, quality=88))[0])
    how = replace(recipe(500), quality=None, min_ssim=0.9995, max_bytes=limit, min_quality=50)

    _, made = deliver(original, how)

    (doubt,) = made.findings
    assert (doubt.key, made.figures.quality_by) == ("unlike", "bytes")
    assert made.figures.ssim is not None
    assert str(made.figures.ssim)[:6] in doubt.text
