"""Files and folders as systems have them: whole or not at all, never replaced by a rename, on shares that hang."""

from lanternslide.storage.faults import folder_fault
from lanternslide.storage.files import (
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
from lanternslide.storage.folders import check_folder, ready_folder
from lanternslide.storage.looking import is_file, is_folder, is_gone, is_there
from lanternslide.storage.mounts import Mount, is_mapped_drive, is_remote, mount_of, mounts
from lanternslide.storage.probe import Probe, SilentError
from lanternslide.storage.temporary import is_temporary_of, temporary_name

__all__ = [
    "Mount",
    "Probe",
    "SilentError",
    "check_folder",
    "digest_of",
    "folder_fault",
    "is_file",
    "is_file_with",
    "is_folder",
    "is_gone",
    "is_mapped_drive",
    "is_remote",
    "is_temporary_of",
    "is_there",
    "mount_of",
    "mounts",
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
