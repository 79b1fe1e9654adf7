"""What ``trace`` prints of one original."""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from rich.console import Console

from lanternslide.cli.output.foreseen import print_foreseen, reason_of
from lanternslide.ledger import OriginalRow, OriginalState
from lanternslide.preview.predictions import Foreseen, Intended, Prediction
from lanternslide.preview.tracing import Tracer
from lanternslide.records import (
    DroppedFile,
    Recipe,
    Routing,
    Sharpening,
    SizeRule,
    Traced,
    TracedPlan,
    UnsharpMask,
    Watermark,
)
from lanternslide.words import Doubt, Held, Passing, Said, say
from tests.support.happenings import HOSTILE, file_of
from tests.support.household import CONFIG, Household, household

ROUTING = Routing(picture=Path("x.jpg"), stem="x", folder=Path(), destinations=("club",), why="tag", named_by=("Club",))
RECIPE = Recipe(
    size=SizeRule(rule="long_edge", values=(1050,)), sharpening=Sharpening(), quality=90, chroma="4:4:4",
    progressive=True,
)  # fmt: skip
PLAN = TracedPlan(
    destination="club", density=1, rungs=((1050, 700),), enlarged=False, strength=1, acutance=1.35, chroma="4:4:4",
    progressive=True, findings=(),
)  # fmt: skip
TRACED = Traced(
    width=3000, height=2000, bits=8, kind="JPEG", profile="sRGB, assumed", need_mib=300, plans=(PLAN,), left_out=(),
    findings=(),
)  # fmt: skip
OUT = Path("/srv/out/club/x.jpg")
A_DOUBT = say(Doubt.NO_INK_PROFILE)


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Household]:
    """Return a home of Ida and Juno, of whom nothing is known yet; nothing here changes it."""
    with household(
        tmp_path_factory.mktemp("home"), CONFIG.replace("workers = 2", 'workers = 2\nmemory = "2 GiB"')
    ) as home:
        yield home


def item(prediction: Prediction = Prediction.NEW, file: DroppedFile | None = None, **more: object) -> Foreseen:
    """Return what is foreseen of an original whose header was read."""
    plain = Foreseen(file=file or file_of(), prediction=prediction, routing=ROUTING, traced=TRACED)
    return replace(plain, **more)  # type: ignore[arg-type]


def intended(plan: TracedPlan = PLAN, recipe: Recipe = RECIPE, **more: object) -> Intended:
    """Return one delivery."""
    return replace(Intended(plan=plan, recipe=recipe, path=OUT), **more)  # type: ignore[arg-type]


def row(**more: object) -> OriginalRow:
    """Return what the ledger knows of an original."""
    plain = OriginalRow(
        id=1, photographer="ida", picture=Path("x.jpg"), path=Path("x@club.jpg"), fingerprint=file_of().fingerprint,
        digest=None, state=OriginalState.WAITING, reason_key=None, reason=None, attempts=0,
    )  # fmt: skip
    return replace(plain, **more)  # type: ignore[arg-type]


def text_of(home: Household, what: Foreseen, *deliveries: Intended) -> str:
    """Return what is printed."""
    stream = io.StringIO()
    print_foreseen(what, deliveries, Tracer(home.settings, home.ledger), Console(file=stream, width=100))
    return stream.getvalue()


def printed(home: Household, what: Foreseen, *deliveries: Intended) -> dict[str, str]:
    """Return what is printed, by label; "" has what stands alone, and what goes on belongs to its label."""
    found: dict[str, str] = {}
    label = ""
    for line in text_of(home, what, *deliveries).splitlines():
        if not line.startswith("  "):
            label = ""
        elif line[2:15].strip():
            label = line[2:15].strip()
        found[label] = " ".join([*found.get(label, "").split(), *(line[15:] if label else line).split()])
    return found


# The original


def test_a_new_original_is_told_in_whole(home: Household) -> None:
    """Whose it is, where it goes and why, what it is, and that it would be made."""
    said = printed(home, item(), intended())

    assert said[""].startswith("x.jpg")
    assert said["Photographer"] == "ida, drop folder drop"
    assert said["Goes to"] == "club, because its name says @Club"
    assert said["Original"] == "JPEG, 3000 × 2000 pixels (6.0 megapixels), 8 bits, colours: sRGB, assumed"
    assert said["So far"].startswith("New.")
    assert "club: 1050 × 700 pixels" in said[""]
    assert said[""].endswith("Damage among the pixels, and doubts about the metadata, show when the picture is made.")
    assert "Doubtful" not in said


@pytest.mark.parametrize(
    ("why", "named_by", "says"),
    [
        ("tag", ("Club",), "its name says @Club"),
        ("folder", ("Club",), "it lies in the folder Club"),
        ("otherwise", (), "`otherwise` says so"),
    ],
)
def test_why_it_goes_there(home: Household, why: str, named_by: tuple[str, ...], says: str) -> None:
    """As it is written, where something names it."""
    found = item(routing=replace(ROUTING, why=why, named_by=named_by))

    assert printed(home, found)["Goes to"] == f"club, because {says}"


def test_each_destination_has_its_own_reason(home: Household) -> None:
    """The label stands once."""
    routing = replace(ROUTING, destinations=("journal", "club"), named_by=("journal", "Society"))

    assert printed(home, item(routing=routing))["Goes to"] == (
        "journal, because its name says @journal club, because its name says @Society"
    )
    assert text_of(home, item(routing=routing)).count("Goes to") == 1


@pytest.mark.parametrize(
    ("prediction", "says"),
    [
        (Prediction.CHANGED, "Exported again: it would be remade, unless its bytes are the same as before."),
        (Prediction.WAITS, "Not finished: the rest would be made."),
        (Prediction.DONE, "Done: nothing would be made."),
        (
            Prediction.WITHDRAWN,
            "Withdrawn: nothing is made until you export it again or name it to `lanternslide retry`.",
        ),
        (Prediction.MOVING, "It is still being written. Ask again when it is whole."),
    ],
)
def test_what_would_become_of_it(home: Household, prediction: Prediction, says: str) -> None:
    """In words; what the pixels may yet show is said only where something would be made."""
    said = printed(home, item(prediction))

    assert said["So far"] == says
    assert ("Only the header was read." in said[""]) is (prediction in (Prediction.CHANGED, Prediction.WAITS))


def test_one_that_takes_anothers_place(home: Household) -> None:
    """The path under which the picture is known is named."""
    said = printed(home, item(row=row()))

    assert said["So far"].startswith("It would replace x@club.jpg.")


def test_one_that_gives_way(home: Household) -> None:
    """The newer one is named."""
    said = printed(home, item(Prediction.OUTDATED, newer=Path("x@club.jpg"), traced=None))

    assert said["So far"] == "Skipped: x@club.jpg differs only in tags and is newer."


@pytest.mark.parametrize(
    ("known", "label"),
    [
        (None, "Would be held"),
        (row(state=OriginalState.HELD, reason_key="empty", reason="Another reason."), "Would be held"),
        (row(state=OriginalState.HELD, reason_key="empty", reason=say(Held.EMPTY).text), "Is held"),
    ],
)
def test_what_is_held_is_told_from_what_would_be(home: Household, known: OriginalRow | None, label: str) -> None:
    """It is held if that is for the same reason."""
    held = item(Prediction.HELD, said=say(Held.EMPTY), row=known, routing=None, traced=None)

    said = printed(home, held)

    assert said[label] == say(Held.EMPTY).text
    assert "So far" not in said
    assert "Goes to" not in said


def test_a_failure_has_a_reason_too(home: Household) -> None:
    """One that nobody foresaw."""
    held = item(Prediction.HELD, failure="it died", traced=None)

    assert reason_of(held).startswith("It could not be read (it died).")
    assert printed(home, held)["Would be held"] == reason_of(held)
    assert reason_of(item(Prediction.HELD, said=say(Held.EMPTY), failure="it died")) == say(Held.EMPTY).text


def test_what_would_wait(home: Household) -> None:
    """For what may pass."""
    away = say(Passing.READ_ONLY, folder="out")

    assert printed(home, item(Prediction.STALLED, said=away, traced=None))["Would wait"] == away.text


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ({"profile": "Display P3"}, "16 bits, colours: Display P3"),
        ({"profile": "a\nb\x1b[31m"}, r"16 bits, colours: a\nb\x1b[31m"),
    ],
)
def test_a_profile_is_named(home: Household, more: dict[str, str], says: str) -> None:
    """Safe to print."""
    assert printed(home, item(traced=replace(TRACED, bits=16, **more)))["Original"].endswith(says)  # type: ignore[arg-type]


def test_what_it_takes_of_the_memory(home: Household, tmp_path: Path) -> None:
    """What all workers take while one makes it, and the budget; with a cluster, what its worker takes."""
    assert printed(home, item())["Memory"].endswith("of 2.0 GiB for all workers (`memory`)")

    with household(tmp_path, CONFIG.replace("workers = 2", 'executor = "dask://127.0.0.1:8786"')) as other:
        assert printed(other, item())["Memory"] == "about 300 MiB for the worker that makes it"


def test_doubts_of_routing_and_of_the_original(home: Household) -> None:
    """A tag that was kept, then what the original has, then what the delivery has, which stands with it."""
    of_plan = Said(key="x", text="It is small.")
    kept = replace(ROUTING, kept_tags=("skerrow",))
    found = item(traced=replace(TRACED, findings=(A_DOUBT,)), routing=kept)

    said = printed(home, found, intended(replace(PLAN, findings=(of_plan,))))["Doubtful"]

    assert "“@skerrow” is not a destination" in said
    assert said.endswith(f"{A_DOUBT.text} It is small.")


def test_names_are_data(home: Household) -> None:
    """What looks like markup, and what cannot be seen."""
    hostile = file_of(HOSTILE)
    routing = replace(ROUTING, why="folder", named_by=("[red]\x1b[31m",))

    said = printed(home, item(file=hostile, routing=routing), intended(path=Path("/out/[b]x\n.jpg")))

    assert said[""].startswith(r"caf\xe9\n\x1b[31m\u202e.jpg")
    assert said["Goes to"].endswith(r"it lies in the folder [red]\x1b[31m")
    assert said["File"] == r"/out/[b]x\n.jpg"


# One delivery

KERNEL = "in linear light; cubic (R. G. Keys, 1981)"
AS_FAR = "as after plain reduction, if the halo limits allow it"


@pytest.mark.parametrize(
    ("plan", "says"),
    [
        (
            PLAN,
            f"from 3000 to 1050 pixels (long edge) in one step, {KERNEL}, held to the area average around each pixel",
        ),
        (replace(PLAN, rungs=((2100, 1400), (1050, 700))), "from 3000 to 2100 to 1050 pixels (long edge) in 2 steps, "),
        (replace(PLAN, rungs=((700, 1050),)), "from 3000 to 1050 pixels (long edge) in one step"),
        (replace(PLAN, rungs=((3000, 2000),)), "stays at 3000 pixels (long edge); not resized"),
        (
            replace(PLAN, rungs=((4000, 2667),), enlarged=True),
            f"from 3000 to 4000 pixels (long edge) in one step, {KERNEL}, enlarged, held to what lies linearly between",
        ),
    ],
)
def test_the_way_to_its_size(home: Household, plan: TracedPlan, says: str) -> None:
    """Every size on it, by its long edge."""
    assert printed(home, item(), intended(plan))["Way"].startswith(says)


MASK = UnsharpMask(radius=0.5, amount=100, blend=0.8)
NUMBERS = "your values, radius 0.5, amount 100 per cent, blend 0.8"
TWO_RUNGS = replace(PLAN, rungs=((2100, 1400), (1050, 700)), strength=0.8)


@pytest.mark.parametrize(
    ("plan", "asked", "says"),
    [
        (PLAN, Sharpening(strength=0), "none: the config switches it off"),
        (replace(PLAN, strength=0), Sharpening(), "none: the picture is not reduced, so it loses nothing"),
        (PLAN, Sharpening(finish=MASK), f"{NUMBERS}, at strength 1"),
        (
            PLAN, Sharpening(),
            f"automatic, at strength 1: edges 1.35 times as steep {AS_FAR}",
        ),
        (
            TWO_RUNGS, Sharpening(steps=2, lead=MASK, finish=MASK),
            f"at 2100 pixels: {NUMBERS}, at strength 0.8 at 1050 pixels: {NUMBERS}, at strength 0.8",
        ),
        (
            TWO_RUNGS, Sharpening(steps=2, finish=MASK),
            f"at 2100 pixels: automatic, fixed, at strength 0.8 at 1050 pixels: {NUMBERS}, at strength 0.8",
        ),
    ],
)  # fmt: skip
def test_how_it_is_sharpened(home: Household, plan: TracedPlan, asked: Sharpening, says: str) -> None:
    """At each size, by the owner's numbers or by itself."""
    said = printed(home, item(), intended(plan, replace(RECIPE, sharpening=asked)))

    assert said["Sharpening"] == says


@pytest.mark.parametrize(
    ("recipe", "label", "says"),
    [
        (RECIPE, "Tones", None),
        (replace(RECIPE, brightness=3), "Tones", "brightness +3 L*, contrast +0 per cent"),
        (replace(RECIPE, contrast=-5.5), "Tones", "brightness +0 L*, contrast -5.5 per cent"),
        (RECIPE, "Watermark", None),
        (replace(RECIPE, mark=Watermark(text="Ida")), "Watermark", "lower right, 4% of the short edge high"),
        (RECIPE, "JPEG", "quality 90, colours at full size (4:4:4), progressive"),
        (
            replace(RECIPE, quality=None, min_quality=80, min_ssim=0.98), "JPEG",
            "the lowest quality, from 80 up, whose SSIM is at least 0.98, colours at full size (4:4:4), progressive",
        ),
        (
            replace(RECIPE, max_bytes=500_000, min_quality=80), "JPEG",
            "quality 90, lowered as far as 80 to stay under 500 kB, colours at full size (4:4:4), progressive",
        ),
        (
            RECIPE, "Metadata",
            "everything but what is about the file itself, without the location, without serial numbers",
        ),
        (
            replace(RECIPE, keep_location=True),
            "Metadata",
            "everything but what is about the file itself, with the location, without serial numbers",
        ),
        (replace(RECIPE, metadata="rights"), "Metadata", "rights data and texts only, without the location"),
        (replace(RECIPE, metadata="bare", keep_location=True), "Metadata", "none"),
    ],
)  # fmt: skip
def test_how_it_is_prepared(home: Household, recipe: Recipe, label: str, says: str | None) -> None:
    """What the owner has not asked for is not named."""
    assert printed(home, item(), intended(recipe=recipe)).get(label) == says


@pytest.mark.parametrize(
    ("chroma", "progressive", "says"),
    [
        ("4:2:2", True, "colours at half the width (4:2:2), progressive"),
        ("4:2:0", False, "colours at half the width and height (4:2:0)"),
    ],
)
def test_how_colours_are_stored(home: Household, chroma: str, says: str, *, progressive: bool) -> None:
    """As the plan has it."""
    plan = replace(PLAN, chroma=chroma, progressive=progressive)

    assert printed(home, item(), intended(plan))["JPEG"].endswith(says)


def test_a_density_is_named(home: Household) -> None:
    """Where it is another than one."""
    assert "club, 1.5x: 1050 × 700 pixels" in printed(home, item(), intended(replace(PLAN, density=1.5)))[""]


def test_where_it_would_stand(home: Household) -> None:
    """If that can be told; what is in the way is told instead."""
    away = say(Passing.READ_ONLY, folder="out")

    assert printed(home, item(), intended())["File"] == str(OUT)
    stalled = printed(home, item(), intended(path=None, stalled=away))
    assert stalled["Would wait"] == away.text
    assert "File" not in stalled


def test_a_name_that_is_taken_and_a_day_that_was_not_looked_up(home: Household) -> None:
    """They stand below the file; the day matters only where something is made."""
    delivery = intended(taken="x.jpg", day_of_file="2026-11-26")

    said = printed(home, item(), delivery)["File"]

    assert "Another file has the name x.jpg." in said
    assert "2026-11-26 is the file's." in said
    assert "2026-11-26" not in printed(home, item(Prediction.DONE), delivery)["File"]


@pytest.mark.parametrize(
    ("prediction", "more", "says"),
    [
        (Prediction.NEW, {}, ""),
        (Prediction.WAITS, {"state": "delivered"}, "Delivered already; it stays."),
        (Prediction.WAITS, {"state": "waiting"}, ""),
        (Prediction.DONE, {"state": "withdrawn"}, "Withdrawn."),
        (Prediction.DONE, {"state": "delivered"}, "Delivered."),
        (
            Prediction.DONE, {"state": "delivered", "is_other_recipe": True},
            "Delivered with an earlier config. Remake it with `lanternslide sweep --again`.",
        ),
        (
            Prediction.DONE, {},
            "Not made: the config did not ask for it then. Make it with `lanternslide sweep --again`.",
        ),
    ],
)  # fmt: skip
def test_how_a_delivery_stands(home: Household, prediction: Prediction, more: dict[str, Any], says: str) -> None:
    """Beside what is said of the original."""
    alone = printed(home, item(prediction))["So far"]

    assert printed(home, item(prediction), intended(**more))["So far"] == f"{alone} {says}".strip()
