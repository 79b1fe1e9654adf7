"""A ledger that is damaged, lost or put back: what each command says, and what stands afterwards.

The service, its workers and the files are real; what damages the ledger is done to its files while nothing runs.
"""

from __future__ import annotations

import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

import pytest
from PIL import Image

from tests.support.pictures import save_jpeg
from tests.support.service import FILING, PLAIN, Home, make_home, run, sweep, watching

PICTURES = 12
"""So many that the ledger has pages beside its tables' roots."""


NOTE = (
    "import os, sqlite3, sys; ledger = sqlite3.connect(sys.argv[1]); "
    "ledger.execute(\"INSERT OR REPLACE INTO noted VALUES ('last', '1')\"); ledger.commit(); os._exit(0)"
)
"""Notes something, and dies before the log is written into the ledger."""


@dataclass
class Lived:
    """A home in which pictures were delivered, with a copy of its ledger from before the last one."""

    home: Home
    delivered: dict[str, bytes]

    @property
    def ledger(self) -> Path:
        """The ledger's file."""
        return self.home.root / "state" / "ledger.sqlite"

    @property
    def log(self) -> Path:
        """Its write-ahead log."""
        return self.ledger.with_name("ledger.sqlite-wal")

    @property
    def copy(self) -> Path:
        """The copy of the ledger."""
        return self.home.root / "yesterday.sqlite"


@pytest.fixture
def lived(tmp_path: Path) -> Lived:
    """Return a home whose service was killed after its last delivery."""
    home = make_home(tmp_path)
    for number in range(PICTURES):
        save_jpeg(home.drop() / f"{number}.jpg", 90, 60, seed=number)
    assert sweep(home).status == 0
    copied = run(home, "backup", home.root / "yesterday.sqlite")
    assert copied.status == 0, copied.errors
    with watching(home) as service:
        save_jpeg(home.drop() / "last@club.jpg", 90, 60, seed=PICTURES)
        service.until(lambda: "club/last.jpg" in home.delivered(), "the last delivery")
        service.until(lambda: any(e["event"] == "batch done" for e in service.events()), "rest")
        service.kill()
    # What a service notes last may wait in its log: here by a process that dies like one.
    subprocess.run([sys.executable, "-c", NOTE, home.root / "state" / "ledger.sqlite"], check=True)
    return Lived(home=home, delivered=home.delivered())


def gone(lived: Lived) -> None:
    """Move the ledger away, and leave its log."""
    lived.ledger.rename(lived.home.root / "elsewhere.sqlite")


def empty(lived: Lived) -> None:
    """Leave nothing of the file but its name."""
    lived.ledger.write_bytes(b"")


def cut_short(lived: Lived) -> None:
    """Leave the first half."""
    lived.log.unlink()
    data = lived.ledger.read_bytes()
    lived.ledger.write_bytes(data[: len(data) // 8192 * 4096])


def overwritten(lived: Lived) -> None:
    """Overwrite a page of the table of deliveries."""
    with closing(sqlite3.connect(lived.ledger)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        rows = connection.execute("SELECT pageno FROM dbstat WHERE name = 'delivery' AND pagetype = 'leaf'").fetchall()
    page = rows[len(rows) // 2][0]
    with lived.ledger.open("r+b") as stream:
        stream.seek((page - 1) * 4096)
        stream.write(b"\xa5" * 4096)


def no_ledger_at_all(lived: Lived) -> None:
    """Put somebody else's file in its place."""
    lived.log.unlink()
    lived.ledger.write_bytes(b"not a database, but long enough to look like one " * 200)


def put_back_beside_the_log(lived: Lived) -> None:
    """Put yesterday's copy back, and forget the log of today."""
    shutil.copyfile(lived.copy, lived.ledger)


def table_dropped(lived: Lived) -> None:
    """Take a table away."""
    with closing(sqlite3.connect(lived.ledger)) as connection:
        connection.execute("DROP TABLE recall")
        connection.commit()


def log_deleted(lived: Lived) -> None:
    """Delete the log, with all that the ledger was told last."""
    lived.log.unlink()


def put_back(lived: Lived) -> None:
    """Put yesterday's copy back as the guide says."""
    lived.log.unlink()
    lived.ledger.with_name("ledger.sqlite-shm").unlink(missing_ok=True)
    lived.copy.rename(lived.ledger)


def state_lost(lived: Lived) -> None:
    """Delete the whole state folder."""
    shutil.rmtree(lived.ledger.parent)


REFUSED: list[tuple[Callable[[Lived], None], str]] = [
    (gone, "it is gone, and its log is left"),
    (empty, "it is empty"),
    (cut_short, "a part of it is missing or was overwritten"),
    (overwritten, "a part of it is missing or was overwritten"),
    (no_ledger_at_all, "it is no ledger, or was overwritten"),
    (put_back_beside_the_log, "the log beside it is another ledger's"),
    (table_dropped, "it lacks recall"),
]
"""Damage that every command sees, and what it says."""

TAKEN = (log_deleted, put_back, state_lost)
"""A ledger that is whole and knows less than there is."""


def named(value: object) -> str:
    """Return what a case is called."""
    return getattr(value, "__name__", "")


@pytest.mark.parametrize(("damage", "detail"), REFUSED, ids=named)
def test_damage_is_said_by_every_command_and_changes_nothing(
    lived: Lived, damage: Callable[[Lived], None], detail: str
) -> None:
    """Each names `repair`; none of them writes into what may still be saved, or delivers anything."""
    damage(lived)
    before = {path.name: path.read_bytes() for path in lived.ledger.parent.iterdir() if path.name.startswith("ledger")}
    before.pop("ledger.sqlite-shm", None)  # the index of the log; SQLite makes it anew to read

    # What only reads does not look at every page.
    readers = () if damage is overwritten else ("status", "history")
    for command in ("check", *readers, "sweep", "watch", "retry"):
        ran = run(lived.home, command)
        assert ran.status == 4, (command, ran.output, ran.errors)
        text = " ".join((ran.output + ran.errors).split())
        assert "`lanternslide repair`" in text
        if (damage, command) != (overwritten, "check"):  # which says how many faults it has found
            assert detail in text
        assert "Traceback" not in text

    after = {path.name: path.read_bytes() for path in lived.ledger.parent.iterdir() if path.name.startswith("ledger")}
    after.pop("ledger.sqlite-shm", None)
    assert after == before
    assert lived.home.delivered() == lived.delivered


@pytest.mark.parametrize("damage", [*(damage for damage, _ in REFUSED), *TAKEN], ids=named)
def test_repair_finds_everything_again(lived: Lived, damage: Callable[[Lived], None]) -> None:
    """First it says what it would do; then all that stands is known again, and nothing is delivered twice or lost."""
    damage(lived)
    before = {path: path.read_bytes() for path in lived.home.root.rglob("ledger*") if path.suffix != ".sqlite-shm"}

    said = run(lived.home, "repair")
    assert said.status == (0 if damage in TAKEN else 4), said.errors
    after = {path: path.read_bytes() for path in lived.home.root.rglob("ledger*") if path.suffix != ".sqlite-shm"}
    assert after == before
    done = run(lived.home, "repair", "--yes")
    assert done.status == 0, (done.output, done.errors)

    assert sweep(lived.home).status == 0
    assert lived.home.delivered() == lived.delivered
    known = run(lived.home, "history", "--json").output.splitlines()
    assert len(known) == len(lived.delivered)
    assert "is sound" in run(lived.home, "check").output
    withdrawn = run(lived.home, "withdraw", lived.home.drop())
    assert withdrawn.status == 0
    assert lived.home.delivered() == {}


@pytest.mark.parametrize("damage", [log_deleted, state_lost], ids=named)
def test_a_ledger_that_knows_less_delivers_nothing_twice(lived: Lived, damage: Callable[[Lived], None]) -> None:
    """Also without a repair: what stands with the very bytes is known again when it is made."""
    damage(lived)

    assert sweep(lived.home).status == 0
    assert lived.home.delivered() == lived.delivered


def test_what_was_withdrawn_does_not_come_back(lived: Lived) -> None:
    """A ledger that has forgotten it holds the original: nobody can tell it from a new one."""
    assert run(lived.home, "withdraw", lived.home.drop() / "3.jpg").status == 0
    left = lived.home.delivered()
    empty(lived)

    done = run(lived.home, "repair", "--yes")

    assert done.status == 1, (done.output, done.errors)
    assert "ida: 3.jpg is held." in done.output
    assert sweep(lived.home).status == 1
    assert lived.home.delivered() == left
    assert run(lived.home, "retry", lived.home.drop() / "3.jpg").status == 0
    assert sweep(lived.home).status == 0
    assert lived.home.delivered() == lived.delivered


@pytest.mark.parametrize("damage", [*(damage for damage, _ in REFUSED), put_back], ids=named)
def test_what_was_withdrawn_before_any_damage_stays_away(lived: Lived, damage: Callable[[Lived], None]) -> None:
    """Where the ledger that is left has forgotten it, or somebody has touched the original since."""
    save_jpeg(lived.home.drop() / "7.jpg", 120, 80, seed=70)
    assert sweep(lived.home).status == 0
    for name in ("3.jpg", "7.jpg", "last@club.jpg"):
        assert run(lived.home, "withdraw", lived.home.drop() / name).status == 0
    left = lived.home.delivered()
    subprocess.run([sys.executable, "-c", NOTE, lived.ledger], check=True)
    damage(lived)

    assert run(lived.home, "sweep").status == 4
    done = run(lived.home, "repair", "--yes")
    assert done.status in (0, 1), (done.output, done.errors)
    for original in lived.home.drop().iterdir():
        original.touch()
    sweep(lived.home)
    run(lived.home, "retry")
    assert sweep(lived.home).status in (0, 1)

    assert lived.home.delivered() == left


def test_what_was_cut_off_is_gone_on_with(lived: Lived) -> None:
    """A repair that could not look everywhere publishes nothing, nor does a service before it has."""
    withdrawn = run(lived.home, "withdraw", lived.home.drop() / "3.jpg")
    assert withdrawn.status == 0
    left = lived.home.delivered()
    empty(lived)
    lived.home.drop().rename(lived.home.root / "elsewhere")

    ran = run(lived.home, "repair", "--yes")
    assert ran.status == 3, (ran.output, ran.errors)
    (lived.home.root / "elsewhere").rename(lived.home.drop())
    assert sweep(lived.home).status == 4
    assert "repair --yes" in run(lived.home, "check").said
    assert run(lived.home, "repair", "--yes").status == 1
    assert sweep(lived.home).status == 1
    assert lived.home.delivered() == left


def test_a_destination_that_is_away_loses_nothing(lived: Lived) -> None:
    """What stands there is not taken for withdrawn; a second repair finds it, once the folder is back."""
    empty(lived)
    club, away = lived.home.out("club"), lived.home.root / "away"
    club.rename(away)

    run(lived.home, "repair", "--yes")
    away.rename(club)
    again = run(lived.home, "repair", "--yes")

    assert again.status == 0, (again.output, again.errors)
    assert sweep(lived.home).status == 0
    assert lived.home.delivered() == lived.delivered
    assert run(lived.home, "withdraw", lived.home.drop() / "last@club.jpg").status == 0
    assert "club/last.jpg" not in lived.home.delivered()


def test_a_plain_copy_of_another_time_is_noticed(lived: Lived) -> None:
    """Also where no log lies beside it: what was withdrawn since does not come back."""
    assert sweep(lived.home).status == 0
    shutil.copyfile(lived.ledger, lived.home.root / "plain.sqlite")
    save_jpeg(lived.home.drop() / "new@club.jpg", 90, 60, seed=60)
    assert sweep(lived.home).status == 0
    for name in ("new@club.jpg", "2.jpg"):
        assert run(lived.home, "withdraw", lived.home.drop() / name).status == 0
    left = lived.home.delivered()
    shutil.copyfile(lived.home.root / "plain.sqlite", lived.ledger)

    assert sweep(lived.home).status == 4
    assert "put back from a copy" in run(lived.home, "check").said
    done = run(lived.home, "repair", "--yes")
    assert done.status == 1, (done.output, done.errors)
    sweep(lived.home)
    run(lived.home, "sweep", "--missing")

    assert lived.home.delivered() == left


def test_two_originals_with_one_name_have_a_file_each(lived: Lived) -> None:
    """Whichever is looked at first, with several workers at once."""
    save_jpeg(lived.home.drop() / "twin@club.jpg", 90, 60, seed=40)
    shutil.copyfile(lived.home.drop() / "twin@club.jpg", lived.home.drop() / "twin@club.jpeg")
    assert sweep(lived.home).status == 0
    stands = lived.home.delivered()
    assert {"club/twin.jpg", "club/twin-2.jpg"} <= set(stands)
    empty(lived)

    done = run(lived.home, "repair", "--yes")

    assert done.status == 0, (done.output, done.errors)
    assert sweep(lived.home).status == 0
    assert lived.home.delivered() == stands


def test_filed_originals_are_known_again(tmp_path: Path) -> None:
    """They lie elsewhere, and nothing is delivered anew of them."""
    home = make_home(tmp_path, FILING.replace("[destinations.club]", "[destinations.club]\nmanifest = true"))
    (home.root / "filed").mkdir()
    for number in range(3):
        save_jpeg(home.drop() / f"{number}@club.jpg", 90, 60, seed=number)
    assert sweep(home).status == 0
    stands = home.delivered()
    assert list(home.drop().iterdir()) == []
    shutil.rmtree(home.root / "state")

    assert run(home, "repair", "--yes").status == 0
    assert sweep(home).status == 0

    assert home.delivered() == stands
    assert run(home, "withdraw", home.root / "filed").said.count("was deleted") == 3
    assert set(home.delivered()) == {"club/manifest.json"}


def test_a_photographers_own_export_is_never_taken_for_ours(lived: Lived) -> None:
    """However much it looks like a delivery: it has not the profile that every delivery has."""
    own = lived.home.out("club", "last.jpg")
    with Image.open(own) as image:
        image.convert("RGB").save(lived.home.root / "own.jpg", quality=97)
    empty(lived)
    own.unlink()
    shutil.copyfile(lived.home.root / "own.jpg", own)
    before = own.read_bytes()

    assert run(lived.home, "repair", "--yes").status == 1
    assert run(lived.home, "retry", lived.home.drop() / "last@club.jpg").status == 0
    assert sweep(lived.home).status == 0
    assert own.read_bytes() == before
    assert "club/last-2.jpg" in lived.home.delivered()


def test_what_another_version_made_is_recognised_by_its_look(lived: Lived) -> None:
    """Here by another quality: its bytes are others, its maker, its size and its look are not."""
    lived.home.config.write_text(PLAIN.replace("[destinations.club]", "[destinations.club]\nquality = 95"))
    empty(lived)

    done = run(lived.home, "repair", "--yes")

    assert done.status == 0, (done.output, done.errors)
    assert "club/last.jpg is a delivery" in done.output
    assert "taken for the delivery" in run(lived.home, "history").said
    assert sweep(lived.home).status == 0
    assert lived.home.delivered() == lived.delivered


def test_the_damaged_files_are_kept(lived: Lived) -> None:
    """Under their names, in a folder of the day; a second repair takes another folder."""
    for number in (1, 2):
        lived.ledger.write_bytes(b"damaged %d" % number)
        assert run(lived.home, "repair", "--yes").status == 0

    kept = sorted(lived.ledger.parent.glob("damaged-*"))
    assert [(folder / "ledger.sqlite").read_bytes() for folder in kept] == [b"damaged 1", b"damaged 2"]


def test_repair_never_runs_beside_a_service(lived: Lived) -> None:
    """It says who works with the state folder."""
    with watching(lived.home) as service:
        service.until(lambda: sum(e["event"] == "watching" for e in service.events()) == 2, "watching")  # once before
        ran = run(lived.home, "repair", "--yes")

    assert ran.status == 4
    assert "in use by lanternslide watch" in ran.errors


def test_a_changed_export_after_the_copy_is_recognised_by_its_new_bytes(lived: Lived) -> None:
    """The ledger that was put back knows the former export; what stands is of the newer one."""
    save_jpeg(lived.home.drop() / "5.jpg", 120, 80, seed=50)
    assert sweep(lived.home).status == 0
    stands = lived.home.delivered()
    lived.copy.replace(lived.ledger)

    assert run(lived.home, "repair", "--yes").status == 0
    assert sweep(lived.home).status == 0

    assert lived.home.delivered() == stands
