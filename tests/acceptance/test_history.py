"""``lanternslide history``: what was done, for a person and for programs."""

from __future__ import annotations

import json
import os
import re
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from tests.support.pictures import save_jpeg
from tests.support.service import PLAIN, SERVICE, Home, Ran, make_home, run, sweep, watching

ODD = b"caf\xe9@club.jpg"

# The contract: each field, and what it may be where it is known.
TEXT, WHOLE, NUMBER = (str,), (int,), (int, float)
FIELDS: dict[str, Any] = {
    "original": TEXT, "photographer": TEXT, "destination": TEXT, "density": NUMBER, "state": TEXT, "reason": TEXT,
    "output": TEXT, "digest": TEXT, "width": WHOLE, "height": WHOLE, "bytes": WHOLE, "quality": WHOLE,
    "quality_by": TEXT, "chroma": TEXT,
    "original_file": {"width": WHOLE, "height": WHOLE, "bits": WHOLE, "profile": TEXT, "bytes": WHOLE, "digest": TEXT},
    "strength": NUMBER, "rungs": [WHOLE], "ssim": NUMBER, "delta_e": {"mean": NUMBER, "p99": NUMBER},
    "acutance": NUMBER, "halo": {"light": NUMBER, "dark": NUMBER}, "tone_shift": {"mean": NUMBER, "p99": NUMBER},
    "out_of_gamut": NUMBER, "clipped": {"shadows": NUMBER, "highlights": NUMBER},
    "forecast": {"ssim": NUMBER, "bytes": WHOLE}, "doubts": [TEXT], "notes": [TEXT], "attempts": WHOLE,
    "seconds": NUMBER, "peak_mib": NUMBER, "filed_to": TEXT, "delivered_at": TEXT, "plan": WHOLE, "version": TEXT,
}  # fmt: skip


def busy_home(root: Path) -> Home:
    """Return a home where pictures were delivered, doubted, held and withdrawn; one has a name that is no text."""
    config = PLAIN.replace('otherwise = ["portfolio", "journal"]', 'otherwise = ["club"]').replace(
        "[1920, 1080]", "[480, 320]"
    )
    home = make_home(root, config)
    (home.drop() / "islands").mkdir()
    save_jpeg(home.drop() / "islands" / "north-stack.jpg", 1200, 800)
    Image.new("RGB", (1000, 750), (90, 120, 30)).save(home.drop() / "plain.jpg")
    taken_back = save_jpeg(home.drop() / "grey-seal.jpg", 1000, 750, seed=2)
    torn = home.drop() / "torn.jpg"
    torn.write_bytes(taken_back.read_bytes()[:5000])
    (home.drop() / os.fsdecode(ODD)).write_bytes(save_jpeg(home.root / "x.jpg", 1000, 750, seed=3).read_bytes())
    assert sweep(home).status == 1
    assert run(home, "withdraw", taken_back).status == 0
    return home


@pytest.fixture(scope="module")
def seen(tmp_path_factory: pytest.TempPathFactory) -> Home:
    """Return such a home, for tests that only look."""
    return busy_home(tmp_path_factory.mktemp("seen"))


@pytest.fixture
def home(tmp_path: Path) -> Home:
    """Return such a home, to be changed."""
    return busy_home(tmp_path)


def ledger_of(home: Home) -> Path:
    """Return the ledger's file."""
    return home.root / "state" / "ledger.sqlite"


def change(home: Home, statement: str, *values: str) -> None:
    """Change what the ledger says."""
    with closing(sqlite3.connect(ledger_of(home))) as connection:
        connection.execute(statement, values)
        connection.commit()


def records(ran: Ran) -> list[dict[str, Any]]:
    """Return what was printed, one object a line."""
    return [json.loads(line) for line in ran.output.splitlines()]


def faults(value: Any, kind: Any, name: str) -> list[str]:
    """Return where *value* is not what the contract says."""
    if value is None:
        return []
    if isinstance(kind, dict):
        if not isinstance(value, dict) or list(value) != list(kind):
            return [f"{name}: {value}"]
        return [fault for part in kind for fault in faults(value[part], kind[part], f"{name}.{part}")]
    if isinstance(kind, list):
        ok = isinstance(value, list) and all(isinstance(item, kind[0]) for item in value)
    else:
        ok = isinstance(value, kind) and not isinstance(value, bool)
    return [] if ok else [f"{name}: {value}"]


def test_every_field_of_the_contract(seen: Home) -> None:
    """One object a line for each delivery and held original, with exactly the fields agreed on, in that order."""
    ran = run(seen, "history", "--json")

    assert ran.status == 1  # something is held
    found = {record["original"]: record for record in records(ran)}
    assert [fault for record in found.values() for fault in faults(record, FIELDS, record["original"])] == []
    states = {name: record["state"] for name, record in found.items()}
    assert states == {
        r"caf\xe9@club.jpg": "delivered", "grey-seal.jpg": "withdrawn", "islands/north-stack.jpg": "delivered",
        "plain.jpg": "delivered", "torn.jpg": "held",
    }  # fmt: skip
    assert found["plain.jpg"]["notes"][0].startswith("The original has no colour profile")
    assert found[r"caf\xe9@club.jpg"]["output"] == str(seen.out("club", "caf-.jpg"))

    held = found["torn.jpg"]
    known = {name for name, value in held.items() if value not in (None, [])}
    assert known == {"original", "photographer", "state", "reason", "original_file", "attempts"}
    assert held["original_file"]["bytes"] == 5000
    assert "Export or copy it again" in held["reason"]

    whole = found["islands/north-stack.jpg"]
    delivered = seen.out("club", "islands", "north-stack.jpg")
    assert (whole["output"], whole["bytes"]) == (str(delivered), delivered.stat().st_size)
    assert (whole["width"], whole["height"], whole["quality"], whole["density"]) == (480, 320, 90, 1)
    assert whole["original_file"]["bytes"] == (seen.drop() / "islands" / "north-stack.jpg").stat().st_size
    assert (whole["attempts"], whole["photographer"]) == (0, "ida")
    assert isinstance(whole["ssim"], float)
    assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\+00:00", whole["delivered_at"])
    assert abs(datetime.fromisoformat(whole["delivered_at"]) - datetime.now(UTC)) < timedelta(minutes=5)


def test_a_list_for_a_person(seen: Home) -> None:
    """By day, oldest first, the figures in words, what was withdrawn marked, doubts below, what is held at the end."""
    ran = run(seen, "history")

    assert ran.status == 1
    assert max(map(len, ran.output.splitlines())) <= 100
    day = datetime.now().astimezone().strftime("%A %Y-%m-%d")
    assert ran.output.splitlines()[0] == day
    size = seen.out("club", "islands", "north-stack.jpg").stat().st_size
    assert re.search(
        rf"  \d\d:\d\d  ida: islands/north-stack.jpg\n +club +480 × 320 +{size / 1000:.0f} kB  quality 90",
        ran.output,
    )
    assert re.search(r"grey-seal.jpg\n +club .*withdrawn\n", ran.output)
    assert re.search(r"plain.jpg\n +club .*\n +- The original has no colour profile", ran.output)
    head, _, held = ran.output.partition("\nHeld, until you act:\n  ida: torn.jpg\n")
    assert "torn.jpg" not in head
    assert "Export or copy it again" in " ".join(held.split())


def test_since_a_day(home: Home) -> None:
    """Deliveries by when they were made, held originals by since when they are, local time; others held are counted."""
    made = datetime(2020, 5, 3, 23, 59, 59).astimezone(UTC).isoformat()
    held = datetime(2020, 5, 4, 12).astimezone(UTC).isoformat()
    change(home, "UPDATE delivery SET delivered_at = ? WHERE id = (SELECT min(id) FROM delivery)", made)
    change(home, "UPDATE original SET held_at = ? WHERE state = 'held'", held)

    def number(*since: str) -> int:
        ran = run(home, "history", "--json", *since)
        assert ran.status == 1  # something is held, whatever is listed
        return len(records(ran))

    assert number() == 5
    assert number("--since", "2020-05-03") == 5
    assert number("--since", "2020-05-04") == 4
    assert number("--since", "2020-05-05") == 3
    assert number("--since", datetime.now().astimezone().strftime("%Y-%m-%d")) == 3
    assert number("--since", "0001-01-01") == 5
    assert number("--since", "9999-12-31") == 0
    ran = run(home, "history", "--since", "9999-12-31")
    assert ran.output == "Nothing was delivered since.\n\n1 original was held earlier; see `lanternslide status`.\n"
    assert run(home, "history", "--since", "May").status == 2


def test_beside_a_running_service(home: Home) -> None:
    """It reads while the service works, and neither waits nor is in the way."""
    (home.drop() / "torn.jpg").unlink()
    with watching(home) as service:
        service.until_started()
        save_jpeg(home.drop() / "late.jpg", 390, 270, seed=9)
        service.until(home.out("club", "late.jpg").exists, "the delivery")
        service.until(lambda: "late.jpg" in run(home, "history", "--json").output, "the record")
        assert service.stop() == 0
    ran = run(home, "history")
    assert ran.status == 0
    assert "Held" not in ran.output


def test_a_delivery_that_is_made_again_still_stands(home: Home) -> None:
    """An original that was exported again and cannot be read is held, and what stands of it is delivered."""
    original = home.drop() / "islands" / "north-stack.jpg"
    original.write_bytes(original.read_bytes()[:9000])
    assert sweep(home).status == 1

    found = [(r["state"], r["destination"]) for r in records(run(home, "history", "--json"))
             if r["original"] == "islands/north-stack.jpg"]  # fmt: skip
    assert found == [("delivered", "club"), ("held", None)]


def test_nothing_yet(tmp_path: Path) -> None:
    """Without a ledger that is said, not to programs, and none is made."""
    home = make_home(tmp_path)

    assert run(home, "history").output == "Nothing was done with this state folder yet.\n"
    ran = run(home, "history", "--json")
    assert (ran.status, ran.output, ran.errors) == (0, "", "")
    assert not (home.root / "state").exists()


@pytest.mark.parametrize("spoil", [
    pytest.param(lambda home: ledger_of(home).write_bytes(b"no ledger" * 999), id="damaged"),
    pytest.param(lambda home: change(home, "PRAGMA user_version = 99"), id="newer"),
])  # fmt: skip
def test_a_ledger_that_cannot_be_used(tmp_path: Path, spoil: Callable[[Home], object]) -> None:
    """Its status is 4, and the message says why."""
    home = make_home(tmp_path)
    assert sweep(home).status == 0
    spoil(home)

    ran = run(home, "history", "--json")

    assert (ran.status, ran.output) == (4, "")
    assert "ledger.sqlite" in ran.errors
    assert "Traceback" not in ran.errors


@pytest.mark.parametrize("form", [["--json"], []])
def test_a_reader_that_has_had_enough(home: Home, form: list[str]) -> None:
    """`history --json | head` ends without a word, and with the status that it would have had."""
    change(
        home,
        "INSERT INTO original (photographer, picture, path, size, mtime_ns, inode, state) "
        "WITH RECURSIVE n (i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < 2000) "
        "SELECT 'ida', CAST(i AS BLOB), CAST(i AS BLOB), 1, 1, i, 'delivered' FROM n",
    )
    change(
        home,
        "INSERT INTO delivery (original, destination, density, state, recipe, record, delivered_at, output, "
        "output_size, output_digest) SELECT original.id, 'club', 1, 'delivered', '{}', delivery.record, "
        "delivered_at, CAST(original.id AS BLOB), 1, 'd' FROM original, delivery "
        "WHERE original.digest IS NULL AND delivery.id = (SELECT min(id) FROM delivery)",
    )
    command = [sys.executable, "-m", "lanternslide", "--config", str(home.config), "history", *form]
    environment = {**os.environ, "PYTHONPATH": str(SERVICE), "PYTHONWARNINGS": "default"}
    process = subprocess.Popen(command, env=environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    assert process.stdout is not None
    assert process.stderr is not None
    assert process.stdout.readline().strip()
    process.stdout.close()

    assert process.stderr.read() == b""
    assert process.wait() == 1
    process.stderr.close()
