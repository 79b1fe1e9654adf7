"""The option --since."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any, TypeVar

import click

__all__ = ["since_option"]

FORMS = ["%Y-%m-%d", "%Y-%m-%dT%H:%M", "%Y-%m-%dT%H:%M:%S"]
EARLIEST, LATEST = datetime(1900, 1, 1), datetime(2200, 1, 1)  # noqa: DTZ001 - local, as its owner means it
"""Within these every time can be told as nanoseconds since 1970, in every time zone, and no file is outside."""

Command = TypeVar("Command", bound=Callable[..., Any])


def since_option(text: str) -> Callable[[Command], Command]:
    """Return the option, with its help *text*; a day begins at midnight, local time."""
    text = f"{text} DATE is 2026-11-25, say, or 2026-11-25T18:30, in local time."
    return click.option("--since", metavar="DATE", type=click.DateTime(FORMS), callback=_within, help=text)


def _within(_context: click.Context, _option: click.Parameter, since: datetime | None) -> datetime | None:
    return None if since is None else min(max(since, EARLIEST), LATEST)
