"""Requests that the owner's commands leave for a running service, as files in the state folder.

A request is written under a dot name and renamed, so that it is there whole or not at all; its reply likewise. Each is
asked and answered once.
"""

from __future__ import annotations

import json
import os
import stat
import sys
import time
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import asdict, dataclass, field
from pathlib import Path

from lanternslide.records.windows import in_use, private_mode

__all__ = ["Reply", "Request", "RequestFolder"]

MOST_BYTES = 16 * 2**20
"""A request is no longer; it may name very many paths."""

REQUEST, REPLY = ".request", ".answer"
"""The endings; a service may be older than the command that asks it, so they stay."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Request:
    """What an owner asks for."""

    command: str  #: ``retry``, ``withdraw`` or ``sweep``.
    paths: tuple[str, ...] = ()  #: Whole paths of originals or of folders with originals.
    destination: str | None = None  #: This one alone.
    again: bool = False  #: Make again what a changed config touches.
    missing: bool = False  #: Make again what was deleted from a destination.
    since_ns: int | None = None  #: Only originals changed at this time or later, nanoseconds since 1970.


@dataclass(frozen=True, kw_only=True, slots=True)
class Reply:
    """What came of a request."""

    lines: tuple[str, ...] = field(default=())  #: For the owner.
    status: int = 0  #: The command's exit status.


class RequestFolder:
    """The folder that requests and replies are left in."""

    def __init__(self, state: Path) -> None:
        self.folder = state / "requests"

    def leave(self, request: Request) -> str:
        """Leave a request and return its name."""
        name = f"{time.time_ns()}-{os.getpid()}"
        self._write(name + REQUEST, asdict(request))
        return name

    def take(self) -> Iterator[tuple[str, Request | None]]:
        """Yield the requests that lie there, oldest first; None for one that cannot be understood.

        Whoever has acted on a request replies to it; until then it is there, also after a crash.
        """
        try:
            found = [entry.name for entry in os.scandir(self.folder)]
        except FileNotFoundError:
            return
        # One that begins with a dot is still being written.
        for name in sorted(name for name in found if name.endswith(REQUEST) and not name.startswith(".")):
            try:
                content = json.loads(_text_of(self.folder / name))
                content["paths"] = tuple(content["paths"])
                request = Request(**content)
            except FileNotFoundError:  # taken back
                continue
            except (OSError, ValueError, TypeError, KeyError, RecursionError) as error:
                if isinstance(error, OSError) and in_use(error):  # a scanner looks into it; it is read the next time
                    continue
                request = None
            yield name.removesuffix(REQUEST), request

    def reply(self, name: str, reply: Reply) -> None:
        """Reply to the request *name*, which is done with, whether somebody reads that or not."""
        try:
            self._write(name + REPLY, asdict(reply))
        finally:
            self.take_back(name)

    def take_reply(self, name: str) -> Reply | None:
        """Return the reply to the request *name*, which is forgotten, or None if there is none yet."""
        path = self.folder / (name + REPLY)
        try:
            found = json.loads(path.read_text("utf-8"))
        except (FileNotFoundError, PermissionError):  # on Windows it is nobody's in the moment of its renaming
            return None
        with suppress(PermissionError):  # something else reads it, too; the service's next start deletes it
            path.unlink(missing_ok=True)
        return Reply(lines=tuple(found["lines"]), status=found["status"])

    def take_back(self, name: str) -> None:
        """Take a request back."""
        (self.folder / (name + REQUEST)).unlink(missing_ok=True)

    def prepare(self) -> None:
        """Make the folder, and delete the replies that nobody has waited for.

        Raises
        ------
        OSError
            If the folder is somebody else's.
        """
        self.folder.mkdir(mode=private_mode(), parents=True, exist_ok=True)
        for entry in list(os.scandir(self.folder)):
            if entry.name.endswith(REPLY) or entry.name.startswith("."):
                (self.folder / entry.name).unlink(missing_ok=True)

    def _write(self, name: str, content: dict[str, object]) -> None:
        self.folder.mkdir(mode=private_mode(), parents=True, exist_ok=True)
        temporary = self.folder / f".{name}"
        # A path that is no text keeps its bytes as escapes.
        temporary.write_text(json.dumps(content), "utf-8")
        temporary.replace(self.folder / name)


def _text_of(path: Path) -> str:
    """Return what a request says, without waiting for anything.

    Raises
    ------
    FileNotFoundError
        If it is not there any more.
    OSError, ValueError
        If it cannot be read, or is not a file of this user's: a pipe, a link, what somebody else has put there.
    """
    descriptor = os.open(path, os.O_RDONLY | _flag("O_NOFOLLOW") | _flag("O_NONBLOCK") | _flag("O_BINARY"))
    with os.fdopen(descriptor, "rb") as stream:
        status = os.fstat(descriptor)
        if not stat.S_ISREG(status.st_mode) or status.st_size > MOST_BYTES:
            raise ValueError
        if sys.platform != "win32" and status.st_uid not in (0, os.geteuid()):
            raise ValueError
        return stream.read().decode("utf-8")


def _flag(name: str) -> int:
    """Return a flag of open(2), 0 where the system has it not."""
    flag: int = getattr(os, name, 0)
    return flag
