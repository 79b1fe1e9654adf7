"""Outside data that lies beside the checkout; tests that need it are skipped by name where it does not."""

from __future__ import annotations

from pathlib import Path

import pytest

__all__ = ["DATA", "needs_data"]

DATA = Path(__file__).resolve().parents[3] / "shared" / "data"


def needs_data(folder: str) -> pytest.MarkDecorator:
    """Return a mark that skips a test, with the reason, where ``../shared/data/FOLDER`` is not there."""
    return pytest.mark.skipif(not (DATA / folder).is_dir(), reason=f"needs ../shared/data/{folder}, which is not here")
