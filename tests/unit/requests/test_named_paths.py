"""Which drop folder a path lies in, by whatever way its owner names it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from lanternslide.delivery.reachability import Reachability
from lanternslide.ledger import Ledger
from lanternslide.requests.named_paths import below_drops, ways_to
from lanternslide.storage.probe import Probe
from tests.support.hanging import DEADLINE, Share


@pytest.fixture
def reachability(tmp_path: Path) -> Iterator[Reachability]:
    """Return what can be told of folders."""
    (tmp_path / "state").mkdir()
    with Ledger(tmp_path / "state") as ledger:
        yield Reachability(ledger.folders, Probe(DEADLINE))


@pytest.fixture
def drop(tmp_path: Path) -> Path:
    """Return Ida's drop folder, with a picture in it; links to both lie beside it."""
    drop = tmp_path / "drop" / "ida"
    (drop / "islands").mkdir(parents=True)
    (drop / "islands" / "seal.jpg").touch()
    (tmp_path / "link").symlink_to(drop)
    (tmp_path / "seal.jpg").symlink_to(drop / "islands" / "seal.jpg")
    return drop


def below(named: Path, reachability: Reachability, *drops: Path) -> set[tuple[str, str]]:
    """Return whose a path may be and where it lies below the drop folder; the first of *drops* is Ida's."""
    found = below_drops(named, zip(("ida", "juno"), drops, strict=False), reachability)
    return {(photographer, path.as_posix()) for photographer, path in found}


@pytest.mark.parametrize(
    ("named", "path"),
    [
        ("drop/ida/islands/seal.jpg", "islands/seal.jpg"),
        ("drop/ida/islands/gone.jpg", "islands/gone.jpg"),
        ("drop/ida/gone/gone.jpg", "gone/gone.jpg"),
        ("drop/ida/islands", "islands"),
        ("drop/ida", "."),
        ("link/islands/seal.jpg", "islands/seal.jpg"),
        ("link/islands/gone.jpg", "islands/gone.jpg"),
        ("seal.jpg", "islands/seal.jpg"),
    ],
)
def test_a_path_is_found_by_any_way_to_it(
    reachability: Reachability, tmp_path: Path, drop: Path, named: str, path: str
) -> None:
    """As it is, over links to the folder or to the file; the file itself may be gone."""
    assert below(tmp_path / named, reachability, drop) == {("ida", path)}


@pytest.mark.parametrize("named", ["drop/ida/islands/seal.jpg", "link/islands/seal.jpg", "seal.jpg"])
def test_a_drop_folder_may_be_named_over_a_link_too(
    reachability: Reachability, tmp_path: Path, drop: Path, named: str
) -> None:
    """The config names the link, and the owner the folder, or the other way round."""
    assert drop.is_dir()
    assert below(tmp_path / named, reachability, tmp_path / "link") == {("ida", "islands/seal.jpg")}


@pytest.mark.parametrize("named", ["drop/juno/seal.jpg", "drop/ida2/seal.jpg", "gone/seal.jpg", "drop"])
def test_what_lies_in_no_drop_folder_is_nobodys(
    reachability: Reachability, tmp_path: Path, drop: Path, named: str
) -> None:
    """A name that begins alike is another."""
    (tmp_path / "drop" / "juno").mkdir()

    assert below(tmp_path / named, reachability, drop) == set()


def test_each_path_is_its_own_photographers(reachability: Reachability, tmp_path: Path, drop: Path) -> None:
    """A link from one drop folder into another's may mean either."""
    juno = tmp_path / "drop" / "juno"
    juno.mkdir()
    (juno / "seal.jpg").symlink_to(drop / "islands" / "seal.jpg")

    assert below(juno / "kelp.jpg", reachability, drop, juno) == {("juno", "kelp.jpg")}
    assert below(juno / "seal.jpg", reachability, drop, juno) == {("juno", "seal.jpg"), ("ida", "islands/seal.jpg")}


def test_the_ways_to_a_link(reachability: Reachability, tmp_path: Path, drop: Path) -> None:
    """Itself, itself without links on the way to it, and where it leads; each once, and the plainest first."""
    (drop / "seal.jpg").symlink_to("islands/seal.jpg")
    real = drop.resolve()

    assert ways_to(tmp_path / "link" / "seal.jpg", reachability) == [
        tmp_path / "link" / "seal.jpg", real / "seal.jpg", real / "islands" / "seal.jpg",
    ]  # fmt: skip
    assert ways_to(real / "islands" / "seal.jpg", reachability) == [real / "islands" / "seal.jpg"]


def test_a_folder_that_hangs_is_taken_by_its_name(tmp_path: Path, reachability: Reachability, drop: Path) -> None:
    """No link is followed there, since that would hang as well."""
    with Share.made() as share:
        share.hang(drop)
        share.hang(tmp_path / "link")

        assert below(drop / "seal.jpg", reachability, drop) == {("ida", "seal.jpg")}
        assert below(tmp_path / "link" / "seal.jpg", reachability, drop) == set()
        assert ways_to(tmp_path / "link" / "seal.jpg", reachability) == [tmp_path / "link" / "seal.jpg"]
        assert below(drop / "seal.jpg", reachability, tmp_path / "link") == set()
