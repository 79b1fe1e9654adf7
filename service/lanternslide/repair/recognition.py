"""Which files that stand are deliveries of which originals: each original is rendered again and compared with them.

Nothing is published or deleted. A delivery is recognised by equal bytes or, where another version made it, by its name,
its size and how it looks. Where the ledger may have forgotten something, an original of which not everything is found
is held, and kept away as if it had been withdrawn: nothing may come back that its owner has taken away.
"""

from __future__ import annotations

from collections.abc import Generator, Iterable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from queue import SimpleQueue
from typing import TypeAlias

from lanternslide.config import ResolvedPhotographer, Settings, resolve
from lanternslide.config.limits import Limits
from lanternslide.daemon.planning import Planner
from lanternslide.delivery import Publisher, Reachability, recipes_for
from lanternslide.errors import OriginalHeldError, PassingFaultError, WorkersError
from lanternslide.intake import Decisions, dropped, findings_of, look_through
from lanternslide.ledger import DeliveryState, Ledger, Published
from lanternslide.preview import Asked, Foreseen, Prediction, Tracer
from lanternslide.records import (
    DeliveryTask,
    DroppedFile,
    JobDone,
    Key,
    LeftOut,
    Made,
    Refused,
    Scope,
    Stalled,
    Survey,
    SurveyedItem,
    Traced,
    WorkItem,
    shown_path,
)
from lanternslide.records.events import nobody
from lanternslide.storage import is_file_with, is_folder, is_there
from lanternslide.storage.probe import Probe
from lanternslide.words import Held, Passing, say
from lanternslide.workers.executor import Answer, AttemptFailed, ExecutorBroken, News, Order, post
from lanternslide.workers.memory_budget import MemoryBudget
from lanternslide.workers.pool import Pool

__all__ = ["Found", "Recognition"]

ENDED = (DeliveryState.DELIVERED, DeliveryState.LEFT_OUT)
"""States of a delivery of which nothing is to be made."""

Steps: TypeAlias = Generator[Order, Answer, None]
"""What is asked of workers about one original, one order after the other."""


Candidates: TypeAlias = dict[tuple[str, float], list[Path]]
"""The files that may be each delivery, by destination and density."""


@dataclass(slots=True)
class Found:
    """What is found about one original."""

    original: str  #: Photographer and path, safe to print.
    may_be: list[Path] = field(default_factory=list)  #: Files that may be its deliveries.
    recognised: list[Path] = field(default_factory=list)  #: Files that are.
    is_held: bool = False  #: Whether it is held, or would be.
    trouble: str | None = None  #: Why it could not be looked at.
    may_pass: bool = False  #: Whether that is something that may pass.


class Recognition:
    """Goes through all originals.

    Parameters
    ----------
    is_unsure
        Whether the ledger may have forgotten something: what it does not know may then be withdrawn.
    """

    def __init__(self, settings: Settings, ledger: Ledger, *, is_unsure: bool) -> None:
        self._photographers = resolve(settings)
        self._ledger = ledger
        self._is_unsure = is_unsure
        self._tracer = Tracer(settings, ledger)
        self._limits = Limits.of(settings.service)
        probe = Probe()
        self._decisions = Decisions(self._photographers, ledger.originals, ledger.deliveries, nobody)
        self._reachability = Reachability(ledger.folders, probe)
        self._publisher = Publisher(self._photographers, ledger, self._reachability)
        self._planner = Planner(
            photographers=self._photographers, deliveries=ledger.deliveries, limits=self._limits,
            publisher=self._publisher, scope=Scope(), tell=nobody,
        )  # fmt: skip

    def run(self, *, only_look: bool) -> Iterator[Found]:
        """Yield what is found about each original that the ledger does not know as done; with *only_look* no more.

        Raises
        ------
        PassingFaultError
            If a drop folder is away, or a folder in it cannot be listed.
        WorkersError
            If no worker can be started.
        """
        for owner in self._photographers.values():
            asked = self._tracer.look_at(owner.drop)
            for folder, error in asked.closed.items():
                raise PassingFaultError(Passing.FOLDER_TROUBLE, folder=owner.drop / folder, detail=error)
            foreseen = self._tracer.foresee(asked)
            if self._is_unsure and not only_look:
                self._note_gone([item for item in foreseen if item.prediction is Prediction.DONE])
            items = [item for item in foreseen if self._is_open(owner, item)]
            yield from self._through(items, only_look=only_look)
            filed = self._tracer.foresee(Asked(
                photographer=owner.name, path=owner.drop, is_folder=True, files=tuple(self._filed(owner)),
            ))  # fmt: skip
            items = [item for item in filed if self._is_open(owner, item)]
            yield from self._through(items, only_look=only_look)

    def _filed(self, owner: ResolvedPhotographer) -> Iterator[DroppedFile]:
        """Yield the originals that are filed away."""
        if owner.filed is None:
            return
        try:
            for entry in look_through(owner.filed):
                file = dropped(owner.name, owner.drop, entry)
                if not file.is_folder and not is_there(file.path):
                    yield replace(file, filed=owner.filed / file.relative)
        except FileNotFoundError:  # nothing was ever filed away
            return
        except OSError as error:
            raise PassingFaultError(Passing.FOLDER_TROUBLE, folder=owner.filed, detail=error) from error

    def _is_open(self, owner: ResolvedPhotographer, item: Foreseen) -> bool:
        """Return whether the ledger lacks anything of an original that counts."""
        if item.routing is None:
            return False
        if item.is_made or _is_in_doubt(item):
            return True
        if item.prediction is not Prediction.DONE or item.row is None:
            return False
        known = {(row.destination, row.density) for row in self._ledger.deliveries.of_original(item.row.id)}
        wanted = {(place.name, density) for place, density in recipes_for(owner, item.routing)}
        return not wanted <= known

    def _through(self, items: list[Foreseen], *, only_look: bool) -> Iterator[Found]:
        answers: SimpleQueue[Answer | News] = SimpleQueue()
        budget = MemoryBudget(self._limits.memory_mib, self._limits.workers)
        pool = Pool(self._limits.workers, answers.put)
        at_work: dict[Key, tuple[Steps, Found]] = {}
        waiting: dict[Key, Order] = {}
        left = iter(items)
        try:
            while True:
                while len(at_work) < self._limits.workers and (item := next(left, None)) is not None:
                    found = Found(original=item.file.shown)
                    steps = self._steps(item, found, only_look=only_look)
                    order = next(steps)
                    at_work[order.key] = steps, found
                    waiting[order.key] = order
                for key in budget.admit({key: order.need_mib for key, order in waiting.items()}):
                    post(pool.submit(waiting.pop(key)), answers.put)
                if not at_work:
                    return
                match answers.get():
                    case Answer() as answer:
                        budget.leave(answer.key)
                        steps, found = at_work.pop(answer.key)
                        following = _next(steps, answer)
                        if following is None:
                            yield found
                        else:
                            at_work[following.key] = steps, found
                            waiting[following.key] = following
                    case ExecutorBroken(said=said):
                        raise WorkersError(said)
                    case _:  # it has mended itself
                        pass
        finally:
            pool.close()

    def _steps(self, item: Foreseen, found: Found, *, only_look: bool) -> Steps:
        """Ask what an original is, then whether the files are it; note what comes of it."""
        assert item.routing is not None
        is_unsure = self._is_unsure or _is_in_doubt(item)
        work = WorkItem(file=item.file, routing=item.routing, original=-1 if item.row is None else item.row.id)
        traced = yield self._tracer.order_for(item)
        candidates = self._candidates_in(work, traced, found)
        found.may_be = sorted({path for paths in candidates.values() for path in paths})
        found.is_held = is_unsure and item.is_made and (not found.may_be or found.trouble is not None)
        if only_look or not (found.may_be or is_unsure):
            return
        taken = self._decisions.take_in(item.file, item.routing)
        assert taken is not None
        if found.may_be and found.trouble is None:
            if _is_in_doubt(item):  # what was kept away is looked for once more
                self._ledger.withdrawals.retry(taken.original)
            surveyed = yield self._planner.survey_of(taken)
            if isinstance(surveyed.result, Survey):
                yield from self._compare(taken.surveyed(surveyed.result), candidates, found)
            else:
                _note_trouble(found, surveyed)
        found.is_held = is_unsure and item.file.filed is None and not self._is_whole(taken)
        if is_unsure:
            self._keep_away(taken)
        if found.is_held:
            said = say(Held.AFTER_REPAIR, path=shown_path(item.file.path))
            self._decisions.hold(taken.original, item.file, said)
        else:
            self._ledger.originals.finish(taken.original, item.file)

    def _is_whole(self, item: WorkItem) -> bool:
        """Return whether everything that an original asks for is known to stand, or is left out."""
        owner = self._photographers[item.file.photographer]
        wanted = {(place.name, density) for place, density in recipes_for(owner, item.routing)}
        known = self._ledger.deliveries.of_original(item.original)
        return wanted <= {(row.destination, row.density) for row in known if row.state in ENDED}

    def _keep_away(self, item: WorkItem) -> None:
        """Have nothing go where nothing of an original stands, as if it were withdrawn, also once it was touched."""
        known = self._ledger.deliveries.of_original(item.original)
        outputs = [(row.destination, row.output) for row in known if row.output is not None]
        stands = {destination for destination, output in outputs if self._stands(output, destination)}
        for name in item.routing.destinations:
            if name not in stands:
                self._ledger.withdrawals.withdraw(item.original, name, item.file.fingerprint)

    def _note_gone(self, items: Iterable[Foreseen]) -> None:
        """Note as withdrawn what the ledger calls delivered, and what certainly stands no more."""
        for item in items:
            for row in () if item.row is None else self._ledger.deliveries.of_original(item.row.id):
                output = row.output
                if output is None or row.state is not DeliveryState.DELIVERED or is_there(output.path):
                    continue
                if not self._stands(output, row.destination):
                    self._ledger.withdrawals.withdraw(row.original, row.destination, item.file.fingerprint)

    def _stands(self, published: Published, destination: str) -> bool:
        """Return whether a file stands, as far as can be told: what is away may stand, and is not to be deleted."""
        try:
            self._reachability.check_file(published.path, destination)
            return not is_folder(published.path.parent) or is_file_with(
                published.path, published.size, published.digest
            )
        except (OSError, PassingFaultError):
            return True

    def _candidates_in(self, work: WorkItem, traced: Answer, found: Found) -> Candidates:
        """Return the files that may be each delivery of an original, by what its header says."""
        if not isinstance(traced.result, Traced):
            _note_trouble(found, traced)
            return {}
        try:
            self._tracer.memory.check(traced.result.need_mib)
            return self._candidates(work, traced.result)
        except PassingFaultError as fault:
            found.trouble, found.may_pass = fault.said.text, True
        except OriginalHeldError as held:
            found.trouble = held.said.text
        return {}

    def _candidates(self, work: WorkItem, traced: Traced) -> Candidates:
        """Return the files that may be each delivery of an original."""
        rows = {(row.destination, row.density): row for row in self._ledger.deliveries.of_original(work.original)}
        found = {}
        for plan in traced.plans:
            call = plan.destination, plan.density
            row = rows.get(call)
            if row is None or row.state is not DeliveryState.WITHDRAWN:
                found[call] = self._publisher.strangers_for(work, plan, row)
        return found

    def _compare(self, item: SurveyedItem, candidates: Candidates, found: Found) -> Steps:
        rows, _ = self._planner.still_to_make(item)
        tasks = [
            DeliveryTask(
                delivery=row.id, destination=row.destination, density=row.density,
                recipe=self._photographers[item.file.photographer].destinations[row.destination].recipe,
                temporary=Path(), standing=tuple(candidates.get((row.destination, row.density), ())),
            )
            for row in rows
        ]  # fmt: skip
        known = {row.id: row for row in rows}
        if not tasks:
            return
        answer = yield self._planner.making_of(item, item.job(tasks, findings_of(item.routing)))
        if not isinstance(answer.result, JobDone):
            _note_trouble(found, answer)
            return
        for outcome in answer.result.outcomes:
            match outcome:
                case Made(delivery=number, standing=Path()):
                    row = known[number]
                    others = candidates.get((row.destination, row.density), ())
                    stands = self._publisher.recognise(item, row, outcome, others)
                    if stands is not None:
                        found.recognised.append(stands)
                case LeftOut(delivery=number):
                    self._ledger.deliveries.leave_out(number, item.survey.digest)
                case _:  # none of the files is it
                    pass


def _next(steps: Steps, answer: Answer) -> Order | None:
    try:
        return steps.send(answer)
    except StopIteration:
        return None


def _is_in_doubt(item: Foreseen) -> bool:
    """Return whether an earlier repair has held an original."""
    return item.row is not None and item.row.reason_key == Held.AFTER_REPAIR


def _note_trouble(found: Found, answer: Answer) -> None:
    match answer.result:
        case Refused(said=said):
            found.trouble = said.text
        case Stalled(said=said):
            found.trouble, found.may_pass = said.text, True
        case AttemptFailed(detail=detail):
            found.trouble, found.may_pass = detail, True
        case _:
            found.trouble, found.may_pass = "It changed meanwhile.", True
