"""Noise that looks the same at every size: band-limited tiles, looked up at one scale after another."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from tests.scenario.arrays import Array

__all__ = ["Octaves", "ripples", "tile"]

SIDE = 512
"""Texels of a tile's side, a power of two; a tile repeats after that."""

WAVE = 8.0
"""Wavelength in texels at which a tile's spectrum has its peak."""


@cache
def tile(seed: int) -> Array:
    """Return a tile of noise (SIDE, SIDE), mean 0, variance 1, that repeats without a seam.

    White Gaussian noise is filtered by a log-normal band around WAVE, one octave and a half wide.
    """
    white = np.random.default_rng(seed).standard_normal((SIDE, SIDE))
    f = np.hypot(np.fft.fftfreq(SIDE)[:, None], np.fft.rfftfreq(SIDE)[None, :])
    f[0, 0] = 1e-9
    band = np.exp(-0.5 * (np.log2(f * WAVE) / 0.55) ** 2)
    flat = np.fft.irfft2(np.fft.rfft2(white) * band, s=(SIDE, SIDE))
    return np.asarray(flat / flat.std(), np.float32)


def lookup(values: Array, u: Array, v: Array) -> Array:
    """Return *values* (SIDE, SIDE) at texel coordinates *u*, *v*, bilinear and repeating."""
    u, v = np.broadcast_arrays(u, v)
    left = np.floor(u)
    top = np.floor(v)
    fu = u - left
    fv = v - top
    i = left.astype(np.int32) & (SIDE - 1)
    j = (top.astype(np.int32) & (SIDE - 1)) * SIDE
    i_next = (i + 1) & (SIDE - 1)
    j_next = (j + SIDE) & (SIDE * SIDE - 1)
    flat = values.reshape(-1)
    upper = flat.take(j + i)
    upper += fu * (flat.take(j + i_next) - upper)
    lower = flat.take(j_next + i)
    lower += fu * (flat.take(j_next + i_next) - lower)
    upper += fv * (lower - upper)
    return np.asarray(upper, np.float32)


@dataclass(frozen=True, kw_only=True)
class Octaves:
    """A sum of tiles, each with half the wavelength of the one before."""

    #: The longest wavelength, in the units of the coordinates
    longest: float
    #: How many wavelengths are summed
    count: int
    #: Amplitude of an octave relative to the one before
    gain: float = 0.5
    #: The first tile; octave i uses tile seed + i
    seed: int = 1
    #: How much longer than wide the pattern is along x
    stretch: float = 1.0
    #: Folds each octave to 1 - |n|: ridges instead of hills
    ridged: bool = False

    def at(self, x: Array, z: Array, footprint: Array | float = 0.0) -> Array:
        """Return the noise at *x*, *z* (they broadcast), about -2…2 times the sum of the gains.

        An octave fades out where its wavelength comes near *footprint*, the size of one pixel there:
        what a lens could not have resolved is left out, so nothing aliases.
        """
        pixel = np.asarray(footprint, np.float32)
        total = np.zeros(np.broadcast_shapes(x.shape, z.shape, pixel.shape), np.float32)
        for i in range(self.count):
            wavelength = self.longest / 2**i
            weight = np.clip(wavelength / np.maximum(pixel, 1e-9) / 2 - 0.75, 0, 1).astype(np.float32)
            if not weight.any():
                break
            u, v = self._turned(x, z, i, wavelength)
            n = lookup(tile(self.seed + i), u, v)
            if self.ridged:
                n = np.float32(0.8) - np.abs(n)
            total += n * (weight * np.float32(self.gain**i))
        return total

    def _turned(self, x: Array, z: Array, i: int, wavelength: float) -> tuple[Array, Array]:
        """Return texel coordinates of octave *i*: turned so that the octaves' grids never coincide."""
        angle = 0.0 if self.stretch > 1 else 0.7 * i + 0.3 * self.seed
        c, s = np.float32(np.cos(angle)), np.float32(np.sin(angle))
        k = np.float32(WAVE / wavelength)
        kx = k / np.float32(self.stretch)
        shift = np.float32(37.7 * i + 11.3)
        return c * x * kx + s * z * k + shift, c * z * k - s * x * kx + shift


def ripples(waves: Octaves, x: Array, z: Array, footprint: Array | float) -> tuple[Array, Array]:
    """Return the slopes (along x, along z) of a water surface: two independent fields of *waves*."""
    across = Octaves(
        longest=waves.longest, count=waves.count, gain=waves.gain, seed=waves.seed + 40, stretch=waves.stretch
    )
    return across.at(x, z, footprint), waves.at(x, z, footprint)
