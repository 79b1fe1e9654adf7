"""The record: what the ledger knows about one delivery or held original, and ``history --json`` prints."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Literal

from pydantic import BaseModel, ConfigDict

__all__ = ["Clipped", "Figures", "ForecastFigures", "Halo", "OriginalFile", "Record", "Spread"]


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class OriginalFile(_Part):
    """The original behind a delivery."""

    width: int | None = None  #: Pixels, upright.
    height: int | None = None
    bits: int | None = None  #: Of one sample.
    profile: str | None = None  #: The name of its colour profile, or the space that was declared or assumed.
    bytes: int | None = None
    digest: str | None = None  #: SHA-256.


class Spread(_Part):
    """A figure over all pixels."""

    mean: float
    p99: float


class Halo(_Part):
    """Overshoot at edges, L*."""

    light: float
    dark: float


class Clipped(_Part):
    """Shares of pixels at the ends."""

    shadows: float
    highlights: float


class ForecastFigures(_Part):
    """What is left after the operator compresses again."""

    ssim: float | None
    bytes: int


class Record(_Part):
    """One delivery or held original; None where not known."""

    original: str
    photographer: str
    destination: str | None = None
    density: float | None = None
    state: Literal["delivered", "held", "withdrawn"]
    reason: str | None = None
    output: str | None = None
    digest: str | None = None
    width: int | None = None
    height: int | None = None
    bytes: int | None = None
    quality: int | None = None
    quality_by: Literal["config", "ssim", "bytes"] | None = None
    chroma: str | None = None
    original_file: OriginalFile | None = None
    strength: float | None = None
    rungs: tuple[int, ...] | None = None  #: Long edges, pixels.
    ssim: float | None = None
    delta_e: Spread | None = None
    acutance: float | None = None
    halo: Halo | None = None
    tone_shift: Spread | None = None
    out_of_gamut: float | None = None
    clipped: Clipped | None = None
    forecast: ForecastFigures | None = None
    doubts: tuple[str, ...] = ()  #: What its owner should look at.
    notes: tuple[str, ...] = ()  #: What is good to know.
    attempts: int | None = None
    seconds: float | None = None
    peak_mib: float | None = None
    filed_to: str | None = None
    delivered_at: str | None = None  #: RFC 3339.
    plan: int | None = None  #: The version of the plan.
    version: str | None = None  #: Of lanternslide, that made the delivery.

    def to_line(self) -> str:
        """Return the record as one line of JSON."""
        return json.dumps(self.model_dump(mode="json"), ensure_ascii=False)


@dataclass(frozen=True, kw_only=True, slots=True)
class Figures:
    """What a worker measured of one delivery."""

    width: int
    height: int
    quality: int
    quality_by: Literal["config", "ssim", "bytes"]
    chroma: str
    strength: float
    rungs: tuple[int, ...]
    profile: str | None
    bits: int
    original_width: int
    original_height: int
    ssim: float | None
    delta_e: Spread
    out_of_gamut: float
    acutance: float | None
    halo: Halo
    tone_shift: Spread
    clipped: Clipped
    forecast: ForecastFigures | None
    seconds: float
    peak_mib: float | None
    plan: int
