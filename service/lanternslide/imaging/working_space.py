"""Which linear space an original is worked on in: its own primaries by its own curves, or what a colour engine says."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lanternslide.imaging.colour import XYZ_TO_SRGB, to_linear_srgb
from lanternslide.imaging.engine import EngineBands, accepts
from lanternslide.imaging.icc_read import Curve, Profile, ProfileError, read_profile
from lanternslide.imaging.icc_write import D65_WHITE, colorants
from lanternslide.imaging.linear import LinearBands
from lanternslide.imaging.source import Header
from lanternslide.imaging.transfer import srgb_decode
from lanternslide.imaging.types import Array32, Array64
from lanternslide.words import Doubt, Said, say

__all__ = ["WorkingSpace", "working_space"]

KINDS = {"RGB": "RGB pictures", "GRAY": "grey pictures", "CMYK": "ink colours", "Lab": "Lab pictures"}
SPACE_OF_CHANNELS = {1: "GRAY", 3: "RGB", 4: "CMYK"}
DEVICES = {"mntr", "scnr", "spac", "prtr"}
"""Classes of profiles that describe pictures (ICC.1:2022, 7.2.5)."""


@dataclass(frozen=True, kw_only=True, slots=True)
class WorkingSpace:
    """How encoded samples become linear light, and how that becomes linear sRGB."""

    name: str | None  #: The embedded profile's name, where it was used.
    curves: tuple[Curve, ...] | None  #: One for each channel; None: the sRGB curve.
    to_srgb: Array64  #: From linear light to linear sRGB, shape (3, 3).
    doubt: Said | None  #: What the owner should know about the choice.
    by_engine: bool = False  #: Whether the profile works through tables; linear light is XYZ under D50 then.

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


def working_space(icc: bytes | None, channels: int, *, wide_mark: bool = False) -> WorkingSpace:
    """Return the space of a picture with 1, 3 or 4 *channels* and the profile *icc*.

    Without a profile sRGB is assumed (CSS Color Module Level 4, section 3: untagged images are sRGB), as with one that
    is broken or of another kind; for inks, ordinary printing inks. Each with its doubt. Only where there is no profile
    does the *wide_mark* of Exif count, which means Adobe RGB (1998).
    """
    if icc is None:
        return _without_profile(channels, wide_mark=wide_mark)
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
    return WorkingSpace(name=profile.name, curves=None, to_srgb=XYZ_TO_SRGB, doubt=None, by_engine=True)


def _of_curves(profile: Profile) -> WorkingSpace:
    to_srgb = np.eye(3) if profile.matrix is None else to_linear_srgb(profile.matrix)
    return WorkingSpace(name=profile.name, curves=profile.curves, to_srgb=to_srgb, doubt=None)


def _without_profile(channels: int, *, wide_mark: bool) -> WorkingSpace:
    if wide_mark and channels == 3:
        return _adobe_rgb()
    return _assumed(channels, say(Doubt.NO_PROFILE if channels < 4 else Doubt.NO_INK_PROFILE))


def _adobe_rgb() -> WorkingSpace:
    """Return Adobe RGB (1998): gamma 563/256 (4.3.4.2), primaries and white of 4.3.1."""
    matrix = colorants((0.64, 0.33), (0.21, 0.71), (0.15, 0.06), D65_WHITE)
    curve = Curve(parameters=(563 / 256,))
    return WorkingSpace(name=None, curves=(curve,) * 3, to_srgb=to_linear_srgb(matrix), doubt=None)


def _assumed(channels: int, doubt: Said) -> WorkingSpace:
    if channels == 4:
        return WorkingSpace(name=None, curves=None, to_srgb=XYZ_TO_SRGB, doubt=doubt, by_engine=True)
    return WorkingSpace(name=None, curves=None, to_srgb=np.eye(3), doubt=doubt)
