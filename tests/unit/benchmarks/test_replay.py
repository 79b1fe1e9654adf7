"""The benchmark's ledger calls are those of the service."""

from __future__ import annotations

from pathlib import Path

from lanternslide.ledger import OriginalState
from tests.benchmarks.simulated.example import CONFIG, example_in
from tests.benchmarks.simulated.replay import PHASES, Walk, replay, sampled, whole
from tests.benchmarks.simulated.service import Watch, WatchedLedger, drop_small, run_service
from tests.support.catalogue import numbered
from tests.support.pictures import save_jpeg
from tests.support.service import make_home


def last_of(watch: Watch) -> dict[str, list[str]]:
    """Return what the ledger was asked for the last picture, by phase."""
    calls = {phase: [name for found, name in watch.calls if found in (phase, *also)] for phase, also in ALSO.items()}
    first = {"taken in": "of_size", "surveyed": "of_original", "made": "of_original"}
    return {phase: names[len(names) - names[::-1].index(first[phase]) - 1 :] for phase, names in calls.items()}


ALSO: dict[str, tuple[str, ...]] = {"taken in": (), "surveyed": (), "made": ("published",)}


def test_the_ledger_is_written_as_the_service_writes_it(tmp_path: Path) -> None:
    """For one picture among others the calls are the same, in the same order."""
    (tmp_path / "service").mkdir()
    (tmp_path / "replay").mkdir()
    home = make_home(tmp_path / "service", CONFIG.replace("workers = 2", "workers = 1"))
    drop_small(home, save_jpeg(tmp_path / "small.jpg", 90, 60).read_bytes(), 4, numbered)
    example = example_in(tmp_path / "replay")
    replayed = Watch()

    real = run_service(home)
    with WatchedLedger(tmp_path / "replay") as ledger:
        ledger.watch = replayed
        walk = Walk(ledger, example.settings)
        item, made, output = example.picture(0)
        item = replayed.within("taken in", walk.take_in, item)
        row = replayed.within("surveyed", walk.survey, item, output)
        replayed.within("made", walk.make, item, row, made, output, "2026-11-25T12:00:00+00:00")

    assert len(real.delivered) == 4
    assert last_of(replayed) == last_of(real)
    assert set(last_of(real)) == set(PHASES)


def test_blocks_are_measured(tmp_path: Path) -> None:
    """Each block says what its pictures have cost; the ledger knows them all as delivered."""
    example = example_in(tmp_path)
    (tmp_path / "state").mkdir()

    blocks = list(replay(tmp_path / "state", example, whole(25, 3)))

    assert [block.pictures for block in blocks] == [9, 18, 25]
    assert all(min(block.seconds) > 0 and block.processor > 0 for block in blocks)
    with WatchedLedger(tmp_path / "state") as ledger:
        assert ledger.reading.counts() == {("ida", OriginalState.DELIVERED): 25}


def test_between_samples_are_copies(tmp_path: Path) -> None:
    """The ledger knows as many pictures as if all had been written, each with a delivery, and finds nothing wrong."""
    example = example_in(tmp_path)
    (tmp_path / "state").mkdir()

    blocks = list(replay(tmp_path / "state", example, [(0, 4), (15, 5)]))

    assert [block.pictures for block in blocks] == [4, 20]
    with WatchedLedger(tmp_path / "state") as ledger:
        assert ledger.faults() == []
        assert ledger.reading.counts() == {("ida", OriginalState.DELIVERED): 20}
        standing = ledger.deliveries.standing("club")
        assert len({found.output.path for found in standing}) == 20
        assert all(ledger.deliveries.owner_of(found.output.path) for found in standing)
        assert len(list(ledger.reading.record_lines())) == 20


def test_samples_end_at_the_marks() -> None:
    """Two blocks before each level, none before the beginning."""
    assert sampled(100_000, 5_000)[:2] == [(0, 5_000), (5_000, 5_000)]
    assert [start + number for start, number in sampled(1_000_000, 5_000)][1::2] == [
        10_000, 100_000, 250_000, 500_000, 750_000, 1_000_000,
    ]  # fmt: skip
