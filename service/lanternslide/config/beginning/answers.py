"""What a photographer answers before there is a config: taken, or refused with the reason."""

from __future__ import annotations

import errno
import os
import re
from collections.abc import Collection
from pathlib import Path

from anyascii import anyascii

from lanternslide.config.beginning.first import DELIVERIES, LONGEST_KEY, PROOFS, STATE, is_reserved
from lanternslide.config.checks.overlap import NamedFolder, overlaps
from lanternslide.config.load import CONFIG_NAME
from lanternslide.config.settings import NAME_ALLOWED, NAME_PATTERN
from lanternslide.records.values import expanded
from lanternslide.words import Beginning, Said, say, told

__all__ = ["cannot_be_made", "in_the_way_of", "name_like", "read_destination", "read_edge", "read_folder", "read_words"]

SHORTEST_EDGE, LONGEST_EDGE = 16, 100_000
"""Pixels, as for `long_edge` in the config."""

FROM_WINDOWS = re.compile(r"[A-Za-z]:[\\/]|\\\\")
"""How folders begin on Windows: a drive, or a share."""

PIXELS = re.compile(r"([0-9]{1,6})\s*(?:px|pixels?)?", re.ASCII | re.IGNORECASE)


def read_words(typed: str) -> str | Said:
    """Return what stands in a config as a text; it may be empty. Spaces of all kinds become plain ones."""
    words = " ".join(typed.split())
    return words if words.isprintable() else say(Beginning.UNSEEN, found=words)


def read_folder(typed: str, base: Path) -> str | Said:
    """Return a drop folder as it stands in the config, whose folder is *base*; ``~`` is written out."""
    found = _written_out(typed)
    return found if isinstance(found, Said) else _where_it_may_lie(found, base) or found


def _written_out(typed: str) -> str | Said:
    """Return a folder as a config takes it."""
    found = typed.strip()
    # Terminals put quotation marks around a folder that is dragged onto them.
    if len(found) >= 2 and found[0] == found[-1] and found[0] in "\"'":
        found = found[1:-1]
    if not found.strip():
        return say(Beginning.EMPTY)
    if not found.isprintable():
        return say(Beginning.UNSEEN, found=found)
    if found.rstrip("/") and not found.rstrip("/").endswith(":"):  # D:/ is another folder than D:
        found = found.rstrip("/")
    if os.name != "nt" and FROM_WINDOWS.match(found):
        return say(Beginning.FROM_WINDOWS, found=found)
    try:
        whole = expanded(found)
    except ValueError:
        return say(Beginning.NO_HOME, found=found)
    if whole != Path(found):  # a service may run as somebody else, who has another home
        found = str(whole)
    return found


def _where_it_may_lie(found: str, base: Path) -> Said | None:
    """Return why a drop folder cannot lie there; None if it can."""
    folder = base / found
    taken_names = (DELIVERIES, PROOFS, STATE, CONFIG_NAME)
    written = [NamedFolder(key=name, folder=base / name) for name in taken_names]
    drop = NamedFolder(key="drop", folder=folder)
    for one, other in overlaps(iter((drop, *written))):
        if drop in (one, other):
            taken = other if one is drop else one
            return say(Beginning.NOT_APART, folder=folder, other=taken.folder)
    blocked = in_the_way_of(folder)
    if blocked is not None:
        return say(Beginning.FILE_IN_THE_WAY, folder=folder, file=blocked)
    detail = cannot_be_made(folder)
    return None if detail is None else say(Beginning.CANNOT_BE_MADE, folder=folder, detail=detail)


def cannot_be_made(folder: Path) -> str | None:
    """Return why *folder* can neither be read nor made, as the system puts it; None if one of them is possible.

    Only what can be seen without making it: a disk may still turn out to be full.
    """
    for path in (folder, *folder.parents):
        try:
            path.lstat()
        except FileNotFoundError:
            continue
        except OSError as error:
            return told(error)
        needed = os.R_OK | os.X_OK if path == folder else os.W_OK | os.X_OK
        return None if os.access(path, needed) else os.strerror(errno.EACCES)
    return os.strerror(errno.ENOENT)  # a drive that Windows does not have


def in_the_way_of(folder: Path) -> Path | None:
    """Return what is no folder where *folder*, or one around it, should be; None if nothing is."""
    for path in (folder, *folder.parents):
        try:
            path.lstat()
        except OSError:  # not there, or not to be asked; what is around it decides, and in the end the making
            continue
        return None if os.path.isdir(path) else path  # noqa: PTH112 - pathlib's raises where a link may not be followed
    return None


def read_destination(typed: str, taken: Collection[str]) -> str | Said:
    """Return the name of a destination that is none of those *taken*; upper and lower case are the same."""
    found = typed.strip()
    if re.fullmatch(NAME_PATTERN, found) is None:
        return say(Beginning.NO_NAME, found=found, allowed=NAME_ALLOWED)
    if is_reserved(found):
        return say(Beginning.RESERVED_NAME, found=found)
    if found.casefold() in {name.casefold() for name in taken}:
        return say(Beginning.SAME_NAME, found=found)
    return found


def name_like(typed: str, taken: Collection[str]) -> str:
    """Return the nearest name that `read_destination` takes: "my-website" for "My Website"; "" if there is none."""
    plain = "-".join(re.findall(r"[a-z0-9_]+", anyascii(typed).lower()))[:LONGEST_KEY].rstrip("-")
    return plain if isinstance(read_destination(plain, taken), str) else ""


def read_edge(typed: str) -> int | Said:
    """Return a long edge in pixels."""
    match = PIXELS.fullmatch(typed.strip())
    if match is None or not SHORTEST_EDGE <= int(match[1]) <= LONGEST_EDGE:
        return say(Beginning.NO_EDGE, found=typed.strip(), least=SHORTEST_EDGE, most=LONGEST_EDGE)
    return int(match[1])
