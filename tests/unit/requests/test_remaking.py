"""What a sweep makes again because its owner asks, with real deliveries in real folders."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from lanternslide.delivery.recipes import wanted_by
from lanternslide.ledger import DeliveryRow, DeliveryState
from lanternslide.requests import remaking
from lanternslide.requests.remaking import Amount, Touched
from lanternslide.requests.request_folder import Request
from tests.support.household import CONFIG, Household, household

AGAIN = Request(command="sweep", again=True)
MISSING = Request(command="sweep", missing=True)
BOTH = Request(command="sweep", again=True, missing=True)
LARGER = CONFIG.replace("long_edge = 1600", "long_edge = 1800")
DAY = 86400 * 10**9


@pytest.fixture
def home(tmp_path: Path) -> Iterator[Household]:
    """Return a home of Ida and Juno."""
    with household(tmp_path) as home:
        yield home


def touched(home: Household, request: Request) -> list[Touched]:
    """Return all of which a request wants something made again."""
    return [one for part in home.owner.again.touched(request) for one in part]


def chosen(home: Household, request: Request) -> list[tuple[str, float]]:
    """Return the destination and density of each delivery that a request wants made again."""
    return [(row.destination, row.density) for one in touched(home, request) for row in one.deliveries]


@pytest.mark.parametrize("request_", [AGAIN, MISSING, BOTH])
def test_what_stands_as_the_config_has_it_is_left_alone(home: Household, request_: Request) -> None:
    """The same bytes under the same config ask for nothing."""
    home.deliver(home.drop("seal@journal@club.jpg"))

    assert touched(home, request_) == []


def test_a_changed_destination_touches_its_deliveries_alone(home: Household) -> None:
    """Every density of it, and nothing of the others."""
    home.deliver(home.drop("seal@journal@club.jpg"))
    home.read(LARGER)

    assert chosen(home, AGAIN) == [("journal", 1), ("journal", 2)]
    assert chosen(home, MISSING) == []


def test_another_size_for_one_photographer_touches_no_other(home: Household) -> None:
    """One photographer's settings are invisible to another's."""
    home.deliver(home.drop("seal@club.jpg"))
    home.deliver(home.drop("kelp@club.jpg", photographer="juno"))
    home.read(CONFIG + "\n[photographers.juno.overrides.club]\nsize = { long_edge = 800 }\n")

    assert [one.original.photographer for one in touched(home, AGAIN)] == ["juno"]


def test_a_setting_that_was_not_there_yet_touches_nothing(home: Household) -> None:
    """A ledger from before a setting was there means its default."""
    item = home.item(home.drop("seal.jpg"))
    assert item.survey is not None
    (wanted,) = wanted_by(home.photographers["ida"], item.routing)
    older = json.loads(wanted.recipe)
    del older["slug"]
    wishes = [replace(wanted, recipe=json.dumps(older))]
    (row,) = home.ledger.deliveries.want(item.original, item.survey.digest, wishes)
    home.publish(item, row)
    home.ledger.originals.finish(item.original)

    assert touched(home, AGAIN) == []
    home.read(CONFIG.replace("size = { long_edge = 1050 }", "size = { long_edge = 1050 }\nslug = true"))
    assert chosen(home, AGAIN) == [("portfolio", 1)]


def test_another_folder_touches_what_stands_in_the_former_one(home: Household) -> None:
    """A recipe does not name the folder, and yet the delivery belongs elsewhere now."""
    home.deliver(home.drop("seal@club.jpg"))
    home.read(CONFIG.replace('folder = "out/club"', 'folder = "out/gallery"'))

    assert chosen(home, AGAIN) == [("club", 1)]


def test_what_its_owner_deleted_is_made_again_only_when_that_is_asked(home: Household) -> None:
    """What an owner deletes from a destination is not remade unasked, also where the config has changed."""
    (portfolio, club) = home.deliver(home.drop("seal@portfolio@club.jpg"))
    club.unlink()
    home.read(CONFIG.replace("1920, 1080", "1280, 720").replace("long_edge = 1050", "long_edge = 1000"))

    assert portfolio.is_file()
    assert chosen(home, AGAIN) == [("portfolio", 1)]
    assert chosen(home, MISSING) == [("club", 1)]
    assert chosen(home, BOTH) == [("portfolio", 1), ("club", 1)]


@pytest.mark.parametrize("away", ["out", "out/ida/portfolio"])
def test_what_cannot_be_seen_has_not_been_deleted(home: Household, away: str) -> None:
    """A destination that is away tells nothing about what stands in it."""
    home.deliver(home.drop("seal.jpg"))
    folder = home.home.root / away
    folder.rename(home.home.root / "elsewhere")

    assert touched(home, MISSING) == []
    (home.home.root / "elsewhere").rename(folder)
    (path,) = home.standing(home.look("seal.jpg"))
    path.unlink()
    assert chosen(home, MISSING) == [("portfolio", 1)]


def test_a_folder_that_was_deleted_inside_a_destination_is_missing(home: Household) -> None:
    """The destination itself is there, so what stood below it was deleted for certain."""
    home.deliver(home.drop("kelp.jpg"))
    (path,) = home.deliver(home.drop("islands/seal.jpg"))
    path.unlink()
    path.parent.rmdir()

    assert chosen(home, MISSING) == [("portfolio", 1)]


def test_what_was_taken_back_stays_away(home: Household) -> None:
    """Neither its missing file nor a changed config, nor a density that is new, brings a withdrawn delivery back."""
    file = home.drop("seal@journal@club.jpg")
    home.deliver(file)
    home.ledger.withdrawals.withdraw(home.row(file).id, "journal", file.fingerprint)
    home.read(LARGER.replace("densities = [1, 2]", "densities = [1, 2, 3]"))

    assert touched(home, BOTH) == []


def test_a_density_that_was_left_out_is_tried_again(home: Household) -> None:
    """A changed size may ask for less than the original has; as it was, it is no missing file."""
    file = home.drop("seal@journal.jpg")
    home.deliver(file)
    row = home.row(file)
    double = home.ledger.deliveries.of_original(row.id)[1]
    home.ledger.deliveries.leave_out(double.id, "digest")
    home.ledger.withdrawals.note_withdrawn(double.id)
    assert touched(home, MISSING) == []
    home.read(LARGER)

    assert chosen(home, AGAIN) == [("journal", 1), ("journal", 2)]


def test_a_new_destination_is_named_once(home: Household) -> None:
    """With two densities it is one place that the picture has not gone to; a missing file asks for no new one."""
    home.deliver(home.drop("seal.jpg"))
    home.read(CONFIG.replace('otherwise = ["portfolio"]', 'otherwise = ["portfolio", "journal"]'))

    (one,) = touched(home, AGAIN)

    assert (one.deliveries, one.new) == ((), ("journal",))
    assert touched(home, MISSING) == []


def test_a_delivery_that_is_no_longer_asked_for_is_not_made_again(home: Household) -> None:
    """What stands in a place that an original no longer goes to is nobody's to remake."""
    (path,) = home.deliver(home.drop("seal.jpg"))
    path.unlink()
    home.read(CONFIG.replace('otherwise = ["portfolio"]', 'otherwise = ["club"]'))

    assert touched(home, MISSING) == []


def test_one_destination_alone(home: Household) -> None:
    """What is named limits what is made again and what is new."""
    home.deliver(home.drop("seal@journal@portfolio.jpg"))
    home.read(LARGER.replace("long_edge = 1050", "long_edge = 1000"))

    assert chosen(home, replace(AGAIN, destination="portfolio")) == [("portfolio", 1)]
    home.read(CONFIG.replace('otherwise = ["portfolio"]', 'otherwise = ["portfolio", "club"]'))
    home.deliver(home.drop("kelp.jpg"))
    assert touched(home, replace(AGAIN, destination="portfolio")) == []


@pytest.mark.parametrize(("since", "number"), [(10 * DAY, 1), (10 * DAY + 1, 0)])
def test_originals_changed_since_a_time(home: Household, since: int, number: int) -> None:
    """The time itself is in it."""
    home.deliver(home.drop("seal@journal.jpg", day=10))
    home.read(LARGER)

    assert len(touched(home, replace(AGAIN, since_ns=since))) == number


@pytest.mark.parametrize("what", ["deleted", "drop folder away", "filed", "filed, then deleted"])
def test_only_what_is_there_can_be_made_again(home: Household, what: str) -> None:
    """It may lie in the drop folder or where it is filed away."""
    file = home.drop("seal@journal.jpg")
    home.deliver(file)
    home.read(LARGER)
    if what == "deleted":
        file.path.unlink()
    elif what == "drop folder away":
        file.drop.rename(home.home.root / "elsewhere")
    else:
        target = home.file_away(file)
        if what != "filed":
            target.unlink()

    assert len(touched(home, AGAIN)) == (1 if what == "filed" else 0)


@pytest.mark.parametrize("how", ["photographer", "name"])
def test_what_the_config_no_longer_knows_is_passed_over(home: Household, how: str) -> None:
    """A photographer who left, or a tag that means nothing now, is no reason to fail."""
    home.deliver(home.drop("seal@journal.jpg"))
    home.read(
        CONFIG.replace("[photographers.ida]", "[photographers.pell]")
        if how == "photographer"
        else LARGER.replace("densities = [1, 2]", 'densities = [1, 2]\ntags = ["diary"]')
    )

    assert touched(home, BOTH) == []


def test_a_plain_sweep_makes_nothing_again(home: Household) -> None:
    """It is asked for in words: again, or missing."""
    (path,) = home.deliver(home.drop("seal@club.jpg"))
    path.unlink()
    home.read(CONFIG.replace("1920, 1080", "1280, 720"))

    assert list(home.owner.again.touched(Request(command="sweep"))) == []


def test_it_comes_in_parts(home: Household, monkeypatch: pytest.MonkeyPatch) -> None:
    """A whole archive leaves time for something else in between, and is gone through to its end, once."""
    monkeypatch.setattr(remaking, "AT_ONCE", 2)
    names = [f"{index}.jpg" for index in range(5)]
    for name in names:
        home.deliver(home.drop(f"club/{name}", name.encode()))
    home.read(CONFIG.replace("1920, 1080", "1280, 720"))

    parts = [[one.original.picture.name for one in part] for part in home.owner.again.touched(AGAIN)]

    assert parts == [names[:2], names[2:4], names[4:]]


def test_a_part_may_be_empty(home: Household, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing of it was touched, and those behind it are still looked at."""
    monkeypatch.setattr(remaking, "AT_ONCE", 1)
    home.deliver(home.drop("seal.jpg"))
    home.deliver(home.drop("seal-2@journal.jpg"))
    home.read(LARGER)

    assert [len(part) for part in home.owner.again.touched(AGAIN)] == [0, 1]


# How much that is


def row_of(seconds: float | None) -> DeliveryRow:
    """Return a delivery that took so long the last time."""
    return DeliveryRow(
        id=1, original=1, destination="club", density=1, wanted=True, state=DeliveryState.DELIVERED, made_from=None,
        recipe="{}",
        output=None, intent=None, record=json.dumps({"seconds": seconds}),
    )  # fmt: skip


def test_an_amount_adds_up(home: Household) -> None:
    """Pictures and deliveries; what is new counts as one, and takes as long as the others on average."""
    file = home.drop("seal.jpg")
    home.deliver(file)
    original = home.row(file)
    amount = Amount()
    amount.add([Touched(original=original, deliveries=(row_of(10), row_of(30)), new=("journal",))])
    amount.add([Touched(original=original, deliveries=(row_of(None), replace(row_of(1), record=None)))])

    assert (amount.pictures, amount.deliveries) == (2, 5)
    assert amount.seconds(1) == 5 * 20
    assert amount.seconds(4) == 25


def test_without_any_record_nobody_knows_how_long_it_takes(home: Household) -> None:
    """No time is better than an invented one; nothing at all takes no time that is known."""
    file = home.drop("seal.jpg")
    home.deliver(file)
    amount = Amount()
    assert amount.seconds(1) is None
    amount.add([Touched(original=home.row(file), deliveries=(row_of(None),), new=("club",))])

    assert (amount.deliveries, amount.seconds(1)) == (2, None)
