"""A new ledger in place of a damaged one: what can be read is kept, and so are the damaged files."""

from __future__ import annotations

import os
import shutil
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from itertools import count
from pathlib import Path

from lanternslide.errors import StateDamagedError, StateError
from lanternslide.ledger import LEDGER_FILE, UNSURE_NOTE, Ledger
from lanternslide.ledger.state_folder.session import has_log, is_another_state, is_log_lost, keep_words, word_beside
from lanternslide.ledger.upkeep.salvage import COPY_PREFIX, Salvaged, salvage
from lanternslide.records.windows import private_mode
from lanternslide.storage.files import sync_folder, write_temporary
from lanternslide.words import told

__all__ = ["Diagnosis", "diagnosis_of", "renew", "renewed_beside"]

RENEWED = f".{LEDGER_FILE}.renewed"
"""The name of a new ledger until it is whole."""

BESIDE = ("-wal", "-shm", ".session")
"""What belongs to a ledger's file, by the ends of their names."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Diagnosis:
    """How it is with a ledger."""

    file: Path
    is_there: bool  #: Whether its file is.
    was_there: bool  #: Whether there was one, as what lies beside says.
    damage: str | None  #: What is wrong with it, for a person; None: nothing is.
    is_forgetful: bool  #: Whether it may have forgotten something: a copy, one that lost its log, one that was renewed.

    @property
    def is_sound(self) -> bool:
        """Whether it can be used as it is."""
        return self.is_there and self.damage is None

    @property
    def is_lost(self) -> bool:
        """Whether there is a ledger, or was one, that cannot be used."""
        return self.was_there and not self.is_sound

    @property
    def is_unsure(self) -> bool:
        """Whether what it does not know may have been withdrawn."""
        return not self.is_sound or self.is_forgetful


def diagnosis_of(folder: Path) -> Diagnosis:
    """Look at the ledger in a state folder, thoroughly; nothing is changed.

    Raises
    ------
    StateError
        If it cannot be looked at, or is whole and of a newer version.
    """
    file = folder / LEDGER_FILE
    is_there = file.exists()
    was_there = is_there or has_log(file) or word_beside(file).exists()
    damage: str | None = None
    is_forgetful = is_log_lost(file) or is_another_state(file)
    try:
        ledger = Ledger.to_read(folder)
        if ledger is not None:
            with ledger:
                damage = next(iter(ledger.faults()), None)
                is_forgetful |= damage is None and ledger.notes.get(UNSURE_NOTE) is not None
    except StateDamagedError as error:
        damage = error.detail
    return Diagnosis(file=file, is_there=is_there, was_there=was_there, damage=damage, is_forgetful=is_forgetful)


def renewed_beside(found: Diagnosis, place: Path) -> Salvaged:
    """Make a new ledger in the folder *place*, with what can be saved of the former one.

    Raises
    ------
    StateError
        If it cannot be written.
    """
    new = place / (RENEWED if place == found.file.parent else LEDGER_FILE)
    try:
        _forget(new)
        return salvage(found.file if found.is_there else None, new)
    except OSError as error:
        raise StateError(f"The folder {place} cannot be used ({told(error)}).") from error


def renew(folder: Path, found: Diagnosis) -> tuple[Salvaged, Path | None]:
    """Put a new ledger into the place of a damaged one; return what was saved, and where the damaged files are kept.

    A power cut in between leaves a ledger that says that it is damaged, and everything that it was made from.

    Raises
    ------
    StateError
        If the folder does not take it.
    """
    for left in folder.glob(f"{COPY_PREFIX}*"):  # of a repair that was cut off
        shutil.rmtree(left, ignore_errors=True)
    saved = renewed_beside(found, folder)
    try:
        kept = _keep(folder, found.file)
        new = folder / RENEWED
        # While the old log lies beside the new ledger, its words say that it is another's.
        keep_words(found.file)
        new.replace(found.file)
        sync_folder(folder)
        for end in BESIDE:
            found.file.with_name(found.file.name + end).unlink(missing_ok=True)
        with suppress(FileNotFoundError):
            word_beside(new).replace(word_beside(found.file))
    except OSError as error:
        raise StateError(f"The state folder {folder} cannot be used ({told(error)}).") from error
    return saved, kept


def _keep(folder: Path, file: Path) -> Path | None:
    """Give the files of a ledger second names in a folder of their own, and return that."""
    there = [path for end in ("", *BESIDE) if (path := file.with_name(file.name + end)).exists()]
    if not there:
        return None
    kept = _new_folder(folder, f"damaged-{datetime.now().astimezone().date().isoformat()}")
    for path in there:
        try:
            os.link(path, kept / path.name)
        except OSError:  # a file system without second names
            write_temporary(kept / path.name, path.read_bytes())
    sync_folder(kept)
    return kept


def _new_folder(folder: Path, name: str) -> Path:
    for number in count(1):
        kept = folder / (name if number == 1 else f"{name}-{number}")
        try:
            kept.mkdir(mode=private_mode())
        except FileExistsError:
            continue
        return kept
    raise AssertionError("numbers do not end")


def _forget(new: Path) -> None:
    for end in ("", *BESIDE):
        new.with_name(new.name + end).unlink(missing_ok=True)
