"""From settings and a header to the explicit steps for each delivery; pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from lanternslide.chain.size import asked_size, target_size
from lanternslide.imaging.tone import ToneCurve
from lanternslide.records import DeliveryTask, SizeRule
from lanternslide.words import Doubt, Said, say

__all__ = ["PLAN_VERSION", "Plan", "plan_deliveries"]

PLAN_VERSION = 2
"""Changes whenever the same input and settings would give other pixels."""

ACUTANCE_OF_STRENGTH = 0.35
"""How much steeper strength 1 makes edges: the image-quality study's choice, by measure and by eye."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Plan:
    """What is done for one delivery."""

    delivery: int  #: Its number in the ledger.
    width: int  #: Final size in pixels, upright.
    height: int
    strength: float  #: How much sharpening in all: 1 is the default look, 0 takes only the resize's ringing away.
    tone: ToneCurve  #: The owner's own correction.
    clip: bool  #: Whether colours that sRGB cannot show are clipped, not brought in.
    quality: int
    chroma: str
    progressive: bool
    doubts: tuple[Said, ...]

    @property
    def acutance(self) -> float:
        """How steep edges are to be against those of the plain area average (design, section 5)."""
        return 1 + ACUTANCE_OF_STRENGTH * self.strength

    @property
    def rungs(self) -> tuple[int, ...]:
        """The long edge of each size on the way down."""
        return (max(self.width, self.height),)


def plan_deliveries(tasks: Sequence[DeliveryTask], width: int, height: int) -> tuple[tuple[Plan, ...], tuple[int, ...]]:
    """Return the plans for an original of *width* × *height* pixels (upright), and the deliveries left out.

    A density for which the original is too small is left out with a doubt on the destination's smallest one, which
    is always made.
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
            doubt = say(Doubt.DENSITY_LEFT_OUT, density=f"{task.density:g}")
            at = smallest[task.destination]
            plans[at] = replace(plans[at], doubts=(*plans[at].doubts, doubt))
            continue
        if first:
            smallest[task.destination] = len(plans)
        plans.append(_plan(task, width, height, too_small=too_small))
    return tuple(plans), tuple(left_out)


def _plan(task: DeliveryTask, width: int, height: int, *, too_small: bool) -> Plan:
    recipe = task.recipe
    size = target_size(recipe.size, task.density, width, height)
    doubts: tuple[Said, ...] = ()
    if too_small:
        doubts = (
            say(
                Doubt.SMALLER_THAN_ASKED,
                width=width, height=height, asked=_asked(recipe.size, task.density),
            ),
        )  # fmt: skip
    # Sharpening gives back what a downsize takes; a picture at its own size has lost nothing.
    reduced = size != (width, height)
    return Plan(
        delivery=task.delivery,
        width=size[0],
        height=size[1],
        strength=recipe.strength if reduced else 0.0,
        tone=ToneCurve(brightness=recipe.brightness, contrast=recipe.contrast),
        clip=recipe.clip,
        quality=recipe.quality,
        chroma=recipe.chroma,
        progressive=recipe.progressive,
        doubts=doubts,
    )


def _asked(rule: SizeRule, density: float) -> str:
    """Return what the destination asks for, for a person."""
    if rule.rule == "area":
        return f"{rule.values[0] * density**2:g} megapixels"
    edges = " × ".join(f"{value * density:g}" for value in rule.values)
    name = "a box of" if rule.rule == "box" else f"a {rule.rule.replace('_', ' ')} of"
    return f"{name} {edges} pixels"
