"""Putting files into destination folders: naming, atomic publishing."""

from lanternslide.delivery.calling import called, folder_called, uses_date
from lanternslide.delivery.files import (
    digest_of,
    is_file_with,
    move_new,
    publish_new,
    publish_over,
    put_text,
    remove_delivery,
    remove_temporary,
    write_temporary,
)
from lanternslide.delivery.folders import check_folder, ready_folder
from lanternslide.delivery.looking import is_file, is_folder, is_gone, is_there
from lanternslide.delivery.naming import (
    delivered_names,
    is_former_name,
    is_name_of,
    is_temporary_of,
    temporary_name,
)

__all__ = [
    "called",
    "check_folder",
    "delivered_names",
    "digest_of",
    "folder_called",
    "is_file",
    "is_file_with",
    "is_folder",
    "is_former_name",
    "is_gone",
    "is_name_of",
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
    "uses_date",
    "write_temporary",
]
