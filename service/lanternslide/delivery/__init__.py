"""From finished files to what stands at a destination: names, publishing, withdrawing, and what is told beside it."""

from lanternslide.delivery.filing import Filing
from lanternslide.delivery.manifests import Manifests
from lanternslide.delivery.name_patterns import called, folder_called, uses_date
from lanternslide.delivery.naming import delivered_names, is_name_of
from lanternslide.delivery.notices import HeldNotes, Stamps
from lanternslide.delivery.publisher import Publisher
from lanternslide.delivery.reachability import Reachability
from lanternslide.delivery.recipes import is_made_otherwise, recipes_for, wanted_by
from lanternslide.delivery.target_names import TargetNames, day_of_file, name_of
from lanternslide.delivery.withdrawing import TakenBack, take_back, withdrawn_of

__all__ = [
    "Filing",
    "HeldNotes",
    "Manifests",
    "Publisher",
    "Reachability",
    "Stamps",
    "TakenBack",
    "TargetNames",
    "called",
    "day_of_file",
    "delivered_names",
    "folder_called",
    "is_made_otherwise",
    "is_name_of",
    "name_of",
    "recipes_for",
    "take_back",
    "uses_date",
    "wanted_by",
    "withdrawn_of",
]
