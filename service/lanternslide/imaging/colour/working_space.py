"""Which linear space an original is worked on in: its own primaries by its own curves, or what a colour engine says."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lanternslide.imaging.colour.chromaticity import colorants
from lanternslide.imaging.colour.colour_management import EngineBands, accepts
from lanternslide.imaging.colour.declared import SRGB
from lanternslide.imaging.colour.icc_read import Curve, Profile, ProfileError, read_profile
from lanternslide.imaging.colour.linear import LinearBands
from lanternslide.imaging.colour.to_srgb import XYZ_TO_SRGB, to_linear_srgb
from lanternslide.imaging.colour.transfer import srgb_decode
from lanternslide.imaging.reading.source import Header
from lanternslide.imaging.types import Array32, Array64
from lanternslide.words import Doubt, Note, Said, say

__all__ = ["WorkingSpace", "working_space"]

KINDS = {"RGB": "RGB pictures", "GRAY": "grey pictures", "CMYK": "ink colours", "Lab": "Lab pictures"}
SPACE_OF_CHANNELS = {1: "GRAY", 3: "RGB", 4: "CMYK"}
NAMELESS = "a profile without a name"
RGB, CMYK = 3, 4
"""Channels."""

USUAL_BITS = 8
MANY_BITS, MANY_GREY_BITS = "with 16 bits it may be in a wider space", "with 16 bits its tones may be of another curve"
"""Pictures of more bits are seldom in sRGB (common practice, no source)."""

DEVICES = {"mntr", "scnr", "spac", "prtr"}
"""Classes of profiles that describe pictures (ICC.1:2022, 7.2.5)."""


@dataclass(frozen=True, kw_only=True, slots=True)
class WorkingSpace:
    """How encoded samples become linear light, and how that becomes linear sRGB."""

    name: str | None  #: The embedded profile's name, where it was used.
    label: str  #: What it is, for a person: a profile's name, or what was declared or assumed.
    curves: tuple[Curve, ...] | None  #: One for each channel; None: the sRGB curve.
    to_srgb: Array64  #: From linear light to linear sRGB, shape (3, 3).
    finding: Said | None  #: What the owner should know about the choice.
    by_engine: bool = False  #: Whether the profile works through tables; linear light is XYZ under D50 then.

    @property
    def gamut_ratio(self) -> float:
        """How many times the colours of sRGB it holds, by the volumes in linear light; 1 where that is not known."""
        return 1.0 if self.by_engine else float(abs(np.linalg.det(self.to_srgb)))

    def bands(self, header: Header) -> LinearBands | EngineBands:
        """Return the original's bands of linear light."""
        if self.by_engine:
            return EngineBands(header, embedded=self.name is not None)
        return LinearBands(header, self.tables(header.channels, header.bits))

    def tables(self, channels: int, bits: int) -> Array32:
        """Return linear light for every code, shape (channels, 2**bits), float32 from 0 to 1."""
        code = np.arange(2**bits) / (2**bits - 1)
        if self.curves is None:
            return np.repeat(srgb_decode(code)[None, :], channels, axis=0).astype(np.float32)
        return np.stack([curve(code) for curve in self.curves]).astype(np.float32)


def working_space(header: Header) -> WorkingSpace:
    """Return the space of an original.

    An embedded profile counts first, then what the file declares otherwise. Without either sRGB is assumed (CSS Color
    Module Level 4, section 3: untagged images are sRGB), as with a profile that is broken or of another kind; for inks,
    ordinary printing inks. Each with its doubt.
    """
    icc, channels = header.icc, header.channels
    if icc is None:
        return _without_profile(header)
    try:
        profile = read_profile(icc)
    except ProfileError as error:
        return _assumed(channels, say(Doubt.BROKEN_PROFILE, detail=error))
    if profile.space != SPACE_OF_CHANNELS[channels] or profile.device not in DEVICES:
        kind = KINDS.get(profile.space, "other pictures") if profile.device in DEVICES else "another purpose"
        return _assumed(channels, say(Doubt.OTHER_KIND_OF_PROFILE, kind=kind))
    if profile.curves is not None:
        return _of_curves(profile)
    if not accepts(icc, channels):
        return _assumed(channels, say(Doubt.BROKEN_PROFILE, detail="its tables are damaged"))
    return WorkingSpace(
        name=profile.name, label=profile.name or NAMELESS, curves=None, to_srgb=XYZ_TO_SRGB, finding=_doubt_of(profile),
        by_engine=True,
    )  # fmt: skip


def _of_curves(profile: Profile) -> WorkingSpace:
    to_srgb = np.eye(3) if profile.matrix is None else to_linear_srgb(profile.matrix)
    return WorkingSpace(
        name=profile.name, label=profile.name or NAMELESS, curves=profile.curves, to_srgb=to_srgb,
        finding=_doubt_of(profile),
    )  # fmt: skip


def _doubt_of(profile: Profile) -> Said | None:
    return say(Doubt.DISPLAY_PROFILE, profile=profile.name) if profile.of_display else None


def _without_profile(header: Header) -> WorkingSpace:
    channels, declared = header.channels, header.declared
    if channels == CMYK:
        return _assumed(channels, say(Doubt.NO_INK_PROFILE))
    if declared is None:
        bits_hint = MANY_BITS if channels == RGB else MANY_GREY_BITS
        hint = header.hint or (bits_hint if header.bits > USUAL_BITS else None)
        return _assumed(channels, say(Doubt.NO_PROFILE, hint=hint) if hint else say(Note.SRGB_ASSUMED))
    matrix = to_linear_srgb(colorants(*declared.primaries, declared.white)) if channels == RGB else np.eye(3)
    return WorkingSpace(
        name=None,
        label=f"{declared.name}, as the file says",
        curves=(declared.curve,) * channels,
        to_srgb=matrix,
        finding=None if declared.name == SRGB.name else say(Note.SPACE_DECLARED, space=declared.name),
    )


def _assumed(channels: int, finding: Said) -> WorkingSpace:
    if channels == CMYK:
        return WorkingSpace(
            name=None, label="printing inks, assumed", curves=None, to_srgb=XYZ_TO_SRGB, finding=finding,
            by_engine=True,
        )  # fmt: skip
    return WorkingSpace(name=None, label="sRGB, assumed", curves=None, to_srgb=np.eye(3), finding=finding)
