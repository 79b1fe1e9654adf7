"""Where originals lie, and whether they still do: real files, and a real ledger."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from lanternslide.ledger import OriginalState
from lanternslide.records import Record
from lanternslide.words import Held, Said
from tests.support.household import Household, digest_of, household


@pytest.fixture
def home(tmp_path: Path) -> Iterator[Household]:
    """Return a home of Ida and Juno."""
    with household(tmp_path) as home:
        yield home


def test_a_filed_original_is_found_where_it_lies(home: Household) -> None:
    """With the path that it was dropped under, and with the place where it lies now."""
    file = home.drop("islands/seal.jpg")
    home.deliver(file)
    target = home.file_away(file)

    found = home.files.filed(home.row(file))

    assert found is not None
    assert (found.relative, found.path, found.root) == (file.relative, target, target.parent)


def test_an_original_that_stays_is_not_filed(home: Household) -> None:
    """Where nothing was filed away, nothing is looked for."""
    file = home.drop("seal.jpg")
    home.deliver(file)

    assert home.files.filed(home.row(file)) is None


@pytest.mark.parametrize("what", ["gone", "other size", "other time", "link", "folder", "newer export"])
def test_what_does_not_lie_there_as_it_was_is_not_the_original(home: Household, what: str) -> None:
    """Another file, a link or a folder in its place is not ours to read; a newer export takes its place."""
    file = home.drop("seal.jpg", day=10)
    home.deliver(file)
    target = home.file_away(file)
    match what:
        case "other size":
            target.write_bytes(b"something else")
            os.utime(target, (10 * 86400, 10 * 86400))
        case "other time":
            os.utime(target, (11 * 86400, 11 * 86400))
        case "newer export":
            home.drop("seal.jpg", b"newer")
        case _:
            target.rename(target.with_name("else.jpg"))
            if what == "link":  # of the size and the time that the original had
                target.symlink_to("else.jpg")
                os.utime(target, (10 * 86400, 10 * 86400), follow_symlinks=False)
                assert target.lstat().st_size == file.fingerprint.size
            elif what == "folder":
                target.mkdir()

    assert home.files.filed(home.row(file)) is None


@pytest.mark.parametrize(
    ("state", "after"),
    [
        (OriginalState.WAITING, OriginalState.GONE),
        (OriginalState.WORKING, OriginalState.WORKING),
        (OriginalState.DELIVERED, OriginalState.DELIVERED),
        (OriginalState.WITHDRAWN, OriginalState.WITHDRAWN),
    ],
)
def test_an_original_that_was_removed_before_it_was_done_is_gone(
    home: Household, state: OriginalState, after: OriginalState
) -> None:
    """Deleting one changes nothing that is done; what a worker has ends by itself."""
    file = home.drop("seal.jpg")
    home.ledger.originals.set_state(home.item(file).original, state)
    file.path.unlink()

    home.files.note_gone(home.row(file).known)

    assert home.row(file).state is after


def test_a_held_original_that_was_removed_is_gone(home: Household) -> None:
    """Its owner has done with it: it waits for nobody any more."""
    file = home.drop("seal.jpg")
    row = home.ledger.originals.take_in(file, file.relative)
    home.decisions.hold(row.id, file, Said(key=Held.CUT_SHORT.value, text="because"))
    file.path.unlink()

    home.files.note_gone(home.row(file).known)

    assert (home.row(file).state, home.row(file).reason_key) == (OriginalState.GONE, None)


@pytest.mark.parametrize("what", ["there", "folder away", "deleted", "another file"])
def test_what_waits_where_it_is_filed_is_gone_only_for_certain(home: Household, what: str) -> None:
    """It is not in the drop folder and need not be; a folder that is away tells nothing about what lies in it."""
    file = home.drop("seal.jpg", day=10)
    home.deliver(file)
    target = home.file_away(file)
    home.ledger.originals.set_state(home.row(file).id, OriginalState.WAITING)
    match what:
        case "folder away":
            target.parent.rename(home.home.root / "elsewhere")
        case "deleted":
            target.unlink()
        case "another file":
            target.write_bytes(b"something else that nobody has delivered")
        case _:
            assert target.is_file()

    gone = home.files.note_gone(home.row(file).known)

    is_gone = what in ("deleted", "another file")
    assert (gone is not None) is is_gone
    assert home.row(file).state is (OriginalState.GONE if is_gone else OriginalState.WAITING)


@pytest.mark.parametrize(("former", "newer"), [("seal@club.jpg", "seal.jpg"), ("seal.jpg", "seal@club.jpg")])
def test_a_newer_export_that_is_removed_undelivered_leaves_the_filed_one(
    home: Household, former: str, newer: str
) -> None:
    """What stands was made from the filed one, which is the picture again, under its own tags, and needs nothing."""
    file = home.drop(former, day=10)
    home.deliver(file)
    target = home.file_away(file)
    later = home.drop(newer, b"a newer export", day=11)
    assert home.decisions.take_in(later, home.decisions.routing_of(later)) is not None
    later.path.unlink()

    gone = home.files.note_gone(home.row(later).known)

    assert gone is not None
    assert gone.shown == later.shown
    row = home.row(file)
    assert (row.state, row.path, row.filed_to) == (OriginalState.DELIVERED, file.relative, target)
    assert home.files.filed(row) is not None


def test_another_file_where_it_was_filed_is_not_the_former_export(home: Household) -> None:
    """Somebody has put something else there: nothing is left of the picture."""
    file = home.drop("seal.jpg", day=10)
    home.deliver(file)
    target = home.file_away(file)
    later = home.drop("seal.jpg", b"a newer export", day=11)
    assert home.decisions.take_in(later, home.decisions.routing_of(later)) is not None
    later.path.unlink()
    target.write_bytes(b"something else that nobody has delivered")

    home.files.note_gone(home.row(later).known)

    assert home.row(later).state is OriginalState.GONE


@pytest.mark.parametrize("content", [b"a newer export", b"ORIGINAL"])
def test_a_newer_export_that_was_delivered_is_not_undone(home: Household, content: bytes) -> None:
    """What stands was made from the newer one, which may have as many bytes: the filed one is a former export."""
    file = home.drop("seal.jpg", day=10)
    home.deliver(file)
    home.file_away(file)
    later = home.drop("seal.jpg", content, day=11)
    home.deliver(later)
    (delivery,) = home.ledger.deliveries.of_original(home.row(later).id)
    assert delivery.record is not None
    made_from = Record.model_validate_json(delivery.record).original_file
    assert made_from is not None
    assert made_from.digest == digest_of(content)
    home.ledger.originals.set_state(home.row(later).id, OriginalState.WAITING)
    later.path.unlink()

    home.files.note_gone(home.row(later).known)

    assert home.row(later).state is OriginalState.GONE
