"""What `deploy` holds ready for systems to start the service by; `python -m tests.support.ship` writes it."""

from __future__ import annotations

from pathlib import Path, PureWindowsPath

from lanternslide.config import Settings
from lanternslide.install.plans import Folders, for_all, for_each, for_user
from lanternslide.install.units import Run, service_unit
from lanternslide.install.windows_task import TaskDefinition, task_file

__all__ = ["shipped_files"]

TASK = TaskDefinition(
    user="SKERROW\\ida",
    python=PureWindowsPath("C:\\Lanternslide\\Scripts\\pythonw.exe"),
    config=PureWindowsPath("C:\\Users\\ida\\Lanternslide\\lanternslide.toml"),
    folder=PureWindowsPath("C:\\Users\\ida\\Lanternslide"),
)
PYTHON = Path("/opt/lanternslide/bin/python")
MEMORY_MIB = 4608
"""A budget of 4 GiB, and what is beside it: an example, since "auto" depends on the machine."""
SHARE_MIB = 2560
STOP_SECONDS = 45


def shipped_files(settings: Settings, config: Path) -> dict[str, bytes]:
    """Return the files by their names in `deploy`.

    Parameters
    ----------
    settings
        Those of the home server that is the example.
    config
        Where its config lies once it is installed.
    """
    run = Run(python=PYTHON, config=config, memory_mib=MEMORY_MIB, stop_seconds=STOP_SECONDS)
    share = Run(python=PYTHON, config=config, memory_mib=SHARE_MIB, stop_seconds=STOP_SECONDS)
    far = Run(python=PYTHON, config=config, memory_mib=MEMORY_MIB, stop_seconds=STOP_SECONDS, network=True)
    state = settings.service.state
    assert state is not None
    folders = Folders(state=state, config=config.parent, program=(PYTHON.parents[1],))
    one, access = for_all(settings, run, folders)
    several, _ = for_each(settings, folders, {name: name for name in settings.photographers}, share)
    alone = for_user(run, Path("/system"))
    texts = {
        **{_shown(path, "all"): text for path, text in one.files.items()},
        **{_shown(path, "each"): text for path, text in several.files.items()},
        **{_shown(path, "user"): text for path, text in alone.files.items()},
        "systemd/cluster/lanternslide.service": service_unit(far, access),
    }
    return {"lanternslide-task.xml": task_file(TASK), **{name: text.encode() for name, text in texts.items()}}


def _shown(path: Path, kind: str) -> str:
    """Return where a file lies in `deploy`: a unit by its name, another beside its folder's name."""
    parts = path.parts[path.parts.index("system") + 1 :] if "system" in path.parts else path.parts[-2:]
    return str(Path("systemd", kind, *parts))
