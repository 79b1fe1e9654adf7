"""The owner's commands, on real deliveries in real folders; the main loop that goes on with them is not there."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from lanternslide.errors import StateUnwritableError
from lanternslide.ledger import OriginalState
from lanternslide.records import DroppedFile
from lanternslide.records.events import Withdrawn
from lanternslide.requests import remaking
from lanternslide.requests.commands import DROP_NOTE, commands_alone
from lanternslide.requests.request_folder import Reply, Request
from lanternslide.words import Command, Held, Passing, Said, say
from tests.support.household import CONFIG, Household, household

DONE, HELD, USAGE, WAITS = 0, 1, 2, 3
"""Exit statuses, the same for all commands."""

AGAIN = Request(command="sweep", again=True)
SMALLER_CLUB = CONFIG.replace("1920, 1080", "1280, 720")


@pytest.fixture
def home(tmp_path: Path) -> Iterator[Household]:
    """Return a home of Ida and Juno."""
    with household(tmp_path) as home:
        yield home


def hold(home: Household, name: str, *, photographer: str = "ida") -> DroppedFile:
    """Drop an original that is held."""
    file = home.drop(name, photographer=photographer)
    row = home.ledger.originals.take_in(file, file.relative)
    home.decisions.hold(row.id, file, Said(key=Held.CUT_SHORT.value, text="because"))
    return file


def retry(home: Household, *paths: Path) -> Reply:
    """Ask for originals to be tried again."""
    return home.owner.perform(Request(command="retry", paths=tuple(map(str, paths))))


def withdraw(home: Household, *paths: Path, destination: str | None = None) -> Reply:
    """Ask for deliveries to be taken back."""
    return home.owner.perform(Request(command="withdraw", paths=tuple(map(str, paths)), destination=destination))


def answer(status: int, *lines: Said) -> Reply:
    """Return the answer that consists of these lines."""
    return Reply(lines=tuple(line.text for line in lines), status=status)


# What is not understood


@pytest.mark.parametrize("request_", [None, Request(command="polish")])
def test_what_is_not_understood_is_refused(home: Household, request_: Request | None) -> None:
    """It may come from a newer version, or be no request at all."""
    assert home.owner.perform(request_) == answer(USAGE, say(Command.NOT_UNDERSTOOD))


@pytest.mark.parametrize("command", ["withdraw", "sweep", "retry"])
def test_a_destination_that_nobody_knows_is_refused(home: Household, command: str) -> None:
    """Nothing is done, and those that there are are named, also one that stands in the ledger alone."""
    (path,) = home.deliver(home.drop("seal@club.jpg"))
    home.read(CONFIG.replace("[destinations.club]", "[destinations.gallery]").replace('["club"]', '["gallery"]'))

    refused = home.owner.perform(
        Request(command=command, paths=(str(home.home.drop() / "seal@club.jpg"),), destination="clubb")
    )

    known = "portfolio, journal, gallery, club"
    assert refused == answer(USAGE, say(Command.NO_SUCH_DESTINATION, found="clubb", known=known))
    assert path.is_file()


def test_what_a_former_config_delivered_to_can_be_taken_back(home: Household) -> None:
    """The ledger knows the destination, though the config does not any more."""
    file = home.drop("seal@club.jpg")
    (path,) = home.deliver(file)
    home.read(CONFIG.replace("[destinations.club]", "[destinations.gallery]").replace('["club"]', '["gallery"]'))

    assert withdraw(home, file.path, destination="club") == answer(DONE, say(Command.WITHDRAWN, path=path))
    assert not path.exists()


# Retry


def test_all_that_is_held_is_tried_again(home: Household) -> None:
    """If none is named: those of everybody whom the service has, and nothing that was taken back."""
    held = [hold(home, "seal.jpg"), hold(home, "kelp.jpg", photographer="juno")]
    gone = home.drop("gull.jpg")
    home.deliver(gone)
    withdraw(home, gone.path)

    assert retry(home) == answer(DONE, say(Command.RETRIED, originals="2 originals"))

    assert [home.row(file).state for file in held] == [OriginalState.WAITING] * 2
    assert home.row(gone).state is OriginalState.WITHDRAWN


def test_another_photographers_service_leaves_mine_alone(home: Household) -> None:
    """Whom the config does not name is not this service's."""
    mine, other = hold(home, "seal.jpg"), hold(home, "kelp.jpg", photographer="juno")
    home.read(CONFIG.replace("[photographers.juno]", "[photographers.pell]"))

    assert retry(home) == answer(DONE, say(Command.RETRIED, originals="1 original"))
    assert [home.row(file).state for file in (mine, other)] == [OriginalState.WAITING, OriginalState.HELD]


def test_a_held_original_is_tried_from_the_beginning(home: Household) -> None:
    """Earlier attempts no longer count, and the reason is gone."""
    file = home.drop("islands/seal.jpg")
    item = home.item(file)
    home.ledger.originals.count_attempt(item.original)
    home.decisions.hold(item.original, file, Said(key=Held.FAILED_OFTEN.value, text="because"))

    assert retry(home, file.path) == answer(DONE, say(Command.RETRIED_ONE, original="ida: islands/seal.jpg"))

    row = home.row(file)
    assert (row.state, row.attempts, row.reason) == (OriginalState.WAITING, 0, None)


def test_what_was_taken_back_comes_back_when_it_is_named(home: Household) -> None:
    """It is news again, and its deliveries are to be made."""
    file = home.drop("seal@journal.jpg")
    home.deliver(file)
    withdraw(home, file.path)
    assert not home.is_news(file)

    assert retry(home, file.path).status == DONE

    assert home.is_news(file)
    assert len(home.deliver(file)) == 2


def test_each_path_is_answered_for_itself(home: Household) -> None:
    """One that nobody knows is wrong usage, and keeps no other from being tried."""
    held, fine = hold(home, "seal.jpg"), home.drop("kelp.jpg")
    home.deliver(fine)
    nobody_knows = home.home.drop() / "gull.jpg"

    found = retry(home, nobody_knows, fine.path, held.path)

    assert found == answer(
        USAGE,
        say(Command.UNKNOWN, path=nobody_knows),
        say(Command.NOTHING_TO_RETRY, path=fine.path),
        say(Command.RETRIED_ONE, original="ida: seal.jpg"),
    )


def test_nothing_to_retry_is_no_failure(home: Household) -> None:
    """What is asked for is so already."""
    file = home.drop("seal.jpg")
    home.deliver(file)

    assert retry(home, file.path).status == DONE


# Which originals a path names


def by_its_folder(home: Household, file: DroppedFile) -> Path:
    """Name the folder around it."""
    del home
    return file.path.parent


def by_a_link(home: Household, file: DroppedFile) -> Path:
    """Name it by another way into the drop folder."""
    link = home.home.root / "pictures"
    link.symlink_to(file.drop)
    return link / file.relative


def where_it_lay(home: Household, file: DroppedFile) -> Path:
    """Name where it was before its owner deleted it."""
    del home
    file.path.unlink()
    return file.path


def where_it_is_filed(home: Household, file: DroppedFile) -> Path:
    """Name where it is filed away."""
    return home.file_away(file)


def in_a_former_drop_folder(home: Household, file: DroppedFile) -> Path:
    """Name it after its photographer has left the config; the service has noted the drop folder."""
    home.ledger.notes.put(f"{DROP_NOTE}ida", os.fsencode(file.drop).hex())
    home.read(CONFIG.replace("[photographers.ida]", "[photographers.pell]").replace("drop/ida", "drop/pell"))
    return file.path


@pytest.mark.parametrize("way", [by_its_folder, by_a_link, where_it_lay, where_it_is_filed, in_a_former_drop_folder])
def test_an_original_has_many_names(home: Household, way: Callable[[Household, DroppedFile], Path]) -> None:
    """Wherever it lies or lay, by whatever way; nobody else's is meant."""
    file, other = home.drop("islands/seal.jpg"), home.drop("seal.jpg")
    (path,), (others,) = home.deliver(file), home.deliver(other)

    found = withdraw(home, way(home, file))

    assert found == answer(DONE, say(Command.WITHDRAWN, path=path))
    assert (path.exists(), others.exists()) == (False, True)


def test_a_folder_that_begins_alike_is_another(home: Household) -> None:
    """Names are compared part by part."""
    hold(home, "islands-2/seal.jpg")
    folder = home.home.drop() / "islands"

    assert retry(home, folder) == answer(USAGE, say(Command.UNKNOWN, path=folder))


# Withdraw


def test_what_is_taken_back_is_deleted_and_stays_away(home: Household) -> None:
    """Each file is named; no scan brings it back until the original changes."""
    file = home.drop("seal@journal@club.jpg")
    paths = home.deliver(file)

    found = withdraw(home, file.path)

    assert found == answer(DONE, *(say(Command.WITHDRAWN, path=path) for path in paths))
    assert not any(path.exists() for path in paths)
    assert home.row(file).state is OriginalState.WITHDRAWN
    told = [event for event in home.told if isinstance(event, Withdrawn)]
    assert told == [
        Withdrawn(original="ida: seal@journal@club.jpg", destination=name, output=str(path))
        for name, path in zip(("journal", "journal", "club"), paths, strict=True)
    ]
    assert not home.is_news(file)
    assert home.is_news(home.drop("seal@journal@club.jpg", b"another export"))


def test_one_destination_alone_is_taken_back(home: Household) -> None:
    """The others stand; the original is done as it is."""
    file = home.drop("seal@journal@club.jpg")
    *_, club = paths = home.deliver(file)

    assert withdraw(home, file.path, destination="club") == answer(DONE, say(Command.WITHDRAWN, path=club))

    assert [path.exists() for path in paths] == [True, True, False]
    assert home.row(file).state is OriginalState.DELIVERED
    assert home.planner.still_to_make(home.item(file)) == ([], None)


def test_what_somebody_has_changed_is_never_deleted(home: Household) -> None:
    """Its bytes are not the recorded ones, so it is not ours; it is not told as taken back."""
    file = home.drop("seal.jpg")
    (path,) = home.deliver(file)
    path.write_bytes(b"retouched there")

    assert withdraw(home, file.path) == answer(DONE, say(Command.CHANGED_STAYS, path=path))

    assert path.read_bytes() == b"retouched there"
    assert home.told_of(Withdrawn) == []


def test_what_is_gone_already_stays_away(home: Household) -> None:
    """Its owner has deleted it by hand before."""
    file = home.drop("seal.jpg")
    (path,) = home.deliver(file)
    path.unlink()

    assert withdraw(home, file.path) == answer(DONE, say(Command.WAS_AWAY, path=path))
    assert len(home.told_of(Withdrawn)) == 1


def test_what_cannot_be_reached_is_taken_back_as_soon_as_it_can(home: Household) -> None:
    """The destination is away: the command says so and waits, and the service goes on once it is there."""
    file = home.drop("seal.jpg")
    (path,) = home.deliver(file)
    away = path.parent.parent.rename(home.home.root / "elsewhere")

    found = withdraw(home, file.path)

    assert found.status == WAITS
    (line,) = found.lines
    reason = say(Passing.DESTINATION_AWAY, folder=path.parent, destination="portfolio").text
    assert line == say(Command.WITHDRAWN_LATER, path=path, reason=reason).text
    home.recovery.recover()
    assert (away / "portfolio" / "seal.jpg").exists()
    away.rename(path.parent.parent)
    home.recovery.recover()
    assert not path.exists()
    assert home.told_of(Withdrawn) == [
        Withdrawn(original="ida: seal.jpg", destination="portfolio", output=str(path)),
    ]


def test_one_path_that_is_fine_does_not_hide_another_that_is_not(home: Household) -> None:
    """Whatever comes last, the status tells of what has to be seen to."""
    away, fine = home.drop("seal.jpg"), home.drop("kelp@club.jpg")
    (path,) = home.deliver(away)
    home.deliver(fine)
    path.parent.parent.rename(home.home.root / "elsewhere")

    assert withdraw(home, home.home.drop() / "gull.jpg", fine.path).status == USAGE
    assert withdraw(home, away.path, fine.path).status == WAITS


def test_a_withdrawal_that_waits_is_no_success_and_wrong_usage_is_worse(home: Household) -> None:
    """The status tells of whatever has to be seen to first."""
    file = home.drop("seal.jpg")
    (path,) = home.deliver(file)
    path.parent.parent.rename(home.home.root / "elsewhere")
    nobody_knows = home.home.drop() / "gull.jpg"

    assert withdraw(home, file.path, nobody_knows).status == USAGE


def test_what_is_not_made_yet_is_not_made(home: Household) -> None:
    """An original that was dropped a moment ago: nothing stands, and nothing will while it stays as it is."""
    file = home.drop("seal.jpg")

    assert withdraw(home, file.path) == answer(DONE, say(Command.NOTHING_STANDS, original="ida: seal.jpg"))

    assert not home.is_news(file)


@pytest.mark.parametrize("name", ["gull.jpg", "notes.txt", "seal@clubb.jpg"])
def test_a_path_without_an_original_is_wrong_usage(home: Household, name: str) -> None:
    """Nothing lies there, or what does is no picture that goes anywhere."""
    path = home.home.drop() / name
    if name != "gull.jpg":
        path.write_bytes(b"something")

    assert withdraw(home, path) == answer(USAGE, say(Command.UNKNOWN, path=path))


def test_an_older_twin_that_lies_beside_it_is_not_the_picture(home: Household) -> None:
    """Of two that differ only in their tags the newer stays the picture, whichever is named."""
    file = home.drop("seal.jpg", day=10)
    (path,) = home.deliver(file)
    older = home.drop("seal@club.jpg", day=9)

    assert withdraw(home, older.path) == answer(USAGE, say(Command.UNKNOWN, path=older.path))

    assert path.exists()
    assert home.row(file).state is OriginalState.DELIVERED


def test_a_photographer_who_has_left_can_still_take_back(home: Household) -> None:
    """Anything published can be taken back with one command."""
    file = home.drop("seal@club.jpg")
    (path,) = home.deliver(file)
    home.ledger.notes.put(f"{DROP_NOTE}ida", os.fsencode(file.drop).hex())
    home.read(CONFIG.replace("[photographers.ida]", "[photographers.pell]").replace("drop/ida", "drop/pell"))

    assert withdraw(home, file.path).status == DONE
    assert not path.exists()


@pytest.mark.parametrize("is_renamed", [True, False])
def test_what_is_between_intent_and_rename_is_taken_back(home: Household, *, is_renamed: bool) -> None:
    """After a crash it is found out first whether it stands."""
    file = home.drop("seal.jpg")
    item = home.item(file)
    (row,), _ = home.planner.still_to_make(item)
    path, data = home.intend(item, row)
    if is_renamed:
        path.write_bytes(data)

    found = withdraw(home, file.path)

    said = say(Command.WITHDRAWN, path=path) if is_renamed else say(Command.NOTHING_STANDS, original="ida: seal.jpg")
    assert found == answer(DONE, said)
    assert not path.exists()
    assert home.states(file) == {("portfolio", 1): "withdrawn"}


def test_an_intent_in_a_folder_that_is_away_is_taken_back_later(home: Household) -> None:
    """Whether it stands cannot be told now; it is deleted, not delivered, once it can."""
    file = home.drop("seal.jpg")
    item = home.item(file)
    (row,), _ = home.planner.still_to_make(item)
    path, data = home.intend(item, row)
    path.write_bytes(data)
    away = path.parent.parent.rename(home.home.root / "elsewhere")

    found = withdraw(home, file.path)
    assert found.status == WAITS
    assert home.recovery.recover().keys() == {"portfolio"}
    away.rename(path.parent.parent)

    assert home.recovery.recover() == {}
    assert not path.exists()
    assert home.states(file) == {("portfolio", 1): "withdrawn"}


def test_an_intent_of_another_destination_is_left_alone(home: Household) -> None:
    """Only what is named is taken back."""
    file = home.drop("seal@portfolio@club.jpg")
    item = home.item(file)
    rows, _ = home.planner.still_to_make(item)
    path, data = home.intend(item, rows[0])
    path.write_bytes(data)

    withdraw(home, file.path, destination="club")

    assert path.exists()
    assert [row.destination for row in home.ledger.deliveries.open_intents()] == ["portfolio"]


def test_what_stands_in_a_former_folder_is_taken_back_too(home: Household) -> None:
    """The destination has another folder now; what it left in the former one is ours as well."""
    file = home.drop("seal@club.jpg")
    (former,) = home.deliver(file)
    home.read(CONFIG.replace('folder = "out/club"', 'folder = "out/gallery"'))
    home.owner.perform(AGAIN)
    (path,) = home.deliver(file)
    assert path.parent != former.parent
    assert former.exists()

    found = withdraw(home, file.path)

    assert found == answer(DONE, say(Command.WITHDRAWN, path=path), say(Command.WITHDRAWN, path=former))
    assert not path.exists()
    assert not former.exists()


def test_what_somebody_changed_in_a_former_folder_stays(home: Household) -> None:
    """It is not ours any more, and is forgotten."""
    file = home.drop("seal@club.jpg")
    (former,) = home.deliver(file)
    home.read(CONFIG.replace('folder = "out/club"', 'folder = "out/gallery"'))
    home.owner.perform(AGAIN)
    (path,) = home.deliver(file)
    former.write_bytes(b"retouched there")

    assert withdraw(home, file.path) == answer(DONE, say(Command.WITHDRAWN, path=path))

    assert former.read_bytes() == b"retouched there"
    assert home.ledger.deliveries.earlier_of(home.row(file).id) == []


def test_a_former_folder_that_is_away_waits(home: Household) -> None:
    """What stands there is taken back once it is there again."""
    file = home.drop("seal@club.jpg")
    (former,) = home.deliver(file)
    home.read(CONFIG.replace('folder = "out/club"', 'folder = "out/gallery"'))
    home.owner.perform(AGAIN)
    home.deliver(file)
    away = former.parent.rename(home.home.root / "elsewhere")
    # An empty disk is mounted where it lay: nothing is known to be deleted.
    (home.home.root / "out" / "gallery").rename(home.home.root / "gallery")
    (home.home.root / "out").rmdir()

    assert withdraw(home, file.path).status == WAITS
    (home.home.root / "out").mkdir()
    (home.home.root / "gallery").rename(home.home.root / "out" / "gallery")
    away.rename(former.parent)
    home.recovery.recover()

    assert not former.exists()
    assert list((home.home.root / "out").rglob("*.jpg")) == []


# Sweep


def test_a_plain_sweep_looks_through_the_drop_folders(home: Household) -> None:
    """What is new is done anyway; what was delivered stays as it is."""
    file = home.drop("seal.jpg")
    home.deliver(file)
    home.read(SMALLER_CLUB)

    assert home.owner.perform(Request(command="sweep")) == answer(DONE, say(Command.LOOKS_NOW))
    assert home.row(file).state is OriginalState.DELIVERED


@pytest.mark.parametrize(("photographer", "status"), [("ida", HELD), ("juno", DONE)])
@pytest.mark.parametrize("request_", [Request(command="sweep"), AGAIN])
def test_a_sweep_says_whether_something_is_held(
    home: Household, photographer: str, status: int, request_: Request
) -> None:
    """Of those whom this service has."""
    hold(home, "kelp.jpg", photographer=photographer)
    home.read(CONFIG.replace("[photographers.juno]", "[photographers.pell]"))

    assert home.owner.perform(request_).status == status


def test_a_sweep_says_how_much_is_made_again_and_how_long_that_takes(home: Household) -> None:
    """Each of three deliveries took a minute; two workers do that in one and a half."""
    for name in ("seal@club.jpg", "kelp@club.jpg", "gull@club.jpg"):
        home.deliver(home.drop(name, name.encode()))
    home.deliver(home.drop("harbour.jpg"))
    home.read(SMALLER_CLUB)

    found = home.owner.perform(AGAIN)

    lines = say(Command.MADE_AGAIN, amount="3 deliveries of 3 pictures"), say(Command.TAKES_ABOUT, time="2 minutes")
    assert found == answer(DONE, *lines)
    assert home.ledger.older.number("ida") == 3
    assert home.row(home.look("harbour.jpg")).state is OriginalState.DELIVERED


def test_a_sweep_that_touches_nothing_takes_no_time(home: Household) -> None:
    """Nothing is said about how long nothing takes."""
    home.deliver(home.drop("seal@club.jpg"))

    assert home.owner.perform(AGAIN) == answer(DONE, say(Command.NOTHING_TO_MAKE))


@pytest.fixture
def parted(home: Household, monkeypatch: pytest.MonkeyPatch) -> Household:
    """Return a home of which a sweep touches two originals, one in each part."""
    monkeypatch.setattr(remaking, "AT_ONCE", 1)
    for name in ("seal@club.jpg", "kelp@club.jpg"):
        home.deliver(home.drop(name, name.encode()))
    home.read(SMALLER_CLUB)
    return home


def test_a_sweep_is_done_in_parts(parted: Household) -> None:
    """After each of them the main loop has its turn, and what was marked so far is in the ledger."""
    marked = []
    while (found := parted.owner.sweep_on("1", AGAIN)) is None:
        marked.append(parted.ledger.older.number("ida"))
        assert parted.owner.is_sweeping

    assert marked == [1, 2]
    assert found.lines[0] == say(Command.MADE_AGAIN, amount="2 deliveries of 2 pictures").text
    assert not parted.owner.is_sweeping


def test_one_sweep_is_done_after_the_other(parted: Household) -> None:
    """For another one nothing is done until the one that was begun has ended."""
    assert parted.owner.sweep_on("1", AGAIN) is None
    for _ in range(3):
        assert parted.owner.sweep_on("2", Request(command="sweep")) is None
    assert parted.ledger.older.number("ida") == 1

    while parted.owner.sweep_on("1", AGAIN) is None:
        pass
    assert parted.owner.sweep_on("2", Request(command="sweep")) == answer(DONE, say(Command.LOOKS_NOW))


@pytest.mark.parametrize(("names", "is_sweeping"), [(["2"], False), (["1", "2"], True)])
def test_a_sweep_whose_request_was_taken_back_is_given_up(
    parted: Household, names: list[str], *, is_sweeping: bool
) -> None:
    """Its owner waits no longer; those that lie there go on."""
    parted.owner.sweep_on("1", AGAIN)

    parted.owner.keep_to(names)

    assert parted.owner.is_sweeping is is_sweeping


def test_a_sweep_that_fails_is_not_gone_on_with(parted: Household) -> None:
    """Or it would keep every other sweep waiting for ever."""
    parted.owner.sweep_on("1", AGAIN)
    with parted.ledger:
        pass  # closed: as if it could not be read any more

    with pytest.raises(StateUnwritableError):
        parted.owner.sweep_on("1", AGAIN)

    assert not parted.owner.is_sweeping


# Without a service


def test_without_a_service_a_command_does_it_itself(home: Household) -> None:
    """The same answer, from the config and the ledger alone."""
    file = home.drop("seal@club.jpg")
    (path,) = home.deliver(file)
    request = Request(command="withdraw", paths=(str(file.path),))

    assert commands_alone(home.settings, home.ledger).perform(request) == answer(
        DONE, say(Command.WITHDRAWN, path=path)
    )
    assert commands_alone(home.settings, home.ledger).perform(replace(request, command="retry")).status == DONE
    assert home.is_news(file)
