"""Probes in folders, and originals to compare: what workers are shown before they get work."""

from __future__ import annotations

import hashlib
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from lanternslide.config import load_settings
from lanternslide.errors import PassingFaultError
from lanternslide.workers.cluster.remote import Sight, Trial, versions
from lanternslide.workers.cluster.shared_folders import SharedFolderProbe


def ground_of(folder: Path) -> SharedFolderProbe:
    """Return the ground for one destination and one drop folder."""
    return SharedFolderProbe(written=((folder / "out", folder),), read=(folder / "drop",), ledger="0123456789ab")


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
        ground = SharedFolderProbe.of(load_settings(config), "0123456789ab")
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


# Whether a worker sees the same

FAT_NS = 2_000_000_000
"""A file system that keeps times to two seconds (FAT: Microsoft, "File Times")."""


def sight_of(trial: Trial) -> Sight:
    """Return what a worker tells that sees all as the service does, and have it leave its answers."""
    probes = []
    for folder in trial.folders:
        content = (folder / trial.probe).read_bytes()
        (folder / trial.answer).write_bytes(hashlib.sha256(content + trial.answer.encode()).digest())
        probes.append((hashlib.sha256(content).hexdigest(), (folder / trial.probe).stat().st_mtime_ns))
    return Sight(
        host="attic", platform=sys.platform, threads=1, has_nanny=True, memory_mib=2048, loaded_mib=100,
        libraries=versions(), probes=tuple(probes), samples=("",) * len(trial.samples), roots=("",) * len(trial.roots),
    )  # fmt: skip


def probe_in(sight: Sight) -> tuple[str, int]:
    """Return what a worker has seen of the one probe: its digest and its time."""
    (probe,) = sight.probes
    assert not isinstance(probe, str)
    return probe


@pytest.fixture
def laid(tmp_path: Path) -> SharedFolderProbe:
    """Return the ground with its probes, and one original."""
    for name in ("out", "drop"):
        (tmp_path / name).mkdir()
    (tmp_path / "drop" / "a.jpg").write_text("a")
    ground = ground_of(tmp_path)
    ground.lay()
    return ground


def test_a_worker_that_sees_the_same_may_work(laid: SharedFolderProbe) -> None:
    """Also where times of files are kept less exactly, which is noted."""
    trial = laid.trial("m", {})
    sight = sight_of(trial)
    laid.check(sight, trial)
    assert not laid.is_coarse(sight, trial)

    digest, mtime_ns = probe_in(sight)
    coarse = replace(sight, probes=((digest, mtime_ns // FAT_NS * FAT_NS),))
    laid.check(coarse, trial)
    assert laid.is_coarse(coarse, trial)


@pytest.mark.parametrize(
    ("otherwise", "key"),
    [
        ({"platform": "win32"}, "worker-other-system"),
        ({"libraries": ("0",) * len(versions())}, "worker-other-version"),
        ({"threads": 2}, "worker-started-otherwise"),
        ({"has_nanny": False}, "worker-started-otherwise"),
        ({"memory_mib": 0}, "worker-started-otherwise"),
        ({"roots": ("drop: No such file or directory",)}, "worker-sees-other"),
        ({"samples": ("drop/a.jpg: other content",)}, "worker-sees-other"),
        ({"probes": ("out: Permission denied",)}, "worker-cannot-write"),
        ({"probes": (("0" * 64, 0),)}, "worker-sees-other"),
    ],
)
def test_a_worker_that_does_not_see_the_same_gets_no_work(
    laid: SharedFolderProbe, otherwise: dict[str, Any], key: str
) -> None:
    """Another system, other versions, a start of another kind, or other folders: it is told which."""
    trial = laid.trial("m", {})

    with pytest.raises(PassingFaultError) as fault:
        laid.check(replace(sight_of(trial), **otherwise), trial)

    assert fault.value.said.key == key
    assert "attic" in fault.value.said.text


def test_times_that_are_far_apart_are_other_files(laid: SharedFolderProbe) -> None:
    """What a worker sees is then not what was laid."""
    trial = laid.trial("m", {})
    sight = sight_of(trial)
    digest, mtime_ns = probe_in(sight)

    with pytest.raises(PassingFaultError, match="other times"):
        laid.check(replace(sight, probes=((digest, mtime_ns + FAT_NS),)), trial)


@pytest.mark.parametrize("answer", [None, b"other bytes"])
def test_a_worker_that_writes_elsewhere_gets_no_work(laid: SharedFolderProbe, answer: bytes | None) -> None:
    """Its answer has to arrive where the service reads."""
    trial = laid.trial("m", {})
    sight = sight_of(trial)
    (folder,) = trial.folders
    if answer is None:
        (folder / trial.answer).unlink()
    else:
        (folder / trial.answer).write_bytes(answer)

    with pytest.raises(PassingFaultError) as fault:
        laid.check(sight, trial)

    assert fault.value.said.key == "worker-writes-elsewhere"


def test_an_original_that_has_changed_meanwhile_is_no_proof(laid: SharedFolderProbe, tmp_path: Path) -> None:
    """Nor is a folder that has gone: the service sees it otherwise itself by now."""
    trial = laid.trial("m", {})
    sight = replace(sight_of(trial), samples=("other content",), roots=("gone",))
    (tmp_path / "drop" / "a.jpg").unlink()
    (tmp_path / "drop").rmdir()

    laid.check(sight, trial)
