"""Native file system events, as hints where to look."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

from watchdog.events import (
    DirCreatedEvent,
    DirDeletedEvent,
    DirMovedEvent,
    FileClosedEvent,
    FileCreatedEvent,
    FileDeletedEvent,
    FileModifiedEvent,
    FileMovedEvent,
    FileSystemEvent,
    FileSystemEventHandler,
)
from watchdog.observers import Observer

__all__ = ["DropWatcher"]

# Reading an original must not wake the service: only these events count.
EVENTS: list[type[FileSystemEvent]] = [
    FileCreatedEvent,
    FileModifiedEvent,
    FileMovedEvent,
    FileClosedEvent,
    FileDeletedEvent,
    DirCreatedEvent,
    DirMovedEvent,
    DirDeletedEvent,
]

Hint = Callable[[str, Path], None]
"""Takes the photographer's name and a path below the drop folder where something happened."""


class _Handler(FileSystemEventHandler):
    """Passes the path of each event on; an error here would end the observer's thread, so it does no more."""

    def __init__(self, photographer: str, drop: Path, hint: Hint) -> None:
        self._photographer, self._drop, self._hint = photographer, drop, hint

    def on_any_event(self, event: FileSystemEvent) -> None:
        for name in (event.src_path, event.dest_path):
            path = Path(os.fsdecode(name))
            if name and path.is_relative_to(self._drop):
                self._hint(self._photographer, path.relative_to(self._drop))


class DropWatcher:
    """Watches the drop folders and hands hints on, from a thread of its own."""

    def __init__(self, hint: Hint) -> None:
        self._hint = hint
        self._observer = Observer()
        # A running observer says at once which folder it cannot watch.
        self._observer.start()

    def watch(self, photographer: str, drop: Path) -> None:
        """Begin to watch *drop*.

        Raises
        ------
        OSError
            If it cannot be watched; the scan finds its files all the same.
        """
        handler = _Handler(photographer, drop, self._hint)
        self._observer.schedule(handler, str(drop), recursive=True, event_filter=EVENTS)

    def stop(self) -> None:
        """End watching and wait for the thread."""
        self._observer.stop()
        self._observer.join()
