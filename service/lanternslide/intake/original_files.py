"""Where originals lie, and whether they still do: in their drop folders, or where they are filed away."""

from __future__ import annotations

import stat
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from lanternslide.config import ResolvedPhotographer
from lanternslide.errors import PassingFaultError
from lanternslide.intake.scan import look_at
from lanternslide.ledger import Deliveries, Known, OriginalRow, Originals, OriginalState
from lanternslide.records import DroppedFile, Fingerprint, Record
from lanternslide.storage import is_file, is_folder, is_gone
from lanternslide.words import Passing

__all__ = ["OriginalFiles"]


@dataclass(frozen=True, kw_only=True, slots=True)
class OriginalFiles:
    """Looks where the ledger says that an original is."""

    photographers: Mapping[str, ResolvedPhotographer]
    originals: Originals
    deliveries: Deliveries
    answers: Callable[[Path], bool]  #: Whether a folder answers, or its share hangs.

    def is_unchanged(self, file: DroppedFile) -> bool:
        """Return whether a file still looks as it did.

        Raises
        ------
        PassingFaultError
            If its folder does not answer.
        """
        if not self.answers(file.root):
            raise PassingFaultError(Passing.DROP_FOLDER_SILENT, folder=file.root)
        if file.filed is not None:
            rows = self.originals.at(file.photographer, file.relative)
            return any(self.filed(row) == file for row in rows)
        return list(look_at(file.photographer, file.drop, file.relative)) == [file]

    def filed(self, row: OriginalRow) -> DroppedFile | None:
        """Return an original that is filed away, if it lies there as it was when it was moved.

        A newer export of the same name in the drop folder takes its place.
        """
        file = self._lies_filed(row)
        same = None if file is None else (file.fingerprint.size, file.fingerprint.mtime_ns)
        return file if same == _size_and_time(row) else None

    def _lies_filed(self, row: OriginalRow) -> DroppedFile | None:
        """Return the file that lies where an original is filed away, if none of its name lies in the drop folder."""
        drop = self.photographers[row.photographer].drop
        if row.filed_to is None or is_file(drop / row.path):
            return None
        try:
            status = row.filed_to.lstat()
        except OSError:
            return None
        if not stat.S_ISREG(status.st_mode):
            return None
        found = Fingerprint.of(status)
        return DroppedFile(
            photographer=row.photographer, drop=drop, relative=row.path, fingerprint=found, filed=row.filed_to
        )

    def note_gone(self, known: Known) -> OriginalRow | None:
        """Note that an original was removed before it was done, and return it.

        What is filed away of a former export counts again then. None is returned of one that is filed away itself, or
        cannot be asked.
        """
        if known.state not in (OriginalState.WAITING, OriginalState.HELD):
            return None
        row = self.originals.get(known.id)
        former = self._former(row)
        if former is not None:
            self.originals.back_to_filed(former, row.id)
            return row
        if row.filed_to is None or self._is_gone_there(row, row.filed_to):
            self.originals.set_state(known.id, OriginalState.GONE)
            return row
        return None

    def _is_gone_there(self, row: OriginalRow, filed_to: Path) -> bool:
        """Return whether an original is certainly not where it was filed away: its folder is there, or another file."""
        if self._lies_filed(row) is not None:
            return self.filed(row) is None
        return is_folder(filed_to.parent) and is_gone(filed_to)

    def _former(self, row: OriginalRow) -> DroppedFile | None:
        """Return the filed original that a newer export was to replace, which its owner has removed undelivered.

        It is what the deliveries that stand were made from, by its size; the newer one has another digest, or none yet.
        """
        file = self._lies_filed(row)
        if file is None or self.filed(row) is not None:
            return None
        for delivery in self.deliveries.of_original(row.id):
            if delivery.record is None:
                continue
            made_from = Record.model_validate_json(delivery.record).original_file
            if made_from is not None and made_from.bytes == file.fingerprint.size and made_from.digest != row.digest:
                return replace(file, relative=_path_before(row))
        return None


def _path_before(row: OriginalRow) -> Path:
    """Return where a filed original lay: with its own tags, which a newer export need not have."""
    assert row.filed_to is not None
    _, mark, tags = row.filed_to.stem.partition("@")
    if "@" in row.picture.name:  # a part of the name itself, as the config has it
        return row.path
    return row.path.with_name(f"{row.picture.stem}{mark}{tags}{row.path.suffix}")


def _size_and_time(row: OriginalRow) -> tuple[int, int]:
    return row.fingerprint.size, row.fingerprint.mtime_ns
