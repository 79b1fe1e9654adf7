"""What would be done with a file, or with all in a folder, and why; reads, and writes nothing."""

from __future__ import annotations

import math
import stat
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from queue import SimpleQueue

from lanternslide.config import Settings, resolve
from lanternslide.config.limits import Limits
from lanternslide.delivery import (
    Reachability,
    TargetNames,
    day_of_file,
    delivered_names,
    is_made_otherwise,
    name_of,
    recipes_for,
    uses_date,
)
from lanternslide.errors import OriginalHeldError, PassingFaultError, UsageError, WorkersError
from lanternslide.intake import Decisions, Round, dropped, findings_of, is_left_alone, look_at, look_through
from lanternslide.ledger import DeliveryRow, DeliveryState, Ledger
from lanternslide.preview.predictions import Asked, Foreseen, Intended, Prediction, prediction_of
from lanternslide.records import (
    Changed,
    DroppedFile,
    Key,
    Refused,
    Routing,
    Stalled,
    SurveyTask,
    Traced,
    TracedPlan,
    TraceTask,
)
from lanternslide.records.events import nobody
from lanternslide.requests import below_drops
from lanternslide.storage import is_folder
from lanternslide.storage.probe import Probe
from lanternslide.words import Command, Passing, Said, say
from lanternslide.workers.executor import Answer, AttemptFailed, ExecutorBroken, News, Order, post
from lanternslide.workers.memory_budget import MemoryBudget
from lanternslide.workers.pool import Pool

__all__ = ["Tracer"]

AHEAD = 2
"""Tasks that wait in the pool beyond one for each worker."""


class Tracer:
    """Knows the config and the ledger, and has headers read in workers."""

    def __init__(self, settings: Settings, ledger: Ledger) -> None:
        self._photographers = resolve(settings)
        self._ledger = ledger
        self._decisions = Decisions(self._photographers, ledger.originals, ledger.deliveries, nobody)
        self._reachability = Reachability(ledger.folders, Probe())
        self._names = TargetNames(ledger.originals, ledger.deliveries, self._reachability)
        self.limits = Limits.of(settings.service)
        is_here = settings.service.executor == "local"  # else nothing is held: a larger worker may come
        self.memory = MemoryBudget(self.limits.memory_mib if is_here else math.inf, self.limits.workers)

    # Which files

    def look_at(self, named: Path) -> Asked:
        """Return what lies at a path.

        Raises
        ------
        UsageError
            If nothing does, or it is in nobody's drop folder.
        PassingFaultError
            If the drop folder is away.
        """
        drops = [(name, owner.drop) for name, owner in self._photographers.items()]
        found = next(below_drops(named, drops, self._reachability), None)
        if found is None:
            folders = ", ".join(f"{drop} ({name})" for name, drop in drops)
            raise UsageError(say(Command.IN_NO_DROP_FOLDER, path=named, folders=folders).text)
        photographer, relative = found
        drop = self._photographers[photographer].drop
        if not self._reachability.answers(drop):
            raise PassingFaultError(Passing.DROP_FOLDER_SILENT, folder=drop)
        if not is_folder(drop):
            raise PassingFaultError(Passing.DROP_FOLDER_AWAY, folder=drop)
        return self._lying(photographer, drop, relative)

    def _lying(self, photographer: str, drop: Path, relative: Path) -> Asked:
        path = drop / relative
        came_across = Round()
        try:
            is_other_folder = stat.S_ISDIR(path.lstat().st_mode) or relative == Path()
            if is_other_folder and not is_left_alone(relative):
                below = "" if relative == Path() else str(relative)
                entries = look_through(drop, below, came_across)
                files = tuple(dropped(photographer, drop, entry) for entry in entries)
            else:
                is_other_folder = False
                files = tuple(look_at(photographer, drop, relative))
        except FileNotFoundError as error:
            raise UsageError(say(Command.NOT_THERE, path=path).text) from error
        except OSError as error:
            raise _folder_trouble(path, error) from error
        return Asked(
            photographer=photographer, path=path, is_folder=is_other_folder,
            files=files, others=came_across.others, closed=came_across.closed,
        )  # fmt: skip

    # What routing and the ledger say

    def foresee(self, asked: Asked) -> list[Foreseen]:
        """Return what would be done, as far as names and the ledger say."""
        newest: dict[Path, DroppedFile] = {}
        for file in asked.files if asked.is_folder else self._beside(asked):
            routing = self._decisions.routing_of(file)
            if isinstance(routing, Routing):
                other = newest.get(routing.picture)
                if other is None or self._rank(file, routing) > self._rank(other, routing):
                    newest[routing.picture] = file
        return [self._foreseen(file, newest) for file in asked.files]

    def _beside(self, asked: Asked) -> Iterator[DroppedFile]:
        """Yield the files that are the same picture as the one that is asked about: they lie side by side."""
        for file in asked.files:
            picture, folder = _picture_of(self._decisions.routing_of(file)), file.relative.parent
            try:
                names = sorted(path.name for path in (file.drop / folder).iterdir())
            except OSError as error:
                raise _folder_trouble(file.drop / folder, error) from error
            for name in names:
                other = _picture_of(self._decisions.routing_at(file.photographer, folder / name))
                if other is not None and other == picture:
                    yield from look_at(file.photographer, file.drop, folder / name)

    def _rank(self, file: DroppedFile, routing: Routing) -> tuple[int, bool]:
        """Return what tells which of two files that are one picture counts: the newer, else the one that is known."""
        row = self._ledger.originals.of_picture(file.photographer, routing.picture)
        return file.fingerprint.mtime_ns, row is not None and row.path == file.relative

    def _foreseen(self, file: DroppedFile, newest: Mapping[Path, DroppedFile]) -> Foreseen:
        routing = self._decisions.routing_of(file)
        if isinstance(routing, Said):
            return Foreseen(file=file, prediction=Prediction.HELD, said=routing)
        picture = self._ledger.originals.of_picture(file.photographer, routing.picture)
        newer = newest.get(routing.picture, file).relative
        if newer == file.relative and picture is not None and self._decisions.is_outdated(file, routing):
            newer = picture.path
        if newer != file.relative:
            return Foreseen(file=file, prediction=Prediction.OUTDATED, routing=routing, newer=newer, row=picture)
        here = self._ledger.originals.at(file.photographer, file.relative)
        prediction, said = prediction_of(file.fingerprint, here[0] if here else None)
        return Foreseen(file=file, prediction=prediction, routing=routing, said=said, row=here[0] if here else picture)

    # What headers say

    def read(self, items: Sequence[Foreseen], workers: int) -> Iterator[Foreseen]:
        """Read the headers of originals in so many workers; yield what is foreseen then, as it becomes known.

        Raises
        ------
        WorkersError
            If no worker can be started.
        """
        answers: SimpleQueue[Answer | News] = SimpleQueue()
        waiting = iter(items)
        reading: dict[Key, Foreseen] = {}
        pool = Pool(workers, answers.put)
        try:
            while True:
                while len(reading) < workers + AHEAD and (item := next(waiting, None)) is not None:
                    order = self.order_for(item)
                    reading[order.key] = item
                    post(pool.submit(order), answers.put)
                if not reading:
                    return
                match answers.get():
                    case Answer() as answer:
                        yield self._heard(reading.pop(answer.key), answer)
                    case ExecutorBroken(said=said):
                        raise WorkersError(said)
                    case _:  # it has mended itself
                        pass
        finally:
            pool.close()

    def order_for(self, item: Foreseen) -> Order:
        """Return the order to read an original's header."""
        file, timeout = item.file, self.limits.survey_timeout(item.file.fingerprint.size)
        return Order(key=(file.photographer, file.relative), task=self._task_for(item), timeout=timeout)

    def _task_for(self, item: Foreseen) -> TraceTask:
        file = item.file
        assert item.routing is not None
        wanted = list(recipes_for(self._photographers[file.photographer], item.routing))
        survey = SurveyTask(
            root=file.root,
            path=file.path,
            fingerprint=file.fingerprint,
            max_megapixels=self.limits.max_megapixels,
            wanted=tuple((destination.recipe, density) for destination, density in wanted),
        )
        return TraceTask(survey=survey, destinations=tuple(destination.name for destination, _ in wanted))

    def _heard(self, item: Foreseen, answer: Answer) -> Foreseen:
        """Return what is foreseen of an original with what a worker has answered.

        What is done, or held for a reason of its own, stays so, whatever its header says now.
        """
        traced = answer.result if isinstance(answer.result, Traced) else None
        item = replace(item, traced=traced)
        if not item.is_made:
            return item
        if traced is not None:
            try:
                self.memory.check(traced.need_mib)
            except OriginalHeldError as held:
                return replace(item, prediction=Prediction.HELD, said=held.said)
        match answer.result:
            case AttemptFailed(detail=detail):
                item = replace(item, prediction=Prediction.HELD, failure=detail)
            case Refused(said=said):
                item = replace(item, prediction=Prediction.HELD, said=said)
            case Stalled(said=said):
                item = replace(item, prediction=Prediction.STALLED, said=said)
            case Changed():
                item = replace(item, prediction=Prediction.MOVING)
            case _:
                pass
        return item

    # Deliveries

    def still_to_make(self, item: Foreseen) -> list[TracedPlan]:
        """Return the plans of what would be made of an original."""
        if item.traced is None or not item.is_made:
            return []
        rows = self._rows_of(item) if item.prediction is Prediction.WAITS else {}
        ended = {key for key, row in rows.items() if row.state in (DeliveryState.DELIVERED, DeliveryState.WITHDRAWN)}
        return [plan for plan in item.traced.plans if (plan.destination, plan.density) not in ended]

    def findings_of(self, item: Foreseen) -> tuple[Said, ...]:
        """Return what would be doubtful, or worth knowing, about every delivery of an original."""
        by_routing = () if item.routing is None else findings_of(item.routing)
        return by_routing if item.traced is None else (*by_routing, *item.traced.findings)

    def intended(self, item: Foreseen) -> list[Intended]:
        """Return each delivery of an original whose header was read."""
        if item.traced is None or item.routing is None:
            return []
        rows = self._rows_of(item)
        destinations = self._photographers[item.file.photographer].destinations
        found = []
        for plan in item.traced.plans:
            destination = destinations[plan.destination]
            row = rows.get((plan.destination, plan.density))
            is_other = row is not None and is_made_otherwise(row, destination.stored_recipe)
            known = Intended(
                plan=plan,
                recipe=destination.recipe,
                path=row.output.path if row is not None and row.output is not None else None,
                day_of_file=day_of_file(item.file) if uses_date(destination.recipe.name) else None,
                state=None if row is None else row.state,
                is_other_recipe=is_other,
            )
            found.append(self._placed(item, item.routing, known, row) if item.is_made else known)
        return found

    def _rows_of(self, item: Foreseen) -> dict[tuple[str, float], DeliveryRow]:
        if item.row is None:
            return {}
        return {(row.destination, row.density): row for row in self._ledger.deliveries.of_original(item.row.id)}

    def _placed(self, item: Foreseen, routing: Routing, known: Intended, row: DeliveryRow | None) -> Intended:
        """Return a delivery with the path that it would be put at."""
        file, plan = item.file, known.plan
        called, ending = name_of(file, routing, plan.destination, known.recipe, (plan.width, plan.height), None)
        call = called, plan.density, ending
        try:
            folder = self._names.folder_for(
                self._photographers[file.photographer].destinations[plan.destination], routing.folder
            )
            path = next(self._names.of(file, routing.picture, row, folder, call)).path
        except PassingFaultError as fault:
            return replace(known, path=None, stalled=fault.said)
        first = next(delivered_names(*call))
        return replace(known, path=path, taken=first if first != path.name else None)


def _picture_of(routing: Routing | Said) -> Path | None:
    return routing.picture if isinstance(routing, Routing) else None


def _folder_trouble(folder: Path, error: OSError) -> PassingFaultError:
    return PassingFaultError(Passing.FOLDER_TROUBLE, folder=folder, detail=error)
