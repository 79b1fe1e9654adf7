"""One photographer's proof sheets: which days are written, which are left alone, and what is pruned."""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from itertools import count
from pathlib import Path

import pytest

from lanternslide.delivery.proof_sheet import Now, Sheet, local_day
from lanternslide.errors import PassingFaultError
from lanternslide.ledger import Kept, OriginalRow, Published
from lanternslide.records import DroppedFile, Record
from lanternslide.records.record import Clipped, Halo, Spread
from lanternslide.words import Held, Passing, say
from tests.support.household import Household, household

TODAY = date(2026, 11, 26)
NOTHING = Now(held=(), waiting=0, obstacles=())
KEEP_DAYS = 3
OFTEN = 1e9
"""Seconds that are never over."""

POSIX = pytest.mark.skipif(sys.platform == "win32", reason="Windows takes its time zone from the system alone")
NUMBERS = count(1)


@pytest.fixture(autouse=True)
def zone(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Set this machine's clock to a zone (POSIX.1-2017, 8.3), to universal time if none is named."""
    if sys.platform == "win32":
        yield
        return
    monkeypatch.setenv("TZ", getattr(request, "param", "UTC0"))
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


@pytest.fixture
def home(tmp_path: Path) -> Iterator[Household]:
    """Return a home of Ida and Juno."""
    with household(tmp_path) as home:
        yield home


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return Ida's proof folder, which the sheet makes."""
    return tmp_path / "proofs"


@pytest.fixture
def sheet(folder: Path) -> Sheet:
    """Return Ida's sheets, kept for three days."""
    return Sheet("ida", folder, KEEP_DAYS)


def deliver(home: Household, at: datetime, name: str = "", photographer: str = "ida") -> DroppedFile:
    """Have an original delivered to the club at a time."""
    file = home.drop(f"{name or f'seal-{next(NUMBERS)}'}@club.jpg", photographer=photographer)
    item = home.item(file)
    (row,), _ = home.planner.still_to_make(item)
    target = home.home.out("club", photographer, file.relative.name)
    record = Record(
        original=str(file.relative), photographer=photographer, destination="club", density=1, state="delivered",
        output=str(target), digest="ab", width=60, height=40, bytes=231_000, quality=90, quality_by="config", ssim=0.98,
        delta_e=Spread(mean=1, p99=6), acutance=1.36, halo=Halo(light=1, dark=1), out_of_gamut=0,
        clipped=Clipped(shadows=0, highlights=0), version="0",
    )  # fmt: skip
    published = Published(path=target, size=231_000, digest="ab")
    home.ledger.deliveries.intend(row.id, published, made_from="d", kept=Kept(record=record))
    home.ledger.deliveries.confirm(row.id, at.isoformat(timespec="seconds"))
    home.ledger.originals.finish(item.original)
    return file


def hold(home: Household, at: datetime, name: str = "grey-seal.jpg") -> OriginalRow:
    """Have an original held since a time."""
    item = home.item(home.drop(name))
    home.ledger.originals.hold(item.original, say(Held.EMPTY), at.isoformat(timespec="seconds"))
    return home.row(item.file)


def noon(day: int) -> datetime:
    """Return the middle of a day of November 2026."""
    return datetime(2026, 11, day, 12, 0, tzinfo=UTC)


def pages(folder: Path) -> dict[str, str]:
    """Return every page by its path below the proof folder."""
    return {path.relative_to(folder).as_posix(): path.read_text("utf-8") for path in folder.rglob("*.html")}


def fronts(folder: Path) -> list[str]:
    """Return the days that have a front page, oldest first."""
    return sorted(path.parent.name for path in folder.glob("*/index.html"))


MARKED = "<!-- as it was -->"


def mark(folder: Path) -> None:
    """Leave a mark at the end of every page, to see which are written anew."""
    for path in folder.rglob("*.html"):
        with path.open("a", encoding="utf-8") as stream:
            stream.write(MARKED)


def written(folder: Path) -> set[str]:
    """Return the pages that were written since."""
    return {name for name, text in pages(folder).items() if not text.endswith(MARKED)}


# What is written


def test_where_there_is_nothing_to_show_no_folder_is_made(home: Household, sheet: Sheet, folder: Path) -> None:
    """A photographer who has dropped nothing yet finds nothing."""
    assert sheet.write(home.ledger, TODAY, NOTHING, OFTEN)
    assert not folder.exists()


def test_each_day_has_its_page_and_the_index_all(home: Household, sheet: Sheet, folder: Path) -> None:
    """Nothing of another photographer's stands on them."""
    deliver(home, noon(26), "today")
    deliver(home, noon(25), "yesterday")
    deliver(home, noon(26), "somebody-elses", photographer="juno")

    assert sheet.write(home.ledger, TODAY, NOTHING, OFTEN)

    found = pages(folder)
    assert fronts(folder) == ["2026-11-25", "2026-11-26"]
    assert "today@club.jpg" in found["2026-11-26/index.html"]
    assert "yesterday" not in found["2026-11-26/index.html"]
    assert "yesterday@club.jpg" in found["2026-11-25/index.html"]
    assert "2026-11-25/" in found["index.html"]
    assert "2026-11-26/" in found["index.html"]
    assert not any("somebody-elses" in text for text in found.values())


@pytest.mark.parametrize("restarted", [False, True])
def test_what_is_right_is_left_alone(home: Household, sheet: Sheet, folder: Path, *, restarted: bool) -> None:
    """Also by a service that starts anew: the page says itself what it shows."""
    deliver(home, noon(25))
    deliver(home, noon(26))
    sheet.write(home.ledger, TODAY, NOTHING, OFTEN)
    mark(folder)

    again = Sheet("ida", folder, KEEP_DAYS) if restarted else sheet
    assert again.write(home.ledger, TODAY, NOTHING, OFTEN)

    assert written(folder) == {"index.html"}


def test_only_days_that_have_changed_are_written_anew(home: Household, sheet: Sheet, folder: Path) -> None:
    """One more delivery of yesterday's."""
    for day in (24, 25, 26):
        deliver(home, noon(day))
    sheet.write(home.ledger, TODAY, NOTHING, OFTEN)
    mark(folder)
    deliver(home, noon(25), "late")

    sheet.write(home.ledger, TODAY, NOTHING, OFTEN)

    assert {name.split("/")[0] for name in written(folder)} == {"index.html", "2026-11-25"}
    assert "late@club.jpg" in pages(folder)["2026-11-25/index.html"]


def test_what_was_taken_back_shows_on_its_day(home: Household, sheet: Sheet, folder: Path) -> None:
    """As long as the day is kept."""
    file = deliver(home, noon(25))
    sheet.write(home.ledger, TODAY, NOTHING, OFTEN)
    before = pages(folder)["2026-11-25/index.html"]
    (row,) = home.ledger.deliveries.of_original(home.row(file).id)
    home.ledger.withdrawals.withdraw(home.row(file).id, None, file.fingerprint)
    home.ledger.withdrawals.note_withdrawn(row.id)

    sheet.write(home.ledger, TODAY, NOTHING, OFTEN)

    assert pages(folder)["2026-11-25/index.html"] != before


def test_what_is_held_stands_on_the_day_since_when_it_is(home: Household, sheet: Sheet, folder: Path) -> None:
    """And in the index; mended, it leaves both, also where nothing else was done on that day."""
    row = hold(home, noon(25))
    sheet.write(home.ledger, TODAY, Now(held=[row], waiting=0, obstacles=()), OFTEN)
    assert fronts(folder) == ["2026-11-25"]
    for name in ("2026-11-25/index.html", "index.html"):
        assert "grey-seal.jpg" in pages(folder)[name]

    again = Sheet("ida", folder, KEEP_DAYS)  # a service that starts anew finds the page
    again.write(home.ledger, TODAY, NOTHING, OFTEN)

    assert not any("grey-seal.jpg" in text for text in pages(folder).values())


def test_what_is_held_since_long_ago_is_in_the_index_alone(home: Household, sheet: Sheet, folder: Path) -> None:
    """Its day's sheet is not kept any more; its owner is told all the same."""
    row = hold(home, noon(10))

    sheet.write(home.ledger, TODAY, Now(held=[row], waiting=0, obstacles=()), OFTEN)

    assert list(pages(folder)) == ["index.html"] or fronts(folder) == []
    assert "grey-seal.jpg" in pages(folder)["index.html"]


def test_what_waits_is_told_on_todays_page_and_in_the_index(home: Household, sheet: Sheet, folder: Path) -> None:
    """Yesterday's is not written anew for it."""
    deliver(home, noon(25))
    deliver(home, noon(26))
    sheet.write(home.ledger, TODAY, NOTHING, OFTEN)
    mark(folder)

    sheet.write(home.ledger, TODAY, Now(held=(), waiting=7, obstacles=()), OFTEN)

    assert written(folder) == {"index.html", "2026-11-26/index.html"}
    for name in written(folder):
        assert "7 pictures are" in " ".join(pages(folder)[name].split())


def test_what_is_in_the_way_is_told_in_the_index(home: Household, sheet: Sheet, folder: Path) -> None:
    """It is of now, and of no day."""
    deliver(home, noon(26))

    sheet.write(home.ledger, TODAY, Now(held=(), waiting=0, obstacles=["The share is away."]), OFTEN)

    assert "The share is away." in pages(folder)["index.html"]
    assert "The share is away." not in pages(folder)["2026-11-26/index.html"]


def test_once_time_is_over_today_is_right_and_the_rest_waits(home: Household, sheet: Sheet, folder: Path) -> None:
    """The newest days come first; the next time goes on where this one has stopped."""
    for day in (24, 25, 26):
        deliver(home, noon(day))

    assert not sheet.write(home.ledger, TODAY, NOTHING, -1)
    assert fronts(folder) == ["2026-11-26"]
    assert sheet.write(home.ledger, TODAY, NOTHING, OFTEN)
    assert fronts(folder) == ["2026-11-24", "2026-11-25", "2026-11-26"]


def test_a_day_that_is_over_stays_until_it_is_too_old(home: Household, sheet: Sheet, folder: Path) -> None:
    """Three days are kept, today among them; the fourth is not written."""
    for day in (23, 24, 25, 26):
        deliver(home, noon(day))

    sheet.write(home.ledger, TODAY, NOTHING, OFTEN)

    assert fronts(folder) == ["2026-11-24", "2026-11-25", "2026-11-26"]


# What is in the way


@pytest.mark.parametrize("where", [".", "2026-11-26"])
def test_a_page_of_somebody_elses_is_never_written_over(
    home: Household, sheet: Sheet, folder: Path, where: str
) -> None:
    """In the proof folder or in a day's: it stays, and is named."""
    deliver(home, noon(26))
    foreign = folder / where / "index.html"
    foreign.parent.mkdir(parents=True)
    foreign.write_text("<title>My own page</title>", "utf-8")

    with pytest.raises(PassingFaultError) as fault:
        sheet.write(home.ledger, TODAY, NOTHING, OFTEN)

    assert fault.value.said == say(Passing.SHEET_IN_THE_WAY, folder=foreign.parent)
    assert foreign.read_text("utf-8") == "<title>My own page</title>"
    foreign.unlink()
    assert sheet.write(home.ledger, TODAY, NOTHING, OFTEN)
    assert fronts(folder) == ["2026-11-26"]


# Pruning


SMALL_PICTURE = "0123456789abcdef-small.jpg"


@pytest.fixture
def four_days(home: Household, folder: Path) -> Path:
    """Have sheets written of four days, each with a small picture."""
    for day in (23, 24, 25, 26):
        deliver(home, noon(day))
    Sheet("ida", folder, 90).write(home.ledger, TODAY, NOTHING, OFTEN)
    for front in folder.glob("*/index.html"):
        (front.parent / SMALL_PICTURE).write_bytes(b"a small picture")
        (front.parent / f".{SMALL_PICTURE}.0a1b2c3d.part").write_bytes(b"half of one")
    return folder


def test_old_days_go_with_all_that_is_ours(home: Household, sheet: Sheet, four_days: Path) -> None:
    """Pages, pictures, and what was left of writing them."""
    sheet.write(home.ledger, TODAY, NOTHING, OFTEN)

    assert sorted(path.name for path in four_days.iterdir()) == ["2026-11-24", "2026-11-25", "2026-11-26", "index.html"]
    assert (four_days / "2026-11-24" / SMALL_PICTURE).exists()


@pytest.mark.parametrize(
    "name",
    ["notes.txt", "0123456789abcdef.jpg", "0123456789ABCDEF-small.jpg", "page-1.html", "0123456789abcdef-small.png"],
)
def test_what_others_have_put_there_stays(home: Household, sheet: Sheet, four_days: Path, name: str) -> None:
    """And its folder with it."""
    theirs = four_days / "2026-11-23" / name
    theirs.write_bytes(b"theirs")

    sheet.write(home.ledger, TODAY, NOTHING, OFTEN)

    assert list((four_days / "2026-11-23").iterdir()) == [theirs]


def test_a_page_of_somebody_elses_beside_ours_stays(home: Household, sheet: Sheet, four_days: Path) -> None:
    """It is called like one of ours."""
    theirs = four_days / "2026-11-23" / "page-002.html"
    theirs.write_text("<title>My own page</title>", "utf-8")

    sheet.write(home.ledger, TODAY, NOTHING, OFTEN)

    assert list((four_days / "2026-11-23").iterdir()) == [theirs]


def _without_its_page(day: Path) -> Path:
    (day / "index.html").unlink()
    return day


def _with_another_page(day: Path) -> Path:
    (day / "index.html").write_text("<title>My own page</title>", "utf-8")
    return day


def _called_otherwise(day: Path) -> Path:
    return day.rename(day.with_name("2026-11-23 copy"))


def _no_day(day: Path) -> Path:
    return day.rename(day.with_name("2026-13-45"))


@pytest.mark.parametrize(
    "make",
    [_without_its_page, _with_another_page, _called_otherwise, _no_day],
    ids=lambda make: make.__name__.strip("_"),
)
def test_a_folder_that_is_no_sheet_of_ours_is_left_alone(
    home: Household, sheet: Sheet, four_days: Path, make: object
) -> None:
    """That it is called like a day, or looks like one, is not enough."""
    assert callable(make)
    day = make(four_days / "2026-11-23")

    sheet.write(home.ledger, TODAY, NOTHING, OFTEN)

    assert (day / SMALL_PICTURE).exists()


@POSIX
def test_a_link_to_a_sheet_is_not_followed(home: Household, sheet: Sheet, four_days: Path) -> None:
    """What lies elsewhere is not in this folder."""
    elsewhere = four_days.parent / "archive"
    (four_days / "2026-11-23").rename(elsewhere)
    (four_days / "2026-11-23").symlink_to(elsewhere)

    sheet.write(home.ledger, TODAY, NOTHING, OFTEN)

    assert (elsewhere / SMALL_PICTURE).exists()


def test_days_are_pruned_as_days_go_by(home: Household, sheet: Sheet, four_days: Path) -> None:
    """A service that runs on prunes on the next day what was kept on this one."""
    sheet.write(home.ledger, TODAY, NOTHING, OFTEN)
    sheet.write(home.ledger, TODAY + timedelta(days=1), NOTHING, OFTEN)

    assert fronts(four_days) == ["2026-11-25", "2026-11-26"]


# Days


@POSIX
@pytest.mark.parametrize(
    ("zone", "at", "day"),
    [
        ("UTC0", datetime(2026, 2, 1, 23, 59, 59, tzinfo=UTC), date(2026, 2, 1)),
        ("UTC0", datetime(2026, 2, 2, 0, 0, tzinfo=UTC), date(2026, 2, 2)),
        # Other days for each zone, since a process remembers when its days begin.
        ("EAST-5:45", datetime(2026, 2, 10, 18, 14, 59, tzinfo=UTC), date(2026, 2, 10)),
        ("EAST-5:45", datetime(2026, 2, 10, 18, 15, tzinfo=UTC), date(2026, 2, 11)),
        ("EAST-14", datetime(2026, 2, 19, 10, 0, tzinfo=UTC), date(2026, 2, 20)),
        ("WEST10", datetime(2026, 3, 2, 9, 59, tzinfo=UTC), date(2026, 3, 1)),
        # Clocks go from 0:00 to 1:00 there on the last Sunday of March.
        ("MID-2DST,M3.5.0/0,M10.5.0/0", datetime(2026, 3, 28, 21, 59, tzinfo=UTC), date(2026, 3, 28)),
        ("MID-2DST,M3.5.0/0,M10.5.0/0", datetime(2026, 3, 28, 22, 0, tzinfo=UTC), date(2026, 3, 29)),
    ],
    indirect=["zone"],
)
@pytest.mark.usefixtures("zone")
def test_days_are_those_of_this_machines_clock(home: Household, folder: Path, at: datetime, day: date) -> None:
    """A delivery stands on the sheet of the day on which its owner saw it come, and on no other."""
    deliver(home, at)

    Sheet("ida", folder, KEEP_DAYS).write(home.ledger, day + timedelta(days=1), NOTHING, OFTEN)

    assert local_day(at) == day
    assert fronts(folder) == [day.isoformat()]
    assert "club.jpg" in pages(folder)[f"{day}/index.html"]
