"""Amounts in words."""

from __future__ import annotations

import pytest

from lanternslide.words import counted, readable_bytes, readable_memory


@pytest.mark.parametrize(
    ("number", "text"),
    [
        (0, "0 bytes"),
        (1, "1 byte"),
        (999, "999 bytes"),
        (1000, "1 kB"),
        (2500, "2.5 kB"),
        (12_500, "12 kB"),
        (499_600, "500 kB"),
        (1_500_000, "1.5 MB"),
        (2_000_000_000, "2.0 GB"),
        (3_000_000_000_000, "3.0 TB"),
        (5_000_000_000_000_000, "5000.0 TB"),
    ],
)
def test_bytes_for_a_person(number: int, text: str) -> None:
    """Sizes are told in decimal units (IEC 80000-13)."""
    assert readable_bytes(number) == text


@pytest.mark.parametrize(("mib", "text"), [(0.4, "0 MiB"), (999, "999 MiB"), (1024, "1.0 GiB"), (1536, "1.5 GiB")])
def test_memory_for_a_person(mib: float, text: str) -> None:
    """In the binary units that it is sold in (IEC 80000-13)."""
    assert readable_memory(mib) == text


def test_one_and_more() -> None:
    """None at all is more than one to the language."""
    assert [counted(number, "delivery", "deliveries") for number in (0, 1, 2)] == [
        "0 deliveries", "1 delivery", "2 deliveries",
    ]  # fmt: skip
