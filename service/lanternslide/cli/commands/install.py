"""``lanternslide install``."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import click

from lanternslide.cli.absolute import absolute
from lanternslide.cli.commands.windows_task import install_task, task_to_print
from lanternslide.cli.session import Named, divided_among, has_ledger, is_root, state_folder
from lanternslide.config import Settings, check_apart, find_config, load_settings
from lanternslide.config.limits import share_of_memory
from lanternslide.config.machine import BESIDE_WORKERS
from lanternslide.daemon import CLOSING_SECONDS
from lanternslide.errors import ConfigError, ConfigFault, ExitStatus, InstallError, UsageError
from lanternslide.install import (
    ACCOUNT,
    UNITS,
    Access,
    Folders,
    Installation,
    Run,
    carry_out,
    for_all,
    for_each,
    for_user,
    ground,
    installed,
    is_running,
    systemd_version,
    tidy,
    user_units,
)
from lanternslide.storage.mounts import mounts
from lanternslide.words import ConfigWord, Install, say, told

__all__ = ["install"]


@dataclass(frozen=True, kw_only=True, slots=True)
class _Asked:
    """What is to be installed, and from what."""

    settings: Settings
    config: Path
    dry: bool
    output: Path | None


@click.command()
@click.option("--systemd", "way", flag_value="systemd", help="On Linux: with systemd, for the whole machine.")
@click.option("--windows-task", "way", flag_value="windows", help="On Windows: as a task of the Task Scheduler.")
@click.option("--user", is_flag=True, help="With --systemd: only for you, without root.")
@click.option(
    "--per-photographer",
    "each",
    is_flag=True,
    help="A service for each photographer, which sees no other's folders.",
)
@click.option("--dry-run", "dry", is_flag=True, help="Print what it would write; write nothing.")
@click.option("--output", type=Path, metavar="FILE", help="With --dry-run: the file to print to.")
@click.pass_obj
def install(named: Named, /, way: str | None, output: Path | None, **flags: bool) -> int:
    """Start the service whenever the machine starts.

    With --systemd, root installs it for the whole machine. It gets its own user, and may write only where the config
    says. Install again when you change folders in the config. With --windows-task, Windows asks for your password, so
    that the service can reach shares and run while nobody is logged on.

    Changes: writes the system's files for the service, and lists them; nothing with --dry-run.

    While the service runs: works the same; the changes take effect when you restart it.

    Exit status: 2 if it cannot be installed like this; otherwise that of `check`, as the service's user.
    """
    if way is None:
        raise UsageError(say(Install.ONE_WAY).text)
    if output is not None and not flags["dry"]:
        raise UsageError(say(Install.OUTPUT_DRY).text)
    if way == "windows" and (flags["user"] or flags["each"]):
        raise UsageError(say(Install.ONE_TASK).text)
    if flags["user"] and flags["each"]:
        raise UsageError(say(Install.NOT_WITH_USER).text)
    # What is written holds wherever it is read.
    config = Path(absolute(find_config(named.config, os.environ)))
    asked = _Asked(settings=load_settings(config), config=config, dry=flags["dry"], output=output)
    if way == "windows":
        _need_state(asked)
        return _as_task(asked)
    if flags["user"]:
        return _for_user(asked)
    _need_state(asked)
    return _for_each(asked) if flags["each"] else _for_all(asked)


def _need_state(asked: _Asked) -> None:
    if asked.settings.service.state is None:
        raise ConfigError([ConfigFault.of(str(asked.config), "service.state", ConfigWord.NEEDS_STATE)])


def _run(asked: _Asked, services: int = 1, *, version: int = 0) -> Run:
    service = asked.settings.service
    return Run(
        python=Path(sys.executable),
        config=asked.config,
        memory_mib=(share_of_memory(service, services) + BESIDE_WORKERS) // 2**20,
        stop_seconds=round(service.grace_seconds + CLOSING_SECONDS),
        version=version,
        network=service.executor != "local",
    )


def _folders(asked: _Asked, state: Path) -> Folders:
    program = ground.program_folders()
    return Folders(state=state, config=asked.config.parent, program=program, mounts=tuple(mounts()))


def _for_all(asked: _Asked) -> int:
    state = tidy(state_folder(asked.settings, os.environ))
    ground.check_owner(state, ACCOUNT)
    if divided_among(asked.settings, state):
        raise InstallError(Install.HOLDS_SEVERAL_LEDGERS, folder=state)
    if asked.dry:
        return _print(asked, for_all(asked.settings, _run(asked), _folders(asked, state))[0])
    version = _prepare(asked, "lanternslide@.service")
    plan, access = for_all(asked.settings, _run(asked, version=version), _folders(asked, state))
    carry_out(plan)
    _say_written(plan)
    _say_access("The service runs as the user lanternslide", access)
    status = _say_found(ACCOUNT, access, asked)
    _say_start(plan.units, is_well=status == 0)
    return status


def _for_each(asked: _Asked) -> int:
    state = tidy(state_folder(asked.settings, os.environ))
    ground.check_owner(state, "root")
    for name in asked.settings.photographers:
        ground.check_owner(state / name, name)
    if has_ledger(state):
        raise InstallError(Install.HOLDS_ONE_LEDGER, folder=state)
    check_apart(str(asked.config), asked.settings)
    version = 0 if asked.dry else _prepare(asked, "lanternslide.service")
    run = _run(asked, len(asked.settings.photographers), version=version)
    groups = ground.groups_of(asked.settings.photographers)
    plan, access = for_each(asked.settings, _folders(asked, state), groups, run)
    if asked.dry:
        return _print(asked, plan)
    owned = {
        name: [folder for folder in (*seen.readable, *seen.writable) if folder != state / name]
        for name, seen in access.items()
    }
    ground.check_folders({name: [path for path in paths if not path.is_file()] for name, paths in owned.items()})
    carry_out(plan)
    _say_written(plan)
    status = 0
    for name, seen in access.items():
        _say_access(f"The service of {name} runs as the user {name}", seen)
        status = max(status, _say_found(name, seen, asked, "--photographer", name))
    _say_left_over(plan)
    _say_start(plan.units, is_well=status == 0)
    return status


def _for_user(asked: _Asked) -> int:
    if asked.dry:
        return _print(asked, for_user(_run(asked), user_units()))
    if is_root():
        raise InstallError(Install.NOT_FOR_ROOT)
    plan = for_user(_run(asked, version=systemd_version()), user_units())
    carry_out(plan)
    _say_written(plan)
    _say_start(plan.units, "--user")
    click.echo(f"\n{say(Install.LINGER).text}")
    return ExitStatus.DONE


def _prepare(asked: _Asked, other: str) -> int:
    """Return the version of systemd, once it is clear that a service for the machine can be installed here."""
    version = systemd_version()
    if not is_root():
        raise InstallError(Install.NEEDS_ROOT)
    others = [path for path in installed(UNITS).files if path.name == other]
    if others:
        raise InstallError(Install.OTHER_KIND, found=others[0])
    ground.check_reach(ground.program_folders())
    ground.check_config(asked.config)
    return version


def _as_task(asked: _Asked) -> int:
    if not asked.dry:
        install_task(asked.config)
        return ExitStatus.DONE
    data = task_to_print(asked.config)
    if asked.output is None:
        click.echo(data.decode("utf-16"))
    else:
        _write(asked.output, data)
    return ExitStatus.DONE


def _print(asked: _Asked, plan: Installation) -> int:
    text = "\n".join(f"# {path}\n{content}" for path, content in plan.files.items())
    text += "\n" + "".join(f"# then: {' '.join(command)}\n" for command in plan.commands)
    if asked.output is None:
        click.echo(text, nl=False)
    else:
        _write(asked.output, text.encode())
    return ExitStatus.DONE


def _write(path: Path, data: bytes) -> None:
    try:
        path.write_bytes(data)
    except OSError as error:
        detail = told(error)
        raise InstallError(Install.OUTPUT_NOT_WRITTEN, path=path, detail=detail) from error
    click.echo(f"Written: {path}")


def _say_written(plan: Installation) -> None:
    click.echo("Written:")
    _list(map(str, plan.files))


def _say_access(who: str, access: Access) -> None:
    click.echo(f"\n{who}. It may write only into these folders, as far as their permissions let that user:")
    _list(map(str, access.writable))


def _say_found(account: str, access: Access, asked: _Asked, *more: str) -> int:
    """Print what `check` says to the service's user, and return its status."""
    found = ground.check_as(account, access, asked.config, *more)
    click.echo(f"\nWhat the service finds, as the user {account}:")
    _list((found.stdout or found.stderr).splitlines())
    return found.returncode


def _say_left_over(plan: Installation) -> None:
    """Say what is installed for photographers whom the config no longer names."""
    left = [path for path in installed(UNITS).files if path not in plan.files]
    if left:
        units = [path.parent.name.removesuffix(".service.d") for path in left]
        click.echo(f"\n{say(Install.LEFT_OVER, files=', '.join(map(str, left)), units=' '.join(units)).text}")


def _say_start(units: Iterable[str], *whose: str, is_well: bool = True) -> None:
    if not is_well:
        click.echo("\nFix what is wrong first.")
    names = list(units)
    systemctl = ["systemctl", *whose]
    if is_running(names, systemctl):
        click.echo("\nThe service still runs with the old files. Restart it:")
        click.echo(f"  {' '.join([*systemctl, 'restart', *names])}")
    else:
        click.echo("\nStart it, now and whenever the machine starts:")
        click.echo(f"  {' '.join([*systemctl, 'enable', '--now', *names])}")


def _list(lines: Iterable[str]) -> None:
    for line in lines:
        click.echo(f"  {line}".rstrip())
