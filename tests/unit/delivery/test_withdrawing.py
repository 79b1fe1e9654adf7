"""Taking a delivery's file out of its folder."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from lanternslide.delivery.withdrawing import TakenBack, take_back, withdrawn_of
from lanternslide.errors import PassingFaultError
from lanternslide.ledger import DeliveryRow, Published, Replaced
from lanternslide.records import DroppedFile
from lanternslide.records.events import Withdrawn
from lanternslide.words import Passing
from tests.support.household import Household, household


@pytest.fixture
def home(tmp_path: Path) -> Iterator[Household]:
    """Return a home of Ida and Juno."""
    with household(tmp_path) as home:
        yield home


@pytest.fixture
def file(home: Household) -> DroppedFile:
    """Return an original that was delivered, in a folder that is kept, and is taken back."""
    file = home.drop("portfolio/islands/seal.jpg")
    home.deliver(file)
    home.ledger.withdrawals.withdraw(home.row(file).id, None, file.fingerprint)
    return file


def row_of(home: Household, file: DroppedFile) -> DeliveryRow:
    """Return what the ledger knows of the only delivery."""
    (row,) = home.ledger.deliveries.of_original(home.row(file).id)
    return row


def published(row: DeliveryRow) -> Published:
    """Return what stands of a delivery."""
    assert row.output is not None
    return row.output


@pytest.mark.parametrize("found", [*TakenBack, "its folder was deleted", "a link to its bytes"])
def test_only_what_was_delivered_is_deleted(home: Household, file: DroppedFile, found: TakenBack | str) -> None:
    """What its owner has changed, or put there, stays; in the end it is asked about no more."""
    row = row_of(home, file)
    path = published(row).path
    expected = found if isinstance(found, TakenBack) else TakenBack.WAS_AWAY
    match found:
        case TakenBack.WAS_AWAY:
            path.unlink()
        case TakenBack.CHANGED:
            path.write_bytes(path.read_bytes()[::-1])
        case "its folder was deleted":
            shutil.rmtree(path.parent)
        case "a link to its bytes":
            path.rename(path.with_name("mine.jpg"))
            path.symlink_to("mine.jpg")
            expected = TakenBack.CHANGED
        case _:
            pass

    assert take_back(home.ledger.withdrawals, home.reachability, row) is expected

    assert path.is_file() is (expected is TakenBack.CHANGED)
    assert row_of(home, file).output is None
    assert home.ledger.withdrawals.open() == []


def test_a_density_that_is_left_out_is_taken_back_too(home: Household) -> None:
    """The original is too small for it now."""
    file = home.drop("seal.jpg")
    (path,) = home.deliver(file)
    home.ledger.deliveries.leave_out(row_of(home, file).id, "of a smaller export")

    assert take_back(home.ledger.withdrawals, home.reachability, row_of(home, file)) is TakenBack.DELETED
    assert not path.exists()


def test_it_is_taken_back_from_where_its_owner_has_moved_it(home: Household, file: DroppedFile) -> None:
    """A file in its former place is somebody else's, and stays."""
    row = row_of(home, file)
    path = published(row).path
    moved = path.rename(home.home.out("seal.jpg"))
    home.reachability.use(moved.parent)
    path.write_bytes(b"theirs")

    assert take_back(home.ledger.withdrawals, home.reachability, row, moved) is TakenBack.DELETED
    assert (path.is_file(), moved.exists()) == (True, False)


@pytest.mark.parametrize(
    ("what", "key"), [("moved away", Passing.DESTINATION_AWAY), ("unmounted", Passing.DESTINATION_UNMOUNTED)]
)
def test_while_its_folder_is_away_it_is_tried_again(
    home: Household, file: DroppedFile, what: str, key: Passing
) -> None:
    """What cannot be seen has not been deleted."""
    row = row_of(home, file)
    destination = home.home.out("ida", "portfolio")
    away = destination.rename(home.home.root / "elsewhere")
    if what == "unmounted":
        destination.mkdir()
        home.ledger.folders.use(published(row).path.parent, home.home.root / "mnt")

    with pytest.raises(PassingFaultError) as fault:
        take_back(home.ledger.withdrawals, home.reachability, row)

    assert fault.value.said.key == key
    assert home.ledger.withdrawals.open() == [row]
    if what == "moved away":
        away.rename(destination)
        assert take_back(home.ledger.withdrawals, home.reachability, row) is TakenBack.DELETED


def test_where_the_system_does_not_say_it_is_tried_again(home: Household, file: DroppedFile) -> None:
    """A name that the system refuses to look up may still stand."""
    row = row_of(home, file)
    output = published(row)
    refused = replace(row, output=replace(output, path=output.path.with_name("x" * 300)))

    with pytest.raises(PassingFaultError) as fault:
        take_back(home.ledger.withdrawals, home.reachability, refused)

    assert fault.value.said.key == Passing.FOLDER_TROUBLE
    assert home.ledger.withdrawals.open() == [row]


def test_what_is_told_of_a_former_name() -> None:
    """The original with its photographer, and the file that was deleted; safe to print."""
    left = Published(path=Path("/out/club/seal\n.jpg"), size=1, digest="")
    found = Replaced(
        photographer="juno", original=Path("islands/seal\n.jpg"), destination="club", left=left, stands=Path("/out/x")
    )

    told = Withdrawn(original="juno: islands/seal\\n.jpg", destination="club", output="/out/club/seal\\n.jpg")
    assert withdrawn_of(found) == told
