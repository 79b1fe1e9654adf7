"""Where a delivery may be put: its own name, a free one, or one that its former owner has left."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import islice
from pathlib import Path

import pytest

from lanternslide.delivery.target_names import Call, Target, TargetNames, day_of_file, name_of
from lanternslide.errors import PassingFaultError
from lanternslide.ledger import DeliveryRow, Published
from lanternslide.records import DroppedFile, Fingerprint, Recipe, Routing, Sharpening, SizeRule
from lanternslide.words import Passing
from tests.support.household import CONFIG, Household, digest_of, household

MOVED = CONFIG.replace('folder = "out/{photographer}/portfolio"', 'folder = "site/{photographer}"')
CALL: Call = ("seal", 1, ".jpg")
DAY_NS = 86_400 * 10**9


@pytest.fixture
def home(tmp_path: Path) -> Iterator[Household]:
    """Return a home of Ida and Juno."""
    with household(tmp_path) as home:
        yield home


@pytest.fixture
def folder(home: Household) -> Path:
    """Return Ida's portfolio."""
    path = home.home.out("ida", "portfolio")
    path.mkdir(parents=True)
    return path


def spots_of(home: Household) -> TargetNames:
    """Return what knows where deliveries may be put, by the config as it was read last."""
    return TargetNames(home.ledger.originals, home.ledger.deliveries, home.reachability)


def targets(home: Household, file: DroppedFile, folder: Path, number: int = 2, call: Call = CALL) -> list[Target]:
    """Return the first places where the only delivery of *file* may be put."""
    rows = home.ledger.originals.at(file.photographer, file.relative)
    row = home.ledger.deliveries.of_original(rows[0].id)[0] if rows else None
    return list(islice(spots_of(home).of(file, file.relative, row, folder, call), number))


def delivered(home: Household, name: str = "seal.jpg", content: bytes = b"original") -> tuple[DroppedFile, Path]:
    """Deliver an original, and return where that stands."""
    file = home.drop(name, content)
    (path,) = home.deliver(file)
    return file, path


def dropped(mtime_ns: int) -> DroppedFile:
    """Return a file of Ida's that was last changed then."""
    fingerprint = Fingerprint(size=1, mtime_ns=mtime_ns, inode=0)
    return DroppedFile(photographer="ida", drop=Path(), relative=Path("grey-seal.jpg"), fingerprint=fingerprint)


# The order of places


def test_names_that_are_free_or_taken(home: Household, folder: Path) -> None:
    """One that is not taken is the first; a file of somebody else's, a folder and a link to nowhere take a name."""
    file = home.drop("seal.jpg")
    assert targets(home, file, folder) == [
        Target(path=folder / "seal.jpg", is_first=True),
        Target(path=folder / "seal-2.jpg", is_first=True),
    ]

    (folder / "seal.jpg").write_bytes(b"theirs")
    (folder / "seal-2.jpg").mkdir()
    (folder / "seal-3.jpg").symlink_to(folder / "nowhere")
    assert targets(home, file, folder, 1) == [Target(path=folder / "seal-4.jpg", is_first=True)]


def test_the_density_is_part_of_the_name(home: Household, folder: Path) -> None:
    """One density is not in another's way."""
    (folder / "seal.jpg").write_bytes(b"theirs")

    assert targets(home, home.drop("seal.jpg"), folder, 1, ("seal", 2, ".jpg")) == [
        Target(path=folder / "seal-2x.jpg", is_first=True)
    ]


def test_its_own_delivery_is_replaced(home: Household, folder: Path) -> None:
    """As long as the bytes are those that were delivered."""
    file, path = delivered(home)
    assert targets(home, file, folder, 1) == [Target(path=path, over=True)]

    path.write_bytes(b"retouched by hand")
    assert targets(home, file, folder, 1) == [Target(path=folder / "seal-2.jpg")]


def test_a_number_stays_while_its_own_delivery_has_it(home: Household, folder: Path) -> None:
    """It does not change its name each time, though the plain one may be free now; not even if it was deleted."""
    (folder / "seal.jpg").write_bytes(b"theirs")
    file, path = delivered(home)
    assert path.name == "seal-2.jpg"
    (folder / "seal.jpg").unlink()
    assert targets(home, file, folder, 1) == [Target(path=path, over=True)]

    path.unlink()
    assert targets(home, file, folder, 1) == [Target(path=path)]


def test_under_another_pattern_it_gets_another_name(home: Household, folder: Path) -> None:
    """What stands under the former one is left where it is."""
    file, path = delivered(home)

    assert targets(home, file, folder, 1, ("seal-1050", 1, ".jpg")) == [Target(path=folder / "seal-1050.jpg")]
    assert path.is_file()


def test_a_name_of_another_picture_is_kept_for_it(home: Household, folder: Path) -> None:
    """Also where its file was deleted, and where the names differ in case or Unicode form alone."""
    _, path = delivered(home, "portfolio/Séal.jpg")
    path.unlink()
    file = home.drop("se\u0301al.jpg", b"another")

    assert targets(home, file, folder, 1, ("se\u0301al", 1, ".jpg")) == [
        Target(path=folder / "se\u0301al-2.jpg", is_first=True)
    ]


@pytest.mark.parametrize(
    ("found", "target"),
    [
        ("as it was", Target(path=Path("seal.jpg"), over=True, inherits=True)),
        ("deleted", Target(path=Path("seal.jpg"), inherits=True)),
        ("changed", Target(path=Path("seal-2.jpg"), is_first=True)),
    ],
)
def test_another_kind_of_file_of_the_same_picture_inherits(
    home: Household, folder: Path, found: str, target: Target
) -> None:
    """Once the former original is gone; a file that somebody has changed is nobody's to inherit."""
    former, path = delivered(home, "seal.tif")
    file = home.drop("seal.jpg", b"as a JPEG")
    assert targets(home, file, folder, 1) == [Target(path=folder / "seal-2.jpg", is_first=True)]

    former.path.unlink()
    if found == "deleted":
        path.unlink()
    elif found == "changed":
        path.write_bytes(b"retouched by hand")
    assert targets(home, file, folder, 1) == [replace(target, path=folder / target.path)]


def test_what_it_left_in_a_folder_that_is_its_again_is_replaced(home: Household, folder: Path) -> None:
    """It stood here before its destination had another folder, and does so still."""
    file, former = delivered(home)
    (home.home.root / "site").mkdir()
    home.read(MOVED)
    home.ask_again(file)
    (present,) = home.deliver(file)
    home.read(CONFIG)
    assert present.parent == home.home.root / "site" / "ida"

    assert targets(home, file, folder, 1) == [Target(path=former, over=True)]
    former.write_bytes(b"retouched by hand")
    assert targets(home, file, folder, 1) == [Target(path=folder / "seal-2.jpg")]


# A folder that its owner has moved


def moved(home: Household) -> tuple[DroppedFile, DeliveryRow, Path, Path]:
    """Deliver, and move the folder with all in it; return the original, its delivery, the former and the new folder."""
    file, path = delivered(home)
    (home.home.root / "site").mkdir()
    new = path.parent.rename(home.home.root / "site" / "ida")
    home.read(MOVED)
    return file, home.ledger.deliveries.of_original(home.row(file).id)[0], path.parent, new


def test_a_delivery_that_was_moved_with_its_folder_is_replaced_there(home: Household) -> None:
    """It is known by its name and its bytes."""
    file, row, former, new = moved(home)

    assert spots_of(home).moved(row, new) == new / "seal.jpg"
    assert targets(home, file, new, 1) == [
        Target(path=new / "seal.jpg", over=True, moved_from=former / "seal.jpg"),
    ]  # fmt: skip


def test_under_another_pattern_what_was_moved_is_left(home: Household) -> None:
    """The config has changed the name as well: it is not published under the former one."""
    file, _, _, new = moved(home)

    assert targets(home, file, new, 1, ("seal-1050", 1, ".jpg")) == [Target(path=new / "seal-1050.jpg")]


@pytest.mark.parametrize("what", ["changed", "copied", "unmounted", "same folder", "another's", "nothing"])
def test_what_was_not_moved_is_not_found(home: Household, what: str) -> None:
    """Other bytes; a copy, while the former one stands or cannot be asked about; another delivery's file."""
    _, row, former, new = moved(home)
    match what:
        case "changed":
            (new / "seal.jpg").write_bytes(b"retouched by hand")
        case "copied":
            former.mkdir()
            (former / "seal.jpg").write_bytes((new / "seal.jpg").read_bytes())
        case "unmounted":
            former.mkdir()
            home.ledger.folders.use(former, home.home.root / "mnt")
        case "same folder":
            former.mkdir()
            new = former
        case "another's":
            other = home.drop("portfolio/seal.jpg", b"another")
            (new / "seal.jpg").rename(new / "aside.jpg")
            home.deliver(other)
            (new / "aside.jpg").rename(new / "seal.jpg")
        case _:
            row = replace(row, output=None)

    assert spots_of(home).moved(row, new) is None


# Folders, and what stands in them


def test_the_folder_keeps_what_the_path_says(home: Household) -> None:
    """Nothing is made; a destination with slugs has them in folders too."""
    below = Path("Höhle & Bucht")
    (home.home.root / "out" / "ida").mkdir(parents=True)
    portfolio = home.home.out("ida", "portfolio")

    def folder_for(below: Path) -> Path:
        return spots_of(home).folder_for(home.photographers["ida"].destinations["portfolio"], below)

    assert folder_for(Path()) == portfolio
    assert folder_for(below) == portfolio / below
    home.read(CONFIG.replace("long_edge = 1050 }", "long_edge = 1050 }\nslug = true"))
    assert folder_for(below) == portfolio / "hohle-bucht"
    assert not portfolio.exists()


@pytest.mark.parametrize(
    ("what", "key"),
    [("used and gone", Passing.DESTINATION_AWAY), ("unmounted", Passing.DESTINATION_UNMOUNTED)],
)
def test_a_destination_that_is_away_has_no_folder(home: Household, folder: Path, what: str, key: Passing) -> None:
    """Where it would be put cannot be said."""
    home.ledger.folders.use(folder, Path("/") if what == "used and gone" else home.home.root / "mnt")
    if what == "used and gone":
        folder.rmdir()
        (folder.parent / "something").touch()

    with pytest.raises(PassingFaultError) as fault:
        spots_of(home).folder_for(home.photographers["ida"].destinations["portfolio"], Path())

    assert fault.value.said.key == key


@pytest.mark.parametrize(
    ("data", "stands"), [(b"published", True), (b"publishes", False), (b"published.", False), (None, False)]
)
def test_what_was_published_stands_by_its_bytes(
    home: Household, folder: Path, data: bytes | None, *, stands: bool
) -> None:
    """Otherwise its owner has changed or deleted it."""
    path = folder / "seal.jpg"
    if data is not None:
        path.write_bytes(data)

    assert spots_of(home).stands(Published(path=path, size=9, digest=digest_of(b"published"))) is stands


def test_where_the_system_does_not_say_nothing_is_taken_for_granted(home: Household, folder: Path) -> None:
    """A name that the system refuses to look up is a fault, not a file that is gone."""
    path = folder / ("x" * 300)

    with pytest.raises(PassingFaultError) as fault:
        spots_of(home).stands(Published(path=path, size=1, digest=""))

    assert fault.value.said.key == Passing.FOLDER_TROUBLE


# Names


@pytest.mark.parametrize(
    ("pattern", "captured", "name"),
    [
        ("{stem}.jpg", None, ("grey-seal", ".jpg")),
        ("{photographer}-{destination}-{stem}.jpg", None, ("ida-journal-grey-seal", ".jpg")),
        ("{stem}-{width}x{height}.jpeg", None, ("grey-seal-1600x1067", ".jpeg")),
        ("{date} {year} {stem}.jpg", "2019-06-01", ("2019-06-01 2019 grey-seal", ".jpg")),
        ("{date} {year} {stem}.jpg", None, ("1971-01-01 1971 grey-seal", ".jpg")),
    ],
)
def test_a_name_is_filled_from_what_is_known(pattern: str, captured: str | None, name: tuple[str, str]) -> None:
    """The size is that of the delivery, and the day that of the picture or else of the file."""
    recipe = Recipe(
        size=SizeRule(rule="long_edge", values=(1600,)), sharpening=Sharpening(), quality=90, chroma="4:4:4",
        progressive=True, name=pattern,
    )  # fmt: skip
    routing = Routing(
        picture=Path("grey-seal.jpg"), stem="grey-seal", folder=Path(), destinations=("journal",), why="tag"
    )

    assert name_of(dropped(365 * DAY_NS), routing, "journal", recipe, (1600, 1067), captured) == name


@pytest.mark.parametrize(("nanoseconds", "day"), [(-1, "2019-12-31"), (0, "2020-01-01")])
def test_a_day_begins_at_midnight(nanoseconds: int, day: str) -> None:
    """That of UTC, to the last part of a second."""
    new_year = 1_577_836_800 * 10**9  # POSIX time

    assert day_of_file(dropped(new_year + nanoseconds)) == day
