"""What the published schema of tasks says about the elements that the service's task has: facts, not its text.

Every fact was read in the whole schema on Microsoft Learn, "Task Scheduler Schema"
(learn.microsoft.com/windows/win32/taskschd/task-scheduler-schema), and, for triggers, in [MS-TSCH] 2.5.3.1 as well. One
thing was not: the page fixes the version at 1.3, while Windows writes and takes 1.2 (from memory).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import Enum
from xml.etree import ElementTree as ET

NAMESPACE = "http://schemas.microsoft.com/windows/2004/02/mit/task"


class Order(Enum):
    """How the children of an element may stand."""

    ANY = "xs:all"  #: In any order, each at most once.
    AS_LISTED = "xs:sequence"  #: In this order, each at most once.
    CHOICE = "xs:choice"  #: Any of them, as often as there is room.


@dataclass(frozen=True, kw_only=True)
class Type:
    """A complex type."""

    order: Order
    children: dict[str, str]  #: Their types, as keys of `TYPES` or of `SIMPLE`; in order.
    needed: frozenset[str] = frozenset()
    attributes: dict[str, str] | None = None  #: Patterns of their values.


TRIGGER = {
    "Enabled": "boolean",
    "StartBoundary": "dateTime",
    "EndBoundary": "dateTime",
    "Repetition": "repetitionType",
    "ExecutionTimeLimit": "duration",
}
"""triggerBaseType, a sequence; what extends it comes after."""

NCNAME = r"[A-Za-z_][\w.-]*"

TYPES = {
    "taskType": Type(
        order=Order.ANY,
        children={
            "RegistrationInfo": "registrationInfoType",
            "Triggers": "triggersType",
            "Settings": "settingsType",
            "Principals": "principalsType",
            "Actions": "actionsType",
        },
        needed=frozenset({"Actions"}),
        attributes={"version": r"\d+(\.\d+){1,3}"},
    ),
    "registrationInfoType": Type(
        order=Order.ANY,
        children={"URI": "string", "Author": "string", "Version": "string", "Description": "string"},
    ),
    "triggersType": Type(
        order=Order.CHOICE, children={"BootTrigger": "bootTriggerType", "TimeTrigger": "timeTriggerType"}
    ),
    "bootTriggerType": Type(order=Order.AS_LISTED, children={**TRIGGER, "Delay": "duration"}),
    "timeTriggerType": Type(
        order=Order.AS_LISTED,
        children={**TRIGGER, "RandomDelay": "duration"},
        # The schema leaves it open; the page of TimeTrigger says that it is required.
        needed=frozenset({"StartBoundary"}),
    ),
    "repetitionType": Type(
        order=Order.ANY,
        children={"Interval": "minute to month", "Duration": "duration", "StopAtDurationEnd": "boolean"},
        needed=frozenset({"Interval"}),
    ),
    "principalsType": Type(order=Order.AS_LISTED, children={"Principal": "principalType"}),
    "principalType": Type(
        order=Order.ANY,
        children={"UserId": "nonEmptyString", "LogonType": "logonType", "RunLevel": "runLevelType"},
        attributes={"id": NCNAME},
    ),
    "settingsType": Type(
        order=Order.ANY,
        children={
            "AllowStartOnDemand": "boolean",
            "RestartOnFailure": "restartType",
            "MultipleInstancesPolicy": "multipleInstancesPolicyType",
            "DisallowStartIfOnBatteries": "boolean",
            "StopIfGoingOnBatteries": "boolean",
            "AllowHardTerminate": "boolean",
            "StartWhenAvailable": "boolean",
            "RunOnlyIfNetworkAvailable": "boolean",
            "WakeToRun": "boolean",
            "Enabled": "boolean",
            "Hidden": "boolean",
            "DeleteExpiredTaskAfter": "duration",
            "IdleSettings": "idleSettingsType",
            "ExecutionTimeLimit": "duration",
            "Priority": "priorityType",
            "RunOnlyIfIdle": "boolean",
        },
    ),
    "idleSettingsType": Type(
        order=Order.ANY,
        children={
            "Duration": "duration",
            "WaitTimeout": "duration",
            "StopOnIdleEnd": "boolean",
            "RestartOnIdle": "boolean",
        },
    ),
    "restartType": Type(
        order=Order.ANY,
        children={"Interval": "minute to month", "Count": "restartCount"},
        needed=frozenset({"Interval", "Count"}),
    ),
    "actionsType": Type(order=Order.CHOICE, children={"Exec": "execType"}, attributes={"Context": NCNAME}),
    "execType": Type(
        order=Order.ANY,
        children={"Command": "pathType", "Arguments": "string", "WorkingDirectory": "pathType"},
        needed=frozenset({"Command"}),
    ),
}

SIMPLE = {
    "string": r".*",
    "nonEmptyString": r".+",
    "pathType": r".{1,260}",
    "boolean": r"true|false|1|0",
    # W3C, XML Schema Part 2, 3.2.6 and 3.2.7, without signs, years and parts of seconds.
    "duration": r"P(?=.)(\d+D)?(T(?=.)(\d+H)?(\d+M)?(\d+S)?)?",
    "dateTime": r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(Z|[+-]\d\d:\d\d)?",
    "minute to month": r"PT[1-9]\d*[MH]",  # PT1M to P31D, as far as minutes and hours say it
    "restartCount": r"[1-9]|[1-9]\d|1\d\d|2[0-4]\d|25[0-5]",  # xs:unsignedByte, from 1
    "priorityType": r"\d|10",
    "multipleInstancesPolicyType": r"Parallel|Queue|IgnoreNew|StopExisting",
    "logonType": r"S4U|Password|InteractiveToken|InteractiveTokenOrPassword",
    "runLevelType": r"LeastPrivilege|HighestAvailable",
}
"""Patterns of whole values."""


def faults(element: ET.Element, kind: str = "taskType", place: str = "Task") -> list[str]:
    """Return what the schema does not allow about *element* and what is in it."""
    if kind in SIMPLE:
        text = element.text or ""
        found = [] if re.fullmatch(SIMPLE[kind], text, re.DOTALL) else [f"{place} is no {kind}: {text!r}"]
        return [*found, *(f"{place} has {child.tag}" for child in element), *_attributes(element, {}, place)]
    known = TYPES[kind]
    names = [child.tag.removeprefix(f"{{{NAMESPACE}}}") for child in element]
    found = [f"{place} has no {name}" for name in known.needed - {*names}]
    found += [f"{place} does not know {name}" for name in names if name not in known.children]
    if known.order is not Order.CHOICE and len({*names}) < len(names):
        found.append(f"{place} has something twice")
    if known.order is Order.AS_LISTED and names != [name for name in known.children if name in names]:
        found.append(f"{place} has another order: {names}")
    found += _attributes(element, known.attributes or {}, place)
    for name, child in zip(names, element, strict=True):
        if name in known.children:
            found += faults(child, known.children[name], f"{place}/{name}")
    return found


def _attributes(element: ET.Element, known: dict[str, str], place: str) -> list[str]:
    return [
        f"{place} has {name}={value!r}"
        for name, value in element.attrib.items()
        if name not in known or not re.fullmatch(known[name], value)
    ]
