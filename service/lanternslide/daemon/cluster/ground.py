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
from lanternslide.daemon.cluster.remote import COARSE_NS, LIBRARIES, Sample, Sight, Trial, sample_of, versions
from lanternslide.delivery import is_temporary_of, temporary_name
from lanternslide.errors import PassingFaultError
from lanternslide.words import Passing

__all__ = ["Ground"]

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
class Ground:
    """What workers read and write, with a probe file in each folder that they write to.

    Everything here asks file systems, and may take as long as a share does.
    """

    written: tuple[Path, ...]  #: Folders that deliveries and proof sheets' pictures go to.
    read: tuple[Path, ...]  #: Folders that originals lie in.
    ledger: str  #: What the ledger is called.
    token: str = field(default_factory=lambda: secrets.token_hex(4))
    _probes: dict[Path, _Probe] = field(default_factory=dict)
    _laying: threading.Lock = field(default_factory=threading.Lock)

    @classmethod
    def of(cls, settings: Settings, ledger: str) -> Ground:
        """Return the folders that *settings* name."""
        written: list[Path] = []
        read: list[Path] = []
        for name, owner in settings.photographers.items():
            read.append(owner.drop)
            read += [folder for folder in (owner.originals,) if isinstance(folder, Path)]
            written += [folder for folder in (owner.proofs,) if isinstance(folder, Path)]
            for destination in settings.destinations_of(name):
                written.append(settings.destination_for(name, destination).folder_for(name))
        return cls(written=tuple(dict.fromkeys(written)), read=tuple(dict.fromkeys(read)), ledger=ledger)

    def lay(self) -> None:
        """Put a probe into every folder that is there, or into the one that it will be made in.

        Raises
        ------
        PassingFaultError
            If there is none.
        """
        with self._laying:  # for several workers at once
            for folder in self.written:
                place = folder if folder.is_dir() else folder.parent
                if place not in self._probes and place.is_dir():
                    self._lay(place)
            if not self._probes:
                raise PassingFaultError(Passing.NOTHING_SHARED)

    def _lay(self, place: Path) -> None:
        self._sweep(place)
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
        """Take the probes away."""
        for place in self._probes:
            with suppress(OSError):
                (place / self._name(PROBE)).unlink(missing_ok=True)
        self._probes.clear()

    def trial(self, module: str, paths: dict[str, dict[str, str]]) -> Trial:
        """Return what a worker is to look at."""
        return Trial(
            module=module,
            paths=paths,
            folders=tuple(self._probes),
            probe=self._name(PROBE),
            answer=self._name(f"-{secrets.token_hex(4)}{ANSWER}"),
            samples=tuple(sample for root in self.read for sample in _samples(root)),
            roots=tuple(root for root in self.read if root.is_dir()),
        )

    def check(self, sight: Sight, trial: Trial) -> None:
        """Make sure that a worker sees what the service sees, and take its answers away.

        Raises
        ------
        PassingFaultError
            If it does not; the sentence names its host and what to do.
        """
        try:
            _check_worker(sight)
            _check_reading(sight, trial)
            for folder, probe in zip(trial.folders, sight.probes, strict=True):
                self._check_writing(sight.host, folder, trial.answer, probe)
        finally:
            for folder in trial.folders:
                with suppress(OSError):
                    (folder / trial.answer).unlink(missing_ok=True)

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
            detail = error.strerror or str(error)
            raise PassingFaultError(Passing.WORKER_WRITES_ELSEWHERE, host=host, folder=folder, detail=detail) from error
        if found != hashlib.sha256(content + answer.encode()).digest():
            raise PassingFaultError(
                Passing.WORKER_WRITES_ELSEWHERE, host=host, folder=folder, detail="other bytes arrive"
            )

    def _name(self, ending: str) -> str:
        return temporary_name(f"{self.ledger}-{self.token}", 0).removesuffix("-0.part") + ending

    def _sweep(self, place: Path) -> None:
        """Take away what an earlier run has left in *place*."""
        with suppress(OSError):
            for entry in list(os.scandir(place)):
                if is_temporary_of(self.ledger, entry.name) and entry.name.endswith((PROBE, ANSWER)):
                    Path(entry.path).unlink(missing_ok=True)


def _samples(root: Path) -> Iterator[Sample]:
    """Yield the beginnings of a few originals that lie in *root* itself."""
    try:
        with os.scandir(root) as entries:
            found = [
                Path(entry.path)
                for entry in islice(entries, ENTRIES)
                if entry.is_file(follow_symlinks=False) and not entry.name.startswith(".")
            ]
    except OSError:  # away, which is said by whoever looks for originals
        return
    for path in sorted(found)[:SAMPLES]:
        with suppress(OSError):
            yield sample_of(root, path)


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
