"""What proof sheets cost: a day of 2,000 deliveries, written as they come, and opened in a browser.

Run it with ``python -m tests.benchmarks.sheets [--deliveries N]``. Deliveries are real ones of the demo inbox, noted
again and again under other names; time between them is that which one takes, divided by two workers. Writing is real,
the time that passes meanwhile is not waited for.
"""

from __future__ import annotations

import argparse
import os
import shutil
import tempfile
import time
from contextlib import suppress
from pathlib import Path

from lanternslide.config import load_settings, resolve
from lanternslide.delivery.proof_sheets import ProofSheets, sheets_by
from lanternslide.ledger import Kept, Ledger, Published, Wanted
from lanternslide.records import DroppedFile, Fingerprint
from lanternslide.records.events import nobody
from lanternslide.report.obstacles import Obstacles
from lanternslide.storage.probe import Probe
from tests.acceptance.test_proofs import CONFIG, make_proofs_home
from tests.support.browser import CHROMIUM, DRIVER, browsing
from tests.support.service import Home, sweep

DEMO = Path(__file__).resolve().parents[2] / "demo_inbox" / "ida"
WORKERS = 2


def delivered(root: Path) -> tuple[Home, float, list[Kept]]:
    """Return a home with real deliveries, how many seconds one takes, and what is kept of them."""
    home = make_proofs_home(root)
    home.config.write_text(CONFIG.replace("long_edge = 600", "long_edge = 1050"))
    shutil.copy(DEMO / "kelp-ledges.jpg", home.drop() / "kelp-ledges.jpg")
    sweep(home)
    with Ledger(home.root / "state") as ledger:
        rows = ledger.sheets.shown_between("ida", "2000", "3000")
    kept = [Kept(record=row.record, about=row.about, shown=row.shown) for row in rows]
    return home, sum(row.record.seconds or 0 for row in rows) / len(rows), kept


def note(ledger: Ledger, home: Home, number: int, kept: Kept) -> None:
    """Note one more delivery, as the service does; its small pictures are links to the real ones."""
    path = Path(f"kelp-{number:05d}.jpg")
    file = DroppedFile(
        photographer="ida", drop=home.drop(), relative=path,
        fingerprint=Fingerprint(size=number, mtime_ns=number, inode=number),
    )  # fmt: skip
    row = ledger.originals.take_in(file, path)
    (delivery,) = ledger.deliveries.want(
        row.id, f"d{number}", [Wanted(destination="portfolio", density=1, recipe="{}")]
    )
    output = home.out("ida", "portfolio", path.name)
    record = kept.record.model_copy(
        update={"original": path.name, "output": str(output), "digest": f"d{number}", "ssim": 0.97 + number % 29 / 1000}
    )
    assert kept.shown is not None
    name = f"{number:016x}"
    folder = home.root / "proofs" / "ida" / kept.shown.pictures.partition("/")[0]
    for ending in ("-small.jpg", "-plain.jpg", "-delivered.jpg"):
        real = home.root / "proofs" / "ida" / f"{kept.shown.pictures}{ending}"
        with suppress(FileExistsError):
            os.link(real, folder / f"{name}{ending}")
    shown = {**{key: getattr(kept.shown, key) for key in kept.shown.__slots__}, "pictures": f"{folder.name}/{name}"}
    intent = Published(path=output, size=1, digest=f"d{number}")
    mine = Kept(record=record, about=kept.about, shown=type(kept.shown)(**shown))
    ledger.deliveries.intend(delivery.id, intent, made_from=f"d{number}", kept=mine)
    ledger.deliveries.confirm(delivery.id, kept.record.delivered_at or "")
    ledger.originals.finish(row.id)


def main() -> None:
    """Print what it costs."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--deliveries", type=int, default=2000)
    number = parser.parse_args().deliveries
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder)
        home, seconds, kept = delivered(root)
        step = seconds / WORKERS
        with Ledger(home.root / "state") as ledger:
            settings = load_settings(home.config)
            sheets = ProofSheets(sheets_by(settings, resolve(settings)), ledger, Obstacles(nobody), Probe(), nobody)
            now, spent, longest, writes = 0.0, 0.0, 0.0, 0
            for at in range(number):
                note(ledger, home, at, kept[0])
                now += step
                sheets.is_due = True
                started = time.perf_counter()
                due = now >= sheets._next_write
                sheets.write_if_due(now)
                took = time.perf_counter() - started
                spent, longest, writes = spent + took, max(longest, took), writes + due
            sheets.is_due = True
            started = time.perf_counter()
            sheets.write()
            last = time.perf_counter() - started
        print(f"one delivery: {seconds:.3f} s; {number} of them on {WORKERS} workers: {now:.0f} s")
        print(f"writing sheets meanwhile: {writes} times, {spent:.2f} s, {spent / now:.2%} of the deliveries' time")
        print(f"the longest: {longest:.3f} s, one more at the end: {last:.3f} s")
        day = next((home.root / "proofs" / "ida").glob("20*"))
        pages = sorted(day.glob("*.html"))
        print(f"{len(pages)} pages, the largest {max(page.stat().st_size for page in pages) / 1000:.0f} kB")
        if CHROMIUM and DRIVER:
            with browsing(root / "profile") as browser:
                for width in (390, 1200):
                    started = time.perf_counter()
                    browser.open(day / "index.html", width)
                    took = time.perf_counter() - started
                    asked = sum(address.endswith(".jpg") for address in browser.requested())
                    browser.run("window.scrollTo(0, document.body.scrollHeight)")
                    nodes = browser.run("return document.querySelectorAll('*').length")
                    print(f"opened at {width} px: {took:.2f} s, {nodes} elements, {asked} pictures asked for at first")


if __name__ == "__main__":
    main()
