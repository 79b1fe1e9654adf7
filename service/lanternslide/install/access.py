"""Which folders the service may see and write, from the config. Pure but for looking where folders lie."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from lanternslide.config import Destination, Settings
from lanternslide.errors import InstallError
from lanternslide.install.escape import bound_path, listed_path
from lanternslide.storage.mounts import Mount, is_remote, mount_of
from lanternslide.words import Install

__all__ = ["Access", "access_of", "access_of_one", "tidy"]

HOMES = (Path("/home"), Path("/root"), Path("/run/user"))
"""What ``ProtectHome=`` is about (systemd.exec(5))."""

COMES_AND_GOES = (Path("/mnt"), Path("/media"), Path("/run/media"))
"""Where shares and disks are connected (FHS 3.0, 3.11 and 3.12; /run/media is common practice)."""

TEMPORARY = (Path("/tmp"), Path("/var/tmp"))  # noqa: S108 - they are named to be refused
"""What the service has of its own, and so does not see as others do (systemd.exec(5), PrivateTmp=)."""

OF_THE_SYSTEM = frozenset({"bin", "boot", "dev", "etc", "lib", "lib64", "opt", "proc", "root", "run", "sbin", "sys",
                           "tmp", "usr", "var"})  # fmt: skip
"""Folders of the root that hold more than data (FHS 3.0, chapter 3)."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Access:
    """Folders as the service sees them."""

    writable: tuple[Path, ...]
    readable: tuple[Path, ...]  #: Only to be read, and would not be seen, or could be written, otherwise.
    hidden: tuple[Path, ...] = ()  #: Covered by empty folders, but for what is readable or writable in them.
    home: str = "yes"  #: ``ProtectHome=``: "yes" nothing of the homes is seen; "tmpfs" only what is named.
    must_be_there: bool = False  #: Whether a missing folder keeps the service from starting, until it is there.

    def lines(self) -> str:
        """Return the settings of a unit that say so."""
        covered = (*self.hidden, *(HOMES if self.home == "tmpfs" else ()))
        lines = [f"TemporaryFileSystem={bound_path(folder)}:ro" for folder in self.hidden]
        for paths, bound, listed in (
            (self.readable, "BindReadOnlyPaths", "ReadOnlyPaths"),
            (self.writable, "BindPaths", "ReadWritePaths"),
        ):
            for path in paths:
                # One that is missing is left out, so that the service can start, say so, and do what is for others.
                if not _is_below(path, covered):
                    lines.append(f"{listed}=-{listed_path(path)}")
                elif self.must_be_there:
                    lines.append(f"{bound}={bound_path(path)}")
                else:
                    lines.append(f"{bound}=-{bound_path(path)}")
        return "\n".join(lines)


def access_of(settings: Settings, state: Path, program: Iterable[Path], mounts: Iterable[Mount]) -> Access:
    """Return what one service for all photographers may see and write.

    Parameters
    ----------
    state
        The state folder.
    program
        What has to be readable beside the pictures: the interpreter, the package, the config.
    mounts
        What is mounted.

    Raises
    ------
    InstallError
        If a folder to be written cannot be told apart from the system's own.
    """
    mounted = list(mounts)
    _refuse_temporary((*_written(settings), *_drops(settings).values()))
    written = (_share_of(folder, mounted) or _place_above(folder) for folder in _written(settings))
    renamed = (_share_of(drop, mounted) or _around(drop, filed) for drop, filed in _filing(settings))
    top = _topmost([state, *written, *renamed])
    filing = {drop for drop, _ in _filing(settings)}
    drops = [path for drop in _drops(settings).values() if drop not in filing for path in _both(drop)]
    # On a share this would keep it from being seen when it is connected anew.
    guarded = [drop for drop in drops if _is_below(drop, top) and _share_of(drop, mounted) is None]
    seen = [*drops, *_marks(settings), *(path for part in program for path in _both(part))]
    in_homes = [path for path in seen if _is_below(path, HOMES) and not _is_below(path, top)]
    home = "tmpfs" if any(_is_below(path, HOMES) for path in (*top, *in_homes)) else "yes"
    return Access(writable=top, readable=_topmost([*guarded, *in_homes]), home=home)


def access_of_one(settings: Settings, name: str, state: Path, program: Iterable[Path], config: Path) -> Access:
    """Return what the service of photographer *name* alone may see and write: what is theirs, or shared by all.

    Parameters
    ----------
    state
        The state folder of all; each has a folder in it.
    config
        The config's folder, which has to be seen as it is, since files in it are replaced.

    Raises
    ------
    InstallError
        If something cannot be shown to them without what is another's.
    """
    own = settings.only(name, state=state / name, memory=1)
    _refuse_temporary((*_written(settings), *_drops(settings).values()))
    writable = [state / name, *_own_places(own, name)]
    writable += [_around(drop, filed) for drop, filed in _filing(own)]
    others = [
        folder
        for other in settings.photographers
        if other != name
        for folder in (
            *_both(_drops(settings)[other]), state / other,
            *_own_places(settings.only(other, state=state, memory=1), other),
            *(filed for drop, filed in _filing(settings) if drop == _drops(settings)[other]),
        )
    ]  # fmt: skip
    top = _topmost(writable)
    strangers = [folder for folder in others if folder not in writable]
    for folder in strangers:
        if _is_below(folder, top):
            above = next(place for place in top if folder.is_relative_to(place))
            raise InstallError(Install.NOT_APART, folder=folder, above=above, photographer=name)
    hidden = _topmost(_cover(folder) for folder in (*strangers, *top) if not _is_below(folder, HOMES))
    covered = (*hidden, *HOMES)
    if _is_below(config, covered):
        raise InstallError(Install.CONFIG_HIDDEN, folder=config)
    drops = [path for drop in _drops(own).values() for path in _both(drop) if not _is_below(path, top)]
    readable = [*drops, *(path for path in (*_marks(own), *program) if _is_below(path, covered))]
    home = "tmpfs" if any(_is_below(path, HOMES) for path in (*top, *readable, *strangers)) else "yes"
    # What is not there now would not be seen later either: better to try again until it is.
    return Access(writable=top, readable=_topmost(readable), hidden=hidden, home=home, must_be_there=True)


def tidy(path: Path) -> Path:
    """Return *path* without the ``..`` in it, which systemd does not take."""
    return Path(os.path.realpath(path)) if ".." in path.parts else path


def _both(path: Path) -> list[Path]:
    """Return *path* as it is spelt and, where links lead elsewhere, as it is."""
    spelt, real = tidy(path), Path(os.path.realpath(path))
    return [spelt] if spelt == real else [spelt, real]


def _refuse_temporary(folders: Iterable[Path]) -> None:
    for folder in folders:
        if _is_below(folder, TEMPORARY):
            raise InstallError(Install.TEMPORARY, folder=folder)


def _drops(settings: Settings) -> dict[str, Path]:
    return {name: tidy(owner.drop) for name, owner in settings.photographers.items()}


def _written(settings: Settings) -> Iterator[Path]:
    """Yield the folders that are written into: destinations and proof sheets."""
    for name in settings.photographers:
        yield from _own_places(settings, name)


def _own_places(settings: Settings, name: str) -> list[Path]:
    """Return the folders that *name*'s service writes into: of a pattern, the first that is theirs alone."""
    places = []
    proofs = settings.photographers[name].proofs
    if isinstance(proofs, Path):
        places += _both(proofs)
    for key in settings.destinations_of(name):
        places += _both(_first_of(settings.destination_for(name, key), name))
    return places


def _first_of(destination: Destination, name: str) -> Path:
    """Return a destination's folder for *name*; of a pattern, the first that is theirs alone, which is made in time."""
    folder, fixed = tidy(destination.folder_for(name)), tidy(destination.fixed_folder())
    return fixed / folder.relative_to(fixed).parts[0]


def _filing(settings: Settings) -> Iterator[tuple[Path, Path]]:
    """Yield drop folders with where finished originals are renamed to."""
    for owner in settings.photographers.values():
        if isinstance(owner.originals, Path):
            yield tidy(owner.drop), tidy(owner.originals)


def _marks(settings: Settings) -> Iterator[Path]:
    """Yield the files of watermarks."""
    for name in settings.photographers:
        for key in settings.destinations_of(name):
            mark = settings.destination_for(name, key).watermark
            if mark is not None:
                for path in (mark.image, mark.font):
                    yield from [] if path is None else _both(Path(path))


def _share_of(folder: Path, mounted: list[Mount]) -> Path | None:
    """Return the share or disk that *folder* lies on, if it can go and come back while the service runs.

    All of it is to be written then: a folder of its own in it would keep the service on the share that is gone, since
    what is connected anew does not show through (mount_namespaces(7)).
    """
    found = mount_of(Path(os.path.realpath(folder)), mounted)
    if found is None or found.folder == Path("/"):
        return None
    goes = is_remote(folder, lambda: mounted) or _is_below(found.folder, COMES_AND_GOES)
    return found.folder if goes else None


def _place_above(folder: Path) -> Path:
    """Return what has to be writable so that *folder* can be written, also where its owner makes it anew."""
    above = folder.parent
    is_deep = len(above.parts) > 2 and above.parent not in HOMES and above not in HOMES
    return above if is_deep else folder


def _around(drop: Path, filed: Path) -> Path:
    """Return the one folder in which originals can be renamed from *drop* to *filed*.

    Two folders that are made writable one by one are two mounts, and nothing is renamed from one to the other
    (rename(2), EXDEV).
    """
    common = Path(os.path.commonpath([drop, filed.parent]))
    if len(common.parts) < 2 or (len(common.parts) == 2 and common.name in OF_THE_SYSTEM):
        raise InstallError(Install.FILED_TOO_FAR, drop=drop, filed=filed)
    return common


def _cover(folder: Path) -> Path:
    """Return what is to be covered so that *folder* and its neighbours are not seen."""
    top = Path("/", folder.parts[1])
    if top.name not in OF_THE_SYSTEM:
        return top
    return folder.parent if len(folder.parts) > 3 else folder


def _is_below(path: Path, folders: Iterable[Path]) -> bool:
    return any(path.is_relative_to(folder) for folder in folders)


def _topmost(paths: Iterable[Path]) -> tuple[Path, ...]:
    """Return the *paths* that lie in no other, each once, in order."""
    found = sorted(set(paths))
    return tuple(path for path in found if not any(path != other and path.is_relative_to(other) for other in found))
