"""Having the system start the service: what it is told, and telling it. Programs are run here, too."""

from lanternslide.install.access import Access, tidy
from lanternslide.install.plans import BESIDE_UNITS, UNITS, Folders, for_all, for_each, for_user, user_units
from lanternslide.install.schtasks import register_task, registered_task, remove_task
from lanternslide.install.shipped import shipped_files
from lanternslide.install.systemd import Installation, carry_out, installed, is_running, systemd_version, take_away
from lanternslide.install.units import ACCOUNT, Run
from lanternslide.install.windows_task import TASK_NAME, TaskDefinition, config_in, task_file, windowless

__all__ = [
    "ACCOUNT",
    "BESIDE_UNITS",
    "TASK_NAME",
    "UNITS",
    "Access",
    "Folders",
    "Installation",
    "Run",
    "TaskDefinition",
    "carry_out",
    "config_in",
    "for_all",
    "for_each",
    "for_user",
    "installed",
    "is_running",
    "register_task",
    "registered_task",
    "remove_task",
    "shipped_files",
    "systemd_version",
    "take_away",
    "task_file",
    "tidy",
    "user_units",
    "windowless",
]
