"""The record: what the ledger knows about one delivery or held original, and ``history --json`` prints."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any, Literal, Self

from pydantic import BaseModel, ConfigDict

__all__ = ["Clipped", "Figures", "ForecastFigures", "Halo", "OriginalFile", "Record", "Spread"]


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class OriginalFile(_Part):
    """The original behind a delivery."""

    width: int | None = None  #: Pixels, upright.
    height: int | None = None  #: Pixels, upright.
    bits: int | None = None  #: Of one sample.
    profile: str | None = None  #: The name of its colour profile, or the space that was declared or assumed.
    bytes: int | None = None  #: Of the whole file.
    digest: str | None = None  #: SHA-256.


class Spread(_Part):
    """A figure over all pixels."""

    mean: float  #: Over all pixels that are looked at.
    p99: float  #: The 99th percentile.


class Halo(_Part):
    """Overshoot at edges, L*."""

    light: float  #: Beyond the lighter side, L*, 0 or more.
    dark: float  #: Beyond the darker side, L*, 0 or more.


class Clipped(_Part):
    """Shares of pixels at the ends."""

    shadows: float  #: Pure black, 0 to 1.
    highlights: float  #: Pure white, 0 to 1.


class ForecastFigures(_Part):
    """What is left after the operator compresses again."""

    ssim: float | None  #: Of what the operator leaves, against the finished picture; None: nobody can tell.
    bytes: int  #: Of the operator's file.


class Record(_Part):
    """One delivery or held original; None where not known."""

    original: str  #: Path below the drop folder, safe to print.
    photographer: str  #: Whose it is.
    destination: str | None = None  #: Its name.
    density: float | None = None  #: Pixels for one of the layout, 1 to 4.
    state: Literal["delivered", "held", "withdrawn"]  #: How it stands.
    reason: str | None = None  #: Why it is held, and what to do.
    output: str | None = None  #: The path where it stands or stood, safe to print.
    digest: str | None = None  #: SHA-256 of the delivered file, hexadecimal.
    width: int | None = None  #: Of the delivery, pixels.
    height: int | None = None  #: Of the delivery, pixels.
    bytes: int | None = None  #: Of the delivered file.
    quality: int | None = None  #: Of the JPEG, 1 to 100.
    quality_by: Literal["config", "ssim", "bytes"] | None = None  #: What has decided on it.
    chroma: str | None = None  #: ``4:4:4``, ``4:2:2`` or ``4:2:0``.
    original_file: OriginalFile | None = None  #: What it was made from.
    strength: float | None = None  #: How much it was sharpened, 0 to 2; 1 is the default look.
    rungs: tuple[int, ...] | None = None  #: Long edges, pixels.
    ssim: float | None = None  #: Of the decoded delivery against its rendering, up to 1.
    delta_e: Spread | None = None  #: CIEDE2000 of the same two.
    acutance: float | None = None  #: Contrast of edges against the linear area average, 1 is as crisp.
    halo: Halo | None = None  #: Overshoot at edges, L*.
    tone_shift: Spread | None = None  #: How far broad tones have moved, L*.
    out_of_gamut: float | None = None  #: Share of pixels before mapping, 0 to 1.
    clipped: Clipped | None = None  #: Shares of pixels, 0 to 1.
    forecast: ForecastFigures | None = None  #: What is left after the operator's compression.
    doubts: tuple[str, ...] = ()  #: What its owner should look at.
    notes: tuple[str, ...] = ()  #: What is good to know.
    attempts: int | None = None  #: How many have failed.
    seconds: float | None = None  #: A worker has spent on it.
    peak_mib: float | None = None  #: Memory of the worker at its peak, MiB.
    filed_to: str | None = None  #: Where the original was filed away, safe to print.
    delivered_at: str | None = None  #: RFC 3339.
    plan: int | None = None  #: The version of the plan.
    version: str | None = None  #: Of lanternslide, that made the delivery.

    @classmethod
    def measured(cls, figures: Figures, own: Mapping[str, Any]) -> Self:
        """Return the record of a delivery with its *figures*, and the fields of its *own* that nobody measures."""
        return cls(**{field.name: getattr(figures, field.name) for field in fields(figures)} | dict(own))

    def to_line(self) -> str:
        """Return the record as one line of JSON."""
        return json.dumps(self.model_dump(mode="json"), ensure_ascii=False)


@dataclass(frozen=True, kw_only=True, slots=True)
class Figures:
    """What a worker measured of one delivery; each field is the one of its name in `Record`."""

    width: int  #: Pixels.
    height: int  #: Pixels.
    quality: int  #: 1 to 100.
    quality_by: Literal["config", "ssim", "bytes"]  #: What has decided on it.
    chroma: str  #: ``4:4:4``, ``4:2:2`` or ``4:2:0``.
    original_file: OriginalFile  #: Without its bytes and digest, which the survey has.
    strength: float  #: 0 to 2.
    rungs: tuple[int, ...]  #: Long edges, pixels.
    ssim: float | None  #: Up to 1; None where it cannot be told.
    delta_e: Spread  #: CIEDE2000.
    acutance: float | None  #: 1 is as crisp as the area average; None where there are too few edges.
    halo: Halo  #: L*.
    tone_shift: Spread  #: L*.
    out_of_gamut: float  #: 0 to 1.
    clipped: Clipped  #: 0 to 1.
    forecast: ForecastFigures | None  #: None where the destination has no operator.
    seconds: float  #: Of a worker's time.
    peak_mib: float | None  #: MiB; None where the system does not say.
    plan: int  #: The version of the plan.
