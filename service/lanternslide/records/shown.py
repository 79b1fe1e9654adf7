"""How the small pictures of a proof sheet are called."""

from __future__ import annotations

__all__ = ["AFTER", "BEFORE", "MAP", "SMALL"]

SMALL = "-small.jpg"
"""The whole picture."""

BEFORE, AFTER = "-plain.jpg", "-delivered.jpg"
"""The part that is shown at 1:1, without sharpening and as it was delivered."""

MAP = "-gamut.jpg"
"""Where colours were out of gamut."""
