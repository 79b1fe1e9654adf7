"""The picture at the top of the README: deliveries of the demo, and a part of a proof sheet.

``python -m tests.scenario.front FILE`` sweeps a copy of the demo inbox and writes the picture as a JPEG.
"""

from __future__ import annotations

import shutil
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

from PIL import Image

from tests.support.browser import browsing
from tests.support.service import Home, sweep

ROOT = Path(__file__).resolve().parents[2]
WIDTH, STRIP, GAP = 1200, 190, 8
"""Of the picture, in pixels: how wide it is, how high the deliveries are, and what is between them."""

SHEET = (1200, 640)
"""The part of a proof sheet, in pixels of CSS."""

PLACES = ("portfolio", "journal", "club", "noticeboard")

PAPER = (246, 246, 244)


def swept(root: Path) -> Path:
    """Sweep a copy of the demo in *root*; return where its deliveries and proof sheets lie."""
    (root / "config").mkdir()
    (root / "demo_out").mkdir()
    shutil.copytree(ROOT / "demo_inbox", root / "demo_inbox")
    shutil.copy(ROOT / "config" / "demo.toml", root / "config" / "lanternslide.toml")
    done = sweep(Home(root / "config"))
    assert done.status == 1, done.errors  # one original was cut off on purpose
    return root / "demo_out"


def strip_of(paths: list[Path]) -> Image.Image:
    """Return one picture of each original side by side, as many as fit."""
    strip = Image.new("RGB", (WIDTH, STRIP), PAPER)
    left = 0
    for path in {path.stem.removesuffix("-2x"): path for path in paths}.values():
        with Image.open(path) as delivery:
            small = delivery.resize((round(delivery.width * STRIP / delivery.height), STRIP), Image.Resampling.LANCZOS)
        if left + small.width > WIDTH:
            continue
        strip.paste(small, (left, 0))
        left += small.width + GAP
    return strip.crop((0, 0, left - GAP, STRIP))


def sheet_of(page: Path, folder: Path) -> Image.Image:
    """Return a part of a proof sheet, from its first delivery on."""
    with browsing(folder / "profile") as browser:
        browser.open(page, SHEET[0], SHEET[1])
        browser.run("document.querySelector('article').scrollIntoView();")
        browser.screenshot(folder / "sheet.png")
    with Image.open(folder / "sheet.png") as shot:
        return shot.convert("RGB")


def main(to: Path) -> None:
    """Write the picture."""
    with TemporaryDirectory() as name:
        out = swept(Path(name))
        delivered = [path for path in sorted(out.rglob("*.jpg")) if path.parent.name in PLACES and "@" not in path.name]
        strip = strip_of(list({path.stem: path for path in delivered}.values()))
        (page, *_) = sorted(out.glob("ida-proofs/2*/index.html"))
        sheet = sheet_of(page, Path(name))
    sheet = sheet.resize((strip.width, round(sheet.height * strip.width / sheet.width)), Image.Resampling.LANCZOS)
    front = Image.new("RGB", (strip.width, strip.height + GAP + sheet.height), PAPER)
    front.paste(strip, (0, 0))
    front.paste(sheet, (0, strip.height + GAP))
    front.save(to, quality=80, optimize=True, progressive=True)


if __name__ == "__main__":
    main(Path(sys.argv[1]))
