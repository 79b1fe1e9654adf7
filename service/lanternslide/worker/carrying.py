"""Carrying metadata over from an original's own file, or from what stands in for one that the library does not read."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

from lanternslide.imaging.reading.classic_tiff import as_classic
from lanternslide.imaging.reading.source import Header
from lanternslide.metadata import Carried, Wishes, carry_metadata
from lanternslide.metadata.keys import CALLED, travels
from lanternslide.worker.original import DESCRIPTORS

__all__ = ["carried_over"]

NAME, MAKER_NOTE = "lanternslide metadata", "Exif.Photo.MakerNote"


def carried_over(header: Header, jpeg: bytes, wishes: Wishes) -> Carried:
    """Return *jpeg* with what *wishes* want of the metadata of an original; of a BigTIFF, of its first page."""
    classic = as_classic(header.path) if header.kind == "TIFF" else None
    if classic is None:
        return carry_metadata(header.path, jpeg, wishes)
    with _as_file(classic.data) as path:
        carried = carry_metadata(path, jpeg, wishes)
    chosen = travels("exif", wishes.policy, keep_location=wishes.keep_location, keep_serials=wishes.keep_serials)
    if not classic.lacks_maker_note or not chosen(MAKER_NOTE):
        return carried
    return replace(carried, left_behind=(*carried.left_behind, f"{CALLED['exif']}: the maker note"))


@contextmanager
def _as_file(data: bytes) -> Iterator[Path]:
    """Yield a path that leads to *data* meanwhile."""
    descriptor = _in_memory()
    if descriptor is None:
        with TemporaryDirectory(prefix="lanternslide-") as folder:
            path = Path(folder) / "metadata.tif"
            path.write_bytes(data)
            yield path
        return
    try:
        with os.fdopen(descriptor, "wb", closefd=False) as stream:
            stream.write(data)
        yield DESCRIPTORS / str(descriptor)
    finally:
        os.close(descriptor)


def _in_memory() -> int | None:
    """Return a new file that lies in no folder, where the system has such files and lets one have them."""
    if sys.platform != "linux" or not DESCRIPTORS.is_dir():
        return None
    try:
        return os.memfd_create(NAME)
    except OSError:
        return None
