"""Whether a name that another delivery has is left to a newcomer."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from lanternslide.delivery.reachability import Reachability
from lanternslide.delivery.succession import is_left
from lanternslide.ledger import DeliveryRow
from lanternslide.records import DroppedFile
from lanternslide.storage.probe import Probe
from tests.support.hanging import DEADLINE, Share
from tests.support.household import Household, household


@pytest.fixture
def home(tmp_path: Path) -> Iterator[Household]:
    """Return a home of Ida and Juno."""
    with household(tmp_path) as home:
        yield home


def delivered(home: Household, name: str, photographer: str = "ida") -> tuple[DroppedFile, DeliveryRow, Path]:
    """Deliver an original to one place; return it, its delivery and where that stands."""
    file = home.drop(name, name.encode(), photographer=photographer)
    (path,) = home.deliver(file)
    (row,) = home.ledger.deliveries.of_original(home.row(file).id)
    return file, row, path


def is_left_to(home: Household, owner: DeliveryRow, path: Path, newcomer: DroppedFile) -> bool:
    """Return whether the name is left to a newcomer."""
    return is_left(home.ledger.originals, home.reachability, owner, path, newcomer, newcomer.relative)


@pytest.mark.parametrize(
    ("former", "newcomer", "left"),
    [
        ("seal.tif", "seal.jpg", True),
        ("islands/seal.tif", "islands/seal.jpg", True),
        ("seal.2.tif", "seal.2.jpg", True),
        ("seal.2.tif", "seal.3.jpg", False),
        ("seal.tif", "islands/seal.jpg", False),
        ("seal.tif", "gull.jpg", False),
    ],
)
def test_only_the_same_picture_is_an_heir(home: Household, former: str, newcomer: str, *, left: bool) -> None:
    """The same folder and name with another ending; pictures that are merely called alike are others."""
    file, owner, path = delivered(home, f"portfolio/{former}")
    file.path.unlink()

    assert is_left_to(home, owner, path, home.drop(f"portfolio/{newcomer}", b"new")) is left


def test_as_long_as_the_former_original_is_there_nothing_is_left(home: Household) -> None:
    """Both stand then, each under a name of its own."""
    file, owner, path = delivered(home, "seal.tif")
    newcomer = home.drop("seal.jpg", b"new")
    assert not is_left_to(home, owner, path, newcomer)

    file.path.unlink()
    assert is_left_to(home, owner, path, newcomer)


def test_a_former_original_that_is_filed_away_keeps_its_name(home: Household) -> None:
    """It is gone only when it is gone from there too, which a folder that is away does not say."""
    file, owner, path = delivered(home, "seal.tif")
    filed = home.file_away(file)
    newcomer = home.drop("seal.jpg", b"new")
    assert not is_left_to(home, owner, path, newcomer)

    filed.unlink()
    filed.parent.rename(home.home.root / "elsewhere")
    assert not is_left_to(home, owner, path, newcomer)

    (home.home.root / "elsewhere").rename(filed.parent)
    assert is_left_to(home, owner, path, newcomer)


def test_one_photographers_name_is_never_anothers(home: Household) -> None:
    """Though both deliver to the club, and the pictures are called alike."""
    file, owner, path = delivered(home, "club/seal.tif")
    file.path.unlink()

    assert not is_left_to(home, owner, path, home.drop("club/seal.jpg", b"new", photographer="juno"))


def test_what_is_made_again_from_where_it_is_filed_inherits_nothing(home: Household) -> None:
    """It is no new export."""
    file, owner, path = delivered(home, "seal.tif")
    file.path.unlink()
    newcomer = home.drop("seal.jpg", b"new")

    assert not is_left_to(home, owner, path, replace(newcomer, filed=newcomer.path))


def test_a_name_at_which_the_owner_does_not_stand_is_not_its_to_leave(home: Household) -> None:
    """It stands under another, or nowhere, or is about to be published."""
    file, owner, path = delivered(home, "seal.tif")
    file.path.unlink()
    newcomer = home.drop("seal.jpg", b"new")

    assert not is_left_to(home, owner, path.with_name("seal-2.jpg"), newcomer)
    assert not is_left_to(home, replace(owner, output=None), path, newcomer)
    assert not is_left_to(home, replace(owner, intent=owner.output), path, newcomer)


def test_a_drop_folder_that_is_away_does_not_say_what_is_gone(home: Household) -> None:
    """It may be there again with everything in it."""
    _, owner, path = delivered(home, "seal.tif")
    newcomer = home.drop("seal.jpg", b"new")
    newcomer.drop.rename(home.home.root / "elsewhere")

    assert not is_left_to(home, owner, path, newcomer)


def test_a_drop_folder_that_hangs_does_not_say_what_is_gone(home: Household) -> None:
    """Nor does it stop anybody."""
    file, owner, path = delivered(home, "seal.tif")
    file.path.unlink()
    newcomer = home.drop("seal.jpg", b"new")
    with Share.made() as share:
        share.hang(newcomer.drop)
        reachability = Reachability(home.ledger.folders, Probe(DEADLINE))

        assert not is_left(home.ledger.originals, reachability, owner, path, newcomer, newcomer.relative)
