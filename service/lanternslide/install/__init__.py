"""Having the system start the service: what it is told, and telling it. Programs are run here, too."""

from lanternslide.install.schtasks import is_registered, register_task, remove_task
from lanternslide.install.shipped import shipped_files
from lanternslide.install.windows_task import TaskDefinition, task_file, windowless

__all__ = [
    "TaskDefinition",
    "is_registered",
    "register_task",
    "remove_task",
    "shipped_files",
    "task_file",
    "windowless",
]
