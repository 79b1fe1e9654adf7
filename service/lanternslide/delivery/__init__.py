"""Putting files into destination folders: naming, atomic publishing."""

from lanternslide.delivery.files import (
    is_file_with,
    publish_new,
    publish_over,
    remove_temporary,
    write_temporary,
)
from lanternslide.delivery.folders import ready_folder
from lanternslide.delivery.naming import delivered_names, is_temporary_of, temporary_name

__all__ = [
    "delivered_names",
    "is_file_with",
    "is_temporary_of",
    "publish_new",
    "publish_over",
    "ready_folder",
    "remove_temporary",
    "temporary_name",
    "write_temporary",
]
