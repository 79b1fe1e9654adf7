"""The task by which Windows starts the service, as the file that its Task Scheduler takes. Pure.

Sources: Microsoft Learn, "Task Scheduler Schema" (elements, their order and defaults); [MS-TSCH] "Task Scheduler
Service Remoting Protocol", 2.5 (the same, with what the values mean). That the file is to be UTF-16LE was
found in field reports alone.
"""

from __future__ import annotations

import codecs
import re
from dataclasses import dataclass
from itertools import pairwise
from pathlib import PureWindowsPath
from subprocess import list2cmdline
from typing import Any
from xml.etree import ElementTree as ET

from lanternslide.errors import UsageError

__all__ = ["TASK_NAME", "TaskDefinition", "config_in", "task_file", "windowless"]

TASK_NAME = "lanternslide"
DESCRIPTION = "Makes web pictures from the full-size exports that you put into its folders."

NAMESPACE = "http://schemas.microsoft.com/windows/2004/02/mit/task"
VERSION = "1.2"
"""Every element used here is of the first version for Windows Vista and later (from memory)."""

AUTHOR = "Author"
"""What ties the action to the account; the word says nothing."""

MOST_PATH = 260
"""Letters in ``Command`` and ``WorkingDirectory`` (pathType)."""

NOT_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
"""What no XML file can hold (XML 1.0, 2.2); Windows has names with lone halves of characters."""

ARGUMENT_PART = re.compile(r'(\\*)"|[ \t]+|\\+|[^ \t"\\]+')
"""A quote with the backslashes before it, blanks, or what stands for itself."""

Tree = dict[str, Any]
"""Elements by name, in the order in which they are written: texts, or elements in turn."""


@dataclass(frozen=True, kw_only=True, slots=True)
class TaskDefinition:
    """What Windows is told about the service."""

    user: str  #: Whose account it runs in, such as ``SKERROW\\ida``.
    python: PureWindowsPath  #: The interpreter; see `windowless`.
    config: PureWindowsPath  #: The config, whole.
    folder: PureWindowsPath  #: What the service has as its working folder.
    name: str = TASK_NAME
    description: str = DESCRIPTION

    @property
    def arguments(self) -> str:
        """What the interpreter is given, quoted by the rules of Microsoft's C run-time."""
        return list2cmdline(["-m", "lanternslide", "--config", str(self.config), "watch"])


def windowless(python: PureWindowsPath) -> PureWindowsPath:
    """Return the interpreter beside *python* that has no console.

    The task takes that one: where nobody sees a console, what is written there is lost, and its process believes that
    a person reads it. Without one, Python says that there is no error stream, and the service keeps a log file. What
    a console is good for, stopping by Ctrl-Break, the stop file does.
    """
    return python.with_name("pythonw.exe") if python.name.lower() == "python.exe" else python


def task_file(task: TaskDefinition) -> bytes:
    """Return the file that says *task*: UTF-16LE with a byte order mark, as its declaration says.

    Raises
    ------
    UsageError
        If a path or name is one that such a file cannot say.
    """
    _check(task)
    root = ET.Element("Task", {"version": VERSION, "xmlns": NAMESPACE})
    _grow(root, _tree(task))
    principal, actions = root.find("Principals/Principal"), root.find("Actions")
    assert principal is not None
    assert actions is not None
    principal.set("id", AUTHOR)
    actions.set("Context", AUTHOR)
    ET.indent(root)
    text = f'<?xml version="1.0" encoding="UTF-16"?>\n{ET.tostring(root, encoding="unicode")}\n'
    return codecs.BOM_UTF16_LE + text.replace("\n", "\r\n").encode("utf-16-le")


def config_in(definition: str) -> PureWindowsPath | None:
    """Return the config that a task runs the service with, by its *definition* in XML; None if it names none."""
    try:
        # What stands before the declaration is no XML; its encoding does not count for what is text already.
        root = ET.fromstring(definition[definition.find("<") :])  # noqa: S314 - the Task Scheduler wrote it
    except ET.ParseError:
        return None
    words = _split(root.findtext(f"{{{NAMESPACE}}}Actions/{{{NAMESPACE}}}Exec/{{{NAMESPACE}}}Arguments") or "")
    after = [word for option, word in pairwise(words) if option == "--config"]
    return PureWindowsPath(after[0]) if after else None


def _split(arguments: str) -> list[str]:
    """Return what a program finds in its *arguments*.

    Source: Microsoft Learn, "Parsing C command-line arguments": blanks part, quotes hold together; of backslashes
    before a quote each two are one, and an odd one takes the quote's meaning away.
    """
    found: list[str] = []
    current: str | None = None
    held = False
    for part in ARGUMENT_PART.finditer(arguments):
        slashes = part[1]
        if slashes is not None:
            escaped = len(slashes) % 2
            held ^= not escaped
            current = (current or "") + "\\" * (len(slashes) // 2) + '"' * escaped
        elif part[0][0] in " \t" and not held:
            found += [] if current is None else [current]
            current = None
        else:
            current = (current or "") + part[0]
    return found if current is None else [*found, current]


def _check(task: TaskDefinition) -> None:
    for what, path in {"interpreter": task.python, "working folder": task.folder}.items():
        if len(str(path)) > MOST_PATH:
            raise UsageError(
                f"The {what} {path} has {len(str(path))} letters; a task takes {MOST_PATH}. Choose a shorter one."
            )
    for text in (task.user, str(task.python), str(task.config), str(task.folder), task.name, task.description):
        if NOT_XML.search(text):
            raise UsageError(f"A task cannot name {text!r}: it has a character that is not text. Rename it.")


def _tree(task: TaskDefinition) -> Tree:
    return {
        "RegistrationInfo": {"Description": task.description},
        "Triggers": {
            # The network and its shares come up meanwhile.
            "BootTrigger": {"Enabled": "true", "Delay": "PT30S"},
            # The supervisor: RestartOnFailure does not start again what was killed, as was seen in the field. A start
            # while the service runs is ignored. Without a Duration it repeats for ever.
            "TimeTrigger": {
                "Enabled": "true",
                "StartBoundary": "2026-01-01T00:00:00",
                "Repetition": {"Interval": "PT5M", "StopAtDurationEnd": "false"},
            },
        },
        "Principals": {
            # Password: it runs whether or not anybody is logged on, and reaches shares; S4U has no network.
            "Principal": {"UserId": task.user, "LogonType": "Password", "RunLevel": "LeastPrivilege"},
        },
        "Settings": {
            "MultipleInstancesPolicy": "IgnoreNew",
            "DisallowStartIfOnBatteries": "false",
            "StopIfGoingOnBatteries": "false",
            "AllowHardTerminate": "true",
            "StartWhenAvailable": "true",
            "RunOnlyIfNetworkAvailable": "false",
            "IdleSettings": {"StopOnIdleEnd": "false", "RestartOnIdle": "false"},
            "AllowStartOnDemand": "true",
            "Enabled": "true",
            "Hidden": "false",
            "RunOnlyIfIdle": "false",
            "WakeToRun": "false",
            "ExecutionTimeLimit": "PT0S",  # for ever, in place of three days
            "Priority": "7",  # below what a person works with
            "RestartOnFailure": {"Interval": "PT1M", "Count": "3"},
        },
        "Actions": {
            "Exec": {
                "Command": str(task.python),
                "Arguments": task.arguments,
                "WorkingDirectory": str(task.folder),
            },
        },
    }


def _grow(parent: ET.Element, tree: Tree) -> None:
    for name, content in tree.items():
        element = ET.SubElement(parent, name)
        if isinstance(content, dict):
            _grow(element, content)
        else:
            element.text = content
