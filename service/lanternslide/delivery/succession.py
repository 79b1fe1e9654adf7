"""Whether a name that another delivery has may be taken over: what stands of one picture is no other's to replace."""

from __future__ import annotations

import os
from pathlib import Path

from lanternslide.delivery.reachability import Reachability
from lanternslide.ledger import DeliveryRow, OriginalRow, Originals
from lanternslide.records import DroppedFile
from lanternslide.storage import is_folder, is_gone

__all__ = ["is_left"]


def is_left(
    originals: Originals, reachability: Reachability, owner: DeliveryRow, path: Path, file: DroppedFile, picture: Path
) -> bool:
    """Return whether the name *path* of the delivery *owner* is left to a *file* that is this *picture*.

    It is where the same picture was exported again in another kind of file, and the former original is gone, from the
    drop folder and from where it was filed away. Pictures that are merely called alike keep their names for good:
    a drop folder is emptied, and originals are filed away, in the ordinary course of things.
    """
    original = originals.get(owner.original)
    is_same_name = owner.output is not None and owner.output.path == path
    if owner.intent is not None or not is_same_name or file.filed is not None:
        return False
    if original.photographer != file.photographer:
        return False
    return _without_ending(original.picture) == _without_ending(picture) and _is_gone(reachability, file.drop, original)


def _without_ending(picture: Path) -> str:
    return os.path.splitext(picture)[0]  # noqa: PTH122 - a name that ends with a point has no suffix for pathlib


def _is_gone(reachability: Reachability, drop: Path, original: OriginalRow) -> bool:
    if not _is_certainly_gone(reachability, drop, drop / original.path):
        return False
    filed = original.filed_to
    return filed is None or _is_certainly_gone(reachability, filed.parent, filed)


def _is_certainly_gone(reachability: Reachability, folder: Path, path: Path) -> bool:
    return reachability.answers(folder) and is_folder(folder) and is_gone(path)
