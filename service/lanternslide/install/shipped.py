"""What `deploy` holds ready for systems to start the service by; `python -m tests.support.ship` writes it."""

from __future__ import annotations

from pathlib import PureWindowsPath

from lanternslide.install.windows_task import TaskDefinition, task_file

__all__ = ["shipped_files"]

EXAMPLE = TaskDefinition(
    user="SKERROW\\ida",
    python=PureWindowsPath("C:\\Lanternslide\\Scripts\\pythonw.exe"),
    config=PureWindowsPath("C:\\Users\\ida\\Lanternslide\\lanternslide.toml"),
    folder=PureWindowsPath("C:\\Users\\ida\\Lanternslide"),
)


def shipped_files() -> dict[str, bytes]:
    """Return the files by their names in `deploy`."""
    return {"lanternslide-task.xml": task_file(EXAMPLE)}
