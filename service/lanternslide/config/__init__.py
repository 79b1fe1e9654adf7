"""The settings: their model, the loader that finds every fault at once, and a first config."""

from lanternslide.config.beginning.answers import (
    cannot_be_made,
    in_the_way_of,
    name_like,
    read_destination,
    read_edge,
    read_folder,
    read_words,
)
from lanternslide.config.beginning.first import DELIVERIES, STATE, FirstAnswers, FirstDestination, key_for, render_first
from lanternslide.config.checks.apart import check_apart
from lanternslide.config.load import CONFIG_NAME, find_config, load_settings
from lanternslide.config.reference import reference_file
from lanternslide.config.resolved import (
    ResolvedDestination,
    ResolvedPhotographer,
    RoutingNames,
    recipe_of,
    resolve,
)
from lanternslide.config.settings import Destination, Photographer, Service, Settings, Size

__all__ = [
    "CONFIG_NAME",
    "DELIVERIES",
    "STATE",
    "Destination",
    "FirstAnswers",
    "FirstDestination",
    "Photographer",
    "ResolvedDestination",
    "ResolvedPhotographer",
    "RoutingNames",
    "Service",
    "Settings",
    "Size",
    "cannot_be_made",
    "check_apart",
    "find_config",
    "in_the_way_of",
    "key_for",
    "load_settings",
    "name_like",
    "read_destination",
    "read_edge",
    "read_folder",
    "read_words",
    "recipe_of",
    "reference_file",
    "render_first",
    "resolve",
]
