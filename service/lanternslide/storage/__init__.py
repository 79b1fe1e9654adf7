"""Files and folders as systems have them: whole or not at all, never replaced by a rename, on shares that hang."""

from lanternslide.storage.files import (
    digest_of,
    is_file_with,
    move_new,
    publish_new,
    publish_over,
    put_text,
    remove_delivery,
    remove_temporary,
    set_mode,
    write_temporary,
)
from lanternslide.storage.folders import check_folder, ready_folder
from lanternslide.storage.looking import is_file, is_folder, is_gone, is_there
from lanternslide.storage.temporary import is_temporary_of, temporary_name

__all__ = [
    "check_folder",
    "digest_of",
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
    "set_mode",
    "temporary_name",
    "write_temporary",
]
