"""Real camera files through a sweep to the four destinations of the scenario."""

from __future__ import annotations

import io
import shutil
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageCms

from tests.support.outside import DATA, needs_data
from tests.support.service import make_home, sweep

SCENARIO = """
[service]
state = "state"
settle_seconds = 0.1
workers = 2

[photographers.ida]
drop = "drop/ida"
otherwise = ["portfolio", "journal", "club", "noticeboard"]

[destinations.portfolio]
folder = "out/portfolio"
size = { long_edge = 1050 }

[destinations.journal]
folder = "out/journal"
size = { long_edge = 1600 }
densities = [1, 2]

[destinations.club]
folder = "out/club"
size = { box = [1920, 1080] }

[destinations.noticeboard]
folder = "out/noticeboard"
size = { long_edge = 1240 }
quality = 95
"""

LONG_EDGES = {"portfolio": 1050, "journal": 1600, "noticeboard": 1240}
GPS_IFD = 0x8825


@pytest.mark.slow
@needs_data("photos")
def test_five_photographs_reach_four_destinations(tmp_path: Path) -> None:
    """Each of five camera files is delivered five times: exact size, sRGB, upright, no location, its tones kept."""
    home = make_home(tmp_path, SCENARIO)
    photographs = sorted((DATA / "photos").glob("*.jpg"))
    for photograph in photographs:
        shutil.copy(photograph, home.drop())

    ran = sweep(home)

    assert ran.status == 0, ran.errors
    assert len(home.delivered()) == 5 * len(photographs)
    # Ordinary pictures give nothing to look at (the aim: doubts on one picture in twenty at most).
    assert not [event for event in ran.events if event.get("doubts")]
    for path in home.out().rglob("*.jpg"):
        place = path.parent.name
        original = next(photo for photo in photographs if path.stem.removesuffix("-2x") == photo.stem)
        with Image.open(path) as delivered, Image.open(original) as source:
            expected = LONG_EDGES.get(place, 0) * (2 if path.stem.endswith("-2x") else 1)
            if place == "club":
                assert delivered.width == 1920 or delivered.height == 1080
                assert delivered.width <= 1920
                assert delivered.height <= 1080
            else:
                assert max(delivered.size) == expected
            assert abs(delivered.width / delivered.height - source.width / source.height) < 2 / min(delivered.size)
            profile = ImageCms.ImageCmsProfile(io.BytesIO(delivered.info["icc_profile"]))
            assert ImageCms.getProfileDescription(profile).strip() == "sRGB"
            assert not dict(delivered.getexif().get_ifd(GPS_IFD))
            assert delivered.getexif().get(0x0112, 1) == 1
            assert _tone(delivered) == pytest.approx(_tone(source), rel=0.02)


def _tone(image: Image.Image) -> float:
    """Return the mean linear light of a picture taken as sRGB (IEC 61966-2-1:1999, 5.2), which a resize keeps."""
    code = np.asarray(image.convert("RGB").reduce(2), np.float64) / 255
    return float(np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4).mean())
