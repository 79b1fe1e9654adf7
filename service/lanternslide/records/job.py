"""What goes to a worker: paths and settings, never pixels."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from lanternslide.records.files import Fingerprint
from lanternslide.records.recipe import Recipe
from lanternslide.words import Said

__all__ = ["DeliveryTask", "Job", "Survey", "SurveyTask"]


@dataclass(frozen=True, kw_only=True, slots=True)
class SurveyTask:
    """Look at an original: what it is, and its digest."""

    root: Path  #: The folder below which no link is followed.
    path: Path  #: Where it lies.
    fingerprint: Fingerprint  #: How it looked when it had settled.
    max_megapixels: float  #: More are refused.
    wanted: tuple[tuple[Recipe, float], ...] = ()  #: What may be made of it: how, and at which density.


@dataclass(frozen=True, kw_only=True, slots=True)
class Survey:
    """What an original is."""

    digest: str  #: SHA-256 of the whole file, hexadecimal.
    width: int  #: Pixels, upright.
    height: int  #: Pixels, upright.
    bits: int  #: Of one sample: 8 or 16.
    kind: str  #: ``JPEG``, ``TIFF``, ``PNG`` or ``WebP``.
    need_mib: float  #: What a worker takes at its peak, MiB, that makes all that is wanted of it.


@dataclass(frozen=True, kw_only=True, slots=True)
class DeliveryTask:
    """One delivery that a job is to make."""

    delivery: int  #: Its number in the ledger.
    destination: str  #: Its name.
    density: float  #: Pixels for one of the layout, 1 to 4.
    recipe: Recipe  #: How it is made.
    temporary: Path  #: Where the encoded file is written, in the folder where it will be published.
    proofs: Path | None = None  #: Where small pictures for the proof sheet go; None: there is none.
    standing: tuple[Path, ...] | None = None  #: Files to look for it in, of which none is known; None: it is written.


@dataclass(frozen=True, kw_only=True, slots=True)
class Job:
    """One original on its way to all its destinations."""

    original: int  #: Its number in the ledger.
    photographer: str  #: Whose it is.
    root: Path  #: The folder below which no link is followed.
    path: Path  #: Where it lies.
    fingerprint: Fingerprint  #: How it looked when it was surveyed.
    survey: Survey  #: What it is.
    deliveries: tuple[DeliveryTask, ...]  #: What is to be made of it.
    findings: tuple[Said, ...] = ()  #: What routing has found already.
