"""What four ways to make a web picture do to photographs, in the image-quality study's figures, and as crops.

Run it with ``python -m tests.benchmarks.looks [ORIGINAL ...] [--long-edge N] [--crops DIR]``; without originals it
takes the demo inbox and, where they are there, the photographs in ``../shared/data``.

- ours: the chain as it comes;
- one step: one resize by the chain and a plain unsharp mask of 200 per cent within its limits;
- two steps: over a size two thirds larger, 300 per cent there and faintly at the end (common practice, no source);
- naive: Lanczos in gamma-encoded 8 bits and an unsharp mask of red, green and blue of 150 per cent.

Figures are of the 8-bit picture against the linear-light area average (by OpenCV); the last column is the JPEG's size
at quality 90, 4:4:4, against that of the area average. Crops show the sharpest place of the decoded JPEG at 1:1, and
its middle at 3:1, one PNG for each original.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterable
from dataclasses import astuple, fields, replace
from math import isnan
from pathlib import Path
from statistics import fmean

import cv2
import numpy as np
import numpy.typing as npt
from PIL import Image, ImageDraw
from scipy.ndimage import gaussian_filter, uniform_filter

from lanternslide.errors import OriginalHeldError
from lanternslide.imaging.colour.working_space import working_space
from lanternslide.imaging.encode import decode_again, encode_jpeg
from lanternslide.imaging.reading.read import read_header
from lanternslide.records import Sharpening, UnsharpMask
from tests.support.chain import recipe, render_codes
from tests.support.outside import DATA
from tests.support.study import Figures, figures, lightness_of

Codes = npt.NDArray[np.uint8]

DEMO = Path(__file__).resolve().parents[2] / "demo_inbox"
WAYS = {
    "ours": Sharpening(),
    "one step": Sharpening(finish=UnsharpMask(radius=0.5, amount=200, blend=1)),
    "two steps": Sharpening(
        steps=2,
        ratio=1.67,
        lead=UnsharpMask(radius=0.5, amount=300, blend=1),
        finish=UnsharpMask(radius=0.3, amount=100, blend=0.2),
    ),
}
AVERAGE = "area average"
CROP = (320, 240)
COLUMNS = tuple(field.name for field in fields(Figures))


def originals() -> list[Path]:
    """Return what is there to look at."""
    demo = [path for path in sorted(DEMO.rglob("*")) if path.is_file()]
    return demo + sorted((DATA / "photos").glob("*.jpg"))


def jpeg_of(codes: Codes) -> bytes:
    """Return *codes* as a JPEG."""
    return encode_jpeg(codes, quality=90, chroma="4:4:4", progressive=True, density=None)


def linear_srgb(path: Path) -> npt.NDArray[np.float32]:
    """Return the whole original in linear sRGB, upright only if it is stored so, (height, width, 3)."""
    header = read_header(path)
    space = working_space(header)
    bands = [band.copy() for band in space.bands(header)]
    linear = np.concatenate(bands).transpose(0, 2, 1)
    if linear.shape[2] == 1:
        return np.repeat(linear, 3, axis=2)
    mixed: npt.NDArray[np.float32] = np.clip(linear @ space.to_srgb.T.astype(np.float32), 0, 1)
    return mixed


def encode(linear: npt.NDArray[np.float32]) -> npt.NDArray[np.float32]:
    """Return sRGB values, 0 to 255 (IEC 61966-2-1)."""
    found: npt.NDArray[np.float32] = 255 * np.where(
        linear <= 0.0031308, 12.92 * linear, 1.055 * np.maximum(linear, 1e-9) ** np.float32(1 / 2.4) - 0.055
    )
    return found


def naive(linear: npt.NDArray[np.float32], size: tuple[int, int]) -> Codes:
    """Return a resize of 8-bit codes, sharpened in each channel."""
    whole = Image.fromarray(np.rint(encode(linear)).astype(np.uint8))
    small = np.asarray(whole.resize(size, Image.Resampling.LANCZOS)).astype(np.float32)
    blurred = gaussian_filter(small, (0.5, 0.5, 0))
    codes: Codes = np.rint(np.clip(small + 1.5 * (small - blurred), 0, 255)).astype(np.uint8)
    return codes


def made(path: Path, long_edge: int) -> dict[str, Codes]:
    """Return what each way makes, and the area average; nothing of an original that is too small or turned."""
    header = read_header(path)
    if header.orientation != 1 or max(header.width, header.height) <= long_edge or header.channels == 4:
        return {}
    linear = linear_srgb(path)
    found = {
        name: render_codes(path, replace(recipe(long_edge), sharpening=sharpening)) for name, sharpening in WAYS.items()
    }
    height, width = found["ours"].shape[:2]
    found["naive"] = naive(linear, (width, height))
    area = cv2.resize(linear, (width, height), interpolation=cv2.INTER_AREA)
    found[AVERAGE] = np.rint(encode(np.clip(area, 0, 1))).astype(np.uint8)
    return found


def sharpest(reference: npt.NDArray[np.float64]) -> tuple[int, int]:
    """Return the upper left corner of the crop with the most fine detail."""
    detail = (reference - gaussian_filter(reference, 1.5)) ** 2
    around = uniform_filter(detail, (CROP[1], CROP[0]), mode="constant")
    top, left = np.unravel_index(int(np.argmax(around)), around.shape)
    height, width = reference.shape
    return (
        int(np.clip(left - CROP[0] // 2, 0, max(width - CROP[0], 0))),
        int(np.clip(top - CROP[1] // 2, 0, max(height - CROP[1], 0))),
    )


def sheet(pictures: dict[str, Codes], reference: npt.NDArray[np.float64]) -> Image.Image:
    """Return the ways side by side: the crop at 1:1, and its middle at 3:1."""
    left, top = sharpest(reference)
    page = Image.new("RGB", (len(pictures) * (CROP[0] + 8), 2 * CROP[1] + 32), (96, 96, 96))
    draw = ImageDraw.Draw(page)
    for column, (name, codes) in enumerate(pictures.items()):
        x = column * (CROP[0] + 8)
        crop = Image.fromarray(codes).crop((left, top, left + CROP[0], top + CROP[1]))
        page.paste(crop, (x, 20))
        third = crop.crop((CROP[0] // 3, CROP[1] // 3, 2 * CROP[0] // 3, 2 * CROP[1] // 3))
        page.paste(third.resize(CROP, Image.Resampling.NEAREST), (x, CROP[1] + 28))
        draw.text((x + 4, 4), name, fill=(255, 255, 255))
    return page


def main() -> None:
    """Print figures for each original and way, their means, and write the crops."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("originals", type=Path, nargs="*")
    parser.add_argument("--long-edge", type=int, default=1050)
    parser.add_argument("--crops", type=Path)
    arguments = parser.parse_args()
    names = "  ".join(f"{name:>12s}" for name in (*COLUMNS, "bytes"))
    print(f"{'to ' + str(arguments.long_edge) + ' px':28s}  way        {names}")
    every: dict[str, list[tuple[float, ...]]] = {}
    for path in arguments.originals or originals():
        try:
            pictures = made(path, arguments.long_edge)
        except OriginalHeldError as held:
            print(f"{path.name[:28]:28s}  held: {held.said.key}")
            continue
        if not pictures:
            continue
        average = pictures.pop(AVERAGE)
        reference, plain = lightness_of(average), len(jpeg_of(average))
        for name, codes in pictures.items():
            found = (*astuple(figures(lightness_of(codes), reference)), len(jpeg_of(codes)) / plain)
            every.setdefault(name, []).append(found)
            print(line(path.name, name, found))
        if arguments.crops:
            arguments.crops.mkdir(parents=True, exist_ok=True)
            seen = {name: decode_again(jpeg_of(codes)) for name, codes in pictures.items()}
            sheet(seen, reference).save(arguments.crops / f"{path.stem}-{arguments.long_edge}.png")
    for name, all_of in every.items():
        columns = zip(*all_of, strict=True)
        print(line(f"mean of {len(all_of)}", name, [fmean(v for v in column if not isnan(v)) for column in columns]))


def line(what: str, way: str, values: Iterable[float]) -> str:
    """Return a line of the table."""
    return f"{what[:28]:28s}  {way:9s}  " + "  ".join(f"{value:12.2f}" for value in values)


if __name__ == "__main__":
    main()
