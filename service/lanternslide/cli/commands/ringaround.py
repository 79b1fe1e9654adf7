"""``lanternslide ringaround``."""

from __future__ import annotations

import sys
from itertools import count
from pathlib import Path

import click
from rich.console import Console
from rich.text import Text

from lanternslide.cli.absolute import absolute
from lanternslide.cli.options import photographer_option
from lanternslide.cli.output.indent import indented
from lanternslide.cli.session import Named, ledger_to_read, open_settings
from lanternslide.config import Settings
from lanternslide.delivery import called
from lanternslide.errors import ExitStatus, PassingFaultError, UsageError
from lanternslide.preview import Tracer, config_line, ring_around
from lanternslide.records import DroppedFile, Refused, Stalled, shown_path
from lanternslide.records.ring import RingCell, Ringed
from lanternslide.report.sheet import ring_page
from lanternslide.storage import publish_new, put_text, remove_temporary
from lanternslide.words import Command, readable_bytes, say
from lanternslide.workers.executor import Answer, AttemptFailed

__all__ = ["ringaround"]

COLUMNS = 80
MOST_LETTERS = 40
"""So many of the original's name stand in that of its ring-around."""


class Place(click.ParamType[tuple[int, int]]):
    """A pixel, as X,Y."""

    name = "X,Y"

    def convert(
        self, value: str | tuple[int, int], param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[int, int]:
        """Return the two numbers."""
        if isinstance(value, tuple):
            return value
        parts = value.split(",")
        if len(parts) != 2 or not all(part.strip().isascii() and part.strip().isdigit() for part in parts):
            self.fail(f"{value!r} is not a point. Give two numbers of pixels, such as 640,480.", param, ctx)
        return int(parts[0]), int(parts[1])


@click.command()
@click.argument("path", type=Path)
@click.option("--destination", required=True, metavar="NAME", help="The destination to try it for.")
@click.option(
    "--at", type=Place(), metavar="X,Y",
    help="The point to show, in pixels of the delivery. Without it: where the picture is sharpest.",
)  # fmt: skip
@click.option(
    "--output", type=Path, default=Path(), metavar="DIR",
    help="The folder to write to. Without it: the folder you are in.",
)  # fmt: skip
@photographer_option
@click.pass_obj
def ringaround(named: Named, path: Path, destination: str, at: tuple[int, int] | None, output: Path) -> int:
    """Show one detail at several strengths, to choose from.

    PATH is an original in a drop folder. The detail is shown at 1:1, sharpened less and more than the destination asks
    for. Beside each are its figures and the line for the config that chooses it.

    Changes: writes an image and a page into the folder you choose.

    While the service runs: works the same.
    """
    settings = open_settings(named)
    if destination not in settings.destinations:
        known = ", ".join(settings.destinations)
        raise UsageError(say(Command.NO_SUCH_DESTINATION, found=destination, known=known).text)
    folder = Path(absolute(output))
    _check_output(settings, folder)
    console = Console(file=sys.stdout, highlight=False)
    console.width = min(console.width, COLUMNS)
    try:
        file = _file_at(settings, path)
        return _make(settings, file, destination, (at, folder), console)
    except PassingFaultError as fault:
        console.print(Text(fault.said.text))
        return ExitStatus.WAITS


def _check_output(settings: Settings, folder: Path) -> None:
    """Refuse folders in which a picture would be taken for an original or a delivery."""
    if not folder.is_dir():
        raise UsageError(say(Command.NOT_THERE, path=folder).text)
    taken = [owner.drop for owner in settings.photographers.values()]
    taken += [
        settings.destination_for(name, place).folder_for(name)
        for name in settings.photographers
        for place in settings.destinations_of(name)
    ]
    for other in taken:
        if folder.resolve().is_relative_to(other.resolve()):
            raise UsageError(say(Command.NO_PLACE_FOR_RING, folder=folder, other=other).text)


def _file_at(settings: Settings, path: Path) -> DroppedFile:
    with ledger_to_read(settings) as ledger:
        asked = Tracer(settings, ledger).look_at(Path(absolute(path)))
    if asked.is_folder or len(asked.files) != 1:
        raise UsageError(say(Command.NO_PICTURE, path=path).text)
    return asked.files[0]


def _make(
    settings: Settings, file: DroppedFile, destination: str, where: tuple[tuple[int, int] | None, Path],
    console: Console,
) -> int:  # fmt: skip
    at, folder = where
    stem, _ = called(
        "{stem}.jpg", {"stem": f"{file.relative.stem[:MOST_LETTERS]}-{destination}-ringaround"}, slug=False
    )
    temporary = folder / f".{stem}.part"
    answer = ring_around(settings, file, destination, at, temporary)
    match answer.result:
        case Ringed() as ringed:
            sheet = _published(temporary, folder, stem)
            page = sheet.with_suffix(".html")
            lines = [[(cell, _line(cell)) for cell in row] for row in ringed.rows]
            title = f"Ring-around: {shown_path(file.relative)} for {destination}"
            put_text(page, ring_page(ringed, lines, title=title, sheet=sheet.name, destination=destination))
            _print(ringed, destination, console)
            console.print(f"\n{shown_path(sheet)}\n{shown_path(page)}", soft_wrap=True, markup=False)
            return ExitStatus.DONE
        case Refused(said=said) | Stalled(said=said):
            if said.key == Command.OUTSIDE_PICTURE:
                raise UsageError(said.text)
            console.print(Text(said.text))
            return ExitStatus.HELD if isinstance(answer.result, Refused) else ExitStatus.WAITS
        case _:
            remove_temporary(temporary)
            text = say(Command.COULD_NOT, detail=_detail(answer)).text
            console.print(Text(text))
            return ExitStatus.WAITS


def _detail(answer: Answer) -> str:
    return answer.result.detail if isinstance(answer.result, AttemptFailed) else "the file changed meanwhile"


def _published(temporary: Path, folder: Path, stem: str) -> Path:
    """Give the sheet a name that is free, also for its page."""
    for number in count(1):
        path = folder / (f"{stem}.png" if number == 1 else f"{stem}-{number}.png")
        if not path.with_suffix(".html").exists() and publish_new(temporary, path):
            return path
    raise AssertionError("numbers do not end")


def _line(cell: RingCell) -> str:
    return "" if cell.sharpening is None else config_line(cell.sharpening)


def _print(ringed: Ringed, destination: str, console: Console) -> None:
    console.print(f"To choose one, put its line into \\[destinations.{destination}] of the config:")
    for row in ringed.rows:
        console.print()
        for cell in row:
            mark = "> " if cell.is_own else "  "
            console.print(Text(f"{mark}{cell.label}{': as configured' if cell.is_own else ''}", style="bold"))
            if cell.left is not None:
                likeness = "" if cell.left.ssim is None else f"SSIM {cell.left.ssim:.4f}, "
                sent = f"{likeness}{readable_bytes(cell.left.bytes)} left of {readable_bytes(cell.bytes)}"
                console.print(indented(Text(sent), 4))
                continue
            edges = "too few edges to tell" if cell.acutance is None else f"edges {cell.acutance:.2f}"
            assert cell.halo is not None
            figures = f"{edges}, halos {cell.halo.light:.1f} light, {cell.halo.dark:.1f} dark"
            console.print(indented(Text(f"{figures}; quality {cell.quality}, {readable_bytes(cell.bytes)}"), 4))
            # Whole, however narrow the terminal is: it is meant to be copied.
            console.print(f"    {_line(cell)}", soft_wrap=True, markup=False)
