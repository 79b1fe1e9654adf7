"""Taking deliveries back out of their folders."""

from __future__ import annotations

from enum import Enum, auto
from pathlib import Path

from lanternslide.delivery.reachability import Reachability
from lanternslide.ledger import DeliveryRow, DeliveryState, Replaced, Withdrawals
from lanternslide.records import shown_path
from lanternslide.records.events import Withdrawn
from lanternslide.storage import is_file_with, is_there, remove_delivery
from lanternslide.storage.faults import folder_fault

__all__ = ["TakenBack", "take_back", "withdrawn_of"]


class TakenBack(Enum):
    """What became of a delivery's file."""

    DELETED = auto()
    WAS_AWAY = auto()  #: Its owner had deleted or moved it.
    CHANGED = auto()  #: It is not what was delivered any more, and stays.


def withdrawn_of(found: Replaced) -> Withdrawn:
    """Return what to tell of a file that was deleted because its delivery stands under another name now."""
    return Withdrawn(
        original=f"{found.photographer}: {shown_path(found.original)}",
        destination=found.destination,
        output=shown_path(found.left.path),
    )


def take_back(
    withdrawals: Withdrawals, reachability: Reachability, row: DeliveryRow, moved_to: Path | None = None
) -> TakenBack:
    """Delete the file of a delivery that the ledger knows as withdrawn or left out, if it is what was delivered.

    Its owner may have moved its folder, and it with it, to *moved_to*.

    Raises
    ------
    PassingFaultError
        If its folder is away or does not allow it; it is tried again later.
    """
    assert row.state in (DeliveryState.WITHDRAWN, DeliveryState.LEFT_OUT)
    assert row.output is not None
    path = moved_to or row.output.path
    reachability.check_file(path, row.destination)
    try:
        stands = is_file_with(path, row.output.size, row.output.digest)
        there = is_there(path)
    except OSError as error:
        raise folder_fault(path.parent, error) from error
    if stands:
        remove_delivery(path)
    withdrawals.note_withdrawn(row.id)
    return TakenBack.DELETED if stands else TakenBack.CHANGED if there else TakenBack.WAS_AWAY
