"""Making the first folders and the first config: nothing that is there is replaced, and no half config is left."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from lanternslide.config import DELIVERIES, STATE, FirstAnswers, load_settings, reference_file, render_first
from lanternslide.errors import BeginningError, PassingFaultError, UsageError
from lanternslide.records import shown_path
from lanternslide.records.windows import private_mode
from lanternslide.storage import is_there, publish_new, remove_temporary, write_temporary
from lanternslide.words import Beginning, say, told

__all__ = ["begin", "refuse_present"]


@dataclass
class Making:
    """The folders that were made on the way, the outermost first."""

    made: list[Path] = field(default_factory=list)

    def folder(self, path: Path, mode: int = 0o777) -> None:
        """Make sure that *path* is a folder; one that is there is used as it is.

        Raises
        ------
        BeginningError
            If it cannot be made.
        """
        missing = [folder for folder in (path, *path.parents) if not is_there(folder)]
        for folder in reversed(missing):
            try:
                folder.mkdir(mode=mode if folder == path else 0o777)
            except FileExistsError:  # somebody else was quicker
                continue
            except OSError as error:
                raise self.stopped(folder, error) from error
            self.made.append(folder)
        if not path.is_dir():
            raise self.stopped(path, NotADirectoryError(0, "there is a file of that name"))

    def stopped(self, path: Path, error: BaseException | None) -> BeginningError:
        """Return the error that says what could not be made, and what was made before."""
        detail = "no reason given" if error is None else told(error)
        names = ", ".join(map(shown_path, self.made))
        return BeginningError(
            shown_path(path), detail, f"Made so far, and left: {names}." if names else "Nothing was made."
        )

    def undo(self) -> None:
        """Delete the folders again, as far as they are still empty."""
        for folder in reversed(self.made):
            try:
                folder.rmdir()
            except OSError:  # somebody has put something there in the meantime
                continue


def refuse_present(config: Path) -> None:
    """Refuse to begin where there is a config already.

    Raises
    ------
    UsageError
        If the name *config* is taken.
    """
    if is_there(config):
        raise UsageError(say(Beginning.CONFIG_THERE, file=config).text)


def begin(config: Path, answers: FirstAnswers) -> Sequence[Path]:
    """Make the folders that *answers* ask for and write *config*; return the folders that the config names.

    The config gets its name last, whole, and only if that name is free. Where the person stops it on the way, what was
    made is deleted again.

    Raises
    ------
    UsageError
        If there is a config already; nothing is made then.
    BeginningError
        If something cannot be made; it names what was. There is no config then.
    """
    refuse_present(config)
    root = config.parent
    making = Making()
    temporary = root / f".{config.name}.{os.getpid()}.part"
    try:
        folders = [root / name for name in (answers.drop, DELIVERIES, answers.proofs)]
        for folder in (root, *folders):
            making.folder(folder)
        if not answers.on_share:
            # The ledger knows the names of all pictures; other users have no business there.
            making.folder(root / STATE, mode=private_mode())
            folders.append(root / STATE)
        _write(config, temporary, render_first(answers, reference_file()), making)
    except KeyboardInterrupt:
        if not is_there(config):
            making.undo()
        raise
    finally:
        remove_temporary(temporary)
    return folders


def _write(config: Path, temporary: Path, text: str, making: Making) -> None:
    try:
        write_temporary(temporary, text.encode())
        # What cannot be loaded never gets the name.
        load_settings(temporary)
        if not publish_new(temporary, config):
            raise UsageError(say(Beginning.CONFIG_THERE, file=config).text)
    except PassingFaultError as fault:
        raise making.stopped(config, fault.__cause__) from fault
