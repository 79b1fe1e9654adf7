"""The measures of the project's image-quality study (section 3), written with scipy, apart from the code under test.

Planes are L* (height, width), float64. The reference is the plain linear-light area average at the same size.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.ndimage import binary_dilation, gaussian_filter, maximum_filter, minimum_filter

__all__ = [
    "BORDER",
    "FIELD",
    "SOURCE",
    "Figures",
    "Plane",
    "edge_spread",
    "figures",
    "jaggedness",
    "lightness_of",
    "sfr",
    "slanted",
]

Plane = npt.NDArray[np.float64]

FIELD = (84, 126)
"""Final pixels of the synthetic pictures, (height, width)."""

SOURCE = (480, 720)
"""FIELD times 6000 / 1050."""

BORDER = 8


def lightness_of(codes: npt.NDArray[np.uint8]) -> Plane:
    """Return L* of 8-bit sRGB codes (height, width, 3) (IEC 61966-2-1; CIE 15:2018)."""
    code = codes / 255.0
    linear = np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)
    Y = linear @ np.array([0.2126, 0.7152, 0.0722])
    L: Plane = np.where(Y > 216 / 24389, 116 * np.cbrt(Y) - 16, Y * 24389 / 27)
    return L


def slanted() -> Plane:
    """Return each source pixel's distance across the slanted edge (x + 0.17 y), in source pixels."""
    y, x = np.mgrid[0 : SOURCE[0], 0 : SOURCE[1]].astype(np.float64)
    across: Plane = (x - SOURCE[1] / 2) + 0.17 * (y - SOURCE[0] / 2)
    return across


def _distance() -> Plane:
    """Return each final pixel's distance across the slanted edge, in final pixels, without the border."""
    scale = SOURCE[0] / FIELD[0]
    y, x = np.mgrid[BORDER : FIELD[0] - BORDER, BORDER : FIELD[1] - BORDER].astype(np.float64)
    distance: Plane = ((x + 0.5 - FIELD[1] / 2) + 0.17 * (y + 0.5 - FIELD[0] / 2) - 0.5 / scale) / np.hypot(1, 0.17)
    return distance


def edge_spread(found: Plane, bins_per_pixel: int = 8, reach: float = 3.0) -> tuple[Plane, Plane, Plane, Plane]:
    """Return the edge spread function (places, means) of a slanted edge without its border, and what it is made of."""
    distance = _distance()
    near = np.abs(distance) < reach
    bins = np.floor(distance[near] * bins_per_pixel).astype(int)
    bins -= bins.min()
    counts = np.bincount(bins)
    some = counts > 0
    places = np.bincount(bins, distance[near])[some] / counts[some]
    means = np.bincount(bins, found[near])[some] / counts[some]
    return places, means, distance[near], found[near]


def jaggedness(found: Plane, height: float) -> float:
    """Return how far pixels lie from the edge's own spread function, rms, as per cent of its *height*."""
    places, means, distance, values = edge_spread(found)
    return float(100 * np.sqrt(np.mean((values - np.interp(distance, places, means)) ** 2)) / height)


def sfr(found: Plane, height: float, frequencies: tuple[float, ...] = (0.15, 0.25, 0.35, 0.45)) -> list[float]:
    """Return the edge's frequency response at cycles per pixel, sampled four times a pixel (after ISO 12233)."""
    places, means, *_ = edge_spread(found, bins_per_pixel=4, reach=16.0)
    grid = np.arange(-16, 16, 0.25)
    line = np.diff(np.interp(grid, places, means)) / height
    line *= np.hamming(len(line))
    at = np.arange(len(line)) * 0.25
    # What the differences over a quarter pixel take away is given back.
    return [
        float(abs(np.sum(line * np.exp(-2j * np.pi * frequency * at))) / np.sinc(frequency / 4))
        for frequency in frequencies
    ]


@dataclass(frozen=True, kw_only=True, slots=True)
class Figures:
    """How a picture compares with its reference."""

    acutance: float  #: ``eg``.
    texture: float  #: ``tx``.
    halo_light: float  #: ``ho``.
    halo_dark: float  #: ``hu``.
    strict_over: float
    strict_under: float
    noise: float  #: ``nz``; nan where hardly anything is flat.
    residual: float  #: ``res``.
    tone: float  #: 99th percentile.
    shift: float  #: ``dL``.


def _roberts(L: Plane) -> Plane:
    gradient: Plane = np.hypot(L[1:, 1:] - L[:-1, :-1], L[1:, :-1] - L[:-1, 1:])
    return gradient


def figures(L: Plane, R: Plane) -> Figures:
    """Return the figures of a picture *L* against its reference *R*."""
    found, plain = _roberts(L), _roberts(R)
    edges = plain > max(np.percentile(plain, 90), 4)
    texture = (plain > max(np.percentile(plain, 50), 1)) & ~edges
    low, high = minimum_filter(R, 3), maximum_filter(R, 3)
    over, under = np.maximum(L - high, 0), np.maximum(low - L, 0)
    no_bright, no_dark = R - maximum_filter(low, 3) < 1.5, minimum_filter(high, 3) - R < 1.5
    return Figures(
        acutance=float(found[edges].mean() / plain[edges].mean()),
        texture=float(found[texture].mean() / plain[texture].mean()),
        halo_light=float(np.percentile(over[no_bright], 99.9)),
        halo_dark=float(np.percentile(under[no_dark], 99.9)),
        strict_over=float(np.percentile(over, 99.9)),
        strict_under=float(np.percentile(under, 99.9)),
        noise=_noise(L, R, plain),
        residual=_residual(L, R, edges | texture),
        tone=float(np.percentile(np.abs(gaussian_filter(L, 8) - gaussian_filter(R, 8)), 99)),
        shift=float((L - R).mean()),
    )


def _noise(L: Plane, R: Plane, plain: Plane) -> float:
    fine = R - gaussian_filter(R, 1.5)
    steep = np.pad(maximum_filter(plain, 9), ((0, 1), (0, 1)), mode="edge")
    flat = (np.sqrt(gaussian_filter(fine**2, 4)) < 0.9) & (steep < 6) & (R > 3) & (R < 98)
    if flat.mean() < 0.01:
        return float("nan")
    return float((L - gaussian_filter(L, 1.5))[flat].std() / fine[flat].std())


def _residual(L: Plane, R: Plane, where: npt.NDArray[np.bool_]) -> float:
    """Return what of the fine detail is not the reference's, only stronger."""
    grown = binary_dilation(np.pad(where, ((0, 1), (0, 1))), np.ones((3, 3), bool))
    fine, plain = ((x - gaussian_filter(x, 0.8))[grown] for x in (L, R))
    slope = (fine * plain).sum() / (plain * plain).sum()
    return float((fine - slope * plain).std() / (slope * plain.std()))
