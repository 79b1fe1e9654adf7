"""Decisions about one original, with real files, a real ledger and a real config."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from lanternslide.intake.decisions import findings_of
from lanternslide.ledger import OriginalState
from lanternslide.records import Routing
from lanternslide.records.events import Finished, HeldBack
from lanternslide.words import Doubt, Held, Said, say
from tests.support.household import CONFIG, Household, digest_of, household

OTHERWISE_NOWHERE = CONFIG.replace('otherwise = ["portfolio"]', "otherwise = []")


@pytest.fixture
def home(tmp_path: Path) -> Iterator[Household]:
    """Return a home of Ida and Juno."""
    with household(tmp_path) as home:
        yield home


def held_for(home: Household, reason: Held, name: str = "seal.jpg") -> bool:
    """Hold an original for a reason, and return whether it is news when it is seen again as it was."""
    file = home.drop(name)
    row = home.ledger.originals.take_in(file, file.relative)
    home.decisions.hold(row.id, file, Said(key=reason.value, text="because"))
    return home.is_news(file)


# Is it news


def test_what_nobody_knows_is_news(home: Household) -> None:
    """A first export has everything still to come."""
    assert home.is_news(home.drop("seal.jpg"))


@pytest.mark.parametrize(
    ("state", "is_news"),
    [
        (OriginalState.WAITING, True),
        (OriginalState.WORKING, True),
        (OriginalState.GONE, True),
        (OriginalState.DELIVERED, False),
        (OriginalState.WITHDRAWN, False),
    ],
)
def test_the_same_bytes_again_do_nothing(home: Household, state: OriginalState, *, is_news: bool) -> None:
    """What is done or taken back stays so while the file is as it was; what is not done yet still is."""
    file = home.drop("seal.jpg")
    home.ledger.originals.set_state(home.item(file).original, state)

    assert home.is_news(file) is is_news


@pytest.mark.parametrize("change", ["size", "mtime_ns", "inode"])
@pytest.mark.parametrize("state", [OriginalState.DELIVERED, OriginalState.WITHDRAWN])
def test_another_export_under_the_name_is_news(home: Household, state: OriginalState, change: str) -> None:
    """Size, time or number of the file: any of them makes it another one, whatever became of the former."""
    file = home.drop("seal.jpg")
    home.ledger.originals.set_state(home.item(file).original, state)
    changed = replace(file.fingerprint, **{change: getattr(file.fingerprint, change) + 1})

    assert home.is_news(replace(file, fingerprint=changed))


def test_a_file_number_beyond_what_the_ledger_can_hold_is_no_news(home: Household) -> None:
    """Some file systems number their files up to 2^64; such a file is known again all the same."""
    file = home.drop("seal.jpg")
    file = replace(file, fingerprint=replace(file.fingerprint, inode=2**64 - 1))
    home.ledger.originals.set_state(home.item(file).original, OriginalState.DELIVERED)

    assert not home.is_news(file)


@pytest.mark.parametrize("reason", [Held.CUT_SHORT, Held.FAILED_OFTEN, Held.TOO_MANY_PIXELS, Held.NEEDS_MORE_MEMORY])
def test_what_is_held_for_what_it_is_waits_for_its_owner(home: Household, reason: Held) -> None:
    """No scan begins it again, whatever the config says; a limit that has changed is noted elsewhere."""
    assert not held_for(home, reason)


@pytest.mark.parametrize(
    "reason", [Held.UNKNOWN_TAG, Held.NEAR_MISS_FOLDER, Held.NO_DESTINATION, Held.TAG_WITHOUT_NAME]
)
def test_what_is_held_for_its_name_is_news_once_the_config_understands_it(home: Household, reason: Held) -> None:
    """A reason that lay in the config is gone with it: the name leads somewhere now."""
    assert held_for(home, reason)


def test_what_is_held_for_its_name_is_no_news_while_the_config_stays(home: Household) -> None:
    """It is not held anew, with a line in the log, at each scan."""
    assert not held_for(home, Held.UNKNOWN_TAG, "seal@clubb.jpg")
    home.read(CONFIG.replace('folder = "out/club"', 'folder = "out/club"\ntags = ["clubb"]'))
    assert home.is_news(home.look("seal@clubb.jpg"))


# Where it goes


@pytest.mark.parametrize(
    ("name", "destinations"),
    [
        ("seal.jpg", ("portfolio",)),
        ("seal@club.jpg", ("club",)),
        ("seal@journal@club.jpg", ("journal", "club")),
        ("journal/seal.jpg", ("journal",)),
        ("journal/seal@club.jpg", ("club",)),
    ],
)
def test_it_goes_where_its_owner_says(home: Household, name: str, destinations: tuple[str, ...]) -> None:
    """Tags first, else the first folder, else what the config has otherwise."""
    found = home.decisions.routing_of(home.drop(name))

    assert isinstance(found, Routing)
    assert found.destinations == destinations


@pytest.mark.parametrize(
    ("photographer", "name", "reason"),
    [
        ("ida", "seal@clubb.jpg", Held.UNKNOWN_TAG),
        ("ida", "jurnal/seal.jpg", Held.NEAR_MISS_FOLDER),
        ("ida", "@club.jpg", Held.TAG_WITHOUT_NAME),
        ("juno", "seal.jpg", Held.NO_DESTINATION),
        ("juno", "seal@portfolio.jpg", Held.UNKNOWN_TAG),
    ],
)
def test_what_is_not_clearly_said_goes_nowhere(home: Household, photographer: str, name: str, reason: Held) -> None:
    """The reason comes back instead; another photographer's destinations are not one's own."""
    found = home.decisions.routing_of(home.drop(name, photographer=photographer))

    assert isinstance(found, Said)
    assert found.key == reason


def test_a_folder_named_like_a_picture_is_held(home: Household) -> None:
    """Also where its name would lead somewhere: nothing in it is looked at, and that is said."""
    (home.home.drop() / "seal@club.jpg").mkdir()

    assert home.decisions.routing_of(home.look("seal@club.jpg")) == say(Held.FOLDER_LIKE_PICTURE)


def test_a_tag_that_is_kept_is_doubted(home: Household) -> None:
    """Where unknown tags are part of the name, each is named once more to its owner."""
    home.read(CONFIG.replace("workers = 2", 'workers = 2\nunknown_names = "keep"'))
    kept, plain = (home.decisions.routing_at("ida", Path(name)) for name in ("seal@home@club.jpg", "seal@club.jpg"))

    assert isinstance(kept, Routing)
    assert isinstance(plain, Routing)
    assert kept.destinations == ("club",)
    assert findings_of(kept) == (say(Doubt.TAG_KEPT, tag="home"),)
    assert findings_of(plain) == ()


# The newer of two that differ only in their tags


@pytest.mark.parametrize(("day", "is_outdated"), [(9, True), (10, True), (11, False)])
def test_of_two_that_differ_only_in_tags_the_newer_wins(home: Household, day: int, *, is_outdated: bool) -> None:
    """Of two with the same time the one that is known stays, or they would take turns for ever."""
    home.deliver(home.drop("seal.jpg", day=10))
    other = home.drop("seal@club.jpg", b"another export", day=day)

    assert home.decisions.is_outdated(other, home.decisions.routing_of(other)) is is_outdated
    assert home.is_news(other) is not is_outdated


def test_a_picture_that_was_tagged_anew_is_not_outdated(home: Household) -> None:
    """Nothing lies under its former name any more, however old the file is."""
    file = home.drop("seal.jpg", day=10)
    home.deliver(file)
    file.path.rename(file.path.with_name("seal@club.jpg"))

    assert home.is_news(home.look("seal@club.jpg"))


@pytest.mark.parametrize(("day", "is_outdated"), [(9, True), (10, False)])
def test_the_former_one_may_be_filed_away(home: Household, day: int, *, is_outdated: bool) -> None:
    """What was filed away still counts: an older export that is found later does not replace it."""
    file = home.drop("seal.jpg", day=10)
    home.deliver(file)
    home.file_away(file)
    other = home.drop("seal@club.jpg", b"another export", day=day)

    assert home.decisions.is_outdated(other, home.decisions.routing_of(other)) is is_outdated


def test_what_goes_nowhere_is_never_outdated(home: Household) -> None:
    """Its name says nothing that is understood, so neither of which picture it is: its owner hears of it."""
    home.deliver(home.drop("seal.jpg", day=10))
    other = home.drop("seal@clubb.jpg", day=1)

    assert home.is_news(other)


# Taking in, and holding


def test_what_settles_becomes_a_work_item(home: Household) -> None:
    """It is noted as waiting, and nothing is told yet."""
    file = home.drop("seal@club.jpg")

    item = home.decisions.take_in(file, home.decisions.routing_of(file))

    assert item is not None
    assert (item.key, item.is_older) == (("ida", Path("seal.jpg")), False)
    assert home.ledger.originals.get(item.original).state is OriginalState.WAITING
    assert home.told == []


def test_what_is_asked_for_again_is_older_work_until_it_is_exported_again(home: Household) -> None:
    """The same bytes come after all that is fresh; a new export is fresh."""
    file = home.drop("seal.jpg")
    home.deliver(file)
    home.ask_again(file)

    again = home.decisions.take_in(file, home.decisions.routing_of(file))
    newer = home.drop("seal.jpg", b"another export")
    anew = home.decisions.take_in(newer, home.decisions.routing_of(newer))

    assert again is not None
    assert anew is not None
    assert (again.is_older, anew.is_older) == (True, False)


def test_what_cannot_be_routed_is_held_and_said(home: Household) -> None:
    """It stands in the ledger with its reason, under its whole name, and both are told."""
    file = home.drop("seal@clubb.jpg")
    said = home.decisions.routing_of(file)
    assert isinstance(said, Said)

    assert home.decisions.take_in(file, said) is None

    row = home.row(file)
    assert (row.state, row.reason_key, row.reason) == (OriginalState.HELD, Held.UNKNOWN_TAG, said.text)
    assert (row.picture, row.held_at is not None) == (file.relative, True)
    assert home.told == [HeldBack(file=file, said=said), Finished(file=file, changed=False)]


def test_what_is_outdated_is_no_news(home: Household) -> None:
    """The newer one stays the picture."""
    newer = home.drop("seal.jpg", day=10)
    home.deliver(newer)
    home.told.clear()
    older = home.drop("seal@club.jpg", day=9)

    assert not home.is_news(older)
    assert home.row(newer).state is OriginalState.DELIVERED


# What the service has made itself


def test_a_file_with_a_deliverys_bytes_is_no_original(home: Household) -> None:
    """While it stands and after it was taken back; it is noted beside its original, of which nothing changes."""
    original = home.drop("seal@journal.jpg")
    path, *_ = home.deliver(original)
    copy = home.drop("seal.jpg", content=path.read_bytes())
    said = home.decisions.routing_of(copy)

    assert isinstance(said, Said)
    assert said.key == Held.OWN_DELIVERY.value
    assert "made it from seal@journal.jpg for journal" in said.text
    assert home.decisions.take_in(copy, said) is None
    assert (home.row(original).state, home.row(original).path) == (OriginalState.DELIVERED, original.relative)
    assert home.row(copy).state is OriginalState.HELD
    assert not home.is_news(copy)
    assert isinstance(home.decisions.routing_of(home.drop("other.jpg", content=path.read_bytes()[:-1] + b"?")), Routing)


def test_anothers_delivery_may_be_an_original(home: Household) -> None:
    """What belongs to another photographer is not told."""
    path, *_ = home.deliver(home.drop("seal@journal.jpg"))

    found = home.decisions.routing_of(home.drop("gift.jpg", content=path.read_bytes(), photographer="juno"))

    assert not (isinstance(found, Said) and found.key == Held.OWN_DELIVERY.value)


def test_what_was_taken_for_an_original_before_stays_one(home: Household) -> None:
    """As an earlier version did: its deliveries stand, and can be remade; also on another disk, or touched."""
    path, *_ = home.deliver(home.drop("seal@journal.jpg"))
    copy = home.drop("copy@club.jpg", content=path.read_bytes())
    row = home.ledger.originals.take_in(copy, Path("copy.jpg"))
    home.ledger.deliveries.want(row.id, digest_of(path.read_bytes()), [])

    os.utime(copy.path, (1, 1))

    assert isinstance(home.decisions.routing_of(home.look("copy@club.jpg")), Routing)


def test_a_delivery_over_its_original_is_held_in_its_place(home: Household) -> None:
    """There is one picture under that path, and nothing else is noted of it."""
    original = home.drop("seal.jpg")
    path, *_ = home.deliver(original)
    copy = home.drop("seal.jpg", content=path.read_bytes())
    said = home.decisions.routing_of(copy)
    assert home.decisions.take_in(copy, said) is None

    (row,) = home.ledger.originals.at("ida", copy.relative)
    assert (row.state, row.picture) == (OriginalState.HELD, Path("seal.jpg"))
    assert isinstance(home.decisions.routing_of(copy), Said)
