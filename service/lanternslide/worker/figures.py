"""The figures of a delivery, for its record."""

from __future__ import annotations

from dataclasses import dataclass

from lanternslide.chain import PLAN_VERSION, Evidence, Found, Recompressed, Rendering
from lanternslide.imaging.colour.working_space import WorkingSpace
from lanternslide.imaging.reading.source import Header
from lanternslide.records.record import Clipped, Figures, ForecastFigures, Halo, OriginalFile, Spread
from lanternslide.worker.memory import peak_mib

__all__ = ["Finished", "figures_of"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Finished:
    """A rendering that was encoded and measured."""

    rendering: Rendering
    found: Found
    evidence: Evidence
    left: Recompressed | None  #: What the operator's second compression leaves, where it is asked for.


def figures_of(finished: Finished, header: Header, space: WorkingSpace, seconds: float) -> Figures:
    """Return the figures of a delivery that took so many *seconds*."""
    rendering, evidence = finished.rendering, finished.evidence
    plan = rendering.plan
    return Figures(
        width=plan.width,
        height=plan.height,
        quality=finished.found.chosen.quality,
        quality_by=finished.found.by,
        chroma=plan.chroma,
        original_file=OriginalFile(width=header.width, height=header.height, bits=header.bits, profile=space.label),
        strength=plan.strength,
        rungs=tuple(max(rung.width, rung.height) for rung in plan.rungs),
        ssim=_likeness(evidence.ssim),
        delta_e=_spread(evidence.delta_e),
        out_of_gamut=_rounded(rendering.out_of_gamut, 6),
        acutance=None if evidence.acutance is None else _rounded(evidence.acutance),
        halo=Halo(light=_rounded(evidence.halos.light), dark=_rounded(evidence.halos.dark)),
        tone_shift=_spread(evidence.tone_shift),
        clipped=Clipped(shadows=_rounded(evidence.clipped[0], 6), highlights=_rounded(evidence.clipped[1], 6)),
        forecast=_forecast(finished.left),
        seconds=round(seconds, 3),
        peak_mib=peak_mib(),
        plan=PLAN_VERSION,
    )


def _forecast(left: Recompressed | None) -> ForecastFigures | None:
    return None if left is None else ForecastFigures(ssim=_likeness(left.ssim), bytes=left.bytes)


def _likeness(ssim: float | None) -> float | None:
    return None if ssim is None else _rounded(ssim, 5)


def _spread(found: tuple[float, float]) -> Spread:
    return Spread(mean=_rounded(found[0]), p99=_rounded(found[1]))


def _rounded(value: float, digits: int = 3) -> float:
    """Return a figure with as many digits as mean something."""
    return round(value, digits)
