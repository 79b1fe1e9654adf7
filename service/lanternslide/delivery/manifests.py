"""Keeping manifest.json in the folders of destinations that ask for one."""

from __future__ import annotations

import time
from collections.abc import Mapping
from pathlib import Path, PurePosixPath

from lanternslide.config import ResolvedPhotographer
from lanternslide.delivery.reachability import Reachability
from lanternslide.errors import PassingFaultError
from lanternslide.ledger import Deliveries
from lanternslide.ledger import Standing as Stands
from lanternslide.records import Record, shown_path
from lanternslide.report import MANIFEST_FILE, Standing, is_manifest, manifest_text
from lanternslide.report.obstacles import Obstacles
from lanternslide.storage import put_text
from lanternslide.storage.faults import folder_fault
from lanternslide.words import Passing

__all__ = ["Manifests"]

PAUSE_SECONDS = 5.0
"""Manifests are written at most so often, and never for more than a tenth of the time."""


class Manifests:
    """Keeps each manifest true: what was delivered there, still stands, and is not taken back."""

    def __init__(
        self,
        photographers: Mapping[str, ResolvedPhotographer],
        deliveries: Deliveries,
        reachability: Reachability,
        obstacles: Obstacles,
    ) -> None:
        self._deliveries = deliveries
        self._reachability = reachability
        self._obstacles = obstacles
        self._next_write = 0.0
        self.is_due = True  #: Whether something may have changed.
        self._folders = {  # with the destination's name
            destination.folder: destination.name
            for photographer in photographers.values()
            for destination in photographer.destinations.values()
            if destination.manifest
        }

    def write_if_due(self, now: float) -> None:
        """Bring every manifest up to date, if something may have changed and it was not done a moment ago."""
        if self.is_due and now >= self._next_write:
            self.write()
            spent = time.monotonic() - now
            self._next_write = now + max(PAUSE_SECONDS, 10 * spent)

    def write(self) -> None:
        """Bring every manifest up to date."""
        self.is_due = False
        for folder, name in self._folders.items():
            what = f"manifest of {shown_path(folder)}"
            try:
                self._write(folder, name)
            except PassingFaultError as fault:
                self._obstacles.meet(what, fault.said)
                self.is_due = True
            else:
                self._obstacles.pass_by(what)

    def _write(self, folder: Path, destination: str) -> None:
        self._reachability.check(folder, destination)
        standing = [
            item for row in self._deliveries.standing(destination) if (item := _standing(row, folder)) is not None
        ]
        if not standing and not self._reachability.has_used(folder):
            return
        manifest = folder / MANIFEST_FILE
        try:
            if manifest.exists() and not is_manifest(manifest.read_text("utf-8", "replace")):
                raise PassingFaultError(Passing.MANIFEST_IN_THE_WAY, folder=folder)
        except OSError as error:
            raise folder_fault(folder, error) from error
        if folder.is_dir():
            put_text(manifest, manifest_text(standing))


def _standing(row: Stands, folder: Path) -> Standing | None:
    """Return a delivery for the manifest of *folder*; None if it stands elsewhere, or was deleted or changed there."""
    try:
        str(row.output.path).encode("utf-8")  # a name that is no text, of an earlier version, has no address
        if not row.output.path.is_relative_to(folder) or row.output.path.stat().st_size != row.output.size:
            return None
    except (OSError, UnicodeEncodeError):
        return None
    record = Record.model_validate_json(row.record)
    return Standing(
        picture=(row.photographer, shown_path(row.picture)),
        file=PurePosixPath(*row.output.path.relative_to(folder).parts),
        density=record.density or 1,
        width=record.width or 0,
        height=record.height or 0,
        bytes=row.output.size,
        about=row.about,
    )
