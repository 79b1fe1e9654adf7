"""Where the file lies that explains every key."""

from __future__ import annotations

from pathlib import Path

__all__ = ["REFERENCE_NAME", "reference_file"]

REFERENCE_NAME = "reference.toml"


def reference_file() -> Path:
    """Return the path of ``reference.toml``: beside this module where it is installed, else in the checkout."""
    here = Path(__file__).resolve().parent
    checkout = here.parents[2] / "config" / REFERENCE_NAME
    return checkout if checkout.is_file() else here / REFERENCE_NAME
