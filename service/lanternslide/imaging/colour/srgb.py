"""The sRGB profile that every delivery carries: `srgb.icc` beside this file.

It is a matrix profile of version 2.4 (ICC.1:2001-04), which every reader takes, with a curve of 1,024 entries;
`PYTHONPATH=service python -m tests.support.icc_write` writes it anew from IEC 61966-2-1:1999.
"""

from __future__ import annotations

from functools import cache
from importlib.resources import files

__all__ = ["srgb_profile"]


@cache
def srgb_profile() -> bytes:
    """Return the bytes of the profile, about 2.5 kB."""
    return files(__package__).joinpath("srgb.icc").read_bytes()
