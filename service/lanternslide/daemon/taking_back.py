"""Taking deliveries back out of their folders."""

from __future__ import annotations

from enum import Enum, auto
from pathlib import Path

from lanternslide.delivery import is_file_with, is_folder, is_there, remove_delivery
from lanternslide.delivery.faults import folder_fault
from lanternslide.errors import PassingFaultError
from lanternslide.ledger import DeliveryRow, Ledger
from lanternslide.words import Passing

__all__ = ["TakenBack", "is_known_away", "take_back"]


class TakenBack(Enum):
    """What became of a delivery's file."""

    DELETED = auto()
    WAS_AWAY = auto()  #: Its owner had deleted or moved it.
    CHANGED = auto()  #: It is not what was delivered any more, and stays.


def is_known_away(ledger: Ledger, path: Path) -> bool:
    """Return whether a file is certainly not there: its folder was deleted, the destination's folder is there."""
    there = next((folder for folder in path.parents if is_folder(folder)), None)
    return there is not None and ledger.has_used(there)


def take_back(ledger: Ledger, row: DeliveryRow) -> TakenBack:
    """Delete the file of a delivery that the ledger knows as withdrawn, if it still is what was delivered.

    Raises
    ------
    PassingFaultError
        If its folder is away or does not allow it; it is tried again later.
    """
    assert row.state == "withdrawn"
    assert row.output is not None
    path = row.output.path
    if not is_folder(path.parent):
        if not is_known_away(ledger, path):
            raise PassingFaultError(Passing.DESTINATION_AWAY, folder=path.parent, destination=row.destination)
        ledger.withdrawn(row.id)
        return TakenBack.WAS_AWAY
    try:
        stands = is_file_with(path, row.output.size, row.output.digest)
        there = is_there(path)
    except OSError as error:
        raise folder_fault(path.parent, error) from error
    if stands:
        remove_delivery(path)
    ledger.withdrawn(row.id)
    return TakenBack.DELETED if stands else TakenBack.CHANGED if there else TakenBack.WAS_AWAY
