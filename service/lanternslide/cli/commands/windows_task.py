"""The service as a task of Windows: what ``install`` and ``uninstall`` do there."""

from __future__ import annotations

import os
import sys
from pathlib import Path, PureWindowsPath

import click

from lanternslide.cli.session import state_folder
from lanternslide.config import Settings, load_settings
from lanternslide.errors import ConfigError, InstallError
from lanternslide.install import (
    TASK_NAME,
    TaskDefinition,
    config_in,
    register_task,
    registered_task,
    remove_task,
    task_file,
    windowless,
)
from lanternslide.storage.mounts import is_mapped_drive
from lanternslide.words import Install, say

__all__ = ["install_task", "task_to_print", "uninstall_task"]


def install_task(config: Path) -> None:
    """Register the task that runs the service with *config*, and say how to start it.

    Raises
    ------
    InstallError
        If this is no Windows.
    UsageError
        If a path is one that a task cannot say.
    TaskRefusedError
        If Windows does not take it.
    """
    if sys.platform == "win32":
        register_task(_task(config))
        click.echo(f"The task {TASK_NAME} is registered. It starts the service with the machine. To start it now:")
        click.echo(f"  schtasks /Run /TN {TASK_NAME}")
        _warn_of(config)
    else:
        raise InstallError(Install.NOT_WINDOWS)


def task_to_print(config: Path) -> bytes:
    """Return the file of the task that would be registered; what has to be changed in it is said on the error stream.

    Raises
    ------
    UsageError
        If a path is one that a task cannot say.
    """
    data = task_file(_task(config))
    if sys.platform != "win32":
        click.echo(say(Install.OF_THIS_MACHINE).text, err=True)
    _warn_of(config)
    return data


def uninstall_task() -> None:
    """Have the service stop, and remove its task; the config that the task names says where and how long.

    Raises
    ------
    InstallError
        If that config is not known, or not valid.
    TaskRefusedError
        If Windows refuses a step.
    ServiceRunsOnError
        If the service has not stopped in time.
    """
    definition = registered_task(TASK_NAME)
    if definition is None:
        click.echo(say(Install.NO_TASK, task=TASK_NAME).text)
        return
    settings = _settings_of(definition)
    remove_task(TASK_NAME, state_folder(settings, os.environ), grace_seconds=settings.service.grace_seconds)
    click.echo(f"The task {TASK_NAME} is gone. {say(Install.STAYS).text}")


def _settings_of(definition: str) -> Settings:
    config = config_in(definition)
    if config is None:
        raise InstallError(Install.TASK_UNCLEAR, task=TASK_NAME, detail="The task names none.")
    try:
        return load_settings(Path(config.as_posix()))
    except ConfigError as error:
        raise InstallError(Install.TASK_UNCLEAR, task=TASK_NAME, detail=" ".join(map(str, error.faults))) from error


def _task(config: Path) -> TaskDefinition:
    account = os.environ.get("USERNAME", "ida")
    domain = os.environ.get("USERDOMAIN", "")
    return TaskDefinition(
        user=f"{domain}\\{account}" if domain else account,
        python=windowless(PureWindowsPath(sys.executable)),
        config=PureWindowsPath(config),
        folder=PureWindowsPath(config.parent),
    )


def _warn_of(config: Path) -> None:
    """Say so if a task will not find *config*."""
    if is_mapped_drive(config):
        click.echo(say(Install.CONFIG_ON_DRIVE, config=config).text, err=True)
