"""The summary of a sweep."""

from __future__ import annotations

import io
from pathlib import Path

import pytest

from lanternslide.cli.output.summary import print_summary
from lanternslide.config import Settings
from lanternslide.ledger import OriginalRow, OriginalState
from lanternslide.records import Fingerprint
from lanternslide.records.events import Delivered, Waits
from lanternslide.report import Batch
from lanternslide.words import Passing, Said, say
from tests.support.configs import load
from tests.support.happenings import record

CONFIG = """
[photographers.ida]
drop = "drop/ida"
[photographers.juno]
drop = "drop/juno"
destinations = ["club"]

[destinations.portfolio]
folder = "out/{photographer}/../{photographer}/portfolio"
size = { width = 60 }

[destinations.club]
folder = "out/club"
size = { width = 60 }
"""


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    """Return the settings of two photographers, whose folders are there."""
    for folder in ("ida/portfolio", "juno/portfolio", "club"):
        (tmp_path / "out" / folder).mkdir(parents=True)
    return load(tmp_path, CONFIG)


def held(path: str, reason: str, owner: str = "ida") -> OriginalRow:
    """Return an original that is held."""
    return OriginalRow(
        id=1, photographer=owner, picture=Path(path), path=Path(path), digest=None, state=OriginalState.HELD,
        fingerprint=Fingerprint(size=1, mtime_ns=1, inode=1), reason_key="key", reason=reason, attempts=0,
    )  # fmt: skip


def batch(*made: tuple[str, str, tuple[str, ...]], waits: tuple[tuple[str, Said], ...] = ()) -> Batch:
    """Return a batch of deliveries: original, destination and doubts of each; and what is in the way."""
    found = Batch()
    for original, destination, doubts in made:
        found(Delivered(record=record(destination, 1000, *doubts, original=original)))
    for what, said in waits:
        found(Waits(what=what, said=said))
    return found


def summary(settings: Settings, found: Batch, *rows: OriginalRow) -> str:
    """Return what is printed where there is no terminal."""
    stream = io.StringIO()
    print_summary(settings, found, rows, stream)
    return stream.getvalue()


def test_nothing_new_is_said_and_no_more(settings: Settings) -> None:
    """Sections of which there is nothing have no title."""
    assert summary(settings, Batch()).strip() == "Nothing new was delivered."


def test_folders_that_were_delivered_to_are_named_once(settings: Settings, tmp_path: Path) -> None:
    """As their owners know them, those of photographers who use the destination; and only where something lies."""
    made = batch(("a.jpg", "club", ()), ("a.jpg", "portfolio", ()))
    club, portfolio = tmp_path / "out" / "club", tmp_path / "out" / "ida" / "portfolio"
    (club / "a.jpg").touch()
    for _ in range(2):
        lines = summary(settings, made).splitlines()
        assert [line for line in lines if line.startswith(f"  {tmp_path}")] == [f"  {club}"]
        if portfolio.exists():
            portfolio.rmdir()

    portfolio.mkdir()
    (portfolio / "a.jpg").touch()
    lines = summary(settings, made).splitlines()
    assert [line for line in lines if line.startswith(f"  {tmp_path}")] == [f"  {club}", f"  {portfolio}"]


def test_a_doubt_is_told_once_of_all_that_have_it(settings: Settings) -> None:
    """With each original and its destinations above it."""
    text = summary(
        settings,
        batch(
            ("a.jpg", "club", ("Small.",)), ("a.jpg", "portfolio", ("Small.", "Dark.")), ("b.jpg", "club", ("Small.",))
        ),
    )

    _, _, section = text.partition("Delivered, with doubts:\n")
    assert [line.rstrip() for line in section.splitlines()] == [
        "  ida: a.jpg for club, portfolio", "  ida: b.jpg for club", "    Small.",
        "  ida: a.jpg for portfolio", "    Dark.",
    ]  # fmt: skip


def test_notes_stand_before_doubts_with_fewer_names(settings: Settings) -> None:
    """Nobody has to act on them."""
    found = batch(("a.jpg", "club", ("Small.",)))
    for name in "abcde":
        noted = record("club", 1000, original=f"{name}.jpg").model_copy(update={"notes": ("Grey.",)})
        found(Delivered(record=noted))

    _, _, section = summary(settings, found).partition("Good to know:\n")
    assert [line.strip() for line in section.splitlines()] == [
        "5 pictures", "Grey.", "", "Delivered, with doubts:", "ida: a.jpg for club", "Small.",
    ]  # fmt: skip


def test_what_waits_and_what_is_held_come_last(settings: Settings) -> None:
    """With their reasons; what asks for the owner is the end."""
    away = say(Passing.READ_ONLY, folder="out")
    text = summary(
        settings, batch(waits=(("ida: a.jpg", away), ("ida: b.jpg", away))), held("c.jpg", "It is empty.", "juno")
    )

    _, _, section = text.partition("Waiting; fix the cause, then sweep again:\n")
    waiting, _, last = section.partition("Held, until you act:\n")
    assert [line.strip() for line in waiting.splitlines()][:2] == ["ida: a.jpg", "ida: b.jpg"]
    assert " ".join(waiting.split()).endswith(away.text)
    assert [line.strip() for line in last.splitlines()] == ["juno: c.jpg", "It is empty."]


@pytest.mark.parametrize(("number", "more"), [(12, None), (13, "and 1 more; the log names them")])
def test_of_many_twelve_are_named(settings: Settings, number: int, more: str | None) -> None:
    """And how many more there are."""
    text = summary(settings, Batch(), *(held(f"{n}.jpg", "It is empty.") for n in range(number)))

    assert text.count(".jpg") == 12
    assert (more in text) if more else ("more" not in text)
    assert text.count("It is empty.") == 1


def test_names_are_data(settings: Settings) -> None:
    """What looks like markup of the terminal's is printed as it is, and what cannot be seen is escaped."""
    text = summary(settings, Batch(), held("[red]a\x1b[31m.jpg", "It says [bold]so[/bold]."))

    assert r"ida: [red]a\x1b[31m.jpg" in text
    assert "It says [bold]so[/bold]." in text
