"""Keeping all photographers' proof sheets true: when they are written, and what is said if they cannot be."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest

from lanternslide.delivery.proof_sheet import local_day
from lanternslide.delivery.proof_sheets import MOST_PAUSE_SECONDS, PAUSE_SECONDS, ProofSheets, sheets_by
from lanternslide.errors import StateError
from lanternslide.ledger import LEDGER_FILE
from lanternslide.records.events import Passed, SheetFailed, Waits
from lanternslide.report.obstacles import Obstacles
from lanternslide.storage.probe import Probe
from lanternslide.words import Held, Passing, say
from tests.support.household import CONFIG, Household, household

PROOFS = CONFIG.replace('drop = "drop/ida"', 'drop = "drop/ida"\nproofs = "proofs/ida"')
FOR_BOTH = PROOFS.replace('drop = "drop/juno"', 'drop = "drop/juno"\nproofs = "proofs/juno"')


@pytest.fixture
def home(tmp_path: Path) -> Iterator[Household]:
    """Return a home in which Ida and Juno have proof sheets."""
    with household(tmp_path, FOR_BOTH) as home:
        (tmp_path / "proofs").mkdir()
        yield home


def sheets_of(home: Household, obstacles: Obstacles | None = None) -> ProofSheets:
    """Return the sheets, by the config as it was read last."""
    tell = home.told.append
    sheets = sheets_by(home.settings, home.photographers)
    return ProofSheets(sheets, home.ledger, obstacles or Obstacles(tell), Probe(), tell)


def hold(home: Household, name: str, photographer: str = "ida") -> None:
    """Have an original held now."""
    item = home.item(home.drop(name, photographer=photographer))
    home.ledger.originals.hold(item.original, say(Held.EMPTY), datetime.now(UTC).isoformat(timespec="seconds"))


def is_due(sheets: ProofSheets) -> bool:
    """Return whether something may have changed, as it is now."""
    return sheets.is_due


def index(home: Household, photographer: str = "ida") -> str:
    """Return a photographer's index, empty if there is none."""
    page = home.home.root / "proofs" / photographer / "index.html"
    return page.read_text("utf-8") if page.is_file() else ""


# Today's small pictures


def test_small_pictures_go_to_todays_folder(home: Household) -> None:
    """It is made, and the proof folder with it."""
    folder = sheets_of(home).folder_for("ida")

    assert folder == home.home.root / "proofs" / "ida" / local_day(datetime.now(UTC)).isoformat()
    assert folder.is_dir()
    assert home.told == []


def test_without_proof_sheets_there_are_no_small_pictures(home: Household) -> None:
    """Nothing is made, and nothing is in the way."""
    home.read(PROOFS)

    assert sheets_of(home).folder_for("juno") is None
    assert list((home.home.root / "proofs").iterdir()) == []
    assert home.told == []


def test_a_proof_folder_that_cannot_be_made_stops_nothing(home: Household) -> None:
    """What is in the way is said once."""
    (home.home.root / "proofs").rmdir()
    sheets = sheets_of(home)

    assert sheets.folder_for("ida") is None
    assert sheets.folder_for("ida") is None
    (waits,) = home.told
    assert isinstance(waits, Waits)
    assert waits.what == "ida: proof sheets"


# When


def test_nothing_is_written_unless_something_may_have_changed(home: Household) -> None:
    """At the start something may have; once written, only what is told makes it due."""
    hold(home, "seal.jpg")
    sheets = sheets_of(home)

    sheets.write_if_due(0.0)

    assert "seal.jpg" in index(home)
    assert not is_due(sheets)
    hold(home, "kelp.jpg")
    sheets.write_if_due(1000.0)
    assert "kelp.jpg" not in index(home)


@pytest.mark.parametrize(("later", "is_written"), [(PAUSE_SECONDS - 0.1, False), (MOST_PAUSE_SECONDS, True)])
def test_between_two_times_there_is_a_pause(home: Household, later: float, *, is_written: bool) -> None:
    """Five seconds at the least, a minute at the most, whatever it took."""
    sheets = sheets_of(home)
    sheets.write_if_due(100.0)
    hold(home, "seal.jpg")
    sheets.is_due = True

    sheets.write_if_due(100.0 + later)

    assert ("seal.jpg" in index(home)) == is_written
    assert is_due(sheets) != is_written


# What


def test_each_photographers_sheet_shows_nothing_of_anothers(home: Household) -> None:
    """Held, waiting, and what is in the way of the other alone."""
    hold(home, "idas.jpg")
    hold(home, "junos@club.jpg", "juno")
    for number in range(3):
        home.item(home.drop(f"waits-{number}@club.jpg", photographer="juno"))
    obstacles = Obstacles(home.told.append)
    for number, what in enumerate(
        ["workers", "ida: destination journal", "juno: drop folder", "destination club", "destination portfolio"]
    ):
        obstacles.meet(what, say(Passing.DISK_FULL, folder=f"place-{number}"))

    sheets_of(home, obstacles).write()

    assert ("idas.jpg" in index(home), "junos@club.jpg" in index(home)) == (True, False)
    assert ("idas.jpg" in index(home, "juno"), "junos@club.jpg" in index(home, "juno")) == (False, True)
    assert ["3 pictures are" in index(home, name) for name in ("ida", "juno")] == [False, True]
    seen = {name: [n for n in range(5) if f"place-{n}" in index(home, name)] for name in ("ida", "juno")}
    # Workers are everybody's, and the club has one folder; what is in the way of a portfolio is so of somebody's own.
    assert seen == {"ida": [0, 1, 3], "juno": [0, 2, 3]}


def test_a_photographer_without_proofs_gets_none(home: Household) -> None:
    """Whatever there is to show."""
    home.read(PROOFS)
    hold(home, "junos@club.jpg", "juno")
    hold(home, "idas.jpg")

    sheets_of(home).write()

    assert "idas.jpg" in index(home)
    assert index(home, "juno") == ""


# What is in the way


def test_a_page_of_somebody_elses_is_an_obstacle_until_it_is_gone(home: Household) -> None:
    """It is tried again and again; others have their sheets meanwhile."""
    hold(home, "idas.jpg")
    hold(home, "junos@club.jpg", "juno")
    foreign = home.home.root / "proofs" / "ida" / "index.html"
    foreign.parent.mkdir()
    foreign.write_text("<title>My own page</title>", "utf-8")
    sheets = sheets_of(home)

    sheets.write()
    assert is_due(sheets)
    assert "junos@club.jpg" in index(home, "juno")
    assert home.told == [Waits(what="ida: proof sheets", said=say(Passing.SHEET_IN_THE_WAY, folder=foreign.parent))]

    foreign.unlink()
    sheets.write()
    assert not is_due(sheets)
    assert home.told[1:] == [Passed(what="ida: proof sheets")]
    assert "idas.jpg" in index(home)


def test_a_proof_folder_that_is_away_is_an_obstacle_until_it_is_there(home: Household) -> None:
    """Deliveries go on."""
    hold(home, "idas.jpg")
    (home.home.root / "proofs").rmdir()
    sheets = sheets_of(home)

    sheets.write()
    assert is_due(sheets)
    assert [type(event) for event in home.told] == [Waits]

    (home.home.root / "proofs").mkdir()
    sheets.write()
    assert not is_due(sheets)
    assert "idas.jpg" in index(home)


def test_what_nobody_foresaw_is_told_and_stops_nothing(home: Household) -> None:
    """A record that cannot be read, for one: it is logged with its trace, and others have their sheets."""
    home.deliver(home.drop("idas.jpg"))
    hold(home, "junos@club.jpg", "juno")
    with closing(sqlite3.connect(home.home.root / "state" / LEDGER_FILE)) as connection:
        connection.execute("UPDATE delivery SET record = '{\"state\": 7}'")
        connection.commit()
    sheets = sheets_of(home)

    sheets.write()

    (failed,) = home.told_of(SheetFailed)
    assert isinstance(failed, SheetFailed)
    assert failed.photographer == "ida"
    assert failed.detail
    assert "Traceback" in failed.trace
    assert not is_due(sheets)
    assert "junos@club.jpg" in index(home, "juno")


def test_a_ledger_that_fails_stops_the_service(home: Household) -> None:
    """It is no trouble of a sheet (promise 5: loudly)."""
    home.deliver(home.drop("idas.jpg"))
    with closing(sqlite3.connect(home.home.root / "state" / LEDGER_FILE)) as connection:
        connection.execute("ALTER TABLE delivery RENAME COLUMN shown TO hidden")
        connection.commit()

    with pytest.raises(StateError):
        sheets_of(home).write()
