"""Decisions about one original: is it news, where does it go, what is still to be made, how did it end."""

from __future__ import annotations

import stat
from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

from lanternslide.config import ResolvedPhotographer
from lanternslide.daemon.errand import Errand
from lanternslide.daemon.publisher import Publisher
from lanternslide.daemon.recipes import recipes_for, wanted_by
from lanternslide.delivery import digest_of, is_file, is_folder, is_gone
from lanternslide.errors import OriginalHeldError, PassingFaultError
from lanternslide.intake import route
from lanternslide.ledger import DeliveryRow, Known, Ledger, OriginalRow, OriginalState, stored_fingerprint
from lanternslide.records import DroppedFile, Fingerprint, Recipe, Record, Routing
from lanternslide.records.events import Delivered, Finished, HeldBack, Listener
from lanternslide.words import Doubt, Held, Said, say

__all__ = ["DONE", "LIMIT_REASONS", "ROUTING_REASONS", "Desk"]

ROUTING_REASONS = frozenset(
    {Held.UNKNOWN_TAG, Held.FORMER_DENSITY, Held.NEAR_MISS_FOLDER, Held.NO_DESTINATION, Held.TAG_WITHOUT_NAME}
)
"""Reasons that a changed config can take away."""

LIMIT_REASONS = frozenset({Held.TOO_MANY_PIXELS, Held.NEEDS_MORE_MEMORY})
"""Reasons that a changed limit can take away."""

DONE = frozenset({OriginalState.DELIVERED, OriginalState.WITHDRAWN})
"""States in which an unchanged original needs nothing."""


class Desk:
    """Knows the config and the ledger; every ending of an original passes here."""

    def __init__(self, photographers: Mapping[str, ResolvedPhotographer], ledger: Ledger, tell: Listener) -> None:
        self._photographers = photographers
        self._ledger = ledger
        self._tell = tell
        self._last_read: tuple[Path, Fingerprint, str] | None = None  # a file that was read, and its digest

    def is_news(self, file: DroppedFile, known: Known | None) -> bool:
        """Return whether *file* needs anything, given what the ledger knows under its path."""
        if known is None:
            return not self.is_outdated(file, self.routing_of(file))
        if known.fingerprint != stored_fingerprint(file.fingerprint):
            return True
        if known.state is OriginalState.HELD:
            return known.reason_key in ROUTING_REASONS and isinstance(self.routing_of(file), Routing)
        return known.state not in DONE

    def routing_of(self, file: DroppedFile) -> Routing | Said:
        """Return where a file goes, or why it is held."""
        if file.is_folder:
            return say(Held.FOLDER_LIKE_PICTURE)
        routing = self.routing_at(file.photographer, file.relative)
        if isinstance(routing, Said):
            return routing
        return self._own_delivery(file, routing.picture) or routing

    def routing_at(self, photographer: str, relative: Path) -> Routing | Said:
        """Return where an original at a path below a drop folder goes, or why it is held."""
        try:
            return route(relative, self._photographers[photographer].names)
        except OriginalHeldError as held:
            return held.said

    def _own_delivery(self, file: DroppedFile, picture: Path) -> Said | None:
        """Return why a file is held that is no original, but what the service last delivered to its photographer."""
        found = [row for row in self._ledger.deliveries_of_size(file.photographer, file.fingerprint.size) if row.record]
        digest = self._digest_of(file) if found else None
        if digest is None:
            return None
        row = self._ledger.original_of(file.photographer, picture)
        if row is not None and row.digest == digest:  # an earlier version has taken it for an original
            return None
        for record in (Record.model_validate_json(delivery.record or "") for delivery in found):
            if record.digest == digest:
                return say(Held.OWN_DELIVERY, original=record.original, destination=record.destination)
        return None

    def _digest_of(self, file: DroppedFile) -> str | None:
        """Return the digest of a file that is as small as a delivery; None if it cannot be read now."""
        if self._last_read is None or self._last_read[:2] != (file.path, file.fingerprint):
            try:
                self._last_read = file.path, file.fingerprint, digest_of(file.path)
            except OSError:  # that is found out when it is to be made
                return None
        return self._last_read[2]

    def picture_of(self, file: DroppedFile, routing: Routing | Said) -> Path:
        """Return what picture a file is noted as: the path without the tags, as far as its name says where it goes."""
        if isinstance(routing, Routing):
            return routing.picture
        if routing.key != Held.OWN_DELIVERY:
            return file.relative
        named = self.routing_at(file.photographer, file.relative)
        assert isinstance(named, Routing)
        row = self._ledger.original_of(file.photographer, named.picture)
        if row is not None and row.path == file.relative:  # it lies where its original lay
            return named.picture
        # Its name may well be its original's but for the tags; no picture's own name ends like this.
        return file.relative.with_name(f"{file.relative.name}@")

    def is_outdated(self, file: DroppedFile, routing: Routing | Said) -> bool:
        """Return whether a newer file that differs only in its tags is the picture: the newer wins."""
        if isinstance(routing, Said):
            return False
        row = self._ledger.original_of(file.photographer, routing.picture)
        if row is None or row.path == file.relative:
            return False
        if is_file(file.drop / row.path):
            # Of two with the same time the one that is known stays, or they would take turns for ever.
            return file.fingerprint.mtime_ns <= row.fingerprint.mtime_ns
        return row.filed_to is not None and file.fingerprint.mtime_ns < row.fingerprint.mtime_ns

    def take_in(self, file: DroppedFile, routing: Routing | Said) -> Errand | None:
        """Note a settled file; return its errand, or None if it is held or outdated."""
        if isinstance(routing, Said):
            row = self._ledger.take_in(file, self.picture_of(file, routing))
            self.hold(row.id, file, routing)
            return None
        if self.is_outdated(file, routing):
            self._tell(Finished(file=file, changed=False))
            return None
        row = self._ledger.take_in(file, routing.picture)
        return Errand(file=file, routing=routing, original=row.id, is_older=row.is_older)

    def hold(self, original: int, file: DroppedFile, said: Said) -> None:
        """Hold an original and say so."""
        self._ledger.hold(original, said, datetime.now(UTC).isoformat(timespec="seconds"))
        self._tell(HeldBack(file=file, said=said))
        self._tell(Finished(file=file, changed=False))

    def still_to_make(self, errand: Errand, publisher: Publisher) -> tuple[list[DeliveryRow], Said | None]:
        """Return the deliveries that an original asks for and that are not made from these bytes yet.

        With them comes what is in the way where it cannot be told whether an earlier delivery was published; that
        one is left as it is.
        """
        assert errand.survey is not None
        stalled: Said | None = None
        for row in self._ledger.deliveries_of(errand.original):
            try:
                record = publisher.settle_intent(row) if row.intent is not None else None
            except PassingFaultError as fault:
                stalled = fault.said
            else:
                if record is not None:
                    self._tell(Delivered(record=record))
        wanted = wanted_by(self._photographers[errand.file.photographer], errand.routing)
        rows = self._ledger.want(errand.original, errand.survey.digest, wanted)
        if rows:
            self._ledger.set_state(errand.original, OriginalState.WORKING)
        return rows, stalled

    def recipes_for(self, errand: Errand) -> tuple[tuple[Recipe, float], ...]:
        """Return all that may be made of an original: how, and at which density."""
        asked = recipes_for(self._photographers[errand.file.photographer], errand.routing)
        return tuple((destination.recipe, density) for destination, density in asked)

    def findings_of(self, routing: Routing) -> tuple[Said, ...]:
        """Return what routing has found that its owner should know."""
        return tuple(say(Doubt.TAG_KEPT, tag=tag) for tag in routing.kept_tags)

    def filed(self, row: OriginalRow) -> DroppedFile | None:
        """Return an original that is filed away, if it lies there as it was when it was moved.

        A newer export of the same name in the drop folder takes its place.
        """
        file = self._lies_filed(row)
        same = None if file is None else (file.fingerprint.size, file.fingerprint.mtime_ns)
        return file if same == _size_and_time(row) else None

    def _lies_filed(self, row: OriginalRow) -> DroppedFile | None:
        """Return the file that lies where an original is filed away, if none of its name lies in the drop folder."""
        drop = self._photographers[row.photographer].drop
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

    def note_gone(self, known: Known) -> None:
        """Note that an original was removed before it was done; one that is filed away, or cannot be asked, was not."""
        if known.state not in (OriginalState.WAITING, OriginalState.HELD):
            return
        row = self._ledger.original(known.id)
        former = self._former(row)
        if former is not None:
            self._ledger.back_to_filed(former, row.id)
        elif row.filed_to is None or self._is_gone_there(row, row.filed_to):
            self._ledger.set_state(known.id, OriginalState.GONE)

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
        for delivery in self._ledger.deliveries_of(row.id):
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
