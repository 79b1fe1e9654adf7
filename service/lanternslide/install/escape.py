"""Writing names into unit files so that systemd reads them as they are (systemd.syntax(7), systemd.unit(5)). Pure."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

__all__ = ["bound_path", "command_line", "listed_path"]


def listed_path(path: Path) -> str:
    """Return *path* for a setting that takes a list of paths, such as ``ReadWritePaths=``."""
    return _quoted(str(path).replace("%", "%%"))


def bound_path(path: Path) -> str:
    r"""Return *path* for a setting whose entries have parts, such as ``BindPaths=``; a colon of a name is ``\:``."""
    # The entry is unquoted first and divided at its colons after, and each time a backslash is taken off.
    return _quoted(str(path).replace("%", "%%")).replace(":", "\\:")


def command_line(program: Path, words: Iterable[str]) -> str:
    """Return a command line for ``ExecStart=`` (systemd.service(5), "Command lines").

    The program's name can hold no quotes and no backslash; systemd refuses such a unit.
    """
    # A dollar is special in what follows the program only, as systemd 252 shows.
    arguments = (_quoted(word.replace("%", "%%").replace("$", "$$")) for word in words)
    return " ".join((listed_path(program), *arguments))


def _quoted(text: str) -> str:
    if text and not set(text) & set(" \t\"'\\;"):
        return text
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'
