"""Options that several commands have."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any, TypeVar

import click

__all__ = ["photographer_option"]

Command = TypeVar("Command", bound=Callable[..., Any])


def photographer_option(function: Command) -> Command:
    """Add the option that names whose service is meant."""
    return click.option(
        "--photographer", metavar="NAME", expose_value=False, callback=_note,
        help="Whose service you mean, if each photographer has one.",
    )(function)  # fmt: skip


def _note(context: click.Context, _option: click.Parameter, photographer: str | None) -> None:
    context.obj = replace(context.obj, photographer=photographer)
