"""All exceptions of the service.

::

    LanternslideError                  exit status
    ├── UsageError                     2
    ├── ConfigError                    2   every fault of a config at once
    ├── StateError                     4   the state folder cannot be used
    │   ├── StateUnwritableError
    │   ├── StateClosedError
    │   ├── StateOpenError
    │   ├── StateAwayError
    │   ├── StateLockedError
    │   ├── StateDamagedError
    │   ├── StateUnsureError
    │   └── StateNewerError
    ├── WorkersError                   3   no worker can do anything
    ├── InstallError                   2   the service cannot be installed, or taken away, like this
    ├── TaskRefusedError               2   Windows does not take, or let go of, the service's task
    ├── ServiceRunsOnError             3   a service that was asked to stop has not
    ├── BeginningError                 3   the first folders or the first config cannot be made
    ├── OriginalHeldError              -   an original cannot be done and waits for its owner
    └── PassingFaultError              -   may pass by itself; costs no attempt

Bad input is a reported outcome (the last two never leave the flow of work); failure of the service's own
storage stops it, loudly.
"""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntEnum

from lanternslide.words import Beginning, ConfigWord, Held, Install, Passing, Said, say

__all__ = [
    "BeginningError",
    "ConfigError",
    "ConfigFault",
    "ExitStatus",
    "InstallError",
    "LanternslideError",
    "OriginalHeldError",
    "PassingFaultError",
    "ServiceRunsOnError",
    "StateAwayError",
    "StateClosedError",
    "StateDamagedError",
    "StateError",
    "StateLockedError",
    "StateNewerError",
    "StateOpenError",
    "StateUnsureError",
    "StateUnwritableError",
    "TaskRefusedError",
    "UsageError",
    "WorkersError",
]


class ExitStatus(IntEnum):
    """What a command ends with."""

    DONE = 0  #: All is well.
    HELD = 1  #: Done, and something is held that waits for its owner.
    USAGE = 2  #: The command or the config cannot be taken as it is.
    WAITS = 3  #: Something is in the way that may pass.
    STATE = 4  #: The service's own state folder cannot be used.


class LanternslideError(Exception):
    """The base of all errors that the service raises on purpose."""

    exit_status: ExitStatus = ExitStatus.HELD


class UsageError(LanternslideError):
    """A command was called with something it cannot take."""

    exit_status = ExitStatus.USAGE


@dataclass(frozen=True, kw_only=True, slots=True)
class ConfigFault:
    """One thing that is wrong with a config."""

    file: str  #: The config file as it was named; empty if there is none.
    key: str  #: The key's path, such as ``destinations.club.size``, or ``line 3``; empty for the file as a whole.
    said: Said  #: What is wrong and what is allowed.
    excerpt: str = ""  #: The line that is meant and a mark below it, if that helps.

    def __str__(self) -> str:
        told = ": ".join(part for part in (self.file, self.key, self.said.text) if part)
        return "\n    ".join([told, *self.excerpt.splitlines()])

    @classmethod
    def of(cls, file: str, key: str, word: ConfigWord, **places: object) -> ConfigFault:
        """Return the fault that *word* describes."""
        return cls(file=file, key=key, said=say(word, **places))


class ConfigError(LanternslideError):
    """A config is invalid; the message has a line for every fault."""

    exit_status = ExitStatus.USAGE

    def __init__(self, faults: Sequence[ConfigFault]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))


class StateError(LanternslideError):
    """The state folder cannot be used."""

    exit_status = ExitStatus.STATE


class StateUnwritableError(StateError):
    """The ledger could not be read or written while at work."""

    def __init__(self, detail: str) -> None:
        super().__init__(
            f"The service has stopped, because its ledger cannot be used any more ({detail}). Nothing is lost. Fix "
            "what is named, most often a full disk, and start the service again."
        )


class StateLockedError(StateError):
    """Another service works with this state folder."""

    def __init__(self, folder: str, holder: str) -> None:
        super().__init__(f"The state folder {folder} is in use by {holder}. Stop that first.")


class StateClosedError(StateError):
    """The state folder is another user's, and closed to this one."""

    def __init__(self, folder: str, owner: str) -> None:
        super().__init__(
            f"The state folder {folder} belongs to the user {owner} and is closed to others. Run this as {owner}: put "
            f"“sudo -u {owner}” before the command."
        )


class StateAwayError(StateError):
    """The state folder was deleted or unmounted while the service worked."""

    def __init__(self, folder: str) -> None:
        super().__init__(
            f"The service has stopped, because its state folder {folder} is not there any more, or another one has its "
            "name. Connect its disk, or put the folder back. If it is lost, run `lanternslide repair`."
        )


class StateOpenError(StateError):
    """Everybody may write into the state folder."""

    def __init__(self, folder: str) -> None:
        super().__init__(
            f"Every user of this machine may write into the state folder {folder}, and so withdraw your pictures or "
            f"stop the service. Close it: chmod 700 {shlex.quote(folder)}"
        )


class StateDamagedError(StateError):
    """The ledger cannot be read."""

    def __init__(self, file: str, detail: str) -> None:
        self.detail = detail  #: What is wrong with it, for a person.
        super().__init__(
            f"The ledger {file} is damaged ({detail}). Nothing was changed. Run `lanternslide repair`: it says what "
            "can be saved."
        )


class StateUnsureError(StateError):
    """The ledger may have forgotten something, and nobody has looked yet what stands."""

    def __init__(self, file: str) -> None:
        super().__init__(
            f"The ledger {file} was put back from a copy, or its repair was cut off. It may not know all that was "
            "delivered and withdrawn. Run `lanternslide repair --yes` first: it looks what stands."
        )


class StateNewerError(StateError):
    """The ledger was written by a newer version."""

    def __init__(self, file: str, found: int, known: int) -> None:
        super().__init__(
            f"The ledger {file} has format {found}; this version of lanternslide knows formats up to {known}. "
            "Nothing was changed. Install the newer version again."
        )


class WorkersError(LanternslideError):
    """No worker can do anything, so nothing can be made."""

    exit_status = ExitStatus.WAITS

    def __init__(self, said: Said) -> None:
        super().__init__(said.text)


class InstallError(LanternslideError):
    """The service cannot be installed, or taken away, like this."""

    exit_status = ExitStatus.USAGE

    def __init__(self, word: Install, **places: object) -> None:
        self.said = say(word, **places)
        super().__init__(self.said.text)


class TaskRefusedError(LanternslideError):
    """Windows' Task Scheduler refuses something."""

    exit_status = ExitStatus.USAGE

    def __init__(self, command: str, detail: str) -> None:
        super().__init__(
            f"The Task Scheduler refused `{command}` ({detail}). Most often it needs a terminal opened as "
            "administrator, or the account's right password."
        )


class ServiceRunsOnError(LanternslideError):
    """A service that was asked to stop runs on."""

    exit_status = ExitStatus.WAITS

    def __init__(self, folder: str, holder: str, detail: str) -> None:
        super().__init__(
            f"The state folder {folder} is still in use by {holder} ({detail}). Its task is switched off, but not "
            "removed yet. Wait until it has ended, or end it, then run this again."
        )


class BeginningError(LanternslideError):
    """The first folders or the first config cannot be made."""

    exit_status = ExitStatus.WAITS

    def __init__(self, path: str, detail: str, made: str) -> None:
        super().__init__(say(Beginning.NOT_MADE, path=path, detail=detail, made=made).text)


class OriginalHeldError(LanternslideError):
    """An original cannot be done and waits for its owner."""

    def __init__(self, word: Held, **places: object) -> None:
        self.said = say(word, **places)
        super().__init__(self.said.text)


class PassingFaultError(LanternslideError):
    """Something is in the way that may pass by itself."""

    def __init__(self, word: Passing, **places: object) -> None:
        self.said = say(word, **places)
        super().__init__(self.said.text)
