"""Filing finished originals away, where the owner's config asks for it: a rename, never onto another file."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from itertools import count
from pathlib import Path

from lanternslide.config import ResolvedPhotographer
from lanternslide.delivery.naming import MAX_NAME_BYTES, cut
from lanternslide.errors import PassingFaultError
from lanternslide.ledger import Originals
from lanternslide.records import DroppedFile, Fingerprint, shown_path
from lanternslide.records.events import FiledAway, Listener
from lanternslide.storage import is_folder, move_new
from lanternslide.storage.faults import folder_fault
from lanternslide.storage.probe import Probe
from lanternslide.words import Passing

__all__ = ["Filing"]


class Filing:
    """Moves originals whose deliveries all stand."""

    def __init__(
        self, photographers: Mapping[str, ResolvedPhotographer], originals: Originals, probe: Probe, tell: Listener
    ) -> None:
        self._folders = {name: owner.filed for name, owner in photographers.items() if owner.filed is not None}
        self._originals = originals
        self._probe = probe
        self._tell = tell

    def is_wanted(self, photographer: str) -> bool:
        """Return whether a photographer's finished originals are filed away."""
        return photographer in self._folders

    def file_away(self, file: DroppedFile, original: int) -> None:
        """Move a finished original, which is as it was when its deliveries were made, out of the drop folder.

        Raises
        ------
        PassingFaultError
            If the folder is away or does not take it; the original stays where it is.
        """
        folder = self._folders[file.photographer]
        assert isinstance(folder, Path)
        if not self._probe.answers(folder):
            raise PassingFaultError(Passing.FILING_AWAY, folder=folder, photographer=file.photographer)
        if not is_folder(folder) and not is_folder(folder.parent):
            raise PassingFaultError(Passing.FILING_AWAY, folder=folder, photographer=file.photographer)
        try:
            (folder / file.relative).parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise folder_fault(folder, error) from error
        for name in _names(file.relative.name):
            target = folder / file.relative.with_name(name)
            self._originals.file_away(original, target)
            if move_new(file.path, target):
                if _is_another(target, file) and move_new(target, file.path):
                    return  # it was exported again in the last moment; that one is to be done first
                self._tell(FiledAway(file=file, to=shown_path(target)))
                return


def _is_another(target: Path, file: DroppedFile) -> bool:
    try:
        return Fingerprint.of(target.lstat()) != file.fingerprint
    except OSError:  # the disk has gone in this moment
        return False


def _names(name: str) -> Iterator[str]:
    """Yield the name of an original, then numbered ones; the number goes before its tags: ``seal-2@journal.tif``."""
    yield name
    path = Path(name)
    stem, mark, tags = path.stem.partition("@")
    for number in count(2):
        ending = f"-{number}{mark}{tags}{path.suffix}"
        yield cut(stem, MAX_NAME_BYTES - len(os.fsencode(ending))) + ending
