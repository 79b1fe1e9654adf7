"""Which linear space an original is worked on in: its own primaries, by its own curves."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lanternslide.errors import OriginalHeldError
from lanternslide.imaging.colour import to_linear_srgb
from lanternslide.imaging.icc_read import Curve, Profile, ProfileError, read_profile
from lanternslide.imaging.transfer import srgb_decode
from lanternslide.imaging.types import Array32, Array64
from lanternslide.words import Doubt, Held, Said, say

__all__ = ["WorkingSpace", "working_space"]

SPACES = {"RGB": "RGB pictures", "GRAY": "grey pictures", "CMYK": "ink colours", "Lab": "Lab pictures"}
DEVICES = {"mntr", "scnr", "spac", "prtr"}


@dataclass(frozen=True, kw_only=True, slots=True)
class WorkingSpace:
    """How encoded samples become linear light, and how that becomes linear sRGB."""

    name: str | None  #: The embedded profile's name, where it was used.
    curves: tuple[Curve, ...] | None  #: One for each channel; None: the sRGB curve.
    to_srgb: Array64  #: From linear RGB to linear sRGB, shape (3, 3).
    doubt: Said | None  #: What the owner should know about the choice.

    def tables(self, channels: int, bits: int) -> Array32:
        """Return linear light for every code, shape (channels, 2**bits), float32 from 0 to 1."""
        code = np.arange(2**bits) / (2**bits - 1)
        if self.curves is None:
            return np.repeat(srgb_decode(code)[None, :], channels, axis=0).astype(np.float32)
        return np.stack([curve(code) for curve in self.curves]).astype(np.float32)


def working_space(icc: bytes | None, channels: int) -> WorkingSpace:
    """Return the space of a picture with 1 or 3 *channels* and the profile *icc*.

    Without a profile sRGB is assumed (CSS Color Module Level 4, section 3: untagged images are sRGB), as with one that
    is broken or of another kind; each with its doubt.

    Raises
    ------
    OriginalHeldError
        If the profile works through tables.
    """
    if icc is None:
        return _assumed_srgb(say(Doubt.NO_PROFILE))
    try:
        profile = read_profile(icc)
    except ProfileError as error:
        return _assumed_srgb(say(Doubt.BROKEN_PROFILE, detail=error))
    if profile.space != ("GRAY" if channels == 1 else "RGB") or profile.device not in DEVICES:
        kind = SPACES.get(profile.space, "other pictures") if profile.device in DEVICES else "another purpose"
        return _assumed_srgb(say(Doubt.OTHER_KIND_OF_PROFILE, kind=kind))
    return _of_profile(profile)


def _of_profile(profile: Profile) -> WorkingSpace:
    if profile.curves is None:
        raise OriginalHeldError(Held.TABLE_PROFILE, profile=profile.name)
    to_srgb = np.eye(3) if profile.matrix is None else to_linear_srgb(profile.matrix)
    return WorkingSpace(name=profile.name, curves=profile.curves, to_srgb=to_srgb, doubt=None)


def _assumed_srgb(doubt: Said) -> WorkingSpace:
    return WorkingSpace(name=None, curves=None, to_srgb=np.eye(3), doubt=doubt)
