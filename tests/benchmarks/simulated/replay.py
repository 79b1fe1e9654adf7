"""The real ledger, written for many pictures by the calls and in the order that the service writes it for each.

Nothing is decoded and no picture is published: what is measured is the ledger alone. That its calls are the service's
own is held by a test (`tests/unit/benchmarks`), which compares their names with those of a running service.
"""

from __future__ import annotations

import hashlib
import resource
import time
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from lanternslide.config import Settings, resolve
from lanternslide.delivery.publisher import _record
from lanternslide.delivery.recipes import wanted_by
from lanternslide.ledger import LEDGER_FILE, DeliveryRow, Kept, Ledger, Published
from lanternslide.records import DroppedFile, Fingerprint, Made, Routing, Survey, SurveyedItem
from tests.benchmarks.simulated.copies import copy_up_to

__all__ = [
    "DESTINATION",
    "MARKS",
    "PHASES",
    "Asked",
    "Block",
    "Example",
    "Walk",
    "ask",
    "replay",
    "sampled",
    "whole",
    "write_ledger",
]

PHASES = ("taken in", "surveyed", "made")
"""What the main thread does for a picture: when it has settled, after its survey, after its delivery was made."""

FIRST = datetime(2024, 1, 1, tzinfo=UTC)
A_DAY, IN_A_FOLDER = 2_000, 500
"""So many pictures are delivered on one day, and so many lie in one folder."""

DESTINATION = "club"

MARKS = (10_000, 100_000, 1_000_000)
"""The ledger is looked at once it knows so many pictures."""

LEVELS = (0.25, 0.5, 0.75, 1)
"""Where a sample is taken beside the marks, shares of all pictures."""


@dataclass(frozen=True, kw_only=True)
class Example:
    """A real picture's survey and delivery, of which the others are made."""

    settings: Settings
    file: DroppedFile
    survey: Survey
    made: Made

    def picture(self, index: int) -> tuple[SurveyedItem, Made, Path]:
        """Return the item, the delivery and the published path of the picture with this number."""
        photographer = tuple(self.settings.photographers)[index // IN_A_FOLDER % 2]
        folder = Path(f"{(FIRST + timedelta(days=index // A_DAY)):%Y/%m-%d}-harbour-{index // IN_A_FOLDER:04d}")
        name = f"kelp-ledges-{index:07d}.jpg"
        digest = hashlib.sha256(b"%d" % index).hexdigest()
        fingerprint = self.file.fingerprint
        file = DroppedFile(
            photographer=photographer,
            drop=self.settings.photographers[photographer].drop,
            relative=folder / name,
            fingerprint=Fingerprint(size=fingerprint.size, mtime_ns=fingerprint.mtime_ns + index, inode=index + 1),
        )
        routing = Routing(
            picture=folder / name, stem=name[:-4], folder=folder, destinations=(DESTINATION,), why="otherwise"
        )
        item = SurveyedItem(file=file, routing=routing, original=0, survey=replace(self.survey, digest=digest))
        made = replace(
            self.made, digest=hashlib.sha256(digest.encode()).hexdigest(), bytes=self.made.bytes + index % 999
        )
        output = self.settings.destination_for(photographer, DESTINATION).folder_for(photographer) / folder / name
        return item, made, output


class Walk:
    """One picture's way through the ledger, from settled to finished, as the service writes it."""

    def __init__(self, ledger: Ledger, settings: Settings) -> None:
        self._ledger = ledger
        self._settings = settings
        self._photographers = resolve(settings)

    def take_in(self, item: SurveyedItem) -> SurveyedItem:
        """`Pictures.admit`: is it news, is it outdated, note it."""
        file = item.file
        self._ledger.deliveries.of_size(file.photographer, file.fingerprint.size)
        self._ledger.originals.at(file.photographer, file.relative)
        self._ledger.originals.of_picture(file.photographer, item.routing.picture)
        row = self._ledger.originals.take_in(file, item.routing.picture)
        return replace(item, original=row.id)

    def survey(self, item: SurveyedItem, output: Path) -> DeliveryRow:
        """`Pictures.advance` after a survey: what is wanted, and whether its folders can be used."""
        ledger, place = self._ledger, output.parent
        folder = self._settings.destination_for(item.file.photographer, DESTINATION).folder_for(item.file.photographer)
        ledger.deliveries.of_original(item.original)
        wanted = wanted_by(self._photographers[item.file.photographer], item.routing)
        (row,) = ledger.deliveries.want(item.original, item.survey.digest, wanted)
        ledger.folders.mount_of(folder)
        ledger.folders.mount_of(place)
        ledger.folders.has_used(folder)
        for used in (folder, place):
            ledger.folders.mount_of(used)
            ledger.folders.use(used, Path("/"))
        return row

    def make(self, item: SurveyedItem, row: DeliveryRow, made: Made, output: Path, delivered_at: str) -> None:
        """`Pictures.advance` after a delivery: the intent, the rename (left out), the confirmation, the end."""
        ledger = self._ledger
        ledger.deliveries.of_original(item.original)
        ledger.folders.mount_of(output.parent)
        ledger.deliveries.owner_of(output)
        ledger.deliveries.earlier_at(output)
        record = _record(item, row, made, output)
        intent = Published(path=output, size=made.bytes, digest=made.digest)
        kept = Kept(record=record, about=made.about, shown=made.shown)
        ledger.deliveries.intend(row.id, intent, made_from=item.survey.digest, kept=kept, inherits=False)
        ledger.deliveries.confirm_first(row.id, delivered_at)
        ledger.deliveries.replaced(row.id)
        ledger.originals.finish(item.original, item.file)


@dataclass(frozen=True, kw_only=True)
class Block:
    """What a block of pictures has cost, after so many."""

    pictures: int  #: How many the ledger knows now.
    seconds: tuple[float, float, float]  #: For one picture, in each of `PHASES`.
    processor: float  #: Seconds of processor time for one picture; the rest waits for the disk.
    written: float  #: Bytes written to the disk for one picture (/proc/self/io).
    size: int  #: Bytes of the ledger, its log not counted.


def replay(
    folder: Path, example: Example, blocks: list[tuple[int, int]], at: dict[int, Callable[[Ledger], None]] | None = None
) -> Iterator[Block]:
    """Write the ledger in *blocks* (how many it knows before, how many are written); yield what each has cost.

    Where a block begins beyond what was written, what is missing are copies of rows (`copies.py`). *at* is called once
    so many are known.
    """
    with Ledger(folder) as ledger:
        walk = Walk(ledger, example.settings)
        known = 0
        for start, number in blocks:
            if known < start:
                copy_up_to(ledger._connection, start)
            batch = [example.picture(index) for index in range(start, start + number)]
            moments = [
                (FIRST + timedelta(days=index / A_DAY)).isoformat(timespec="seconds")
                for index in range(start, start + number)
            ]
            seconds = [0.0, 0.0, 0.0]
            written, processor = _written(), time.process_time()
            for (item, made, output), moment in zip(batch, moments, strict=True):
                began = time.perf_counter()
                noted = walk.take_in(item)
                taken = time.perf_counter()
                row = walk.survey(noted, output)
                surveyed = time.perf_counter()
                walk.make(noted, row, made, output, moment)
                ended = time.perf_counter()
                seconds[0] += taken - began
                seconds[1] += surveyed - taken
                seconds[2] += ended - surveyed
            known = start + number
            yield Block(
                pictures=known,
                seconds=(seconds[0] / number, seconds[1] / number, seconds[2] / number),
                processor=(time.process_time() - processor) / number,
                written=(_written() - written) / number,
                size=(folder / LEDGER_FILE).stat().st_size,
            )
            if at and known in at:
                at[known](ledger)


def _written() -> int:
    """Return how many bytes this process has had written to the disk (Linux, proc(5))."""
    for line in Path("/proc/self/io").read_text("ascii").splitlines():
        if line.startswith("write_bytes"):
            return int(line.split()[1])
    return 0


@dataclass(frozen=True, kw_only=True)
class Asked:
    """How long the ledger takes for one question that is asked of all that it knows."""

    name: str
    when: str  #: When the service asks it.
    seconds: float
    peak_mib: float  #: The most memory that this process has taken so far, MiB.


def ask(ledger: Ledger, pictures: int, photographer: str = "ida") -> list[Asked]:
    """Return how long each question takes that looks at more than one picture, with so many known."""
    day = FIRST + timedelta(days=(pictures - 1) // A_DAY)
    keep = (day - timedelta(days=90)).isoformat(timespec="seconds")
    today, tomorrow = (moment.isoformat(timespec="seconds") for moment in (day, day + timedelta(days=1)))
    questions: list[tuple[str, str, Callable[[], Any]]] = [
        ("known_of", "each scan, each photographer", lambda: ledger.originals.known_of(photographer)),
        (
            "waiting_where_filed",
            "each scan, each photographer",
            lambda: ledger.originals.waiting_where_filed(photographer),
        ),
        ("open_intents", "each scan", ledger.deliveries.open_intents),
        ("open_withdrawals", "each scan", ledger.withdrawals.open),
        ("recalled_but_standing", "each scan", ledger.withdrawals.note_recalled),
        ("recalled_earlier", "each scan", ledger.withdrawals.recalled_earlier),
        ("replaced", "each scan", ledger.deliveries.replaced),
        ("held", "every 5 s while there is work, with proofs", ledger.reading.held),
        ("counts", "every 5 s while there is work, with proofs", ledger.reading.counts),
        ("days_of", "every 5 s while there is work, with proofs", lambda: ledger.sheets.days_of(photographer, keep)),
        (
            "shown_between", f"the same: a day of {A_DAY:,}",
            lambda: ledger.sheets.shown_between(photographer, today, tomorrow),
        ),
        ("standing", "a tenth of the time, with a manifest", lambda: ledger.deliveries.standing(DESTINATION)),
        ("newest", "at the start", ledger.deliveries.newest),
        ("give_back_work", "at the start", ledger.originals.give_back_work),
        ("known_destinations", "an owner's command", ledger.deliveries.known_destinations),
        ("originals_filed", "an owner's command", lambda: ledger.originals.filed_at(Path("/filed/x.jpg"))),
    ]  # fmt: skip
    return [
        Asked(name=name, when=when, seconds=_timed(question), peak_mib=_peak_mib())
        for name, when, question in questions
    ]


def _timed(question: Callable[[], Any]) -> float:
    began = time.perf_counter()
    question()
    return time.perf_counter() - began


def _peak_mib() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def whole(pictures: int, number: int) -> list[tuple[int, int]]:
    """Return so many blocks that make up all *pictures*."""
    block = -(-pictures // number)
    return [(start, min(block, pictures - start)) for start in range(0, pictures, block)]


def sampled(pictures: int, block: int) -> list[tuple[int, int]]:
    """Return two blocks before each of `LEVELS` of all *pictures* and of `MARKS`; between them are copies."""
    levels = {round(share * pictures) for share in LEVELS} | {mark for mark in MARKS if mark <= pictures}
    return [(level - part * block, block) for level in sorted(levels) for part in (2, 1)]


def write_ledger(
    folder: Path, example: Example, blocks: list[tuple[int, int]], tell: Callable[[Block, dict[str, Any]], None]
) -> dict[str, Any]:
    """Write the ledger in *blocks* and return the figures as JSON holds them; they are told after each block, too.

    The ledger is asked its questions, and opened anew, once it knows each of `MARKS`, and at the end.
    """
    found: dict[str, Any] = {"blocks": [], "asked": {}, "opened": {}}
    ends = [start + number for start, number in blocks]
    marks = {next(end for end in ends if end >= mark) for mark in MARKS if mark <= ends[-1]} | {ends[-1]}

    def look(ledger: Ledger) -> None:
        (number,) = ledger._connection.execute("SELECT count(*) FROM original").fetchone()
        found["opened"][str(number)] = _timed(lambda: Ledger(folder).__exit__(None, None, None))
        found["asked"][str(number)] = [asdict(answer) for answer in ask(ledger, number)]
        tell(last[0], found)

    last: list[Block] = []
    for figures in replay(folder, example, blocks, dict.fromkeys(marks, look)):
        last[:] = [figures]
        found["blocks"].append(asdict(figures))
        tell(figures, found)
    return found
