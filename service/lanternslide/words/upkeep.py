"""What `repair` and `backup` say of the ledger."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from lanternslide.words.kinds import Upkeep, Word

__all__ = ["OF_THE_LEDGER"]

OF_THE_LEDGER: Mapping[Word, str] = MappingProxyType(
    {
        Upkeep.SOUND: "The ledger {file} is sound.",
        Upkeep.NONE_YET: "There is no ledger {file} yet.",
        Upkeep.GONE: "The ledger {file} is gone.",
        Upkeep.DAMAGED: "The ledger {file} is damaged: {detail}.",
        Upkeep.WOULD_SALVAGE: "{originals} and {deliveries} can be saved from it. The damaged files are kept.",
        Upkeep.WOULD_BEGIN: "Nothing can be saved from it. A new ledger is made from what stands in your folders.",
        Upkeep.SALVAGED: "{originals} and {deliveries} are saved in a new ledger.",
        Upkeep.BEGUN: "A new ledger was begun.",
        Upkeep.SET_ASIDE: "The damaged files are kept in {folder}.",
        Upkeep.MAY_BE: "{path} may be a delivery of {original}.",
        Upkeep.NOTHING_TO_RECOGNISE: "No file under the name of a delivery is unknown to the ledger.",
        Upkeep.WOULD_HOLD: "{number} would be held: nothing of them stands. They may be new, or withdrawn.",
        Upkeep.TO_DO_IT: "Nothing was changed. To do it: lanternslide repair --yes.",
        Upkeep.RECOGNISED_ONE: "{path} is a delivery of {original}.",
        Upkeep.HELD_ONE: "{original} is held.",
        Upkeep.NOT_LOOKED_AT: "{original} could not be looked at: {reason}",
        Upkeep.NOT_DONE: (
            "Not everything could be looked at. {reason} Run this again once that has passed; until then the service "
            "does not start."
        ),
        Upkeep.AGAIN: "Run this again once what was in the way has passed: what is held is looked for once more.",
        Upkeep.RECOGNISED_ALL: "{recognised} recognised, {held} held. Files that stand were not touched.",
        Upkeep.BACKED_UP: "The ledger was copied to {file} ({size}).",
        Upkeep.NO_LEDGER_TO_COPY: "There is no ledger in {folder} to copy.",
        Upkeep.COPY_THERE: "{file} is there already, and stays. Choose another name.",
        Upkeep.COPY_FAILED: "{file} could not be written ({detail}).",
    }
)
