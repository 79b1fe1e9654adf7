"""The folders that service and workers share: whether a worker sees in them what the service sees."""

from __future__ import annotations

import hashlib
import os
import secrets
import sys
import threading
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from itertools import islice
from pathlib import Path

from lanternslide.config import Settings
from lanternslide.errors import PassingFaultError
from lanternslide.storage import is_temporary_of, temporary_name
from lanternslide.words import Passing, told
from lanternslide.workers.cluster.remote import COARSE_NS, LIBRARIES, Sample, Sight, Trial, sample_of, versions

__all__ = ["SharedFolderProbe"]

SAMPLES = 2
"""So many originals of each drop folder are compared."""

ENTRIES = 200
"""So many entries of a folder are looked at for them."""

ODD_NS = 123_456_789
"""What a probe's time has beyond whole seconds, so that a file system that keeps less shows it."""

PROBE = "-probe.part"
ANSWER = "-answer.part"


@dataclass(frozen=True, kw_only=True, slots=True)
class _Probe:
    digest: str
    mtime_ns: int


@dataclass(kw_only=True, slots=True)
class SharedFolderProbe:
    """What workers read and write, with a probe file in each folder that they write to.

    Everything here asks file systems, and may take as long as a share does.
    """

    #: Folders that deliveries and proof sheets' pictures go to, each with the one in which it is made if need be.
    written: tuple[tuple[Path, Path], ...]
    read: tuple[Path, ...]  #: Folders that originals lie in.
    ledger: str  #: What the ledger is called.
    token: str = field(default_factory=lambda: secrets.token_hex(4))
    _probes: dict[Path, _Probe] = field(default_factory=dict)
    _answers: dict[str, tuple[Path, ...]] = field(default_factory=dict)  #: What may lie there still, by name.
    _laying: threading.Lock = field(default_factory=threading.Lock)
    _is_swept: bool = False
    _is_over: bool = False

    @classmethod
    def of(cls, settings: Settings, ledger: str) -> SharedFolderProbe:
        """Return the folders that *settings* name."""
        written: list[tuple[Path, Path]] = []
        read: list[Path] = []
        for name, owner in settings.photographers.items():
            read.append(owner.drop)
            read += [folder for folder in (owner.originals,) if isinstance(folder, Path)]
            written += [(folder, folder.parent) for folder in (owner.proofs,) if isinstance(folder, Path)]
            for called in settings.destinations_of(name):
                destination = settings.destination_for(name, called)
                written.append((destination.folder_for(name), destination.fixed_folder()))
        return cls(written=tuple(dict.fromkeys(written)), read=tuple(dict.fromkeys(read)), ledger=ledger)

    def lay(self) -> None:
        """Put a probe into every folder that is there, or into the one that it will be made in.

        Raises
        ------
        PassingFaultError
            If there is none.
        """
        with self._laying:  # for several workers at once
            self._sweep()
            for folder, top in self.written:
                place = next((place for place in _up_to(folder, top) if place.is_dir()), None)
                if place is not None and not self._is_over and not self._lies_in(place):
                    self._lay(place)
            if not self._probes:
                raise PassingFaultError(Passing.NOTHING_SHARED)

    def _lies_in(self, place: Path) -> bool:
        """Return whether a probe still lies there: a share may have been mounted over it."""
        probe = self._probes.get(place)
        if probe is None:
            return False
        with suppress(OSError):
            return (place / self._name(PROBE)).lstat().st_mtime_ns == probe.mtime_ns
        del self._probes[place]
        return False

    def _lay(self, place: Path) -> None:
        content = secrets.token_bytes(1 << 12)
        path = place / self._name(PROBE)
        try:
            path.write_bytes(content)
            seconds = path.stat().st_mtime_ns // 10**9
            os.utime(path, ns=(seconds * 10**9 + ODD_NS, seconds * 10**9 + ODD_NS))
            found = path.stat().st_mtime_ns
        except OSError:  # it does not take anything now, which is said when something is to go there
            with suppress(OSError):
                path.unlink(missing_ok=True)
            return
        self._probes[place] = _Probe(digest=hashlib.sha256(content).hexdigest(), mtime_ns=found)

    def clear(self) -> None:
        """Take the probes and the answers away, for ever."""
        self._is_over = True
        with self._laying:
            probes, self._probes = self._probes, {}
            answers, self._answers = self._answers, {}
        for place in probes:
            _remove(place / self._name(PROBE))
        for answer, folders in answers.items():
            for folder in folders:
                _remove(folder / answer)

    def clear_answers(self, trial: Trial, *, is_answered: bool) -> None:
        """Take away what a worker has answered; if it may still write more, that goes in the end."""
        for folder in trial.folders:
            _remove(folder / trial.answer)
        if is_answered:
            with self._laying:
                self._answers.pop(trial.answer, None)

    def trial(self, module: str, paths: dict[str, dict[str, str]], doubted: tuple[Path, Path] | None = None) -> Trial:
        """Return what a worker is to look at; an original that it did not see (*doubted*: in which root) as well."""
        answer = self._name(f"-{secrets.token_hex(4)}{ANSWER}")
        samples = [sample for root in self.read for sample in _samples(root)]
        if doubted is not None and doubted[1] != doubted[0]:
            with suppress(OSError):  # gone meanwhile, or a folder
                samples.append(sample_of(*doubted))
        with self._laying:
            folders = tuple(self._probes)
            self._answers[answer] = folders
        return Trial(
            module=module,
            paths=paths,
            folders=folders,
            probe=self._name(PROBE),
            answer=answer,
            samples=tuple(samples),
            roots=tuple(root for root in self.read if root.is_dir()),
        )

    def check(self, sight: Sight, trial: Trial) -> None:
        """Make sure that a worker sees what the service sees.

        Raises
        ------
        PassingFaultError
            If it does not; the sentence names its host and what to do.
        """
        _check_worker(sight)
        _check_reading(sight, trial)
        for folder, probe in zip(trial.folders, sight.probes, strict=True):
            self._check_writing(sight.host, folder, trial.answer, probe)

    def is_coarse(self, sight: Sight, trial: Trial) -> bool:
        """Return whether a worker sees times of files less exactly than the service."""
        seen = zip(trial.folders, sight.probes, strict=True)
        return any(not isinstance(probe, str) and probe[1] != self._probes[folder].mtime_ns for folder, probe in seen)

    def _check_writing(self, host: str, folder: Path, answer: str, probe: tuple[str, int] | str) -> None:
        if isinstance(probe, str):
            raise PassingFaultError(Passing.WORKER_CANNOT_WRITE, host=host, folder=folder, detail=probe)
        ours = self._probes[folder]
        digest, mtime_ns = probe
        if digest != ours.digest:
            raise PassingFaultError(Passing.WORKER_SEES_OTHER, host=host, path=folder, detail="another file")
        if abs(mtime_ns - ours.mtime_ns) >= COARSE_NS:
            raise PassingFaultError(Passing.WORKER_SEES_OTHER, host=host, path=folder, detail="other times of files")
        content = (folder / self._name(PROBE)).read_bytes()
        try:
            found = (folder / answer).read_bytes()
        except OSError as error:
            detail = told(error)
            raise PassingFaultError(Passing.WORKER_WRITES_ELSEWHERE, host=host, folder=folder, detail=detail) from error
        if found != hashlib.sha256(content + answer.encode()).digest():
            raise PassingFaultError(
                Passing.WORKER_WRITES_ELSEWHERE, host=host, folder=folder, detail="other bytes arrive"
            )

    def _name(self, ending: str) -> str:
        return temporary_name(f"{self.ledger}-{self.token}", 0).removesuffix("-0.part") + ending

    def _sweep(self) -> None:
        """Take away what an earlier run has left, also where folders were to be made."""
        if self._is_swept:
            return
        self._is_swept = True
        for place in {place for folder, top in self.written for place in _up_to(folder, top)}:
            with suppress(OSError):
                for entry in list(os.scandir(place)):
                    if is_temporary_of(self.ledger, entry.name) and entry.name.endswith((PROBE, ANSWER)):
                        _remove(Path(entry.path))


def _up_to(folder: Path, top: Path) -> list[Path]:
    """Return a folder and those around it, as far as *top*."""
    return [place for place in (folder, *folder.parents) if place == folder or place.is_relative_to(top)]


def _remove(path: Path) -> None:
    with suppress(OSError):
        path.unlink(missing_ok=True)


def _samples(root: Path) -> Iterator[Sample]:
    """Yield the beginnings of a few originals that lie in *root*, in its folders where none lies in itself."""
    folders = [root]
    files: list[Path] = []
    seen = 0
    while folders and not files and seen < ENTRIES:
        entries = _entries(folders.pop(0))
        seen += len(entries)
        files = [Path(entry.path) for entry in entries if entry.is_file(follow_symlinks=False)]
        folders += [Path(entry.path) for entry in entries if entry.is_dir(follow_symlinks=False)]
    for path in sorted(files)[:SAMPLES]:
        with suppress(OSError):
            yield sample_of(root, path)


def _entries(folder: Path) -> list[os.DirEntry[str]]:
    """Return some of what lies in a folder and is not hidden."""
    try:
        with os.scandir(folder) as entries:
            return [entry for entry in islice(entries, ENTRIES) if not entry.name.startswith(".")]
    except OSError:  # away, which is said by whoever looks for originals
        return []


def _check_worker(sight: Sight) -> None:
    if sight.platform != sys.platform:
        raise PassingFaultError(Passing.WORKER_OTHER_SYSTEM, host=sight.host, theirs=sight.platform, ours=sys.platform)
    for package, theirs, ours in zip(LIBRARIES, sight.libraries, versions(), strict=True):
        if theirs != ours:
            raise PassingFaultError(
                Passing.WORKER_OTHER_VERSION, host=sight.host, package=package, theirs=theirs or "none", ours=ours
            )
    if sight.threads != 1 or not sight.has_nanny or sight.memory_mib == 0:
        raise PassingFaultError(Passing.WORKER_STARTED_OTHERWISE, host=sight.host)


def _check_reading(sight: Sight, trial: Trial) -> None:
    for path, wrong in zip(trial.roots, sight.roots, strict=True):
        if wrong and path.is_dir():
            raise PassingFaultError(Passing.WORKER_SEES_OTHER, host=sight.host, path=path, detail=wrong)
    for sample, wrong in zip(trial.samples, sight.samples, strict=True):
        if wrong and _is_still(sample):
            raise PassingFaultError(Passing.WORKER_SEES_OTHER, host=sight.host, path=sample.path, detail=wrong)


def _is_still(sample: Sample) -> bool:
    """Return whether an original is still what was compared."""
    try:
        return sample_of(sample.root, sample.path) == sample
    except OSError:
        return False
