"""Decisions about one original: is it news, where does it go, which of two files is the picture."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path

from lanternslide.config import ResolvedPhotographer
from lanternslide.errors import OriginalHeldError
from lanternslide.intake.routing import route
from lanternslide.ledger import Deliveries, Known, Originals, OriginalState, stored_fingerprint
from lanternslide.records import DroppedFile, Fingerprint, Record, Routing, WorkItem
from lanternslide.records.events import Finished, HeldBack, Listener
from lanternslide.storage import digest_of, is_file
from lanternslide.words import Doubt, Held, Said, say

__all__ = ["DONE", "LIMIT_REASONS", "ROUTING_REASONS", "Decisions", "findings_of"]

ROUTING_REASONS = frozenset(
    {Held.UNKNOWN_TAG, Held.FORMER_DENSITY, Held.NEAR_MISS_FOLDER, Held.NO_DESTINATION, Held.TAG_WITHOUT_NAME}
)
"""Reasons that a changed config can take away."""

LIMIT_REASONS = frozenset({Held.TOO_MANY_PIXELS, Held.NEEDS_MORE_MEMORY})
"""Reasons that a changed limit can take away."""

DONE = (OriginalState.DELIVERED, OriginalState.WITHDRAWN)
"""States in which an unchanged original needs nothing."""


class Decisions:
    """Knows the config and the ledger."""

    def __init__(
        self,
        photographers: Mapping[str, ResolvedPhotographer],
        originals: Originals,
        deliveries: Deliveries,
        tell: Listener,
    ) -> None:
        self._photographers = photographers
        self._originals = originals
        self._deliveries = deliveries
        self._tell = tell
        self._last_read: tuple[Path, Fingerprint, str] | None = None  # a file that was read, and its digest

    def is_news(self, file: DroppedFile, known: Known | None, routing: Routing | Said | None = None) -> bool:
        """Return whether *file* needs anything, given what the ledger knows under its path.

        *routing* is where it goes, if that was decided already.
        """
        if known is None:
            return not self.is_outdated(file, routing or self.routing_of(file))
        if known.fingerprint != stored_fingerprint(file.fingerprint):
            return True
        if known.state is OriginalState.HELD:
            return known.reason_key in ROUTING_REASONS and isinstance(routing or self.routing_of(file), Routing)
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
        found = [row for row in self._deliveries.of_size(file.photographer, file.fingerprint.size) if row.record]
        digest = self._digest_of(file) if found else None
        if digest is None:
            return None
        row = self._originals.of_picture(file.photographer, picture)
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
        row = self._originals.of_picture(file.photographer, named.picture)
        if row is not None and row.path == file.relative:  # it lies where its original lay
            return named.picture
        # Its name may well be its original's but for the tags; no picture's own name ends like this.
        return file.relative.with_name(f"{file.relative.name}@")

    def is_outdated(self, file: DroppedFile, routing: Routing | Said) -> bool:
        """Return whether a newer file that differs only in its tags is the picture: the newer wins."""
        if isinstance(routing, Said):
            return False
        row = self._originals.of_picture(file.photographer, routing.picture)
        if row is None or row.path == file.relative:
            return False
        if is_file(file.drop / row.path):
            # Of two with the same time the one that is known stays, or they would take turns for ever.
            return file.fingerprint.mtime_ns <= row.fingerprint.mtime_ns
        return row.filed_to is not None and file.fingerprint.mtime_ns < row.fingerprint.mtime_ns

    def take_in(self, file: DroppedFile, routing: Routing | Said) -> WorkItem | None:
        """Note a settled file; return its work item, or None if it is held."""
        if isinstance(routing, Said):
            row = self._originals.take_in(file, self.picture_of(file, routing))
            self.hold(row.id, file, routing)
            return None
        row = self._originals.take_in(file, routing.picture)
        return WorkItem(file=file, routing=routing, original=row.id, is_older=row.is_older)

    def hold(self, original: int, file: DroppedFile, said: Said) -> None:
        """Hold an original and say so."""
        self._originals.hold(original, said, datetime.now(UTC).isoformat(timespec="seconds"))
        self._tell(HeldBack(file=file, said=said))
        self._tell(Finished(file=file, changed=False))


def findings_of(routing: Routing) -> tuple[Said, ...]:
    """Return what routing has found that its owner should know."""
    return tuple(say(Doubt.TAG_KEPT, tag=tag) for tag in routing.kept_tags)
