"""Probes in folders, and originals to compare: what workers are shown before they get work."""

from __future__ import annotations

from pathlib import Path

import pytest

from lanternslide.config import load_settings
from lanternslide.daemon.cluster.ground import Ground
from lanternslide.errors import PassingFaultError


def ground_of(folder: Path) -> Ground:
    """Return the ground for one destination and one drop folder."""
    return Ground(written=((folder / "out", folder),), read=(folder / "drop",), ledger="0123456789ab")


def temporaries(folder: Path) -> list[Path]:
    """Return what is left of probes and answers."""
    return sorted(folder.rglob(".lanternslide-*"))


def test_a_probe_that_has_gone_is_laid_anew(tmp_path: Path) -> None:
    """A share that was connected over it, or a tidy owner: workers are not refused for ever because of that."""
    (tmp_path / "out").mkdir()
    ground = ground_of(tmp_path)
    ground.lay()
    (probe,) = temporaries(tmp_path)
    probe.unlink()
    ground.lay()

    assert temporaries(tmp_path) == [probe]
    ground.clear()
    assert temporaries(tmp_path) == []


def test_no_probe_is_left_where_a_folder_was_to_be_made(tmp_path: Path) -> None:
    """A service that was killed has left it in the folder around; the next one sweeps that too."""
    killed = ground_of(tmp_path)
    killed.lay()
    assert [path.parent for path in temporaries(tmp_path)] == [tmp_path]
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / ".lanternslide-0123456789ab-12345678-87654321-answer.part").touch()
    (tmp_path / "out" / ".lanternslide-0123456789ab-12345678-5.part").touch()
    ground = ground_of(tmp_path)
    ground.lay()
    ground.clear()

    assert [path.name for path in temporaries(tmp_path)] == [".lanternslide-0123456789ab-12345678-5.part"]


def test_a_folder_of_each_photographer_is_tried_where_it_will_be_made(tmp_path: Path) -> None:
    """Before anything is delivered there is only the folder around all of them."""
    config = tmp_path / "lanternslide.toml"
    config.write_text(
        '[photographers.ida]\ndrop = "drop"\n'
        '[destinations.club]\nfolder = "out/{photographer}/club"\nsize = { long_edge = 100 }\n'
    )
    for name in ("drop", "out"):
        (tmp_path / name).mkdir()
    for folder in ("out", "out/ida", "out/ida/club"):
        (tmp_path / folder).mkdir(exist_ok=True)
        ground = Ground.of(load_settings(config), "0123456789ab")
        ground.lay()
        assert [path.parent for path in temporaries(tmp_path)] == [tmp_path / folder]
        ground.clear()
    assert temporaries(tmp_path) == []


def test_nothing_is_laid_once_it_is_over(tmp_path: Path) -> None:
    """A look that hung goes on by itself, after the probes were taken away."""
    (tmp_path / "out").mkdir()
    ground = ground_of(tmp_path)
    ground.clear()
    with pytest.raises(PassingFaultError):
        ground.lay()
    assert temporaries(tmp_path) == []


def test_answers_of_a_worker_that_was_lost_go_in_the_end(tmp_path: Path) -> None:
    """It may write after nobody waits any more."""
    (tmp_path / "out").mkdir()
    ground = ground_of(tmp_path)
    ground.lay()
    trial = ground.trial("a.module", {})
    ground.clear_answers(trial, is_answered=False)
    (tmp_path / "out" / trial.answer).touch()
    ground.clear()

    assert temporaries(tmp_path) == []


def test_originals_in_folders_are_compared_too(tmp_path: Path) -> None:
    """Most drop folders hold only folders; hidden files are nobody's. What was not seen is asked for again."""
    (tmp_path / "out").mkdir()
    for name in (".hidden.jpg", "journal/2026/a.jpg", "journal/2026/b.jpg", "journal/2026/c.jpg"):
        path = tmp_path / "drop" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(name)
    ground = ground_of(tmp_path)
    drop = tmp_path / "drop"
    inside = drop / "journal" / "2026"

    assert [sample.path for sample in ground.trial("m", {}).samples] == [inside / "a.jpg", inside / "b.jpg"]
    doubted = ground.trial("m", {}, (drop, inside / "c.jpg")).samples
    assert [sample.path for sample in doubted] == [inside / "a.jpg", inside / "b.jpg", inside / "c.jpg"]
    assert len(ground.trial("m", {}, (drop, drop / "gone.jpg")).samples) == 2
