"""The service killed at every named step of publishing, filing, withdrawing and writing the ledger."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from tests.support.kills import Step, can_trace, ledger_of, leftovers, sweep_killed_at
from tests.support.pictures import save_jpeg
from tests.support.service import PLAIN, Home, make_home, run, sweep

pytestmark = [
    pytest.mark.skipif(not can_trace(), reason="strace is not there, or may not trace here"),
    pytest.mark.timeout(900),
]

CONFIG = PLAIN.replace('drop = "drop/ida"', 'drop = "drop/ida"\noriginals = "filed/ida"\nproofs = "proofs/ida"')

STEPS = [
    *(Step("linkat", nth) for nth in (1, 2)),  # a delivery gets its name
    *(Step("unlink", nth) for nth in (1, 2, 3, 5)),  # its temporary name goes; in a worker, an older one
    *(Step("renameat2", nth) for nth in (1,)),  # an original is filed away
    *(Step("rename", nth) for nth in (1, 2)),  # the ledger is made; a delivery is replaced; HELD.txt
    *(Step("fsync", nth) for nth in (1, 2, 3, 4)),  # a temporary file, a folder
    *(Step("fdatasync", nth) for nth in (1, 3, 5, 6, 8, 10, 12, 15)),  # a commit of the ledger
    *(Step("pwrite64", nth) for nth in (5, 30, 60, 90)),  # half a commit
]
"""Each of these is the moment before the call takes effect."""


def prepare(root: Path) -> Home:
    """Make a home that delivers to two destinations, files originals away and says what is held."""
    home = make_home(root, CONFIG)
    (root / "filed").mkdir()
    (root / "proofs").mkdir()
    return home


def drop(home: Home, number: int) -> None:
    """Drop what a photographer drops in one go: a picture, a new export of an earlier one, one that is held."""
    save_jpeg(home.drop() / f"{number}.jpg", 320, 200, seed=number)
    save_jpeg(home.drop() / "again.jpg", 320, 200, seed=number)
    save_jpeg(home.drop() / "held@jornal.jpg", 320, 200, seed=number)


def undisturbed(root: Path, rounds: int) -> Home:
    """Return a home where the same was done and nothing was killed."""
    home = prepare(root)
    for number in range(rounds):
        drop(home, number)
        assert sweep(home).status == 1
    return home


def filed(home: Home) -> dict[str, bytes]:
    """Return the originals that were filed away."""
    folder = home.root / "filed"
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def compare(home: Home, other: Home) -> None:
    """Check that two homes hold the same: deliveries, ledger, held note, and every original's bytes."""
    assert leftovers(home) == []
    assert home.delivered() == other.delivered()
    assert ledger_of(home) == ledger_of(other)
    assert sorted(filed(home).values()) == sorted(filed(other).values())
    assert [path.name for path in home.drop().iterdir()] == ["held@jornal.jpg"]
    note = Path("proofs", "ida", "HELD.txt")
    assert (home.root / note).read_text() == (other.root / note).read_text()


def test_killed_at_every_named_step(tmp_path: Path) -> None:
    """One kill after the other without a clean run in between; in the end it is as if nothing had happened."""
    (tmp_path / "killed").mkdir()
    home = prepare(tmp_path / "killed")
    struck = []
    for number, step in enumerate(STEPS):
        drop(home, number)
        struck.append(sweep_killed_at(home, step))
        # What was left is finished before the next export of the same picture comes.
        assert sweep(home).status == 1, step

    (tmp_path / "undisturbed").mkdir()
    compare(home, undisturbed(tmp_path / "undisturbed", len(STEPS)))
    assert sum(struck) >= 20, [str(step) for step, hit in zip(STEPS, struck, strict=True) if not hit]


@pytest.mark.long
@pytest.mark.timeout(1200)
@pytest.mark.parametrize("seed", range(10))
def test_killed_again_and_again_before_it_can_recover(tmp_path: Path, seed: int) -> None:
    """Twenty kills in a row at steps by chance, also during recovery: two hundred in all."""
    chance = random.Random(seed)
    (tmp_path / "killed").mkdir()
    home = prepare(tmp_path / "killed")
    for number in range(5):
        drop(home, number)
        for _ in range(4):
            most = {
                "linkat": 4,
                "unlink": 10,
                "fsync": 6,
                "fdatasync": 40,
                "pwrite64": 180,
                "rename": 2,
                "renameat2": 2,
            }
            call = chance.choice(sorted(most))
            sweep_killed_at(home, Step(call, chance.randint(1, most[call])))
        assert sweep(home).status == 1

    (tmp_path / "undisturbed").mkdir()
    compare(home, undisturbed(tmp_path / "undisturbed", 5))


@pytest.mark.parametrize(
    "step", [Step("unlink", 1), Step("unlink", 2), Step("fsync", 1), Step("fdatasync", 1)], ids=str
)
def test_a_withdrawal_that_is_killed_is_finished(tmp_path: Path, step: Step) -> None:
    """Whatever it had come to, everything is taken back in the end, and nothing comes back."""
    home = make_home(tmp_path)
    original = save_jpeg(home.drop() / "x.jpg", 320, 200)
    assert sweep(home).status == 0
    before = (
        "strace", "-f", "-qq", "-o", "/dev/null", "-e", f"trace={step.call}",
        "-e", f"inject={step.call}:signal=KILL:when={step.nth}",
    )  # fmt: skip
    run(home, "withdraw", original, before=before)
    if run(home, "status").output.count("1 delivered"):
        # It had not even begun: nothing was taken back, and it can be asked for again.
        assert len(home.delivered()) == 2
        assert run(home, "withdraw", original).status == 0
    assert sweep(home).status == 0
    assert home.delivered() == {}
    assert sweep(home).status == 0
    assert home.delivered() == {}
