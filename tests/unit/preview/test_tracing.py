"""What would be done with an original, from its name, the ledger and its header; nothing is written."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from PIL import Image

from lanternslide.errors import PassingFaultError, UsageError
from lanternslide.ledger import OriginalState
from lanternslide.preview.predictions import Foreseen, Intended, Prediction
from lanternslide.preview.tracing import Tracer
from lanternslide.records import Traced, TracedPlan
from lanternslide.words import Doubt, Held, Passing, say
from tests.support.household import CONFIG, Household, household
from tests.support.pictures import save_jpeg

HOUR = 3600 * 10**9


@pytest.fixture
def home(tmp_path: Path) -> Iterator[Household]:
    """Return a home of Ida and Juno."""
    with household(tmp_path) as home:
        yield home


def tracer(home: Household) -> Tracer:
    """Return a tracer by the config as it was read last."""
    return Tracer(home.settings, home.ledger)


def foreseen(home: Household, name: str, photographer: str = "ida") -> list[Foreseen]:
    """Return what is foreseen of what lies at a path of a drop folder."""
    asking = tracer(home)
    return asking.foresee(asking.look_at(home.home.drop(photographer) / name))


def one(home: Household, name: str, photographer: str = "ida") -> Foreseen:
    """Return what is foreseen of a single file."""
    (found,) = foreseen(home, name, photographer)
    return found


# Which files


def test_a_file_and_a_folder_are_looked_at_as_they_lie(home: Household) -> None:
    """A folder holds all below it; what is no picture is counted."""
    home.drop("islands/seal.jpg")
    home.drop("islands/north/kelp.tif")
    (home.home.drop() / "islands" / "notes.txt").write_text("what was seen", "utf-8")
    asking = tracer(home)

    file = asking.look_at(home.home.drop() / "islands" / "seal.jpg")
    folder = asking.look_at(home.home.drop() / "islands")
    whole = asking.look_at(home.home.drop())

    assert (file.photographer, file.is_folder) == ("ida", False)
    assert [found.relative for found in file.files] == [Path("islands/seal.jpg")]
    assert (folder.is_folder, folder.others) == (True, 1)
    below = {Path("islands/seal.jpg"), Path("islands/north/kelp.tif")}
    assert {found.relative for found in folder.files} == {found.relative for found in whole.files} == below


def test_another_photographers_drop_folder_is_told_apart(home: Household) -> None:
    """Each file is looked at with its own photographer's config."""
    home.drop("seal.jpg", photographer="juno")

    assert tracer(home).look_at(home.home.drop("juno") / "seal.jpg").photographer == "juno"


def test_a_path_over_a_link_is_the_same_file(home: Household) -> None:
    """However its owner names it."""
    home.drop("seal.jpg")
    (home.home.root / "mine").symlink_to(home.home.drop())

    asked = tracer(home).look_at(home.home.root / "mine" / "seal.jpg")

    assert asked.path == home.home.drop() / "seal.jpg"


def test_what_is_in_nobodys_drop_folder_is_wrong_usage(home: Household) -> None:
    """The answer names the folders that there are."""
    with pytest.raises(UsageError, match=r"drop/ida \(ida\).*drop/juno \(juno\)"):
        tracer(home).look_at(home.home.root / "out" / "seal.jpg")


def test_what_is_not_there_is_wrong_usage(home: Household) -> None:
    """Nothing is said of what might have been there."""
    with pytest.raises(UsageError, match=r"seal\.jpg"):
        tracer(home).look_at(home.home.drop() / "seal.jpg")


def test_a_drop_folder_that_is_away_may_come_back(home: Household) -> None:
    """It says nothing of the file."""
    home.home.drop().rmdir()

    with pytest.raises(PassingFaultError) as fault:
        tracer(home).look_at(home.home.drop() / "seal.jpg")

    assert fault.value.said.key == Passing.DROP_FOLDER_AWAY.value


# What the name and the ledger say


def test_what_nobody_knows_is_new(home: Household) -> None:
    """With where it goes, and why."""
    home.drop("seal@journal@club.jpg")

    found = one(home, "seal@journal@club.jpg")

    assert (found.prediction, found.said, found.row) == (Prediction.NEW, None, None)
    assert found.routing is not None
    assert (found.routing.destinations, found.routing.why) == (("journal", "club"), "tag")


@pytest.mark.parametrize(
    ("name", "photographer", "word"),
    [
        ("seal@jornal.jpg", "ida", Held.UNKNOWN_TAG),
        ("@journal.jpg", "ida", Held.TAG_WITHOUT_NAME),
        ("seal.jpg", "juno", Held.NO_DESTINATION),
    ],
)
def test_what_is_not_clearly_said_would_be_held(home: Household, name: str, photographer: str, word: Held) -> None:
    """The reason is the one that it would be held with."""
    home.drop(name, photographer=photographer)

    found = one(home, name, photographer)

    assert (found.prediction, found.routing) == (Prediction.HELD, None)
    assert found.said is not None
    assert found.said.key == word.value


def test_the_ledger_knows_what_is_done(home: Household) -> None:
    """The same bytes are not made again; another file under the name is; what was taken back stays so."""
    file = home.drop("seal.jpg")
    home.deliver(file)
    assert one(home, "seal.jpg").prediction is Prediction.DONE

    home.ledger.originals.set_state(home.row(file).id, OriginalState.WITHDRAWN)
    assert one(home, "seal.jpg").prediction is Prediction.WITHDRAWN

    home.drop("seal.jpg", b"a newer export")
    assert one(home, "seal.jpg").prediction is Prediction.CHANGED


def test_what_is_held_for_its_pixels_stays_held(home: Household) -> None:
    """Only decoding shows that, and nothing is decoded here."""
    file = home.drop("seal.jpg")
    item = home.item(file)
    home.ledger.originals.hold(item.original, say(Held.DAMAGED, detail="x"), "2026-11-25T12:00:00+00:00")

    found = one(home, "seal.jpg")

    assert found.prediction is Prediction.HELD
    assert found.said == say(Held.DAMAGED, detail="x")


@pytest.mark.parametrize("ask", ["seal@club.jpg", "seal@journal.jpg", "."])
def test_of_two_that_are_one_picture_the_newer_counts(home: Household, ask: str) -> None:
    """They differ in tags alone; whichever is asked about, the other is looked for beside it."""
    home.drop("seal@club.jpg", day=10)
    home.drop("seal@journal.jpg", day=11)
    home.drop("kelp@journal.jpg", day=9)

    found = {item.file.relative.name: item for item in foreseen(home, ask)}

    for name, item in found.items():
        assert item.prediction is (Prediction.OUTDATED if name == "seal@club.jpg" else Prediction.NEW)
        assert item.newer == (Path("seal@journal.jpg") if name == "seal@club.jpg" else None)
    assert set(found) == ({"seal@club.jpg", "seal@journal.jpg", "kelp@journal.jpg"} if ask == "." else {ask})


@pytest.mark.parametrize(
    ("known", "outdated"), [("seal@club.jpg", "seal@journal.jpg"), ("seal@journal.jpg", "seal@club.jpg")]
)
def test_of_two_of_one_age_the_one_that_is_known_counts(home: Household, known: str, outdated: str) -> None:
    """What stands is not replaced by a copy of itself."""
    home.deliver(home.drop(known, day=10))
    home.drop(outdated, day=10)

    found = {item.file.relative.name: item.prediction for item in foreseen(home, ".")}

    assert found == {known: Prediction.DONE, outdated: Prediction.OUTDATED}


# Deliveries


def plan(destination: str, density: float = 1.0, *, edge: int = 60) -> TracedPlan:
    """Return what a worker would say of one delivery."""
    return TracedPlan(
        destination=destination, density=density, rungs=((edge, edge * 2 // 3),), enlarged=False, strength=1.0,
        acutance=1.35, chroma="4:4:4", progressive=True, findings=(),
    )  # fmt: skip


def traced(item: Foreseen, *plans: TracedPlan) -> Foreseen:
    """Return what is foreseen once a worker has read the header."""
    answer = Traced(
        width=120, height=80, bits=8, kind="JPEG", profile="sRGB", need_mib=100.0, plans=plans, left_out=(),
        findings=(say(Doubt.NO_INK_PROFILE),),
    )  # fmt: skip
    return replace(item, traced=answer)


BOTH = plan("journal"), plan("journal", 2.0, edge=120)


def test_before_its_header_is_read_nothing_is_planned(home: Household) -> None:
    """What is unknown is not made up."""
    home.drop("seal@journal.jpg")
    found = one(home, "seal@journal.jpg")

    assert tracer(home).still_to_make(found) == []
    assert tracer(home).intended(found) == []


def test_a_new_original_is_to_be_made_everywhere(home: Household) -> None:
    """Each delivery with the path that it would get, by its own recipe."""
    home.drop("islands/seal@journal.jpg")
    found = traced(one(home, "islands/seal@journal.jpg"), *BOTH)

    assert tracer(home).still_to_make(found) == list(BOTH)
    first, second = tracer(home).intended(found)
    folder = home.home.out("ida", "journal", "islands")
    assert (first.path, second.path) == (folder / "seal.jpg", folder / "seal-2x.jpg")
    for made in (first, second):
        assert (made.state, made.taken, made.stalled, made.day_of_file) == (None, None, None, None)
        assert not made.is_other_recipe
        assert made.recipe.size.values == (1600,)


def test_what_stands_is_told_where_it_stands(home: Household) -> None:
    """Nothing of it would be made; a config that has changed since is told."""
    home.deliver(home.drop("seal@journal.jpg"))
    found = traced(one(home, "seal@journal.jpg"), *BOTH)

    assert tracer(home).still_to_make(found) == []
    assert [made.state for made in tracer(home).intended(found)] == ["delivered", "delivered"]
    assert {made.path for made in tracer(home).intended(found)} == set(home.standing(found.file))
    assert not any(made.is_other_recipe for made in tracer(home).intended(found))

    home.read(CONFIG.replace("long_edge = 1600", "long_edge = 1800"))
    assert all(made.is_other_recipe for made in tracer(home).intended(found))


def test_what_was_begun_is_only_made_where_it_is_missing(home: Household) -> None:
    """A service that was stopped in the middle goes on with the rest."""
    file = home.drop("seal@journal.jpg")
    item = home.item(file)
    rows, _ = home.planner.still_to_make(item)
    home.publish(item, rows[0])
    found = traced(one(home, "seal@journal.jpg"), *BOTH)

    assert found.prediction is Prediction.WAITS
    assert [made.density for made in tracer(home).still_to_make(found)] == [2.0]


def test_what_has_changed_is_made_everywhere_again(home: Household) -> None:
    """What stands was made from other bytes."""
    home.deliver(home.drop("seal@journal.jpg"))
    home.drop("seal@journal.jpg", b"a newer export")
    found = traced(one(home, "seal@journal.jpg"), *BOTH)

    assert tracer(home).still_to_make(found) == list(BOTH)


def test_a_name_that_is_taken_is_told(home: Household) -> None:
    """Somebody else's file is kept: the delivery gets a number."""
    home.drop("seal@journal.jpg")
    taken = home.home.out("ida", "journal", "seal.jpg")
    taken.parent.mkdir(parents=True)
    taken.write_bytes(b"somebody else's")

    (made,) = tracer(home).intended(traced(one(home, "seal@journal.jpg"), plan("journal")))

    assert made.path == taken.with_name("seal-2.jpg")
    assert made.taken == "seal.jpg"


def test_a_destination_that_is_away_is_told(home: Household) -> None:
    """Where it would be put cannot be said then, and nothing is made there."""
    home.deliver(home.drop("kelp@club.jpg"))
    for path in home.home.out("club").iterdir():
        path.unlink()
    home.home.out("club").rmdir()
    home.drop("seal@club.jpg")

    (made,) = tracer(home).intended(traced(one(home, "seal@club.jpg"), plan("club")))

    assert made.path is None
    assert made.stalled is not None
    assert made.stalled.key == Passing.DESTINATION_AWAY.value
    assert not home.home.out("club").exists()


def test_a_date_in_a_name_is_that_of_the_file_as_long_as_nothing_better_is_known(home: Household) -> None:
    """When it was taken stands in its metadata, which are not read here."""
    home.read(CONFIG.replace('folder = "out/club"', 'folder = "out/club"\nname = "{date}-{stem}.jpg"'))
    home.drop("seal@club.jpg", day=20_000)  # 2024-10-04

    (made,) = tracer(home).intended(traced(one(home, "seal@club.jpg"), plan("club")))

    assert isinstance(made, Intended)
    assert made.day_of_file == "2024-10-04"
    assert made.path is not None
    assert made.path.name == "2024-10-04-seal.jpg"


def test_doubts_of_the_name_come_before_those_of_the_file(home: Household) -> None:
    """Both are about every delivery."""
    home.read(CONFIG.replace("[service]", '[service]\nunknown_names = "keep"'))
    home.drop("seal@home@journal.jpg")
    found = one(home, "seal@home@journal.jpg")

    assert [doubt.key for doubt in tracer(home).findings_of(found)] == [Doubt.TAG_KEPT.value]
    assert [doubt.key for doubt in tracer(home).findings_of(traced(found, plan("journal")))] == [
        Doubt.TAG_KEPT.value, Doubt.NO_INK_PROFILE.value,
    ]  # fmt: skip


# What headers say, in a worker


def test_a_worker_says_what_only_the_header_shows(home: Household) -> None:
    """Fine, no picture, too large for the limits or the memory, changed meanwhile; what is done stays done."""
    home.read(CONFIG.replace("[service]", '[service]\nmax_megapixels = 5\nmemory = "110 MiB"'))
    drop = home.home.drop()
    save_jpeg(drop / "fine.jpg", 60, 40)
    home.drop("text.jpg", b"a shopping list, and no picture at all")
    Image.new("RGB", (2600, 2000)).save(drop / "wide.jpg")
    Image.new("RGB", (2400, 2000)).save(drop / "large.jpg")
    save_jpeg(drop / "moving.jpg", 60, 40)
    home.deliver(home.drop("done.jpg", b"no picture any more"))
    asking = tracer(home)
    items = asking.foresee(asking.look_at(drop))
    os.utime(drop / "moving.jpg", ns=(HOUR, HOUR))

    found = {item.file.relative.stem: item for item in asking.read(items, 1)}

    assert {name: item.prediction for name, item in found.items()} == {
        "fine": Prediction.NEW, "text": Prediction.HELD, "wide": Prediction.HELD, "large": Prediction.HELD,
        "moving": Prediction.MOVING, "done": Prediction.DONE,
    }  # fmt: skip
    reasons = {name: item.said.key for name, item in found.items() if item.said is not None}
    assert reasons == {
        "text": Held.NOT_A_PICTURE.value, "wide": Held.TOO_MANY_PIXELS.value, "large": Held.NEEDS_MORE_MEMORY.value,
    }  # fmt: skip
    assert found["fine"].traced is not None
    assert (found["fine"].traced.width, found["fine"].traced.kind) == (60, "JPEG")
    assert found["done"].traced is None
