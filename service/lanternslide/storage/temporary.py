"""Names of temporary files in destination folders. Pure."""

from __future__ import annotations

__all__ = ["is_temporary_of", "temporary_name"]

MARK = ".lanternslide-"


def temporary_name(run: str, delivery: int) -> str:
    """Return the dot name under which a delivery is written before it is published."""
    return f"{MARK}{run}-{delivery}.part"


def is_temporary_of(ledger: str, name: str) -> bool:
    """Return whether *name* is a temporary name that the ledger called *ledger* gave."""
    return name.startswith(f"{MARK}{ledger}-") and name.endswith(".part")
