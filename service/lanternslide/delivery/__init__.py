"""Putting files into destination folders: naming, atomic publishing."""

from lanternslide.delivery.files import (
    is_file_with,
    move_new,
    publish_new,
    publish_over,
    put_text,
    remove_delivery,
    remove_temporary,
    write_temporary,
)
from lanternslide.delivery.folders import ready_folder
from lanternslide.delivery.naming import delivered_names, is_temporary_of, temporary_name

__all__ = [
    "delivered_names",
    "is_file_with",
    "is_temporary_of",
    "move_new",
    "publish_new",
    "publish_over",
    "put_text",
    "ready_folder",
    "remove_delivery",
    "remove_temporary",
    "temporary_name",
    "write_temporary",
]
