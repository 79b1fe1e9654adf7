"""Which keys each table of the config has, and what is allowed there."""

from __future__ import annotations

import pytest

from lanternslide.config.checks.tables import Place, describe, fields_of, table_in
from lanternslide.config.settings import Destination, Photographer, Settings, Size
from lanternslide.records import Sharpening, UnsharpMask


@pytest.mark.parametrize(
    ("place", "table", "allowed"),
    [
        # From the contract.
        ((), Settings, "tables"),
        (("destinations",), Settings, "tables of destinations"),
        (("destinations", "club"), Destination, "a table; its name: a to z, A to Z, digits, _ and - (not first)"),
        (("destinations", "club", "size"), Size, "a table with exactly one of long_edge, short_edge, width, height"),
        (("destinations", "club", "size", "area"), Size, "megapixels, 0.001 to 10000"),
        (("destinations", "club", "sharpen", "strength"), Sharpening, "0 to 2"),
        (("destinations", "club", "sharpen", "lead", "amount"), UnsharpMask, "0 to 500 per cent"),
        (("photographers", "ida", "drop"), Photographer, "a folder"),
        # What is around a key that is not there.
        (("destinations", "club", "sharpen", "power"), Sharpening, '"auto", false, or a table'),
    ],
)
def test_a_place_has_a_table_and_a_description(place: Place, table: type, allowed: str) -> None:
    """Of models and of dataclasses, however deep."""
    found, said = describe(place)

    assert found is table
    assert said.startswith(allowed)


def test_a_dataclass_has_keys_as_a_model_has() -> None:
    """Each with its description."""
    assert list(fields_of(UnsharpMask)) == ["radius", "amount", "blend"]
    assert list(fields_of(Size)) == ["long_edge", "short_edge", "width", "height", "box", "area", "enlarge"]
    assert all(field.description for field in fields_of(Sharpening).values())


@pytest.mark.parametrize(("annotation", "table"), [(Sharpening | None, Sharpening), (Size, Size), (int | None, None)])
def test_the_table_in_a_union_is_found(annotation: object, table: type | None) -> None:
    """A key with a plain value has none."""
    assert table_in(annotation) is table
