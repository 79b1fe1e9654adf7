"""The questions that ``init`` asks, in a photographer's words; a wrong answer is asked again, with the reason."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

import click
from rich.console import Console
from rich.text import Text

from lanternslide.cli.indent import indented
from lanternslide.config import FirstAnswers, FirstPlace, key_for, read_edge, read_folder, read_place, read_words
from lanternslide.records import shown_path
from lanternslide.words import Beginning, Said, say

__all__ = ["ask_all", "proposed"]

PLACE = FirstPlace(name="portfolio", long_edge=1050)
"""What is proposed as the first place."""

OTHER_EDGE = 1600
"""What is proposed as the long edge of further places, in pixels."""

INDENT = 3

Answer = TypeVar("Answer")


def proposed() -> FirstAnswers:
    """Return the answers of somebody who takes everything that is proposed."""
    return FirstAnswers(creator="", contact="", drop=_drop_of(""), places=(PLACE,))


def ask_all(root: Path, console: Console) -> FirstAnswers:
    """Ask everything that a first config in the folder *root* needs.

    Raises
    ------
    click.Abort
        If the person stops it.
    """
    console.print("Three questions, and you can begin. Everything is put into", markup=False)
    console.print(indented(Text(shown_path(root), overflow="fold"), INDENT))
    console.print("Enter alone takes what stands in [brackets]; Ctrl-C stops it all.", markup=False)
    _head(
        console, "1. Whose pictures are they?",
        "Written into every picture that does not say it itself. To reach you: an e-mail or a web address, say.",
    )  # fmt: skip
    creator = _ask(console, "Your name [leave it out]", read_words)
    contact = _ask(console, "How to reach you [leave it out]", read_words)
    _head(console, "2. Where do you drop your pictures?", "A folder for finished, full-size exports.")
    drop = _ask(console, "Folder", lambda typed: read_folder(typed, root), _drop_of(creator))
    _head(
        console, "3. Where will they be seen, and how large?",
        "One place after the other: your own site, a journal, a club. Give each a short name; written into a picture's "
        f"name, as in grey-seal@{PLACE.name}.jpg, it says where that picture goes.",
    )  # fmt: skip
    return FirstAnswers(creator=creator, contact=contact, drop=drop, places=_ask_places(console))


def _drop_of(creator: str) -> str:
    return f"drop/{key_for(creator)}"


def _ask_places(console: Console) -> tuple[FirstPlace, ...]:
    places: list[FirstPlace] = []
    while True:
        taken = [place.name for place in places]

        def read(typed: str, taken: list[str] = taken) -> str | Said:
            return read_place(typed, taken) if typed or not taken else ""

        label, default = ("Another place [no more]", "") if places else ("Place", PLACE.name)
        name = _ask(console, label, read, default)
        if not name:
            return tuple(places)
        usual = PLACE.long_edge if name == PLACE.name else OTHER_EDGE
        edge = _ask(console, "Its long edge, in pixels", read_edge, str(usual))
        places.append(FirstPlace(name=name, long_edge=edge))


def _head(console: Console, question: str, remark: str) -> None:
    console.print()
    console.print(Text(question, style="bold"))
    console.print(indented(Text(remark), INDENT))


def _ask(console: Console, label: str, read: Callable[[str], Answer | Said], default: str = "") -> Answer:
    """Ask until *read* takes the answer; an empty one is the *default*, which the label shows."""
    shown = f"{label} [{default}]" if default else label
    while True:
        try:
            typed = click.prompt(" " * INDENT + shown, default="", show_default=False)
        except UnicodeDecodeError:
            answer: Answer | Said = say(Beginning.UNSEEN, found="…")
        else:
            answer = read(typed.strip() or default)
        if not isinstance(answer, Said):
            return answer
        console.print(indented(Text(answer.text, style="yellow"), INDENT))
