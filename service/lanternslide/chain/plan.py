"""From settings and a header to the explicit steps for each delivery; pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from lanternslide.chain.quality import Aim
from lanternslide.chain.size import LONGEST_JPEG, asked_size, rounded, target_size
from lanternslide.imaging.tone import ToneCurve
from lanternslide.records import DeliveryTask, Sharpening, SizeRule, UnsharpMask
from lanternslide.words import Doubt, Note, Said, say

__all__ = ["PLAN_VERSION", "Plan", "Rung", "SharpeningPass", "plan_deliveries"]

PLAN_VERSION = 4
"""Changes whenever the same input and settings would give other pixels."""

ACUTANCE_OF_STRENGTH = 0.35
"""How much steeper strength 1 makes edges: the image-quality study's choice, by measure and by eye."""

AMOUNTS = (1.2, 3.0)
"""The bounds of what a picture gets at strength 1 in one step (study, section 1, step 9)."""

MOST_AMOUNT = 4.5
"""More than this sharpens nothing but turns edges into steps: the limits hold, the look does not (study, section 7)."""

DEFAULT_AMOUNT = 2.0
"""What a picture gets that has too few edges to be measured (study, section 1, step 9)."""

LEAD_AMOUNT = 1.5
"""What each larger size gets: half of 3 over one rung, a third of 4.5 over two (study, section 2)."""

ROOM = Fraction(11, 10)
"""How much larger than the chain's own rung an original has to be; below, one step does as well (a guess)."""


@dataclass(frozen=True, kw_only=True, slots=True)
class SharpeningPass:
    """The sharpening of one rung."""

    amount: float | None  #: Gain on the detail; None: found for the picture, so that edges reach the plan's acutance.
    radius: float | None = None  #: Sigma in pixels of a plain unsharp mask; None: the detail that leaves grain alone.
    held: bool = True  #: Whether halos are limited.


@dataclass(frozen=True, kw_only=True, slots=True)
class Rung:
    """One size on the way to the final one, and its sharpening."""

    width: int  #: Pixels, upright.
    height: int
    sharpening: SharpeningPass


@dataclass(frozen=True, kw_only=True, slots=True)
class Plan:
    """What is done for one delivery: resize and sharpen for each rung, correct tones, go to sRGB, encode."""

    delivery: int  #: Its number in the ledger.
    rungs: tuple[Rung, ...]  #: The last is the final size.
    enlarged: bool  #: Whether the final size is larger than the original.
    strength: float  #: How much sharpening in all: 1 is the default look, 0 takes only the resize's ringing away.
    tone: ToneCurve  #: The owner's own correction.
    clip: bool  #: Whether colours that sRGB cannot show are clipped, not brought in.
    aim: Aim  #: What the JPEG quality is chosen by.
    chroma: str
    progressive: bool
    findings: tuple[Said, ...]  #: Doubts and notes that the plan itself gives rise to.

    @property
    def width(self) -> int:
        """Final size in pixels, upright."""
        return self.rungs[-1].width

    @property
    def height(self) -> int:
        """Final size in pixels, upright."""
        return self.rungs[-1].height

    @property
    def is_sharpened_by_need(self) -> bool:
        """Whether the amount at the final size is found for the picture."""
        return self.rungs[-1].sharpening.amount is None

    @property
    def acutance(self) -> float:
        """How steep edges are to be against those of the plain area average (design, section 5)."""
        return 1 + ACUTANCE_OF_STRENGTH * self.strength

    @property
    def default_amount(self) -> float:
        """The gain at the final size where there are too few edges to tell."""
        return DEFAULT_AMOUNT * self.strength / len(self.rungs)

    @property
    def amounts(self) -> tuple[float, float]:
        """The bounds of the gain at the final size; they follow the strength."""
        least = AMOUNTS[0] * self.strength / len(self.rungs)
        return least, min(AMOUNTS[1] * max(self.strength, 1.0), MOST_AMOUNT)


def plan_deliveries(tasks: Sequence[DeliveryTask], width: int, height: int) -> tuple[tuple[Plan, ...], tuple[int, ...]]:
    """Return the plans for an original of *width* × *height* pixels (upright), and the deliveries left out.

    A density for which the original is too small is left out with a note on the destination's smallest one, which
    is always made; enlarging, where it is asked for, makes only that one larger.
    """
    plans: list[Plan] = []
    left_out: list[int] = []
    smallest: dict[str, int] = {}
    for task in sorted(tasks, key=lambda task: task.density):
        first = task.destination not in smallest
        asked = asked_size(task.recipe.size, task.density, width, height)
        too_small = asked[0] > width or asked[1] > height
        if too_small and not first:
            left_out.append(task.delivery)
            note = say(Note.DENSITY_LEFT_OUT, density=f"{task.density:g}")
            at = smallest[task.destination]
            plans[at] = replace(plans[at], findings=(*plans[at].findings, note))
            continue
        if first:
            smallest[task.destination] = len(plans)
        plans.append(_plan(task, (width, height), too_small=too_small))
    return tuple(plans), tuple(left_out)


def _plan(task: DeliveryTask, original: tuple[int, int], *, too_small: bool) -> Plan:
    recipe = task.recipe
    size = target_size(recipe.size, task.density, *original)
    findings: tuple[Said, ...] = ()
    if too_small and not recipe.size.enlarge and size == original:
        findings = (
            say(
                Doubt.SMALLER_THAN_ASKED,
                width=original[0], height=original[1], asked=_asked(recipe.size, task.density),
            ),
        )  # fmt: skip
    if max(size) == LONGEST_JPEG < max(asked_size(recipe.size, task.density, *original)):
        findings = (*findings, say(Doubt.LONGEST_JPEG, longest=LONGEST_JPEG, asked=_asked(recipe.size, task.density)))
    # Sharpening gives back what a downsize takes; a picture at its own size, or a larger one, has lost nothing.
    reduced = size[0] < original[0] or size[1] < original[1]
    sharpening = recipe.sharpening if reduced and not too_small else Sharpening(strength=0.0)
    return Plan(
        delivery=task.delivery,
        rungs=_rungs(sharpening, size, original),
        enlarged=too_small and recipe.size.enlarge,
        strength=sharpening.strength,
        tone=ToneCurve(brightness=recipe.brightness, contrast=recipe.contrast),
        clip=recipe.clip,
        aim=Aim(
            quality=recipe.quality,
            min_ssim=recipe.min_ssim,
            max_bytes=recipe.max_bytes,
            floor=recipe.min_quality or 1,
        ),
        chroma=recipe.chroma,
        progressive=recipe.progressive,
        findings=findings,
    )


def _rungs(sharpening: Sharpening, size: tuple[int, int], original: tuple[int, int]) -> tuple[Rung, ...]:
    """Return the way down to *size*, each rung so many times as large as the next, in both axes.

    The chain's own rungs are left out where the original has no room for them; an owner's own, which may be as large as
    the original, are made at its size then.
    """
    if not sharpening.strength:
        return (Rung(width=size[0], height=size[1], sharpening=SharpeningPass(amount=0.0)),)
    ratio = Fraction(sharpening.ratio).limit_denominator(10_000)
    own = sharpening.lead is not None
    rungs: list[Rung] = []
    for power in range(sharpening.steps - 1, 0, -1):
        width, height = (rounded(edge * ratio**power) for edge in size)
        fits = width <= original[0] and height <= original[1]
        if not own and (width * ROOM > original[0] or height * ROOM > original[1]):
            continue
        if not fits:
            width, height = original
        above = (rungs[-1].width, rungs[-1].height) if rungs else None
        if (width, height) not in (above, size):
            lead = _pass(sharpening.lead, sharpening.strength, LEAD_AMOUNT * sharpening.strength, held=not own)
            rungs.append(Rung(width=width, height=height, sharpening=lead))
    finish = _pass(sharpening.finish, sharpening.strength, None, held=True)
    return (*rungs, Rung(width=size[0], height=size[1], sharpening=finish))


def _pass(mask: UnsharpMask | None, strength: float, otherwise: float | None, *, held: bool) -> SharpeningPass:
    """Return the owner's own pass, or the chain's with the amount *otherwise*."""
    if mask is None:
        return SharpeningPass(amount=otherwise)
    return SharpeningPass(amount=mask.amount / 100 * mask.blend * strength, radius=mask.radius, held=held)


def _asked(rule: SizeRule, density: float) -> str:
    """Return what the destination asks for, for a person."""
    if rule.rule == "area":
        return f"{rule.values[0] * density**2:g} megapixels"
    edges = " × ".join(f"{value * density:g}" for value in rule.values)
    name = "a box of" if rule.rule == "box" else f"a {rule.rule.replace('_', ' ')} of"
    return f"{name} {edges} pixels"
