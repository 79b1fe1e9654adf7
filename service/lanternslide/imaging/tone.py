"""The owner's own correction of lightness: brightness and contrast.

Both are curves over CIE L* that rise everywhere and keep black and white where they are. The forms are this project's
choice; no standard prescribes one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lanternslide.imaging.types import Array32

__all__ = ["ToneCurve"]


@dataclass(frozen=True, kw_only=True, slots=True)
class ToneCurve:
    """A curve of lightness."""

    brightness: float = 0.0  #: How much lighter middle grey becomes, L*, -20 to 20.
    contrast: float = 0.0  #: How much steeper the curve is in middle grey, per cent, -50 to 50.

    def __bool__(self) -> bool:
        """Whether it changes anything."""
        return bool(self.brightness or self.contrast)

    def __call__(self, L: Array32) -> Array32:
        """Return the corrected lightness (0 to 100) of lightness; any shape.

        With x = L* / 100, contrast c adds c · 2x(1 - x)(2x - 1), whose slope in the middle is c; brightness b then adds
        b · 4x(1 - x), which is b in the middle. Within their bounds the slope is nowhere less than 0.
        """
        L = np.clip(L, np.float32(0), np.float32(100))
        if not self:
            return L
        x = L / np.float32(100)
        if self.contrast:
            x = x + np.float32(self.contrast / 100) * 2 * x * (1 - x) * (2 * x - 1)
        if self.brightness:
            x = x + np.float32(self.brightness / 100) * 4 * x * (1 - x)
        corrected: Array32 = (x * np.float32(100)).astype(np.float32)
        return corrected
