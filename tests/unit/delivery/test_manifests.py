"""Keeping manifest.json true: what was delivered there, still stands, and is not taken back."""

from __future__ import annotations

import json
import os
import shutil
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from lanternslide.delivery.manifests import PAUSE_SECONDS, Manifests
from lanternslide.ledger import Kept, Published
from lanternslide.records import Record
from lanternslide.records.events import Passed, Waits
from lanternslide.report.obstacles import Obstacles
from lanternslide.words import Passing
from tests.support.household import CONFIG, Household, digest_of, household

LISTED = CONFIG.replace("densities = [1, 2]", "densities = [1, 2]\nmanifest = true").replace(
    'folder = "out/club"', 'folder = "out/club"\nmanifest = true'
)
"""The journal, which each photographer has of their own, and the club, which they share, have manifests."""


@pytest.fixture
def home(tmp_path: Path) -> Iterator[Household]:
    """Return a home of Ida and Juno, whose journal and club ask for manifests."""
    with household(tmp_path, LISTED) as home:
        yield home


@pytest.fixture
def manifests(home: Household) -> Manifests:
    """Return what keeps the manifests."""
    return Manifests(home.photographers, home.ledger.deliveries, home.reachability, Obstacles(home.told.append))


def manifest_in(folder: Path) -> Any:
    """Return what a manifest holds; None if there is none."""
    path = folder / "manifest.json"
    return json.loads(path.read_text("utf-8")) if path.exists() else None


def listed(folder: Path) -> list[str]:
    """Return the pictures that a manifest lists."""
    return [picture["file"] for picture in manifest_in(folder)["pictures"]]


def obstacles(home: Household) -> list[tuple[str, str]]:
    """Return what was told to be in the way, and of what."""
    return [(event.what, event.said.key) for event in home.told if isinstance(event, Waits)]


def test_what_stands_is_listed_with_its_densities(home: Household, manifests: Manifests) -> None:
    """Below the destination's folder, with sizes and whose it is; nothing is listed where nobody asks for it."""
    one, two, _ = home.deliver(home.drop("islands/seal@journal@portfolio.jpg"))
    manifests.write()

    (picture,) = manifest_in(home.home.out("ida", "journal"))["pictures"]
    assert (picture["file"], picture["photographer"]) == ("islands/seal.jpg", "ida")
    assert (picture["width"], picture["height"], picture["bytes"]) == (60, 40, one.stat().st_size)
    assert [(item["density"], item["file"], item["bytes"]) for item in picture["densities"]] == [
        (1, "islands/seal.jpg", one.stat().st_size),
        (2, "islands/seal-2x.jpg", two.stat().st_size),
    ]
    assert manifest_in(home.home.out("ida", "portfolio")) is None


def test_a_folder_that_is_shared_lists_everybodys(home: Household, manifests: Manifests) -> None:
    """One manifest for each folder."""
    home.deliver(home.drop("seal@club.jpg"))
    home.deliver(home.drop("kelp@club.jpg", photographer="juno"))
    home.deliver(home.drop("gull@journal.jpg"))
    manifests.write()

    assert listed(home.home.out("club")) == ["kelp.jpg", "seal.jpg"]
    assert listed(home.home.out("ida", "journal")) == ["gull.jpg"]


@pytest.mark.parametrize("what", ["withdrawn", "deleted", "changed", "moved by the config"])
def test_what_does_not_stand_there_is_not_listed(home: Household, manifests: Manifests, what: str) -> None:
    """A manifest stays, with what is left."""
    file = home.drop("seal@club.jpg")
    (path,) = home.deliver(file)
    home.deliver(home.drop("gull@club.jpg", b"gull"))
    match what:
        case "withdrawn":
            home.ledger.withdrawals.withdraw(home.row(file).id, None, file.fingerprint)
        case "deleted":
            path.unlink()
        case "changed":
            path.write_bytes(b"retouched by hand")
        case _:
            home.read(LISTED.replace("out/club", "out/gallery"))
            home.ask_again(file)
            home.deliver(file)
    manifests.write()

    assert listed(home.home.out("club")) == ["gull.jpg"]


def test_what_is_made_again_is_listed_as_it_stands(home: Household, manifests: Manifests) -> None:
    """A reader finds it meanwhile."""
    file = home.drop("seal@club.jpg")
    home.deliver(file)
    home.ask_again(file)
    manifests.write()

    assert listed(home.home.out("club")) == ["seal.jpg"]


def test_the_last_picture_leaves_an_empty_manifest(home: Household, manifests: Manifests) -> None:
    """A folder that nothing was ever put into gets none."""
    (path,) = home.deliver(home.drop("seal@club.jpg"))
    home.home.out("ida", "journal").mkdir(parents=True)
    path.unlink()
    manifests.write()

    assert manifest_in(home.home.out("club"))["pictures"] == []
    assert manifest_in(home.home.out("ida", "journal")) is None


def test_a_name_that_is_no_text_has_no_address(home: Household, manifests: Manifests) -> None:
    """An earlier version gave such names; the others are listed all the same."""
    home.deliver(home.drop("gull@club.jpg", b"gull"))
    item = home.item(home.drop("seal@club.jpg"))
    (row,), _ = home.planner.still_to_make(item)
    odd = home.home.out("club") / os.fsdecode(b"s\xe9al.jpg")
    odd.write_bytes(b"a delivery")
    record = Record(
        original="seal@club.jpg", photographer="ida", destination="club", density=1, state="delivered", version="0"
    )
    intent = Published(path=odd, size=10, digest=digest_of(b"a delivery"))
    home.ledger.deliveries.intend(row.id, intent, made_from="digest", kept=Kept(record=record))
    home.ledger.deliveries.confirm(row.id, "2020-01-01T00:00:00+00:00")
    assert odd in [standing.output.path for standing in home.ledger.deliveries.standing("club")]
    manifests.write()

    assert listed(home.home.out("club")) == ["gull.jpg"]


def test_a_file_of_somebody_elses_is_not_written_over(home: Household, manifests: Manifests) -> None:
    """That is an obstacle until it is out of the way; other manifests are written meanwhile."""
    home.deliver(home.drop("seal@club@journal.jpg"))
    club = home.home.out("club")
    (club / "manifest.json").write_text('{"made_by": "somebody"}')
    manifests.write()

    what = f"manifest of {club}"
    assert manifest_in(club) == {"made_by": "somebody"}
    assert listed(home.home.out("ida", "journal")) == ["seal.jpg"]
    assert obstacles(home) == [(what, Passing.MANIFEST_IN_THE_WAY)]
    assert manifests.is_due

    (club / "manifest.json").unlink()
    manifests.write()
    assert listed(club) == ["seal.jpg"]
    assert home.told_of(Passed) == [Passed(what=what)]
    assert not manifests.is_due


@pytest.mark.parametrize(
    ("kind", "key"), [("folder", Passing.FOLDER_TROUBLE), ("no text", Passing.MANIFEST_IN_THE_WAY)]
)
def test_whatever_has_its_name_is_in_the_way(home: Household, manifests: Manifests, kind: str, key: Passing) -> None:
    """A folder, or bytes that are no text."""
    home.deliver(home.drop("seal@club.jpg"))
    path = home.home.out("club", "manifest.json")
    if kind == "folder":
        path.mkdir()
    else:
        path.write_bytes(b"\xff\xfe{}")
    manifests.write()

    assert [found for _, found in obstacles(home)] == [key]
    assert path.is_dir() or path.read_bytes() == b"\xff\xfe{}"


def test_a_folder_that_is_away_is_an_obstacle(home: Household, manifests: Manifests) -> None:
    """Nothing is written in its place."""
    home.deliver(home.drop("seal@club.jpg"))
    club = home.home.out("club")
    club.rename(home.home.root / "elsewhere")
    club.mkdir()
    home.ledger.folders.use(club, home.home.root / "mnt")
    manifests.write()

    assert obstacles(home) == [(f"manifest of {club}", Passing.DESTINATION_UNMOUNTED)]
    assert list(club.iterdir()) == []
    assert manifests.is_due


def test_a_folder_that_was_deleted_is_not_made_for_a_manifest(home: Household, manifests: Manifests) -> None:
    """Its absence is for whoever delivers there to tell."""
    home.deliver(home.drop("seal@club@portfolio.jpg"))
    shutil.rmtree(home.home.out("club"))
    manifests.write()

    assert not home.home.out("club").exists()
    assert obstacles(home) == []


def test_a_manifest_is_written_when_something_may_have_changed(home: Household, manifests: Manifests) -> None:
    """At the start too; then not before the pause is over, and not unless it is due."""
    club, now = home.home.out("club"), time.monotonic()
    home.deliver(home.drop("seal@club.jpg"))
    manifests.write_if_due(now)
    assert listed(club) == ["seal.jpg"]

    home.deliver(home.drop("gull@club.jpg", b"gull"))
    manifests.write_if_due(now + 1000)
    assert listed(club) == ["seal.jpg"], "nobody has said that something changed"

    manifests.is_due = True
    manifests.write_if_due(now + PAUSE_SECONDS - 0.1)
    assert listed(club) == ["seal.jpg"]
    manifests.write_if_due(now + 1000)
    assert listed(club) == ["gull.jpg", "seal.jpg"]


@pytest.mark.parametrize(("took", "pause"), [(0.0, 5.0), (0.4, 5.0), (2.0, 20.0)])
def test_manifests_take_a_tenth_of_the_time_at_most(
    home: Household, manifests: Manifests, monkeypatch: pytest.MonkeyPatch, took: float, pause: float
) -> None:
    """Where writing them takes long the pause is ten times as long; else it is five seconds."""
    club = home.home.out("club")
    home.deliver(home.drop("seal@club.jpg"))
    monkeypatch.setattr(time, "monotonic", lambda: 1000.0 + took)
    manifests.write_if_due(1000.0)
    (club / "manifest.json").unlink()
    manifests.is_due = True

    manifests.write_if_due(1000.0 + pause - 0.01)
    assert manifest_in(club) is None
    manifests.write_if_due(1000.0 + pause)
    assert listed(club) == ["seal.jpg"]
