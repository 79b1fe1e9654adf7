"""The sRGB transfer function and CIE lightness against colour-science and the published constants."""

from __future__ import annotations

import colour
import numpy as np
import pytest

from lanternslide.imaging.colour.transfer import (
    lightness,
    luminance_of_lightness,
    srgb_codes,
    srgb_decode,
    srgb_encode,
)

FLOAT32 = 2e-6
"""Room for single precision on values up to 1."""


def test_decoding_agrees_with_colour_science() -> None:
    """Linear light of every 16-bit code is colour-science's (IEC 61966-2-1:1999)."""
    code = np.arange(65536) / 65535

    np.testing.assert_allclose(srgb_decode(code), colour.models.eotf_sRGB(code), atol=1e-12)


def test_encoding_agrees_with_colour_science() -> None:
    """Codes of linear light are colour-science's (IEC 61966-2-1:1999)."""
    linear = np.linspace(0, 1, 100_001)

    found = srgb_encode(linear.astype(np.float32))

    np.testing.assert_allclose(found, colour.models.eotf_inverse_sRGB(linear), atol=FLOAT32)


@pytest.mark.parametrize(
    ("code", "linear"),
    [
        # IEC 61966-2-1:1999, 5.2: the line's end, its slope, and the curve at one half.
        (0.04045, 0.04045 / 12.92),
        (0.0, 0.0),
        (1.0, 1.0),
        (0.5, 0.21404114),
    ],
)
def test_published_points(code: float, linear: float) -> None:
    """The constants of the standard hold in both directions."""
    assert srgb_decode(np.array(code)) == pytest.approx(linear, abs=1e-8)
    assert srgb_encode(np.array(linear, np.float32)) == pytest.approx(code, abs=FLOAT32)


def test_every_code_comes_back() -> None:
    """Decoding an 8-bit code and encoding it again gives that code."""
    codes = np.arange(3 * 256).reshape(3, 16, 16) % 256
    linear = srgb_decode(codes / 255).astype(np.float32)

    assert srgb_codes(linear).transpose(2, 0, 1).tolist() == codes.tolist()


def test_lightness_agrees_with_colour_science() -> None:
    """L* of luminance is colour-science's (CIE 15), and its inverse leads back."""
    Y = np.linspace(0, 1, 10_001)

    found = lightness(Y.astype(np.float32))

    np.testing.assert_allclose(found, colour.lightness(Y * 100, method="CIE 1976"), atol=2e-4)
    np.testing.assert_allclose(luminance_of_lightness(found), Y, atol=FLOAT32)
