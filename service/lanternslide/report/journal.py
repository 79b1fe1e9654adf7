"""Lines for systemd's journal: each with its priority, one line an event."""

from __future__ import annotations

import os
from collections.abc import Mapping
from typing import TextIO

__all__ = ["complaint", "goes_to_journal", "with_priority"]

PRIORITIES = {"critical": 2, "error": 3, "warning": 4, "info": 6, "debug": 7}
"""Levels as severities of RFC 5424, section 6.2.1, table 2; sd-daemon(3) has the journal read them from a prefix."""


def goes_to_journal(stream: TextIO | None, environment: Mapping[str, str]) -> bool:
    """Return whether *stream* is the one that the system has connected with the journal (systemd.exec(5))."""
    if stream is None:  # Windows without a console
        return False
    try:
        status = os.fstat(stream.fileno())
    except (OSError, ValueError):  # closed, or in memory
        return False
    return environment.get("JOURNAL_STREAM") == f"{status.st_dev}:{status.st_ino}"


def with_priority(text: str, level: str) -> str:
    """Return *text* as one line, with the prefix of *level* before it as sd-daemon(3) describes it."""
    line = " ".join(part.strip() for part in text.splitlines())
    return f"<{PRIORITIES.get(level, PRIORITIES['info'])}>{line}"


def complaint(text: str, stream: TextIO | None, environment: Mapping[str, str]) -> str:
    """Return an error message of some lines, each an event of its own, as it is to be written to *stream*."""
    if not goes_to_journal(stream, environment):
        return text  # not folded: it may have a command in it, to be copied, or a line of a config and its mark
    return "\n".join(with_priority(line, "error") for line in text.splitlines())
