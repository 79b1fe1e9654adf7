"""Colour differences that the eye would see: CIEDE2000.

Source: G. Sharma, W. Wu, E. N. Dalal, "The CIEDE2000 Color-Difference Formula: Implementation Notes, Supplementary Test
Data, and Mathematical Observations", Color Research and Application 30(1), 2005; equation numbers are that paper's.
"""

from __future__ import annotations

import numpy as np

from lanternslide.imaging.colour.chromaticity import D65_WHITE, SRGB_PRIMARIES
from lanternslide.imaging.colour.transfer import EPSILON, KAPPA, srgb_decode
from lanternslide.imaging.types import Array64, Bytes8

__all__ = ["ciede2000", "code_difference", "lab_of_codes"]

GRID_PIXELS = 100_000
FAR = 25.0**7


def ciede2000(first: Array64, second: Array64) -> Array64:
    """Return the differences between CIE L*a*b* colours, shapes (..., 3) to (...), with all weights 1."""
    L1, a1, b1 = np.moveaxis(np.asarray(first, np.float64), -1, 0)
    L2, a2, b2 = np.moveaxis(np.asarray(second, np.float64), -1, 0)
    mean_chroma = (np.hypot(a1, b1) + np.hypot(a2, b2)) / 2  # (2), (3)
    stretch = 1.5 - 0.5 * _saturating(mean_chroma)  # (4), 1 + G
    a1, a2 = stretch * a1, stretch * a2  # (5)
    C1, C2 = np.hypot(a1, b1), np.hypot(a2, b2)  # (6)
    h1, h2 = np.degrees(np.arctan2(b1, a1)) % 360, np.degrees(np.arctan2(b2, a2)) % 360  # (7)
    grey = C1 * C2 == 0
    turn = np.where(grey, 0.0, (h2 - h1 + 180) % 360 - 180)  # (10)
    # The paper lets an exact half turn count as +180 where the formula above says -180; its sine only changes sign.
    turn = np.where((turn == -180) & (h2 > h1), 180.0, turn)
    dL, dC, dH = L2 - L1, C2 - C1, 2 * np.sqrt(C1 * C2) * np.sin(np.radians(turn / 2))  # (8), (9), (11)
    L, C = (L1 + L2) / 2, (C1 + C2) / 2  # (12), (13)
    around = (h1 + h2) / 2 + np.where(np.abs(h1 - h2) > 180, np.where(h1 + h2 < 360, 180.0, -180.0), 0.0)
    h = np.where(grey, h1 + h2, around)  # (14)
    T = (
        1
        - 0.17 * np.cos(np.radians(h - 30))
        + 0.24 * np.cos(np.radians(2 * h))
        + 0.32 * np.cos(np.radians(3 * h + 6))
        - 0.20 * np.cos(np.radians(4 * h - 63))
    )  # (15)
    S_L = 1 + 0.015 * (L - 50) ** 2 / np.sqrt(20 + (L - 50) ** 2)  # (18)
    S_C, S_H = 1 + 0.045 * C, 1 + 0.015 * C * T  # (19), (20)
    turned = np.radians(60 * np.exp(-(((h - 275) / 25) ** 2)))  # (16), twice
    R_T = -2 * _saturating(C) * np.sin(turned)  # (17), (21)
    parts = dL / S_L, dC / S_C, dH / S_H
    squared = parts[0] ** 2 + parts[1] ** 2 + parts[2] ** 2 + R_T * parts[1] * parts[2]
    difference: Array64 = np.sqrt(np.maximum(squared, 0.0))  # (22)
    return difference


def _saturating(chroma: Array64) -> Array64:
    power = chroma**7
    share: Array64 = np.sqrt(power / (power + FAR))
    return share


def lab_of_codes(codes: Bytes8) -> Array64:
    """Return CIE L*a*b* under D65 of sRGB codes, shape (..., 3) (IEC 61966-2-1:1999, 5.2; CIE 15:2018, 8.2.1)."""
    xyz = srgb_decode(np.asarray(codes, np.float64) / 255) @ _RGB_TO_RELATIVE_XYZ.T
    root = np.where(xyz > EPSILON, np.cbrt(xyz), (KAPPA * xyz + 16) / 116)
    fx, fy, fz = np.moveaxis(root, -1, 0)
    return np.stack([116 * fy - 16, 500 * (fx - fy), 200 * (fy - fz)], axis=-1)


def _rgb_to_relative_xyz() -> Array64:
    """Return the matrix from linear sRGB to X/Xn, Y/Yn, Z/Zn: its rows add up to 1, as white is the white."""
    columns = np.array([[x / y, 1.0, (1 - x - y) / y] for x, y in SRGB_PRIMARIES]).T
    x, y = D65_WHITE
    white = np.array([x / y, 1.0, (1 - x - y) / y])
    matrix: Array64 = columns * np.linalg.solve(columns, white) / white[:, None]
    return matrix


_RGB_TO_RELATIVE_XYZ = _rgb_to_relative_xyz()


def code_difference(codes: Bytes8, others: Bytes8) -> tuple[float, float]:
    """Return the mean and the 99th percentile of the differences between two pictures, (height, width, 3).

    On a fixed grid of at most 100,000 pixels.
    """
    step = 1
    while -(-codes.shape[0] // step) * -(-codes.shape[1] // step) > GRID_PIXELS:
        step += 1
    start = step // 2
    grid = slice(min(start, codes.shape[0] - 1), None, step), slice(min(start, codes.shape[1] - 1), None, step)
    found = ciede2000(lab_of_codes(codes[grid]), lab_of_codes(others[grid]))
    return float(found.mean()), float(np.percentile(found, 99))
