"""Filing finished originals away: a rename, and never onto another file."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from lanternslide.delivery.filing import Filing
from lanternslide.errors import PassingFaultError
from lanternslide.records import DroppedFile
from lanternslide.records.events import FiledAway
from lanternslide.storage.probe import Probe
from lanternslide.words import Passing
from tests.support.hanging import DEADLINE, Share
from tests.support.household import CONFIG, Household, household

FILING = CONFIG.replace('drop = "drop/ida"', 'drop = "drop/ida"\noriginals = "filed/ida"')


@pytest.fixture
def home(tmp_path: Path) -> Iterator[Household]:
    """Return a home where Ida has her finished originals filed away, into a folder that is there."""
    with household(tmp_path, FILING) as home:
        (tmp_path / "filed" / "ida").mkdir(parents=True)
        yield home


@pytest.fixture
def folder(home: Household) -> Path:
    """Return where Ida's originals are filed."""
    return home.home.root / "filed" / "ida"


def filing(home: Household) -> Filing:
    """Return what files originals away."""
    return Filing(home.photographers, home.ledger.originals, Probe(DEADLINE), home.told.append)


def file_away(home: Household, file: DroppedFile) -> None:
    """Have an original that was taken in filed away."""
    filing(home).file_away(file, home.item(file).original)


def lies_in(folder: Path) -> dict[str, bytes]:
    """Return what lies below a folder."""
    files = [path for path in folder.rglob("*") if path.is_file()]
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in files}


def test_only_who_asks_for_it_has_originals_filed(home: Household) -> None:
    """By default they stay."""
    assert filing(home).is_wanted("ida")
    assert not filing(home).is_wanted("juno")


@pytest.mark.parametrize("name", ["seal@portfolio.tif", "islands/deep/seal.tif"])
def test_an_original_keeps_its_path(home: Household, folder: Path, name: str) -> None:
    """Folders and tags too; the ledger knows where it is, and it is told of."""
    file = home.drop(name, b"the original")
    number = home.item(file).original

    filing(home).file_away(file, number)

    assert (file.path.exists(), lies_in(folder)) == (False, {name: b"the original"})
    assert home.ledger.originals.get(number).filed_to == folder / name
    assert home.told == [FiledAway(file=file, to=str(folder / name))]


@pytest.mark.parametrize(
    ("name", "taken", "given"),
    [
        ("seal.tif", ["seal.tif"], "seal-2.tif"),
        ("seal.tif", ["seal.tif", "seal-2.tif"], "seal-3.tif"),
        ("seal@journal@club.tif", ["seal@journal@club.tif"], "seal-2@journal@club.tif"),
        ("islands/seal.tif", ["islands/seal.tif"], "islands/seal-2.tif"),
    ],
)
def test_a_taken_name_gets_a_number(home: Household, folder: Path, name: str, taken: list[str], given: str) -> None:
    """It stands before the tags, which stay tags; what has the name is kept."""
    for other in taken:
        (folder / other).parent.mkdir(exist_ok=True)
        (folder / other).write_bytes(b"earlier")
    file = home.drop(name, b"the original")

    file_away(home, file)

    assert lies_in(folder) == {**dict.fromkeys(taken, b"earlier"), given: b"the original"}
    assert home.row(file).filed_to == folder / given


def test_a_numbered_name_fits_the_file_system(home: Household, folder: Path) -> None:
    """A name may have 255 bytes; the number goes in place of its last letters, and none is cut in two."""
    name = "é" * 122 + "@club.tif"
    assert len(os.fsencode(name)) == 253
    (folder / name).touch()
    file = home.drop(name, b"the original")

    file_away(home, file)

    (numbered,) = lies_in(folder).keys() - {name}
    assert numbered == "é" * 122 + "-2@club.tif"
    (folder / numbered).rename(file.path)
    longer = file.path.rename(file.path.with_name("aé" + "é" * 121 + "@club.tif"))
    (folder / longer.name).touch()
    file_away(home, home.look(longer.name))
    assert (folder / ("aé" + "é" * 120 + "-2@club.tif")).is_file()


def test_the_folder_is_made_where_the_one_above_is_there(home: Household, folder: Path) -> None:
    """As a destination's is."""
    folder.rmdir()

    file_away(home, home.drop("seal.tif", b"the original"))

    assert lies_in(folder) == {"seal.tif": b"the original"}


def test_where_nothing_is_there_the_original_stays(home: Household, folder: Path) -> None:
    """It may be a disk that is not connected, and nothing is made in its place."""
    folder.rmdir()
    folder.parent.rmdir()
    file = home.drop("seal.tif")

    with pytest.raises(PassingFaultError) as fault:
        file_away(home, file)

    assert fault.value.said.key == Passing.FILING_AWAY
    assert (file.path.is_file(), folder.parent.exists()) == (True, False)
    assert home.told == []


def test_where_nothing_answers_the_original_stays(home: Household, folder: Path) -> None:
    """A share that hangs keeps nobody."""
    file = home.drop("seal.tif")
    with Share.made() as share:
        share.hang(folder)

        with pytest.raises(PassingFaultError) as fault:
            file_away(home, file)

    assert fault.value.said.key == Passing.FILING_AWAY
    assert (file.path.is_file(), lies_in(folder)) == (True, {})


def test_a_folder_that_does_not_take_it_is_told(home: Household, folder: Path) -> None:
    """A file in the place of a folder that is kept is in the way."""
    (folder / "islands").touch()
    file = home.drop("islands/seal.tif")

    with pytest.raises(PassingFaultError) as fault:
        file_away(home, file)

    assert fault.value.said.key == Passing.FOLDER_TROUBLE
    assert file.path.is_file()


def test_an_export_of_the_last_moment_is_put_back(home: Household, folder: Path) -> None:
    """It is to be done first, and nobody hears that anything was filed."""
    file = home.drop("seal.tif", b"the original")
    number = home.item(file).original
    home.drop("seal.tif", b"brighter, and just exported")

    filing(home).file_away(file, number)

    assert file.path.read_bytes() == b"brighter, and just exported"
    assert lies_in(folder) == {}
    assert home.told == []
