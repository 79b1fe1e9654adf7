"""Hostile and damaged files by the hundred: no crash, each delivered or held with a reason, memory in its budget."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from PIL import Image

from tests.support.hostile import write_hostile
from tests.support.pictures import save_jpeg
from tests.support.service import PLAIN, Home, make_home, sweep

CONFIG = PLAIN.replace("workers = 2", 'workers = 2\nmemory = "1500 MiB"\nmax_megapixels = 60').replace(
    'otherwise = ["portfolio", "journal"]', 'otherwise = ["club"]'
)


def check(home: Home, number: int) -> None:
    """Sweep, and check that every file has come to an end that its owner can understand."""
    with closing(sqlite3.connect(home.root / "state" / "ledger.sqlite")) as connection:
        rows = connection.execute("SELECT path, state, reason_key, reason FROM original").fetchall()
        records = [json.loads(record) for (record,) in connection.execute("SELECT record FROM delivery") if record]
    assert len(rows) == number
    assert {state for _, state, _, _ in rows} <= {"delivered", "held"}
    unforeseen = [(path, reason) for path, _, key, reason in rows if key == "failed-often"]
    assert unforeseen == []
    assert all(record["peak_mib"] < 750 for record in records if record["peak_mib"])
    for name in home.delivered():
        with Image.open(home.out(name)) as picture:
            picture.load()
    assert not list(home.out().rglob(".*"))


def sweep_hostile(root: Path, seeds: range) -> Home:
    """Drop the files of *seeds* and a sound one, and sweep."""
    home = make_home(root, CONFIG)
    write_hostile(home.drop(), seeds)
    save_jpeg(home.drop() / "sound.jpg", 600, 400)
    ran = sweep(home)
    assert ran.status == 1, ran.errors[-2000:]
    assert "Traceback" not in ran.errors, ran.errors[-3000:]
    assert home.out("club", "sound.jpg").is_file()
    check(home, len(seeds) + 1)
    return home


def test_a_hundred_hostile_files(tmp_path: Path) -> None:
    """Truncated, flipped, bombs, nonsense, wrong endings: the sound one is delivered, nothing fails unforeseen."""
    sweep_hostile(tmp_path, range(100))


@pytest.mark.long
@pytest.mark.timeout(1800)
@pytest.mark.parametrize("start", range(100, 2100, 500))
def test_thousands_of_hostile_files(tmp_path: Path, start: int) -> None:
    """Two thousand more."""
    sweep_hostile(tmp_path, range(start, start + 500))
