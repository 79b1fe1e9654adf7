"""What ``check`` finds out about the folders, the machine and the ledger; it writes nothing."""

from __future__ import annotations

import os
import shutil
import stat
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from enum import IntEnum
from pathlib import Path

from lanternslide.config import Settings
from lanternslide.config.limits import Limits
from lanternslide.errors import StateError
from lanternslide.intake import Round, look_through
from lanternslide.ledger import LEDGER_FILE, UNSURE_NOTE, Ledger, holder_of
from lanternslide.ledger.state_folder.session import is_another_state, is_log_lost
from lanternslide.storage import is_folder
from lanternslide.storage.mounts import is_remote
from lanternslide.storage.probe import Probe
from lanternslide.words import Check, Said, counted, readable_bytes, readable_memory, say

__all__ = ["Finding", "Verdict", "look_around"]

LITTLE_ROOM = 1_000_000_000
"""Free bytes below which a folder gets a remark."""

NO_ROOM = 1_000_000
"""Free bytes below which the ledger's disk counts as full."""

WATCH_LIMIT = Path("/proc/sys/fs/inotify/max_user_watches")
HELD_BY_OTHERS = 0.5
"""Share of the watches that other programs of the user may need."""


class Verdict(IntEnum):
    """How a finding counts; the values are exit statuses."""

    FINE = 0
    REMARK = -1
    CONFIG = 2
    MAY_PASS = 3
    STATE = 4


@dataclass(frozen=True, kw_only=True, slots=True)
class Finding:
    """One thing that was looked at."""

    what: str  #: The key or the thing.
    verdict: Verdict
    text: str


def look_around(settings: Settings, state: Path) -> Iterator[Finding]:
    """Yield what there is to know before the service starts, or while it runs."""
    probe = Probe()
    yield from _state(state)
    yield from _machine(settings) if settings.service.executor == "local" else _cluster(settings)
    for name, owner in settings.photographers.items():
        yield from _drop(name, owner.drop, probe)
        if isinstance(owner.originals, Path):
            yield _filing(name, owner.drop, owner.originals)
        if isinstance(owner.proofs, Path):
            yield _place(f"photographers.{name}.proofs", owner.proofs, owner.proofs.parent, probe)
    seen: set[Path] = set()
    for name in settings.destinations:
        for photographer in settings.photographers:
            if name not in settings.destinations_of(photographer):
                continue
            destination = settings.destination_for(photographer, name)
            folder = destination.folder_for(photographer)
            if folder not in seen:
                seen.add(folder)
                yield _place(f"destinations.{name}.folder", folder, destination.fixed_folder(), probe)


def _state(state: Path) -> Iterator[Finding]:
    what = "state"
    if is_remote(state):
        yield _found(what, Verdict.CONFIG, say(Check.STATE_ON_SHARE, folder=state))
    holder = holder_of(state)
    yield _found(what, Verdict.FINE, say(Check.RUNNING, holder=holder) if holder else say(Check.NOT_RUNNING))
    if os.name == "posix" and is_folder(state) and state.stat().st_mode & 0o077:
        yield _found(what, Verdict.REMARK, say(Check.STATE_OPEN, folder=state))
    yield from _room_for(state)
    try:
        ledger = Ledger.to_read(state)
    except StateError as error:
        yield Finding(what="ledger", verdict=Verdict.STATE, text=str(error))
        return
    if ledger is None:
        yield _found("ledger", Verdict.FINE, say(Check.NO_LEDGER, folder=state))
        return
    try:
        with ledger:
            faults = ledger.faults()
            is_unsure = ledger.notes.get(UNSURE_NOTE) is not None or is_another_state(state / LEDGER_FILE)
    except StateError as error:  # a disk with trouble
        yield Finding(what="ledger", verdict=Verdict.STATE, text=str(error))
        return
    if faults:
        found = f"SQLite's own check finds {counted(len(faults), 'fault', 'faults')}"
        yield _found("ledger", Verdict.STATE, say(Check.LEDGER_DAMAGED, folder=state, detail=found))
    elif is_unsure:
        yield _found("ledger", Verdict.STATE, say(Check.LEDGER_UNSURE, folder=state))
    elif is_log_lost(state / LEDGER_FILE) and holder_of(state) is None:
        yield _found("ledger", Verdict.REMARK, say(Check.LOG_LOST, folder=state))
    else:
        yield _found("ledger", Verdict.FINE, say(Check.LEDGER_FINE, folder=state))


def _room_for(state: Path) -> Iterator[Finding]:
    """Yield what keeps the ledger from being written: a full or read-only disk, or a lack of rights."""
    if not is_folder(state):
        return
    if sys.platform != "win32" and os.statvfs(state).f_flag & os.ST_RDONLY:
        yield _found("state", Verdict.STATE, say(Check.STATE_READ_ONLY, folder=state))
    elif shutil.disk_usage(state).free < NO_ROOM:
        yield _found("state", Verdict.STATE, say(Check.STATE_FULL, folder=state))
    if sys.platform != "win32" and state.stat().st_mode & stat.S_IWOTH:
        yield _found("state", Verdict.STATE, say(Check.STATE_OPEN_TO_ALL, folder=state))


def _machine(settings: Settings) -> Iterator[Finding]:
    limits = Limits.of(settings.service)
    said = say(
        Check.MACHINE, workers=counted(limits.workers, "picture", "pictures"), memory=readable_memory(limits.memory_mib)
    )
    yield _found("machine", Verdict.FINE, said)


def _cluster(settings: Settings) -> Iterator[Finding]:
    # What a cluster needs is an extra, and is loaded only where the config asks for it.
    from lanternslide.workers.cluster.visit import visit  # noqa: PLC0415

    there, wrong = visit(settings)
    if there is not None:
        yield _found("cluster", Verdict.FINE, there)
    for said in wrong:
        yield _found("cluster", Verdict.MAY_PASS, said)


def _drop(name: str, drop: Path, probe: Probe) -> Iterator[Finding]:
    what = f"photographers.{name}.drop"
    if not probe.answers(drop):
        yield _found(what, Verdict.MAY_PASS, say(Check.SILENT, folder=drop))
        return
    came_across = Round()
    try:
        pictures = sum(1 for _ in look_through(drop, came_across=came_across))
    except FileNotFoundError:
        yield _found(what, Verdict.MAY_PASS, say(Check.DROP_MISSING, folder=drop))
        return
    except OSError as error:
        yield _found(what, Verdict.MAY_PASS, say(Check.NOT_LISTED, folder=drop, detail=error))
        return
    number = counted(pictures, "picture", "pictures")
    word = Check.DROP_ON_SHARE if is_remote(drop) else Check.DROP_FINE
    yield _found(what, Verdict.FINE, say(word, folder=drop, pictures=number))
    for folder, why in came_across.closed.items():
        shown = drop / folder
        yield _found(what, Verdict.MAY_PASS, say(Check.NOT_LISTED, folder=shown, detail=why))
    most = _watch_limit()
    if most is not None and came_across.folders > most * HELD_BY_OTHERS:
        said = say(Check.WATCHES, folders=came_across.folders, limit=most)
        yield _found(what, Verdict.REMARK, said)


def _watch_limit() -> int | None:
    try:
        return int(WATCH_LIMIT.read_text("ascii"))
    except (OSError, ValueError):
        return None


def _filing(name: str, drop: Path, filing: Path) -> Finding:
    """Return whether originals can be renamed from the drop folder into the filing folder."""
    what = f"photographers.{name}.originals"
    there = next((folder for folder in (filing, filing.parent) if is_folder(folder)), None)
    if there is None:
        return _found(what, Verdict.MAY_PASS, say(Check.FOLDER_MISSING, folder=filing, above=filing.parent))
    if is_folder(drop) and drop.stat().st_dev != there.stat().st_dev:
        return _found(what, Verdict.CONFIG, say(Check.OTHER_DISK, folder=filing, drop=drop))
    if not os.access(there, os.W_OK | os.X_OK) or (is_folder(drop) and not os.access(drop, os.W_OK | os.X_OK)):
        return _found(what, Verdict.MAY_PASS, say(Check.NOT_WRITABLE, folder=filing))
    return _found(what, Verdict.FINE, say(Check.FILING_FINE, folder=filing))


def _place(what: str, folder: Path, fixed: Path, probe: Probe) -> Finding:
    """Return whether files can be written into *folder*, or it can be made in *fixed*."""
    if not probe.answers(folder):
        return _found(what, Verdict.MAY_PASS, say(Check.SILENT, folder=folder))
    between = [above for above in folder.parents if above.is_relative_to(fixed)]
    there = next((candidate for candidate in (folder, *between) if is_folder(candidate)), None)
    if there is None:
        return _found(what, Verdict.MAY_PASS, say(Check.FOLDER_MISSING, folder=folder, above=fixed))
    if not os.access(there, os.W_OK | os.X_OK):
        return _found(what, Verdict.MAY_PASS, say(Check.NOT_WRITABLE, folder=folder))
    free = shutil.disk_usage(there).free
    if free < LITTLE_ROOM:
        return _found(what, Verdict.REMARK, say(Check.LITTLE_ROOM, folder=folder, free=readable_bytes(free)))
    word = Check.FOLDER_FINE if there == folder else Check.FOLDER_TO_COME
    return _found(what, Verdict.FINE, say(word, folder=folder, free=readable_bytes(free)))


def _found(what: str, verdict: Verdict, said: Said) -> Finding:
    return Finding(what=what, verdict=verdict, text=said.text)
