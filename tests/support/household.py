"""A photographers' home with all that decides about it, in this process: real files, a real ledger, and no workers."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from lanternslide.config import Settings, load_settings, resolve
from lanternslide.config.limits import Limits
from lanternslide.daemon.delivering import Deliverer
from lanternslide.daemon.planning import Planner
from lanternslide.delivery.filing import Filing
from lanternslide.delivery.notices import Stamps
from lanternslide.delivery.publisher import Publisher
from lanternslide.delivery.reachability import Reachability
from lanternslide.intake import look_at
from lanternslide.intake.decisions import Decisions
from lanternslide.intake.original_files import OriginalFiles
from lanternslide.ledger import DeliveryRow, Kept, Ledger, OriginalRow, Published
from lanternslide.records import (
    DeliveryTask,
    DroppedFile,
    Made,
    Record,
    Routing,
    Scope,
    Survey,
    SurveyedItem,
)
from lanternslide.records.events import Event, nobody
from lanternslide.records.record import Clipped, Figures, Halo, OriginalFile, Spread
from lanternslide.report.obstacles import Obstacles
from lanternslide.requests.commands import OwnerCommands
from lanternslide.requests.recovery import Recovery
from lanternslide.requests.remaking import Remaking
from lanternslide.storage.probe import Probe
from tests.support.service import Home, make_home

__all__ = ["CONFIG", "FIGURES", "Household", "digest_of", "household", "survey_of", "write_delivery"]

CONFIG = """
[service]
state = "state"
settle_seconds = 0.1
workers = 2
watch = "poll"

[photographers.ida]
drop = "drop/ida"
otherwise = ["portfolio"]

[photographers.juno]
drop = "drop/juno"
destinations = ["club"]

[destinations.portfolio]
folder = "out/{photographer}/portfolio"
size = { long_edge = 1050 }

[destinations.journal]
folder = "out/{photographer}/journal"
size = { long_edge = 1600 }
densities = [1, 2]

[destinations.club]
folder = "out/club"
size = { box = [1920, 1080] }
"""
"""Ida, whose pictures go to her portfolio if nothing else is said, and Juno, who knows the club alone."""

FIGURES = Figures(
    width=60, height=40, quality=90, quality_by="config", chroma="4:4:4", strength=1.0, rungs=(60,),
    original_file=OriginalFile(width=60, height=40, bits=8, profile="sRGB"),
    ssim=0.99, delta_e=Spread(mean=0.1, p99=0.5), out_of_gamut=0.0,
    acutance=1.35, halo=Halo(light=1.0, dark=1.0), tone_shift=Spread(mean=0.0, p99=0.0),
    clipped=Clipped(shadows=0.0, highlights=0.0), forecast=None, seconds=60.0, peak_mib=None, plan=1,
)  # fmt: skip
"""What a worker would have measured: a minute for each delivery."""


def digest_of(data: bytes) -> str:
    """Return the SHA-256 of *data*, as the ledger has it."""
    return hashlib.sha256(data).hexdigest()


def survey_of(file: DroppedFile, need_mib: float = 200.0) -> Survey:
    """Return what a worker would find an original to be."""
    digest = digest_of(file.path.read_bytes())
    return Survey(digest=digest, width=60, height=40, bits=8, kind="JPEG", need_mib=need_mib)


def write_delivery(task: DeliveryTask, digest: str) -> Made:
    """Write some bytes of its own for a delivery of the original with this *digest*, as a worker would."""
    data = f"{digest} for {task.destination} at {task.density:g}".encode()
    task.temporary.write_bytes(data)
    return Made(delivery=task.delivery, bytes=len(data), digest=digest_of(data), figures=FIGURES, findings=())


@dataclass
class Household:
    """Drop folders, destinations, a ledger, and what decides about them by the config as it was read last."""

    home: Home
    ledger: Ledger
    told: list[Event] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.reachability = Reachability(self.ledger.folders, Probe())
        self.read()

    def read(self, config: str | None = None) -> Settings:
        """Read the config, or another one in its place, and make everything anew that depends on it."""
        if config is not None:
            self.home.config.write_text(config, "utf-8")
        self.settings = load_settings(self.home.config)
        self.photographers = resolve(self.settings)
        self.decisions = Decisions(self.photographers, self.ledger.originals, self.ledger.deliveries, self.told.append)
        self.files = OriginalFiles(
            photographers=self.photographers,
            originals=self.ledger.originals,
            deliveries=self.ledger.deliveries,
            answers=self.reachability.answers,
        )
        self.publisher = Publisher(self.photographers, self.ledger, self.reachability)
        self.planner = self.planner_for(Scope())
        self.recovery = Recovery(
            self.photographers, self.ledger, self.decisions, self.publisher, self.reachability, self.told.append
        )
        again = Remaking(self.photographers, self.ledger, self.decisions, self.publisher, self.reachability)
        self.owner = OwnerCommands(self.settings, self.ledger, self.decisions, self.reachability, self.recovery, again)
        return self.settings

    def planner_for(self, scope: Scope) -> Planner:
        """Return what knows what is still to be made, in a sweep that is limited to a *scope*."""
        return Planner(
            photographers=self.photographers, deliveries=self.ledger.deliveries,
            limits=Limits.of(self.settings.service), publisher=self.publisher, scope=scope,
            tell=self.told.append,
        )  # fmt: skip

    def deliverer(self, stamps: Stamps | None = None, obstacles: Obstacles | None = None) -> Deliverer:
        """Return what publishes what was made."""
        obstacles = Obstacles(nobody) if obstacles is None else obstacles
        return Deliverer(
            photographers=self.photographers, deliveries=self.ledger.deliveries, decisions=self.decisions,
            files=self.files, publisher=self.publisher, filing=self.filing(), obstacles=obstacles,
            stamps=stamps or Stamps(self.ledger.folder / "stamps", obstacles), tell=self.told.append,
        )  # fmt: skip

    def filing(self) -> Filing:
        """Return what files finished originals away."""
        return Filing(self.photographers, self.ledger.originals, Probe(), self.told.append)

    def drop(
        self, name: str, content: bytes = b"original", *, photographer: str = "ida", day: int | None = None
    ) -> DroppedFile:
        """Put an original into a drop folder; *day* is when it was last changed, in days since 1970."""
        path = self.home.drop(photographer) / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
        if day is not None:
            os.utime(path, (day * 86400, day * 86400))
        return self.look(name, photographer=photographer)

    def look(self, name: str, *, photographer: str = "ida") -> DroppedFile:
        """Return an original of a drop folder as it looks now."""
        (file,) = look_at(photographer, self.home.drop(photographer), Path(name))
        return file

    def row(self, file: DroppedFile) -> OriginalRow:
        """Return what the ledger knows under a file's path."""
        return self.ledger.originals.at(file.photographer, file.relative)[0]

    def is_news(self, file: DroppedFile) -> bool:
        """Return whether a file needs anything, given what the ledger knows under its path."""
        rows = self.ledger.originals.at(file.photographer, file.relative)
        return self.decisions.is_news(file, rows[0].known if rows else None)

    def item(self, file: DroppedFile) -> SurveyedItem:
        """Take a settled file in and survey it."""
        routing = self.decisions.routing_of(file)
        assert isinstance(routing, Routing), routing
        row = self.ledger.originals.take_in(file, routing.picture)
        return SurveyedItem(file=file, routing=routing, original=row.id, survey=survey_of(file), is_older=row.is_older)

    def deliver(self, file: DroppedFile) -> list[Path]:
        """Have an original delivered everywhere, and return where that stands."""
        item = self.item(file)
        rows, stalled = self.planner.still_to_make(item)
        assert stalled is None
        for row in rows:
            self.publish(item, row)
        self.ledger.originals.finish(item.original)
        return self.standing(file)

    def ask_again(self, file: DroppedFile) -> None:
        """Have all that was delivered of an original be made again, as its owner may ask."""
        number = self.row(file).id
        self.ledger.older.ask_again([(number, [row.id for row in self.ledger.deliveries.of_original(number)])])

    def publish(self, item: SurveyedItem, row: DeliveryRow) -> None:
        """Have one delivery published."""
        task = self.publisher.task_for(item, row)
        self.publisher.publish(item, task, row, write_delivery(task, item.survey.digest))

    def intend(self, item: SurveyedItem, row: DeliveryRow) -> tuple[Path, bytes]:
        """Leave the ledger as a service does that is killed between an intent and its rename.

        Return where the delivery was to stand, and its bytes.
        """
        folder = self.publisher.task_for(item, row).temporary.parent
        path, data = folder / f"{item.routing.stem}.jpg", b"a delivery"
        record = Record(
            original=str(item.file.relative), photographer=item.file.photographer, destination=row.destination,
            density=row.density, state="delivered", output=str(path), version="0",
        )  # fmt: skip
        intent = Published(path=path, size=len(data), digest=digest_of(data))
        self.ledger.deliveries.intend(row.id, intent, made_from=item.survey.digest, kept=Kept(record=record))
        return path, data

    def standing(self, file: DroppedFile) -> list[Path]:
        """Return where deliveries of an original stand, as the ledger has it."""
        rows = self.ledger.deliveries.of_original(self.row(file).id)
        return [row.output.path for row in rows if row.output is not None]

    def states(self, file: DroppedFile) -> dict[tuple[str, float], str]:
        """Return the states of an original's deliveries."""
        rows = self.ledger.deliveries.of_original(self.row(file).id)
        return {(row.destination, row.density): row.state for row in rows}

    def file_away(self, file: DroppedFile, folder: str = "filed") -> Path:
        """Move a finished original to where such ones are filed away, as the service does."""
        target = self.home.root / folder / file.relative
        target.parent.mkdir(parents=True, exist_ok=True)
        self.ledger.originals.file_away(self.row(file).id, target)
        file.path.rename(target)
        return target

    def told_of(self, kind: type[Event]) -> list[Event]:
        """Return what was told of one kind."""
        return [event for event in self.told if isinstance(event, kind)]


@contextmanager
def household(root: Path, config: str = CONFIG) -> Iterator[Household]:
    """Make a home below *root*, with its ledger open meanwhile."""
    home = make_home(root, config)
    (root / "state").mkdir()
    with Ledger(root / "state") as ledger:
        yield Household(home, ledger)
