"""Native file system events, as hints where to look; and whether they can be relied on."""

from __future__ import annotations

import logging
import os
import re
from collections.abc import Callable
from contextlib import suppress
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
from watchdog.observers.api import BaseObserver, EventEmitter, ObservedWatch

__all__ = ["DropWatcher", "watches_in_place"]

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


class _Ping(FileSystemEvent):
    """Nothing has happened; whether the observer's thread hears of it is the question."""


Hint = Callable[[str, Path], None]
"""Takes the photographer's name and a path below the drop folder where something happened."""

INOTIFY_LOG = "watchdog.observers.inotify_c"
"""Where watchdog remarks that the system has lost events; it tells nobody else."""


class _Handler(FileSystemEventHandler):
    """Passes the path of each event on; an error here would end the observer's thread, so it does no more."""

    def __init__(self, photographer: str, drop: Path, hint: Hint, heard: Callable[[], None]) -> None:
        self._photographer, self._drop, self._hint, self._heard = photographer, drop, hint, heard

    def dispatch(self, event: FileSystemEvent) -> None:
        if isinstance(event, _Ping):
            self._heard()
            return
        for name in (event.src_path, event.dest_path):
            path = Path(os.fsdecode(name))
            if name and path.is_relative_to(self._drop):
                self._hint(self._photographer, path.relative_to(self._drop))


class _Listener(logging.Handler):
    """Tells of what watchdog remarks in its log."""

    def __init__(self, lost: Callable[[], None]) -> None:
        super().__init__(logging.WARNING)
        self._lost = lost

    def emit(self, _record: logging.LogRecord) -> None:
        self._lost()


class DropWatcher:
    """Watches the drop folders and hands hints on, from threads of its own.

    Parameters
    ----------
    hint
        Takes what happened.
    lost
        Is called when the system has lost events, so that only looking everywhere tells what happened.
    """

    def __init__(self, hint: Hint, lost: Callable[[], None]) -> None:
        self._hint = hint
        self._listener = _Listener(lost)
        log = logging.getLogger(INOTIFY_LOG)
        log.addHandler(self._listener)
        log.propagate = False
        self._watched: dict[str, tuple[Path, ObservedWatch, tuple[int, int]]] = {}
        self._is_heard = True
        self._start()

    def _start(self) -> None:
        self._observer: BaseObserver = Observer()
        # A running observer says at once which folder it cannot watch.
        self._observer.start()
        self._hear()

    def _hear(self) -> None:
        self._is_heard = True

    def ping(self) -> bool:
        """Ping the observer's thread; return whether it has answered the last ping, and so hands hints on."""
        if not (self._is_running() and self._is_heard):
            return False
        for _, watch, _ in list(self._watched.values())[:1]:
            self._is_heard = False
            self._observer.event_queue.put((_Ping(""), watch))
        return True

    def _is_running(self) -> bool:
        return self._observer.is_alive() and self._observer.should_keep_running()

    def watch(self, photographer: str, drop: Path) -> None:
        """Begin to watch *drop*, or begin anew.

        Raises
        ------
        OSError
            If it cannot be watched; the scan finds its files all the same.
        """
        self.forget(photographer)
        if not self._is_running():
            self._observer.stop()
            self._watched.clear()
            self._start()
        status = drop.stat()
        handler = _Handler(photographer, drop, self._hint, self._hear)
        watch = self._observer.schedule(handler, str(drop), recursive=True, event_filter=EVENTS)
        self._watched[photographer] = (drop, watch, (status.st_dev, status.st_ino))

    def forget(self, photographer: str) -> None:
        """Watch a photographer's drop folder no longer."""
        found = self._watched.pop(photographer, None)
        self._hear()  # what was asked through this folder is answered by nobody any more
        if found is not None:
            with suppress(KeyError, OSError):  # it has ended by itself
                self._observer.unschedule(found[1])

    def is_watching(self, photographer: str) -> bool:
        """Return whether events of a photographer's drop folder still come.

        They do not if a thread has ended, or if the folder's name leads to another folder than the one that is watched:
        one that was made anew, or a share that was connected again.
        """
        found = self._watched.get(photographer)
        if found is None or not self._is_running():
            return False
        drop, watch, identity = found
        try:
            status = drop.stat()
        except OSError:
            return False
        emitters: set[EventEmitter] = self._observer.emitters
        is_alive = any(emitter.watch == watch and emitter.is_alive() for emitter in emitters)
        return is_alive and (status.st_dev, status.st_ino) == identity

    def stop(self) -> None:
        """End watching and wait for the threads."""
        logging.getLogger(INOTIFY_LOG).removeHandler(self._listener)
        self._observer.stop()
        if self._observer.is_alive():
            self._observer.join()


WATCH = re.compile(r"^inotify wd:", re.MULTILINE)


def watches_in_place(descriptors: Path = Path("/proc/self/fdinfo")) -> int | None:
    """Return how many folders the system watches for this process (proc(5), fdinfo); None where it does not tell.

    Where the system's limit is reached, watchdog leaves subfolders out without a word; this number tells.
    """
    try:
        found = list(descriptors.iterdir())
    except OSError:
        return None
    count = 0
    for path in found:
        with suppress(OSError):  # closed in the meantime
            count += len(WATCH.findall(path.read_text("ascii", "replace")))
    return count
