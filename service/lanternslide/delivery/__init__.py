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
from lanternslide.delivery.looking import is_file, is_folder, is_gone, is_there
from lanternslide.delivery.naming import delivered_names, is_temporary_of, temporary_name

__all__ = [
    "delivered_names",
    "is_file",
    "is_file_with",
    "is_folder",
    "is_gone",
    "is_temporary_of",
    "is_there",
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
