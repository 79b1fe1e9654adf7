"""``lanternslide repair``."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import click

from lanternslide.cli.options import photographer_option
from lanternslide.cli.session import Named, open_settings, refuse_divided, refuse_strangers, state_folder
from lanternslide.config import Settings
from lanternslide.errors import ExitStatus, PassingFaultError
from lanternslide.ledger import UNSURE_NOTE, Ledger, StateLock
from lanternslide.ledger.upkeep.salvage import Salvaged
from lanternslide.records import shown_path
from lanternslide.repair import Diagnosis, Recognition, diagnosis_of, renew, renewed_beside
from lanternslide.words import Upkeep, counted, say

__all__ = ["repair"]


@click.command()
@click.option("--yes", is_flag=True, help="Do it. Without this, repair says what it would do and changes nothing.")
@photographer_option
@click.pass_obj
def repair(named: Named, *, yes: bool) -> int:
    """Look at the ledger, and make it whole again.

    It saves what can be read of a damaged ledger in a new one. Then it renders each original that the new one does not
    know as done, and compares it with the files under its names. It does not deliver again what it recognises. If the
    ledger may have forgotten something, it holds an original of which not everything stands: it may be new, or you may
    have withdrawn it.

    Changes: with --yes, the ledger; the damaged files are kept in the state folder. Pictures stay as they are.

    While the service runs: refused. Stop it first.

    Exit status: 1 if something is held now; 3 if a folder is away; 4 if the ledger is damaged and you said no --yes.
    """
    settings = open_settings(named)
    folder = state_folder(settings, os.environ)
    refuse_divided(settings, folder)
    refuse_strangers(settings, folder)
    with StateLock(folder, "lanternslide repair"):
        found = diagnosis_of(folder)
        _print_found(found)
        try:
            if yes:
                return _repair(settings, folder, found)
            with _as_it_would_be(folder, found) as ledger:
                return _foretell(settings, ledger, found)
        except PassingFaultError as fault:
            click.echo(say(Upkeep.NOT_DONE, reason=fault.said.text).text, err=True)
            return ExitStatus.WAITS


def _print_found(found: Diagnosis) -> None:
    if found.is_sound:
        click.echo(say(Upkeep.SOUND, file=found.file).text)
    elif found.is_there:
        click.echo(say(Upkeep.DAMAGED, file=found.file, detail=found.damage).text)
    else:
        click.echo(say(Upkeep.GONE if found.was_there else Upkeep.NONE_YET, file=found.file).text)


@contextmanager
def _as_it_would_be(folder: Path, found: Diagnosis) -> Iterator[Ledger]:
    """Yield the ledger that a repair would make, in a folder for now; a sound one as it is."""
    if found.is_sound:
        ledger = Ledger.to_read(folder)
        assert ledger is not None
        with ledger:
            yield ledger
        return
    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        saved = renewed_beside(found, place)
        if found.is_there or found.was_there:
            _print_saved(saved, Upkeep.WOULD_SALVAGE, Upkeep.WOULD_BEGIN)
        with Ledger(place) as ledger:
            yield ledger


def _print_saved(saved: Salvaged, some: Upkeep, nothing: Upkeep) -> None:
    if saved.originals or saved.deliveries:
        originals = counted(saved.originals, "original", "originals")
        deliveries = counted(saved.deliveries, "delivery", "deliveries")
        click.echo(say(some, originals=originals, deliveries=deliveries).text)
    else:
        click.echo(say(nothing).text)


def _foretell(settings: Settings, ledger: Ledger, found: Diagnosis) -> int:
    """Say what a repair would look at; return the exit status."""
    candidates = held = 0
    for item in Recognition(settings, ledger, is_unsure=found.is_unsure).run(only_look=True):
        for path in item.may_be:
            click.echo(say(Upkeep.MAY_BE, path=shown_path(path), original=item.original).text)
        if item.trouble is not None:
            click.echo(say(Upkeep.NOT_LOOKED_AT, original=item.original, reason=item.trouble).text)
        candidates += len(item.may_be)
        held += item.is_held
    if not candidates:
        click.echo(say(Upkeep.NOTHING_TO_RECOGNISE).text)
    if held:
        click.echo(say(Upkeep.WOULD_HOLD, number=counted(held, "original", "originals")).text)
    if candidates or held or found.is_unsure:
        click.echo(say(Upkeep.TO_DO_IT).text)
    return ExitStatus.STATE if found.is_lost else ExitStatus.DONE


@dataclass(slots=True)
class _Sums:
    recognised: int = 0
    held: int = 0
    stalled: int = 0


def _repair(settings: Settings, folder: Path, found: Diagnosis) -> int:
    """Make the ledger whole, and recognise what stands; return the exit status."""
    if not found.is_sound:
        saved, kept = renew(folder, found)
        _print_saved(saved, Upkeep.SALVAGED, Upkeep.BEGUN)
        if kept is not None:
            click.echo(say(Upkeep.SET_ASIDE, folder=kept).text)
    sums = _Sums()
    with Ledger(folder) as ledger:
        if found.is_unsure:
            ledger.notes.put(UNSURE_NOTE, "1")
        for item in Recognition(settings, ledger, is_unsure=found.is_unsure).run(only_look=False):
            for path in item.recognised:
                click.echo(say(Upkeep.RECOGNISED_ONE, path=shown_path(path), original=item.original).text)
            if item.trouble is not None:
                click.echo(say(Upkeep.NOT_LOOKED_AT, original=item.original, reason=item.trouble).text)
            if item.is_held:
                click.echo(say(Upkeep.HELD_ONE, original=item.original).text)
            sums.recognised += len(item.recognised)
            sums.held += item.is_held
            sums.stalled += item.may_pass
        ledger.notes.forget(UNSURE_NOTE)
    recognised = counted(sums.recognised, "file", "files")
    click.echo(say(Upkeep.RECOGNISED_ALL, recognised=recognised, held=counted(sums.held, "original", "originals")).text)
    if sums.stalled:
        click.echo(say(Upkeep.AGAIN).text)
        return ExitStatus.WAITS
    return ExitStatus.HELD if sums.held else ExitStatus.DONE
