"""The settings: their model, and the loader that finds every fault at once."""

from lanternslide.config.apart import check_apart
from lanternslide.config.load import find_config, load_settings
from lanternslide.config.settings import Destination, Photographer, Service, Settings, Size

__all__ = [
    "Destination",
    "Photographer",
    "Service",
    "Settings",
    "Size",
    "check_apart",
    "find_config",
    "load_settings",
]
