"""Putting deliveries into real folders, each once, with the ledger's word before and after."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from lanternslide.delivery.publisher import Publisher
from lanternslide.delivery.reachability import Reachability
from lanternslide.errors import PassingFaultError
from lanternslide.ledger import DeliveryRow, Published
from lanternslide.records import DeliveryTask, DroppedFile, Made, Record, SurveyedItem
from lanternslide.storage import is_temporary_of
from lanternslide.storage.probe import Probe
from lanternslide.words import Doubt, Note, Passing, Said, say
from tests.support.hanging import DEADLINE, Share
from tests.support.household import CONFIG, FIGURES, Household, digest_of, household, write_delivery

PORTFOLIO = "out/ida/portfolio"
MOVED = CONFIG.replace('folder = "out/{photographer}/portfolio"', 'folder = "site/{photographer}"')
"""The portfolio has another folder."""

WIDER_NAME = CONFIG.replace(
    "size = { long_edge = 1050 }", 'size = { long_edge = 1050 }\nname = "{stem}-{width}.jpg"'
)  # fmt: skip


@pytest.fixture
def home(tmp_path: Path) -> Iterator[Household]:
    """Return a home of Ida and Juno."""
    with household(tmp_path) as home:
        yield home


def begin(home: Household, file: DroppedFile) -> tuple[SurveyedItem, list[DeliveryRow]]:
    """Take a file in; return it on its way, with the deliveries that are to be made."""
    item = home.item(file)
    rows, stalled = home.planner.still_to_make(item)
    assert stalled is None
    return item, rows


def prepared(home: Household, file: DroppedFile) -> tuple[SurveyedItem, DeliveryTask, DeliveryRow, Made]:
    """Have the only delivery of a file made, up to where it is to be published."""
    item, (row,) = begin(home, file)
    task = home.publisher.task_for(item, row)
    assert item.survey is not None
    return item, task, row, write_delivery(task, item.survey.digest)


def publish(home: Household, file: DroppedFile, **changed: Any) -> Record:
    """Have the only delivery of a file published; *changed* is what a worker says otherwise."""
    item, task, row, made = prepared(home, file)
    return home.publisher.publish(item, task, row, replace(made, **changed))


def only_row(home: Household, file: DroppedFile) -> DeliveryRow:
    """Return what the ledger knows of the only delivery of a file."""
    (row,) = home.ledger.deliveries.of_original(home.row(file).id)
    return row


def unmount(home: Household, folder: Path) -> None:
    """Have a folder look as it does when the disk that it lay on is not mounted."""
    if folder.is_dir():
        folder.rename(folder.with_name(f"{folder.name} on its disk"))
    folder.mkdir(parents=True)
    home.ledger.folders.use(folder, home.home.root / "mnt")


def mount_again(home: Household, folder: Path) -> None:
    """Undo `unmount`."""
    folder.rmdir()
    folder.with_name(f"{folder.name} on its disk").rename(folder)
    home.reachability.use(folder)


def names(folder: Path) -> list[str]:
    """Return the names in a folder."""
    return sorted(path.name for path in folder.iterdir())


# What a worker is told


def test_a_worker_is_told_how_and_where(home: Household) -> None:
    """A dot file in the very folder where it will be published, which is there, and all that the config says."""
    home.publisher = Publisher(
        home.photographers, home.ledger, home.reachability, proofs_of=lambda name: Path("proofs", name)
    )
    item, rows = begin(home, home.drop("journal/islands/deep/seal.jpg"))

    tasks = [home.publisher.task_for(item, row) for row in rows]

    folder = home.home.out("ida", "journal", "islands", "deep")
    assert folder.is_dir()
    recipe = home.photographers["ida"].destinations["journal"].recipe
    said = {(task.delivery, task.destination, task.density, task.recipe, task.proofs) for task in tasks}
    assert said == {(row.id, "journal", row.density, recipe, Path("proofs/ida")) for row in rows}
    assert [row.density for row in rows] == [1, 2]
    assert {task.temporary.parent for task in tasks} == {folder}
    assert all(is_temporary_of(home.ledger.name, task.temporary.name) for task in tasks)
    assert len({task.temporary for task in tasks}) == 2


def test_a_worker_that_outlives_its_service_writes_nowhere_else(home: Household) -> None:
    """Each run has temporary names of its own."""
    item, (row,) = begin(home, home.drop("seal.jpg"))
    next_run = Publisher(home.photographers, home.ledger, home.reachability)

    assert home.publisher.task_for(item, row).temporary != next_run.task_for(item, row).temporary
    assert home.publisher.task_for(item, row).temporary == home.publisher.task_for(item, row).temporary


def test_a_folder_that_was_used_is_not_made_again(home: Household) -> None:
    """It is made once; after that its absence is a fault that may pass."""
    file = home.drop("seal.jpg")
    home.deliver(file)
    shutil.rmtree(home.home.root / PORTFOLIO)
    item, (row,) = begin(home, home.drop("gull.jpg", b"gull"))

    with pytest.raises(PassingFaultError) as fault:
        home.publisher.task_for(item, row)

    assert fault.value.said.key == Passing.DESTINATION_AWAY
    assert not (home.home.root / PORTFOLIO).exists()


@pytest.mark.parametrize("where", [PORTFOLIO, f"{PORTFOLIO}/islands"])
def test_nothing_is_written_beneath_a_disk_that_is_not_mounted(home: Household, where: str) -> None:
    """A disk may be mounted at the destination's folder, and at one below it."""
    file = home.drop("portfolio/islands/seal.jpg")
    home.deliver(file)
    unmount(home, home.home.root / where)
    item, (row,) = begin(home, home.drop("portfolio/islands/gull.jpg", b"gull"))

    with pytest.raises(PassingFaultError) as fault:
        home.publisher.task_for(item, row)

    assert fault.value.said.key == Passing.DESTINATION_UNMOUNTED
    assert names(home.home.root / where) == []


# Publishing


def test_a_delivery_gets_its_name_and_its_record(home: Household) -> None:
    """Nothing of the temporary file is left, and the ledger and the record say what stands."""
    file = home.drop("seal.jpg", b"the original")
    doubt = say(Doubt.NO_INK_PROFILE)

    record = publish(home, file, findings=(doubt,))

    path, row = home.home.root / PORTFOLIO / "seal.jpg", only_row(home, file)
    data = path.read_bytes()
    assert names(path.parent) == ["seal.jpg"]
    assert row.state == "delivered"
    assert row.output == Published(path=path, size=len(data), digest=digest_of(data))
    assert (record.original, record.photographer, record.destination) == ("seal.jpg", "ida", "portfolio")
    assert (record.state, record.output, record.density) == ("delivered", str(path), 1)
    assert (record.bytes, record.digest) == (len(data), digest_of(data))
    assert (record.width, record.height, record.quality) == (FIGURES.width, FIGURES.height, FIGURES.quality)
    assert record.original_file is not None
    assert (record.original_file.bytes, record.original_file.digest) == (12, digest_of(b"the original"))
    assert record.doubts == (doubt.text,)
    assert record.delivered_at is not None


def test_the_ledger_knows_before_anything_is_renamed(home: Household, monkeypatch: pytest.MonkeyPatch) -> None:
    """What is about to stand where is written down while the temporary file still has its own name."""
    item, task, row, made = prepared(home, home.drop("seal.jpg"))
    link, seen = os.link, list[object]()

    def watched(source: Path, target: Path, **named: Any) -> None:
        seen.extend(open_.intent for open_ in home.ledger.deliveries.open_intents())
        link(source, target, **named)

    monkeypatch.setattr(os, "link", watched)
    home.publisher.publish(item, task, row, made)

    path = home.home.root / PORTFOLIO / "seal.jpg"
    assert seen == [Published(path=path, size=made.bytes, digest=made.digest)]
    assert home.ledger.deliveries.open_intents() == []


def test_a_new_export_replaces_the_earlier_delivery(home: Household) -> None:
    """Under the same name, and without a doubt."""
    file = home.drop("seal.jpg")
    (path,) = home.deliver(file)
    before = path.read_bytes()

    record = publish(home, home.drop("seal.jpg", b"brighter"))

    assert names(path.parent) == ["seal.jpg"]
    assert path.read_bytes() != before
    assert digest_of(path.read_bytes()) == record.digest
    assert record.doubts == ()


@pytest.mark.parametrize(("taken", "given"), [(["seal.jpg"], "seal-2.jpg"), (["seal.jpg", "seal-2.jpg"], "seal-3.jpg")])
def test_any_other_file_in_its_way_is_kept(home: Household, taken: list[str], given: str) -> None:
    """The delivery gets a numbered name, and a doubt that says both names."""
    folder = home.home.root / PORTFOLIO
    folder.mkdir(parents=True)
    for name in taken:
        (folder / name).write_bytes(b"theirs")

    record = publish(home, home.drop("seal.jpg"))

    assert names(folder) == sorted([*taken, given])
    assert all((folder / name).read_bytes() == b"theirs" for name in taken)
    assert record.output == str(folder / given)
    assert record.doubts == (say(Doubt.NAME_TAKEN, taken="seal.jpg", given=given).text,)


def test_what_somebody_has_changed_is_theirs(home: Household) -> None:
    """It is kept, whatever it was before; the next export replaces what is still ours."""
    file = home.drop("seal.jpg")
    (path,) = home.deliver(file)
    path.write_bytes(b"retouched by hand")

    home.deliver(home.drop("seal.jpg", b"brighter"))
    (again,) = home.deliver(home.drop("seal.jpg", b"brighter still"))

    assert path.read_bytes() == b"retouched by hand"
    assert again == path.with_name("seal-2.jpg")
    assert names(path.parent) == ["seal-2.jpg", "seal.jpg"]


def test_another_kind_of_file_of_the_same_picture_inherits_its_name(home: Household) -> None:
    """With a doubt; the former original, which is gone, has nothing any more."""
    former = home.drop("seal.tif", b"as a TIFF")
    (path,) = home.deliver(former)
    former.path.unlink()

    record = publish(home, home.drop("seal.jpg", b"as a JPEG"))

    assert names(path.parent) == ["seal.jpg"]
    assert digest_of(path.read_bytes()) == record.digest
    assert record.doubts == (say(Doubt.NAME_INHERITED).text,)
    assert home.standing(former) == []


def test_two_pictures_that_are_called_alike_both_stand(home: Household) -> None:
    """While the other's original is there its name is not free."""
    (first,) = home.deliver(home.drop("seal.tif", b"one"))

    record = publish(home, home.drop("seal.jpg", b"another"))

    assert record.output == str(first.with_name("seal-2.jpg"))
    assert names(first.parent) == ["seal-2.jpg", "seal.jpg"]


@pytest.mark.parametrize(
    ("pattern", "captured", "name", "notes"),
    [
        ("{date}-{stem}.jpg", "2019-06-01", "2019-06-01-seal.jpg", []),
        ("{date}-{stem}.jpg", None, "1970-01-11-seal.jpg", [say(Note.DATE_OF_FILE, date="1970-01-11")]),
        ("{year}-{stem}.jpg", None, "1970-seal.jpg", [say(Note.DATE_OF_FILE, date="1970-01-11")]),
        ("{stem}.jpg", None, "seal.jpg", []),
    ],
)
def test_a_date_that_is_the_files_is_noted(
    home: Household, pattern: str, captured: str | None, name: str, notes: list[Said]
) -> None:
    """Only where the name asks for one, and the picture does not say when it was taken."""
    home.read(CONFIG.replace("size = { long_edge = 1050 }", f'size = {{ long_edge = 1050 }}\nname = "{pattern}"'))

    record = publish(home, home.drop("seal.jpg", day=10), captured=captured)

    assert names(home.home.root / PORTFOLIO) == [name]
    assert record.notes == tuple(note.text for note in notes)


def test_what_the_owner_moved_with_its_folder_is_replaced_there(home: Household) -> None:
    """The config names the new folder, and what stood in the former one is remembered no longer."""
    file = home.drop("seal.jpg")
    home.deliver(file)
    (home.home.root / "site").mkdir()
    (home.home.root / PORTFOLIO).rename(home.home.root / "site" / "ida")
    home.read(MOVED)

    home.deliver(home.drop("seal.jpg", b"brighter"))

    assert names(home.home.root / "site" / "ida") == ["seal.jpg"]
    assert home.standing(file) == [home.home.root / "site" / "ida" / "seal.jpg"]
    assert home.ledger.deliveries.earlier_of(home.row(file).id) == []


def test_a_disk_that_has_gone_at_the_last_moment_takes_nothing(home: Household) -> None:
    """Nothing is published under it, nothing was intended, and the temporary file does not stay."""
    file = home.drop("seal.jpg")
    item, task, row, made = prepared(home, file)
    home.ledger.folders.use(task.temporary.parent, home.home.root / "mnt")

    with pytest.raises(PassingFaultError) as fault:
        home.publisher.publish(item, task, row, made)

    assert fault.value.said.key == Passing.DESTINATION_UNMOUNTED
    assert names(task.temporary.parent) == []
    assert only_row(home, file).state == "waiting"


def test_an_intent_stays_open_where_the_rename_fails(home: Household) -> None:
    """Whether it has happened is found out before the next try."""
    file = home.drop("seal.jpg")
    item, task, row, made = prepared(home, file)
    folder = task.temporary.parent
    folder.rename(folder.with_name("elsewhere"))

    with pytest.raises(PassingFaultError):
        home.publisher.publish(item, task, row, made)

    assert only_row(home, file).intent == Published(path=folder / "seal.jpg", size=made.bytes, digest=made.digest)


# Intents that were left open


def left_open(home: Household, file: DroppedFile) -> tuple[DeliveryRow, Path, bytes]:
    """Leave an intent open; return its row, where the delivery was to stand, and its bytes."""
    item, (row,) = begin(home, file)
    path, data = home.intend(item, row)
    return only_row(home, file), path, data


def test_a_rename_that_has_happened_is_a_delivery(home: Household) -> None:
    """The bytes that were intended stand there."""
    file = home.drop("seal.jpg")
    row, path, data = left_open(home, file)
    path.write_bytes(data)

    record = home.publisher.settle_intent(row)

    assert record is not None
    assert (record.output, record.state) == (str(path), "delivered")
    assert record.delivered_at is not None
    row = only_row(home, file)
    assert (row.state, row.intent) == ("delivered", None)
    assert row.output == Published(path=path, size=len(data), digest=digest_of(data))


@pytest.mark.parametrize("found", [None, b"theirs....", b"theirs"])
def test_a_rename_that_has_not_happened_is_to_be_made_again(home: Household, found: bytes | None) -> None:
    """Nothing stands there, or a file of somebody else's, which is left alone."""
    file = home.drop("seal.jpg")
    row, path, _ = left_open(home, file)
    if found is not None:
        path.write_bytes(found)

    assert home.publisher.settle_intent(row) is None

    row = only_row(home, file)
    assert (row.state, row.intent, row.output) == ("waiting", None, None)
    assert (path.read_bytes() if path.exists() else None) == found


def test_while_a_folder_is_away_neither_is_assumed(home: Household) -> None:
    """The intent stays, and is settled when the folder is back."""
    file = home.drop("seal.jpg")
    row, path, data = left_open(home, file)
    path.write_bytes(data)
    unmount(home, path.parent)

    with pytest.raises(PassingFaultError):
        home.publisher.settle_intent(row)

    assert only_row(home, file).state == "publishing"
    mount_again(home, path.parent)
    assert home.publisher.settle_intent(row) is not None


def test_where_its_destination_has_another_folder_it_is_made_there(home: Household) -> None:
    """The former folder is away and need not come back; what may stand in it can still be taken back."""
    file = home.drop("seal.jpg")
    row, path, data = left_open(home, file)
    unmount(home, path.parent)
    home.read(MOVED)

    assert home.publisher.settle_intent(row) is None

    assert only_row(home, file).state == "waiting"
    left = Published(path=path, size=len(data), digest=digest_of(data))
    assert home.ledger.deliveries.earlier_of(home.row(file).id) == [("portfolio", left)]


def test_without_a_destination_it_waits_for_its_folder(home: Household) -> None:
    """There is nowhere else to make it."""
    row, path, _ = left_open(home, home.drop("seal@club.jpg"))
    unmount(home, path.parent)
    home.read(CONFIG.replace("[destinations.club]", "[destinations.gallery]").replace('["club"]', '["gallery"]'))

    with pytest.raises(PassingFaultError):
        home.publisher.settle_intent(row)

    assert home.ledger.deliveries.open_intents() == [row]


# What was left under another name, or is not wanted


def renamed(home: Household, name: str = "seal.jpg") -> tuple[DroppedFile, Path, Path]:
    """Deliver a picture under two names, one after the other; return it, the former path and the present one."""
    home.read(CONFIG)
    file = home.drop(name, name.encode())
    (former,) = home.deliver(file)
    home.read(WIDER_NAME)
    home.ask_again(file)
    (present,) = home.deliver(file)
    assert present == former.with_name(f"{former.stem}-60.jpg")
    return file, former, present


def test_a_former_name_is_cleared_once_the_new_one_stands(home: Household) -> None:
    """Deleted, told once, and forgotten."""
    file, former, present = renamed(home)
    assert former.is_file()

    (found,) = home.publisher.clear_replaced({})

    assert (found.photographer, found.destination, found.left.path) == ("ida", "portfolio", former)
    assert (former.exists(), present.is_file()) == (False, True)
    assert home.ledger.deliveries.earlier_of(home.row(file).id) == []
    assert list(home.publisher.clear_replaced({})) == []


def test_one_delivery_clears_its_own_alone(home: Household) -> None:
    """Another's is left for later."""
    files = [renamed(home, name) for name in ("seal.jpg", "gull.jpg")]
    (file, former, _), (_, other, _) = files

    assert len(list(home.publisher.clear_replaced({}, only_row(home, file).id))) == 1
    assert (former.exists(), other.exists()) == (False, True)


def test_what_its_owner_has_changed_under_the_former_name_stays(home: Household) -> None:
    """It is theirs, and asked about no more."""
    file, former, _ = renamed(home)
    former.write_bytes(b"retouched by hand")

    assert list(home.publisher.clear_replaced({})) == []
    assert former.read_bytes() == b"retouched by hand"
    assert home.ledger.deliveries.earlier_of(home.row(file).id) == []


@pytest.mark.parametrize("config", [MOVED, CONFIG])
def test_what_stands_in_a_destinations_former_folder_stays(home: Household, config: str) -> None:
    """Until it is withdrawn: the ledger remembers it, also when the config names the former folder again."""
    file = home.drop("seal.jpg")
    (former,) = home.deliver(file)
    (home.home.root / "site").mkdir()
    home.read(MOVED)
    home.ask_again(file)
    home.deliver(file)
    home.read(config)

    assert list(home.publisher.clear_replaced({})) == []
    assert former.is_file()
    assert [left.path for _, left in home.ledger.deliveries.earlier_of(home.row(file).id)] == [former]


@pytest.mark.parametrize(
    ("old", "new"),
    [("[photographers.ida]", "[photographers.pell]"), ("[destinations.portfolio]", "[destinations.own]")],
)
def test_what_the_config_no_longer_names_is_left_alone(home: Household, old: str, new: str) -> None:
    """Neither a photographer's nor a destination's files are cleared for a change of the config."""
    _, former, _ = renamed(home)
    home.read(CONFIG.replace(old, new).replace('["portfolio"]', '["own"]' if "own" in new else '["portfolio"]'))

    assert list(home.publisher.clear_replaced({})) == []
    assert former.is_file()


def test_what_cannot_be_cleared_now_is_cleared_later(home: Household) -> None:
    """The destination is named with what is in the way."""
    _, former, _ = renamed(home)
    folder, away = home.home.root / PORTFOLIO, dict[str, Said]()
    unmount(home, folder)

    assert list(home.publisher.clear_replaced(away)) == []

    assert {name: said.key for name, said in away.items()} == {"portfolio": Passing.DESTINATION_UNMOUNTED}
    mount_again(home, folder)
    assert [found.left.path for found in home.publisher.clear_replaced({})] == [former]


def leave_out(home: Household) -> tuple[int, Path, Path]:
    """Deliver a picture at two densities, and have a smaller export come; return its number and both paths."""
    file = home.drop("seal@journal.jpg")
    one, two = home.deliver(file)
    row = next(row for row in home.ledger.deliveries.of_original(home.row(file).id) if row.density == 2)
    home.ledger.deliveries.leave_out(row.id, "of a smaller export")
    return home.row(file).id, one, two


def test_a_density_that_is_left_out_now_is_cleared(home: Household) -> None:
    """It shows a former export; the other density is the new one's."""
    number, one, two = leave_out(home)

    assert list(home.publisher.clear_left_out(number)) == [str(two)]
    assert (one.is_file(), two.exists()) == (True, False)
    assert list(home.publisher.clear_left_out(number)) == []


def test_a_density_that_is_left_out_and_was_changed_stays(home: Household) -> None:
    """It is somebody's own file now."""
    number, _, two = leave_out(home)
    two.write_bytes(b"retouched by hand")

    assert list(home.publisher.clear_left_out(number)) == []
    assert two.is_file()


def test_a_density_in_a_folder_that_is_away_is_cleared_later(home: Household) -> None:
    """Nothing is told until it is gone."""
    number, _, two = leave_out(home)
    unmount(home, two.parent)
    assert list(home.publisher.clear_left_out(number)) == []

    mount_again(home, two.parent)
    assert list(home.publisher.clear_left_out(number)) == [str(two)]


# After the config was read


@pytest.mark.parametrize(
    ("old", "new", "outdated"),
    [
        ("workers = 2", "workers = 1", False),
        ("long_edge = 1050", "long_edge = 1200", False),
        ("1920, 1080", "1280, 720", False),
        ("densities = [1, 2]", "densities = [1, 2, 3]", False),
        ("long_edge = 1600", "long_edge = 1800", True),
        ("densities = [1, 2]", "densities = [1]", True),
        ("out/{photographer}/journal", "site/{photographer}/journal", True),
        ('drop = "drop/ida"', 'drop = "drop/ida"\ncreator = "Ida Marrow"', True),
        ('drop = "drop/ida"', 'drop = "drop/ida"\ndestinations = ["portfolio"]', True),
    ],
)
def test_what_was_made_otherwise_is_outdated(home: Household, old: str, new: str, *, outdated: bool) -> None:
    """How, at which density, for which folder or for whom; what concerns others counts for nothing."""
    item, rows = begin(home, home.drop("seal@journal.jpg"))
    tasks = [home.publisher.task_for(item, row) for row in rows]
    home.read(CONFIG.replace(old, new))

    assert home.publisher.are_outdated(item, tasks) is outdated


def test_a_delivery_stands_elsewhere_if_its_destination_has_moved(home: Household) -> None:
    """As long as the config names its folder it does not; what stands nowhere, neither."""
    file = home.drop("portfolio/islands/seal.jpg")
    home.deliver(file)
    row = only_row(home, file)
    assert not home.publisher.is_elsewhere("ida", row)

    home.read(MOVED)
    assert home.publisher.is_elsewhere("ida", row)
    assert not home.publisher.is_elsewhere("ida", replace(row, output=None))


def test_a_folder_that_was_moved_by_its_owner_is_found(home: Household) -> None:
    """By the same bytes under the same name, in the folder that the config names now."""
    file = home.drop("portfolio/islands/seal.jpg")
    home.deliver(file)
    original, routing, row = home.row(file), home.item(file).routing, only_row(home, file)
    (home.home.root / "site").mkdir()
    moved = home.home.root / "site" / "ida"
    (home.home.root / PORTFOLIO).rename(moved)
    assert home.publisher.moved_to(original, routing, row) is None, "the config names the former folder still"

    home.read(MOVED)
    assert home.publisher.moved_to(original, routing, row) == moved / "islands" / "seal.jpg"

    with Share.made() as share:
        share.hang(moved)
        reachability = Reachability(home.ledger.folders, Probe(DEADLINE))
        silent = Publisher(home.photographers, home.ledger, reachability)
        assert silent.moved_to(original, routing, row) is None, "nobody can say what stands there"

    home.read(MOVED.replace("[destinations.portfolio]", "[destinations.own]").replace('["portfolio"]', '["own"]'))
    assert home.publisher.moved_to(original, routing, row) is None, "there is no such destination any more"


# Temporary files


def test_what_will_not_be_published_is_deleted(home: Household) -> None:
    """All of a job, or one delivery; also what was never written."""
    item, rows = begin(home, home.drop("seal@journal.jpg"))
    tasks = [home.publisher.task_for(item, row) for row in rows]
    for task in tasks:
        write_delivery(task, "digest")

    home.publisher.discard_one(tasks[0])
    assert [task.temporary.exists() for task in tasks] == [False, True]
    home.publisher.discard(item.job(tasks, ()))
    assert [task.temporary.exists() for task in tasks] == [False, False]


def test_a_temporary_file_never_outlives_a_restart(home: Household) -> None:
    """What this ledger's earlier runs left is swept, in kept folders too; nothing of anybody else's is touched."""
    item, rows = begin(home, home.drop("journal/islands/seal.jpg"))
    task = home.publisher.task_for(item, rows[0])
    write_delivery(task, "digest")
    folder = task.temporary.parent
    (folder / ".lanternslide-another-1.part").touch()
    (folder / "notes.part").touch()
    gone = home.home.root / "out" / "gone"
    home.ledger.folders.use(gone, Path("/"))
    with Share.made() as share:
        share.hang(folder)
        reachability = Reachability(home.ledger.folders, Probe(DEADLINE))
        Publisher(home.photographers, home.ledger, reachability).sweep_temporaries()
    assert task.temporary.is_file(), "a folder that hangs is left alone"

    Publisher(home.photographers, home.ledger, home.reachability).sweep_temporaries()

    assert names(folder) == [".lanternslide-another-1.part", "notes.part"]
    assert not gone.exists()


PAIR = CONFIG.replace("size = { long_edge = 1050 }", "size = { long_edge = 1050 }\ndensities = [1, 2]")


def test_what_is_found_of_a_picture_is_said_of_one_density(home: Household) -> None:
    """Whatever its figures are: of the lowest that stands, also where another one is made alone and later."""
    home.read(PAIR)
    file = home.drop("seal.jpg")
    first = (say(Note.SRGB_ASSUMED), say(Note.PURE_WHITE, share="2 %"))
    more = (say(Note.SRGB_ASSUMED), say(Note.PURE_WHITE, share="3 %"), say(Note.TRANSPARENCY))
    item, rows = begin(home, file)
    assert item.survey is not None
    told = {}
    for row in sorted(rows, key=lambda row: row.density):
        task = home.publisher.task_for(item, row)
        made = write_delivery(task, item.survey.digest)
        found = first if row.density == 1 else more
        told[row.density] = home.publisher.publish(item, task, row, replace(made, findings=found)).notes

    assert told == {1.0: tuple(said.text for said in first), 2.0: (say(Note.TRANSPARENCY).text,)}
