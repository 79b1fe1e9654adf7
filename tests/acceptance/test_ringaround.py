"""The ring-around, by the real command: what it shows is what would be delivered."""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
import tomllib
from contextlib import closing
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from lanternslide.preview.ring_around import config_line, variants_of
from lanternslide.records import Sharpening, UnsharpMask
from tests.support.browser import browsing, needs_browser
from tests.support.service import Home, make_home, run, sweep

DEMO = Path(__file__).resolve().parents[2] / "demo_inbox"
CONFIG = """
[service]
state = "state"
settle_seconds = 0.1

[photographers.ida]
drop = "drop/ida"
otherwise = ["noticeboard"]

[destinations.noticeboard]
folder = "out/noticeboard"
size = { long_edge = 480 }
forecast = { long_edge = 320, quality = 70 }

[destinations.plain]
folder = "out/plain"
size = { long_edge = 360 }
sharpen = { strength = 0.8, finish = { radius = 0.6, amount = 120 } }
"""


@pytest.fixture(scope="module")
def original(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a picture of the demo inbox at a fifth of its size, which is enough to be sized down from."""
    path = tmp_path_factory.mktemp("original") / "kelp-ledges.jpg"
    with Image.open(DEMO / "ida" / "kelp-ledges.jpg") as picture:
        smaller = picture.resize((1200, 800), Image.Resampling.LANCZOS)
        smaller.save(path, quality=95, subsampling=0, icc_profile=picture.info["icc_profile"])
    return path


@pytest.fixture
def home(tmp_path: Path, original: Path) -> Home:
    """Return a home with one picture."""
    home = make_home(tmp_path, CONFIG)
    shutil.copy(original, home.drop() / "kelp-ledges.jpg")
    (home.root / "rings").mkdir()
    return home


def ring(home: Home, *more: str, destination: str = "noticeboard") -> Any:
    """Make a ring-around."""
    to = home.root / "rings"
    path = home.drop() / "kelp-ledges.jpg"
    return run(home, "ringaround", path, "--destination", destination, "--output", to, *more)


class Views(HTMLParser):
    """Collects what part of the sheet each detail of the page shows."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.boxes: dict[str, tuple[int, int, int, int]] = {}
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note a detail."""
        found = {name.lower(): value or "" for name, value in attrs}
        if tag == "svg":
            left, top, width, height = map(int, found["viewbox"].split())
            self.boxes[found["aria-label"]] = left, top, width, height


def test_the_detail_as_configured_is_the_delivery(home: Home) -> None:
    """Pixel by pixel, and its figures are those on the delivery's record; a place can be named."""
    assert sweep(home).status == 0
    with closing(sqlite3.connect(home.root / "state" / "ledger.sqlite")) as connection:
        record = json.loads(connection.execute("SELECT record FROM delivery").fetchone()[0])

    made = ring(home, "--at", "240,160")

    assert made.status == 0, made.errors
    assert f"edges {record['acutance']:.2f}, halos {record['halo']['light']:.1f} light" in made.output
    boxes = Views((home.root / "rings" / "kelp-ledges-noticeboard-ringaround.html").read_text("utf-8")).boxes
    left, top, width, height = boxes["strength 1, in one step"]
    assert "quality 90" in made.output
    with (
        Image.open(home.root / "rings" / "kelp-ledges-noticeboard-ringaround.png") as sheet,
        Image.open(home.out("noticeboard", "kelp-ledges.jpg")) as delivered,
    ):
        detail = np.asarray(sheet.crop((left, top, left + width, top + height)))
        x, y = 240 - width // 2, 160 - height // 2
        np.testing.assert_array_equal(detail, np.asarray(delivered.crop((x, y, x + width, y + height))))
    assert len(boxes) == 12  # five strengths in two ways, and twice what the operator leaves


@pytest.mark.parametrize(
    ("wish", "by"),
    [
        ('quality = "auto"', "ssim"),
        ('max_bytes = "30 kB"\nmin_quality = 30', "bytes"),
        ('watermark = { text = "Ida Marrow", height = 0.2 }', "config"),
    ],
)
def test_quality_by_need_and_marks_are_shown_as_delivered(home: Home, wish: str, by: str) -> None:
    """What is configured is shown at the quality and with the mark that the delivery has."""
    home.config.write_text(CONFIG.replace("size = { long_edge = 480 }", f"size = {{ long_edge = 480 }}\n{wish}"))
    assert sweep(home).status == 0
    (record,) = run(home, "history", "--json").output.splitlines()
    assert json.loads(record)["quality_by"] == by

    assert ring(home, "--at", "400,300").status == 0

    boxes = Views((home.root / "rings" / "kelp-ledges-noticeboard-ringaround.html").read_text("utf-8")).boxes
    left, top, width, height = boxes["strength 1, in one step"]
    with (
        Image.open(home.root / "rings" / "kelp-ledges-noticeboard-ringaround.png") as sheet,
        Image.open(home.out("noticeboard", "kelp-ledges.jpg")) as delivered,
    ):
        detail = np.asarray(sheet.crop((left, top, left + width, top + height)))
        x, y = min(400 - width // 2, 480 - width), min(300 - height // 2, 320 - height)
        np.testing.assert_array_equal(detail, np.asarray(delivered.crop((x, y, x + width, y + height))))


def test_a_delivery_smaller_than_what_is_kept_says_so(home: Home) -> None:
    """The same subject is shown of both, and that the delivery stays as it is."""
    home.config.write_text(CONFIG.replace("forecast = { long_edge = 320", "forecast = { long_edge = 640"))

    assert ring(home).status == 0

    page = (home.root / "rings" / "kelp-ledges-noticeboard-ringaround.html").read_text("utf-8")
    assert "smaller than the operator&#39;s size" in page
    boxes = Views(page).boxes
    with Image.open(home.root / "rings" / "kelp-ledges-noticeboard-ringaround.png") as sheet:
        now, exact = (
            sheet.crop((left, top, left + width, top + height)).convert("L")
            for label, (left, top, width, height) in boxes.items()
            if "again" in label
        )
    # What lies in the middle of the larger one is the whole of the smaller one, three quarters as large.
    middle = exact.crop((0, 0, 320, 240)), now.resize((427, 320), Image.Resampling.BICUBIC).crop((53, 40, 373, 280))
    alike = np.corrcoef(np.asarray(middle[0], float).ravel(), np.asarray(middle[1], float).ravel())[0, 1]
    assert alike > 0.9


def test_odd_names_make_plain_ones(home: Home) -> None:
    """A name that is no text, or very long, or hides its letters, is no obstacle."""
    for name in (b"l\xe9on.jpg", b"k" * 240 + b".jpg", b"a\nb.jpg"):
        path = home.drop() / os.fsdecode(name)
        shutil.copy(home.drop() / "kelp-ledges.jpg", path)
        made = run(home, "ringaround", path, "--destination", "plain", "--output", home.root / "rings")
        assert made.status == 0, (name, made.errors, made.output)
    names = [path.name for path in (home.root / "rings").iterdir()]
    assert len(names) == 6
    assert all(name.isprintable() and len(name) < 120 for name in names)


def test_it_says_whether_the_operators_size_would_do_better(home: Home) -> None:
    """What is left of both ways of sending is shown with likeness and bytes, and named in words."""
    made = ring(home)

    page = (home.root / "rings" / "kelp-ledges-noticeboard-ringaround.html").read_text("utf-8")
    assert "today's delivery, compressed again there" in made.output
    assert "A delivery of exactly the operator&#39;s size would keep more" in page


def test_every_line_is_one_of_the_config(home: Home) -> None:
    """Each line that is printed loads as TOML, and the owner's own numbers are among them."""
    made = ring(home, destination="plain")

    assert made.status == 0, made.errors
    lines = [line.strip() for line in made.output.splitlines() if line.strip().startswith("sharpen")]
    assert len(lines) == 15
    found = [tomllib.loads(line)["sharpen"] for line in lines]
    own = {"strength": 0.8, "finish": {"radius": 0.6, "amount": 120, "blend": 1}}
    assert own in found
    config = home.config.read_text().replace(
        "sharpen = { strength = 0.8, finish = { radius = 0.6, amount = 120 } }", lines[-1]
    )
    home.config.write_text(config)
    assert run(home, "check").status in (0, 3)


def test_nothing_is_overwritten_or_put_where_pictures_are_taken(home: Home) -> None:
    """A second ring-around gets a number; drop folders and destinations are refused."""
    assert (ring(home).status, ring(home).status) == (0, 0)
    names = sorted(path.name for path in (home.root / "rings").iterdir())
    assert names == [
        "kelp-ledges-noticeboard-ringaround-2.html", "kelp-ledges-noticeboard-ringaround-2.png",
        "kelp-ledges-noticeboard-ringaround.html", "kelp-ledges-noticeboard-ringaround.png",
    ]  # fmt: skip
    for folder in (home.drop(), home.root / "nowhere"):
        made = run(
            home, "ringaround", home.drop() / "kelp-ledges.jpg", "--destination", "noticeboard", "--output", folder
        )
        assert made.status == 2
        assert str(folder) in made.errors
    assert [path.name for path in home.drop().iterdir()] == ["kelp-ledges.jpg"]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--at", "480,10"], "480 × 320 pixels"),
        (["--at", "middle"], "not a point"),
        (["--at", "²,3"], "not a point"),
    ],
)
def test_a_place_that_is_none_is_refused(home: Home, arguments: list[str], said: str) -> None:
    """With what is allowed."""
    made = ring(home, *arguments)

    assert made.status == 2
    assert said in made.errors


def test_what_cannot_be_read_is_said(home: Home) -> None:
    """A damaged picture has its reason; a destination that is none, and a folder, are wrong usage."""
    shutil.copy(DEMO / "juno" / "torn-transfer.jpg", home.drop() / "torn.jpg")

    torn = run(
        home, "ringaround", home.drop() / "torn.jpg", "--destination", "noticeboard", "--output", home.root / "rings"
    )
    unknown = ring(home, destination="fed")
    folder = run(home, "ringaround", home.drop(), "--destination", "noticeboard", "--output", home.root / "rings")

    assert torn.status == 1
    assert "ends before the picture does" in " ".join(torn.output.split())
    assert unknown.status == folder.status == 2
    assert list((home.root / "rings").iterdir()) == []


@needs_browser
def test_a_browser_reads_it(home: Home, tmp_path: Path) -> None:
    """No console message, nothing from elsewhere, no accessibility fault."""
    assert ring(home).status == 0
    page = home.root / "rings" / "kelp-ledges-noticeboard-ringaround.html"
    with browsing(tmp_path / "profile") as browser:
        for width in (390, 1700):
            browser.open(page, width)
            assert browser.console() == []
            assert [address for address in browser.requested() if not address.startswith(page.parent.as_uri())] == []
            assert browser.faults() == []


def test_strengths_lie_around_the_destinations() -> None:
    """Below and above it, inside what the config allows, one of them the destination's own."""
    auto = variants_of(Sharpening())
    assert [variant.sharpening.strength for variant in auto[0]] == [0.5, 0.75, 1.0, 1.25, 1.5]
    assert [variant.sharpening.steps for variant in auto[1]] == [2] * 5
    assert [variant.is_own for variant in auto[0]] == [False, False, True, False, False]
    strong = variants_of(Sharpening(strength=2, steps=2))
    assert [variant.sharpening.strength for variant in strong[1]] == [1.5, 1.75, 2.0]
    assert [variant.is_own for variant in strong[1]] == [False, False, True]
    none = variants_of(Sharpening(strength=0))
    assert (none[0][0].label, none[0][0].is_own) == ("no sharpening", True)
    own = variants_of(Sharpening(finish=UnsharpMask(radius=0.6, amount=120, blend=1)))
    assert len(own) == 3
    assert [variant.is_own for variant in own[0]] == [False, False, True, False, False]


def test_config_lines() -> None:
    """As an owner would write them."""
    assert config_line(Sharpening()) == 'sharpen = "auto"'
    assert config_line(Sharpening(strength=0)) == "sharpen = false"
    assert config_line(Sharpening(strength=1.25)) == "sharpen = { strength = 1.25 }"
