"""The array types of the imaging code."""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
import numpy.typing as npt

__all__ = ["Array32", "Array64", "Bytes8", "Codes", "Flags"]

Array32: TypeAlias = npt.NDArray[np.float32]
"""Pixels at work: linear light or lightness, float32."""

Array64: TypeAlias = npt.NDArray[np.float64]
"""Weights, matrices and curves, float64."""

Bytes8: TypeAlias = npt.NDArray[np.uint8]
"""Encoded 8-bit samples."""

Flags: TypeAlias = npt.NDArray[np.bool_]
"""Which pixels."""

Codes: TypeAlias = npt.NDArray[np.uint8] | npt.NDArray[np.uint16]
"""Encoded samples as a reader hands them out."""
