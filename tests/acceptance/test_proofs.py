"""Proof sheets: the real service writes them, a real browser reads them."""

from __future__ import annotations

import os
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from tests.support.browser import Browser, browsing, needs_browser
from tests.support.pictures import save_jpeg
from tests.support.service import Home, make_home, run, sweep, watching

DEMO = Path(__file__).resolve().parents[2] / "demo_inbox"
CONFIG = """
[service]
state = "state"
settle_seconds = 0.1
workers = 2
proofs_keep_days = 30

[photographers.ida]
drop = "drop/ida"
otherwise = ["portfolio"]
proofs = "proofs/ida"

[photographers.juno]
drop = "drop/juno"
otherwise = ["portfolio"]
proofs = "proofs/juno"

[destinations.portfolio]
folder = "out/{photographer}/portfolio"
size = { long_edge = 600 }
forecast = { long_edge = 400 }

[destinations.club]
folder = "out/club"
size = { box = [800, 500] }
quality = "auto"
"""


def make_proofs_home(root: Path) -> Home:
    """Make a home whose photographers want proof sheets."""
    home = make_home(root, CONFIG)
    (home.root / "proofs").mkdir()
    return home


def today(home: Home, photographer: str = "ida") -> Path:
    """Return the folder of today's sheet."""
    return home.root / "proofs" / photographer / datetime.now().astimezone().date().isoformat()


@pytest.fixture(scope="module")
def swept(tmp_path_factory: pytest.TempPathFactory) -> Home:
    """Return a home in which deliveries, doubts and something held were swept."""
    home = make_proofs_home(tmp_path_factory.mktemp("home"))
    shutil.copy(DEMO / "ida" / "kelp-ledges.jpg", home.drop() / "kelp <ledges>@portfolio@club.jpg")
    save_jpeg(home.drop() / "small.jpg", 300, 200)
    (home.drop() / "torn.jpg").write_bytes((DEMO / "juno" / "torn-transfer.jpg").read_bytes())
    save_jpeg(home.drop("juno") / "mine.jpg", 900, 600)
    assert sweep(home).status == 1
    return home


@pytest.fixture(scope="module")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    """Return a browser."""
    with browsing(tmp_path_factory.mktemp("profile")) as found:
        yield found


@needs_browser
@pytest.mark.parametrize("width", [390, 1200])
@pytest.mark.parametrize("page", ["day", "index"])
def test_a_browser_reads_it(swept: Home, browser: Browser, tmp_path: Path, page: str, width: int) -> None:
    """No console message, nothing asked for but its own files, no accessibility fault, on phone and desktop."""
    file = today(swept) / "index.html" if page == "day" else swept.root / "proofs" / "ida" / "index.html"

    browser.open(file, width)
    browser.run("document.querySelectorAll('img').forEach(i => i.loading = 'eager')")
    browser.driver.set_script_timeout(60)
    broken = browser.driver.execute_async_script(
        "const done = arguments[0];"
        "Promise.all([...document.images].map(i => i.decode().then(() => null, () => i.src)))"
        ".then(found => done(found.filter(Boolean)))"
    )
    browser.screenshot(tmp_path / "page.png")

    assert broken == []
    assert browser.console() == []
    proofs = (swept.root / "proofs" / "ida").as_uri()
    assert [address for address in browser.requested() if not address.startswith(proofs)] == []
    wider = browser.run("return document.documentElement.scrollWidth - document.documentElement.clientWidth")
    assert wider == 0, "the page scrolls sideways"
    assert browser.faults() == []


@needs_browser
def test_it_is_readable_in_the_dark(swept: Home, tmp_path: Path) -> None:
    """The dark colours keep their contrast too."""
    with browsing(tmp_path / "profile", dark=True) as browser:
        browser.open(today(swept) / "index.html", 390)
        ground = browser.run("return getComputedStyle(document.body).backgroundColor")

        assert ground == "rgb(27, 28, 30)"
        assert browser.faults() == []


@needs_browser
def test_held_and_doubts_are_seen_before_any_picture(swept: Home, browser: Browser) -> None:
    """On a phone, what is held and what to do stand on the first screen, doubts above the first picture."""
    browser.open(today(swept) / "index.html", 390, 844)

    def top(what: str) -> float:
        return float(browser.run(f"return document.querySelector('{what}').getBoundingClientRect().bottom"))

    assert browser.run("return document.querySelector('.held strong').textContent") == "torn.jpg"
    assert top(".held li") < 844
    assert top(".next") < 844
    assert top(".doubts") < float(browser.run("return document.querySelector('img').getBoundingClientRect().top"))


@needs_browser
def test_the_detail_is_switched_by_a_tap_and_by_a_key(swept: Home, browser: Browser) -> None:
    """Delivered first; a tap on the picture shows it without sharpening in the same box, the space bar turns back."""
    from selenium.webdriver.common.by import By  # noqa: PLC0415
    from selenium.webdriver.common.keys import Keys  # noqa: PLC0415

    browser.open(today(swept) / "index.html", 390)
    box = browser.driver.find_element(By.CSS_SELECTOR, ".detail .box")
    delivered, plain = (box.find_element(By.CLASS_NAME, name) for name in ("delivered", "plain"))
    size = box.size

    def shown() -> tuple[bool, bool]:
        return delivered.is_displayed(), plain.is_displayed()

    assert shown() == (True, False)
    box.click()
    assert shown() == (False, True)
    assert box.size == size
    browser.driver.find_element(By.CSS_SELECTOR, ".detail input").send_keys(Keys.SPACE)
    assert shown() == (True, False)


def test_a_sheet_shows_nothing_of_another_photographer(swept: Home) -> None:
    """Neither names nor pictures."""
    for name, other in (("ida", "mine.jpg"), ("juno", "kelp")):
        texts = [path.read_text("utf-8") for path in (swept.root / "proofs" / name).rglob("*.html")]
        assert texts
        assert [text for text in texts if other in text] == []
    assert len(list(today(swept, "juno").glob("*-small.jpg"))) == 1


def test_the_detail_is_that_of_the_delivery(swept: Home) -> None:
    """The 1:1 detail is a part of the delivered file, to what a second compression at 97 changes."""
    import numpy as np  # noqa: PLC0415

    rows = records(swept)
    (row,) = [row for row in rows if b"/out/club/" in row["output"]]
    shown = row["shown"]
    left, top, width, height = shown["closeup"]
    with (
        Image.open(os.fsdecode(row["output"])) as delivered,
        Image.open(swept.root / "proofs" / "ida" / f"{shown['pictures']}-delivered.jpg") as detail,
    ):
        part = np.asarray(delivered.convert("RGB"), float)[top : top + height, left : left + width]
        difference = np.abs(part - np.asarray(detail, float))

    assert detail.size == (width, height) == (390, 260)
    assert difference.mean() < 1.5


def records(home: Home) -> list[dict[str, Any]]:
    """Return what the ledger keeps of deliveries."""
    import json  # noqa: PLC0415

    with closing(sqlite3.connect(home.root / "state" / "ledger.sqlite")) as connection:
        rows = connection.execute("SELECT output, shown FROM delivery WHERE output IS NOT NULL").fetchall()
    return [{"output": output, "shown": json.loads(shown)} for output, shown in rows]


def test_what_is_withdrawn_and_released_shows(tmp_path: Path) -> None:
    """A withdrawal is marked on the sheet, and a held picture leaves it once it is whole."""
    home = make_proofs_home(tmp_path)
    save_jpeg(home.drop() / "seal.jpg", 900, 600)
    (home.drop() / "torn.jpg").write_bytes((DEMO / "juno" / "torn-transfer.jpg").read_bytes())
    with watching(home) as service:
        page = today(home) / "index.html"
        service.until(lambda: page.exists() and "torn.jpg" in page.read_text("utf-8"), "the held picture on the sheet")
        service.until(lambda: "seal.jpg" in page.read_text("utf-8"), "the delivery on the sheet")
        assert run(home, "withdraw", home.drop() / "seal.jpg").status == 0
        save_jpeg(home.drop() / "torn.jpg", 600, 400)
        service.until(
            lambda: "Withdrawn since" in (text := page.read_text("utf-8")) and "Nothing is held" in text, "the change"
        )
        assert service.stop() == 0
    index = (home.root / "proofs" / "ida" / "index.html").read_text("utf-8")
    assert "1 withdrawn" in index


OURS = '<!doctype html>\n<html lang="en">\n<head>\n<meta name="generator" content="lanternslide proof sheet abc">'


def test_old_sheets_are_pruned_and_nothing_else(tmp_path: Path) -> None:
    """Pages and pictures of days before `proofs_keep_days` go; what is not the service's own stays."""
    home = make_proofs_home(tmp_path)
    day = datetime.now().astimezone().date()
    proofs = home.root / "proofs" / "ida"
    for age in (29, 30, 45, 60):
        folder = proofs / (day - timedelta(days=age)).isoformat()
        folder.mkdir(parents=True)
        for name in ("index.html", "page-001.html", ".index.html.part"):
            (folder / name).write_text(OURS if age != 60 else "<title>A wedding</title>")
        for name in ("0123456789abcdef-small.jpg", "0123456789abcdef-plain.jpg"):
            (folder / name).write_text("x")
        if age == 45:
            (folder / "my notes.txt").write_text("mine")
    (proofs / "2001").mkdir()
    save_jpeg(home.drop() / "seal.jpg", 900, 600)

    sweep(home)

    left = {str(path.relative_to(proofs)) for path in proofs.rglob("*")}
    kept, gone, mixed, theirs = ((day - timedelta(days=age)).isoformat() for age in (29, 30, 45, 60))
    assert f"{kept}/index.html" in left
    assert not any(path.startswith(gone) for path in left)
    assert {path for path in left if path.startswith(mixed)} == {mixed, f"{mixed}/my notes.txt"}
    assert len([path for path in left if path.startswith(theirs)]) == 6
    assert "2001" in left


def test_a_page_of_somebody_elses_is_left_alone(tmp_path: Path) -> None:
    """The delivery is made, the page stays as it is, and what is in the way is said once."""
    home = make_proofs_home(tmp_path)
    (home.root / "proofs" / "ida").mkdir()
    theirs = home.root / "proofs" / "ida" / "index.html"
    theirs.write_text("<title>My site</title>")
    save_jpeg(home.drop() / "seal.jpg", 900, 600)

    ran = sweep(home)

    assert theirs.read_text() == "<title>My site</title>"
    assert home.out("ida", "portfolio", "seal.jpg").exists()
    (said,) = [event for event in ran.events if event["event"] == "waits"]
    assert "the service did not write" in said["reason"]


def test_what_was_mended_leaves_the_sheet_of_its_day(tmp_path: Path) -> None:
    """A picture that was held, and that its owner has removed, is not on the sheet after the next sweep."""
    home = make_proofs_home(tmp_path)
    (home.drop() / "torn.jpg").write_bytes((DEMO / "juno" / "torn-transfer.jpg").read_bytes())
    sweep(home)
    page = today(home) / "index.html"
    assert "torn.jpg" in page.read_text("utf-8")

    (home.drop() / "torn.jpg").unlink()
    sweep(home)

    assert "torn.jpg" not in page.read_text("utf-8")
    assert "Nothing was published." in page.read_text("utf-8")


def test_a_new_start_writes_nothing_that_is_right(tmp_path: Path) -> None:
    """Pages whose day is as it was keep their time; a day that is over is caught up with."""
    home = make_proofs_home(tmp_path)
    save_jpeg(home.drop() / "seal.jpg", 900, 600)
    sweep(home)
    with closing(sqlite3.connect(home.root / "state" / "ledger.sqlite")) as connection:
        before = (datetime.now().astimezone() - timedelta(days=2)).isoformat(timespec="seconds")
        connection.execute("UPDATE delivery SET delivered_at = strftime('%Y-%m-%dT%H:%M:%S+00:00', ?)", (before,))
        connection.commit()
    sweep(home)
    over = today(home).with_name((datetime.now().astimezone().date() - timedelta(days=2)).isoformat()) / "index.html"
    assert "seal.jpg" in over.read_text("utf-8")
    assert "Nothing was published." in (today(home) / "index.html").read_text("utf-8")
    written = {path: path.stat().st_mtime_ns for path in (home.root / "proofs" / "ida").rglob("*.html")}

    sweep(home)

    assert {path: path.stat().st_mtime_ns for path in written} == written


def test_a_withdrawal_without_a_service_shows(tmp_path: Path) -> None:
    """The sheet says that it was taken back as soon as the command has ended."""
    home = make_proofs_home(tmp_path)
    save_jpeg(home.drop() / "seal.jpg", 900, 600)
    sweep(home)

    assert run(home, "withdraw", home.drop() / "seal.jpg").status == 0

    assert "Withdrawn since" in (today(home) / "index.html").read_text("utf-8")


def test_a_proof_folder_that_is_away_stops_no_delivery(tmp_path: Path) -> None:
    """Deliveries are made without small pictures, what is in the way is said, and the sheet is written afterwards."""
    home = make_proofs_home(tmp_path)
    (home.root / "proofs").rmdir()
    save_jpeg(home.drop() / "seal.jpg", 900, 600)

    ran = sweep(home)

    assert home.out("ida", "portfolio", "seal.jpg").exists()
    assert any(event["event"] == "waits" and "proof sheets" in event["what"] for event in ran.events)
    (home.root / "proofs").mkdir()
    sweep(home)
    assert "No proofs of this delivery" in (today(home) / "index.html").read_text("utf-8")
