"""The stop file: an empty file in the state folder that asks the service there to stop in order.

For whoever cannot send a signal: another user, another machine, and everybody on Windows, where a service without a
console can be sent none.
"""

from __future__ import annotations

from pathlib import Path

__all__ = ["STOP_FILE", "ask_to_stop", "take_stop_request"]

STOP_FILE = "stop"


def ask_to_stop(folder: Path) -> None:
    """Ask the service that works with the state *folder* to stop.

    Raises
    ------
    OSError
        If the folder does not take it.
    """
    (folder / STOP_FILE).touch()


def take_stop_request(folder: Path) -> bool:
    """Return whether the service has been asked to stop since this was last asked; the stop file is taken away.

    Raises
    ------
    OSError
        If it is there and cannot be taken away. That is no reason to stop: the next service would stop by it, too.
    """
    try:
        (folder / STOP_FILE).unlink()
    except FileNotFoundError:
        return False
    return True
