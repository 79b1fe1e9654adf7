"""The questions that ``init`` asks, in a photographer's words: each answer is checked at once, and one can go back."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import TypeVar

import click
from rich.console import Console
from rich.table import Table
from rich.text import Text

from lanternslide.cli.output.indent import indented
from lanternslide.config import (
    CONFIG_NAME,
    DELIVERIES,
    FirstAnswers,
    FirstDestination,
    key_for,
    name_like,
    read_destination,
    read_edge,
    read_folder,
    read_words,
)
from lanternslide.records import shown_path
from lanternslide.words import Beginning, Said, say

__all__ = ["ask_all", "proposed"]

DESTINATION = FirstDestination(name="portfolio", long_edge=1050)
"""What is proposed as the first destination."""

OTHER_EDGE = 1600
"""What is proposed as the long edge of further destinations, in pixels."""

BACK = "^"
NOTHING = "-"
"""What takes an answer away that was given before."""

NO_MORE = (NOTHING, "n", "no", "no more", "none")

INDENT = 3

NARROW = 50
"""A terminal with fewer columns has each answer below its label."""

Answer = TypeVar("Answer")
Question = Callable[["_Draft"], "Question | None"]
"""Asks, notes the answer in the draft, and returns the next question; None ends it."""


class _BackError(Exception):
    """The person wants to go back to the question before."""


@dataclass(kw_only=True)
class _Draft:
    """The answers so far; each is proposed again to somebody who goes back."""

    root: Path
    console: Console
    lying_in: Callable[[Path], str]
    creator: str = ""
    contact: str = ""
    drop: str = ""
    proposed: str = ""  #: The drop folder that was proposed last.
    there: str = ""  #: What to know of the pictures in it.
    destinations: list[FirstDestination] = field(default_factory=list)
    is_wanted: bool = True

    def answers(self) -> FirstAnswers:
        return FirstAnswers(
            creator=self.creator, contact=self.contact, drop=self.drop, destinations=tuple(self.destinations)
        )


def proposed() -> FirstAnswers:
    """Return the answers of somebody who takes everything that is proposed."""
    return FirstAnswers(creator="", contact="", drop=_drop_of(""), destinations=(DESTINATION,))


def ask_all(root: Path, console: Console, lying_in: Callable[[Path], str]) -> FirstAnswers | None:
    """Ask everything that a first config in the folder *root* needs; return None if it is not to be written after all.

    *lying_in* says what a person should know of the pictures that lie in a drop folder already; "" where none do.

    Raises
    ------
    click.Abort
        If the person stops it.
    """
    console.print("A few questions, then you can begin. Everything goes into", markup=False)
    console.print(indented(Text(shown_path(root), overflow="fold"), INDENT))
    console.print("Enter takes the answer in [brackets]. ^ goes back. Ctrl-C stops.", markup=False)
    draft = _Draft(root=root, console=console, lying_in=lying_in)
    answered: list[Question] = []
    question: Question | None = _ask_creator
    while question is not None:
        try:
            following = question(draft)
        except _BackError:
            question = answered.pop() if answered else question
        else:
            answered.append(question)
            question = following
    return draft.answers() if draft.is_wanted else None


def _ask_creator(draft: _Draft) -> Question:
    _head(
        draft.console, "1. Who takes the pictures?",
        "Your name and how to reach you (an e-mail or web address, say) go into every picture that names nobody else.",
    )  # fmt: skip
    draft.creator = _ask_words(draft.console, "Your name", draft.creator)
    return _ask_contact


def _ask_contact(draft: _Draft) -> Question:
    draft.contact = _ask_words(draft.console, "How to reach you", draft.contact)
    return _ask_drop


def _ask_drop(draft: _Draft) -> Question:
    _head(draft.console, "2. Where will you drop your pictures?", "A folder for finished, full-size exports.")
    proposed = _drop_of(draft.creator)
    usual = proposed if draft.drop in ("", draft.proposed) else draft.drop
    draft.proposed = proposed
    draft.drop = _ask(
        draft.console, "Folder",
        lambda typed: say(Beginning.EMPTY) if typed == NOTHING else read_folder(typed, draft.root), usual,
    )  # fmt: skip
    draft.there = draft.lying_in(draft.root / draft.drop)
    if draft.there:
        draft.console.print(indented(Text(draft.there, style="yellow"), INDENT))
    return partial(_ask_destination, 0)


def _drop_of(creator: str) -> str:
    return f"drop/{key_for(creator)}"


def _ask_destination(number: int, draft: _Draft) -> Question:
    if number == 0:
        _head(
            draft.console, "3. Where will people see them, and how large?",
            "For example your own site, a journal, a club. Give each a short name, without spaces. A picture with that "
            f"name after an @, such as grey-seal@{DESTINATION.name}.jpg, goes there.",
        )  # fmt: skip
    former = draft.destinations[number] if number < len(draft.destinations) else None
    taken = [destination.name for destination in draft.destinations if destination is not former]
    name = _ask_first(draft, former, taken) if number == 0 else _ask_another(draft, former, taken)
    if not name:
        del draft.destinations[number:]
        return _ask_whether
    edge = former.long_edge if former else DESTINATION.long_edge if name == DESTINATION.name else OTHER_EDGE
    draft.destinations[number : number + 1] = [FirstDestination(name=name, long_edge=edge)]
    return partial(_ask_edge, number)


def _read_name(typed: str, taken: list[str]) -> str | Said:
    """Return a destination's name; what was meant for another question is none."""
    if typed.isdigit() or typed.casefold() in ("y", "yes", "n", "no"):
        return say(Beginning.ODD_NAME, found=typed)
    return read_destination(typed, taken)


def _like(typed: str, taken: list[str]) -> str:
    """Return the nearest name that a destination can have; "" if there is none."""
    like = name_like(typed, taken)
    return like if isinstance(_read_name(like, taken), str) else ""


def _ask_first(draft: _Draft, former: FirstDestination | None, taken: list[str]) -> str:
    """Ask what the first destination is called; of a name that cannot be, the nearest is proposed."""
    usual = former.name if former else DESTINATION.name
    return _ask(
        draft.console, "Destination", lambda typed: _read_name(typed, taken), usual,
        lambda typed: _like(typed, taken),
    )  # fmt: skip


def _ask_another(draft: _Draft, former: FirstDestination | None, taken: list[str]) -> str:
    """Ask what a further destination is called; "" if there is none."""
    usual = former.name if former else ""

    def read(typed: str) -> str | Said:
        if not typed or typed.casefold() in NO_MORE:
            return "" if typed else usual
        found = _read_name(typed, taken)
        like = _like(typed, taken)
        # Enter alone goes on meaning what the label says.
        return say(Beginning.NAME_LIKE, found=typed, like=like) if isinstance(found, Said) and like else found

    return _ask(draft.console, f"Another destination [{f'{usual}; - for no more' if usual else 'no more'}]", read)


def _ask_edge(number: int, draft: _Draft) -> Question:
    destination = draft.destinations[number]
    edge = _ask(draft.console, "Long edge, in pixels", read_edge, str(destination.long_edge))
    draft.destinations[number] = FirstDestination(name=destination.name, long_edge=edge)
    return partial(_ask_destination, number + 1)


def _ask_whether(draft: _Draft) -> None:
    """Show what will be written, and ask whether it is right."""
    answers = draft.answers()
    table = Table.grid(padding=(0, 3, 0, 0))
    table.add_column(no_wrap=True)
    table.add_column(overflow="fold")
    who = ", ".join(filter(None, (answers.creator, answers.contact)))
    table.add_row("Written into them", Text(who or "none"))
    table.add_row("Drop folder", Text("\n".join(filter(None, (answers.drop, draft.there)))))
    for destination in answers.destinations:
        into = f"{DELIVERIES}/{answers.key}/{destination.name}"
        table.add_row(f"@{destination.name}", Text(f"long edge {destination.long_edge} pixels, into {into}"))
    table.add_row("Without a tag", Text(f"goes to {answers.destinations[0].name}"))
    draft.console.print()
    draft.console.print(Text(f"{CONFIG_NAME} will say:", style="bold"))
    if draft.console.width < NARROW:
        for label, said in zip(*(column.cells for column in table.columns), strict=True):
            draft.console.print(indented(Text.assemble(str(label), "\n", str(said), overflow="fold"), INDENT))
    else:
        draft.console.print(indented(table, INDENT))
    draft.is_wanted = _ask(draft.console, "Write it? ^ goes back, no stops", _read_yes, "yes")


def _read_yes(typed: str) -> bool | Said:
    given = typed.casefold()
    return given in ("y", "yes") if given in ("y", "yes", "n", "no") else say(Beginning.NEITHER_YES_NOR_NO, found=typed)


def _head(console: Console, question: str, remark: str) -> None:
    console.print()
    console.print(Text(question, style="bold"))
    console.print(indented(Text(remark), INDENT))


def _ask_words(console: Console, label: str, before: str) -> str:
    """Ask for words that may be left out; what was answered *before* is proposed."""
    usual = f"{before}; {NOTHING} for none" if before else "none"
    answer = _ask(console, f"{label} [{usual}]", lambda typed: read_words(typed or before), is_any=True)
    return "" if answer == NOTHING else answer


def _ask(
    console: Console,
    label: str,
    read: Callable[[str], Answer | Said],
    usual: str = "",
    like: Callable[[str], str] = lambda _: "",
    *,
    is_any: bool = False,
) -> Answer:
    """Ask until *read* takes the answer.

    An empty answer is the *usual* one, which the label shows; after one that was refused, it is the nearest that would
    be taken, if *like* knows one. With *is_any* it may be any text, "back" too.

    Raises
    ------
    _BackError
        If the person wants to go back.
    """
    offered = usual
    while True:
        shown = f"{label.partition(' [')[0]} [{offered}]" if offered else label
        try:
            typed = click.prompt(" " * INDENT + shown, default="", show_default=False).strip()
            typed.encode("utf-8")
        except UnicodeError:
            typed = ""
            answer: Answer | Said = say(Beginning.NO_TEXT)
        else:
            if typed == BACK or (typed.casefold() == "back" and not is_any):
                raise _BackError
            answer = read(typed or offered)
        if not isinstance(answer, Said):
            return answer
        console.print(indented(Text(answer.text, style="yellow"), INDENT))
        offered = like(typed) or usual
