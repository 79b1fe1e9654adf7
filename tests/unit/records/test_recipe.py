"""The tables of the config that a worker needs as they are: defaults, limits, and what goes together."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import Any

import pytest
from pydantic import TypeAdapter, ValidationError

from lanternslide.records import Recompression, Sharpening, UnsharpMask, Watermark


def taken(table: type, given: dict[str, Any]) -> Any:
    """Return what a table of a config becomes."""
    return TypeAdapter[Any](table).validate_python(given, context={"base": Path("/srv/lanternslide")})


# Transcribed from the contract.
@pytest.mark.parametrize(
    ("table", "given", "whole"),
    [
        (UnsharpMask, {}, {"radius": 0.5, "amount": 100, "blend": 1}),
        (Sharpening, {}, {"strength": 1, "steps": 1, "ratio": 2, "lead": None, "finish": None}),
        (
            Watermark,
            {"text": "Ida"},
            {
                "text": "Ida", "image": None, "corner": "lower right", "height": 0.04, "margin": 0.03, "opacity": 0.6,
                "font": None,
            },
        ),
        (Recompression, {"long_edge": 1240}, {"long_edge": 1240, "quality": 75, "chroma": "4:2:0"}),
    ],
    ids=lambda value: getattr(value, "__name__", ""),
)  # fmt: skip
def test_defaults_are_those_of_the_contract(table: type, given: dict[str, Any], whole: dict[str, Any]) -> None:
    """What a config leaves out means what the contract says, and what is made in the code means the same."""
    assert dataclasses.asdict(taken(table, given)) == whole
    assert dataclasses.asdict(table(**given)) == whole


@pytest.mark.parametrize(
    ("table", "given"),
    [
        (UnsharpMask, {"radius": 0.29}),
        (UnsharpMask, {"amount": float("nan")}),
        (UnsharpMask, {"sigma": 1}),
        (UnsharpMask, {"blend": 1.1}),
        (Sharpening, {"steps": 5}),
        (Sharpening, {"steps": 1.0}),
        (Sharpening, {"strength": "1"}),
        (Sharpening, {"power": 1}),
        (Sharpening, {"finish": {"sigma": 1}}),
        (Watermark, {"text": "Ida", "corner": "middle"}),
        (Watermark, {"text": "Ida", "opacity": 0}),
        (Watermark, {"text": "Ida", "margin": 0.51}),
        (Watermark, {"text": "Ida", "colour": "white"}),
        (Recompression, {"long_edge": 15}),
        (Recompression, {"long_edge": 100_001}),
        (Recompression, {"long_edge": 1240, "quality": 101}),
        (Recompression, {"long_edge": 1240, "edge": 3}),
        (Recompression, {"long_edge": 1240, "chroma": "4:1:1"}),
    ],
)
def test_limits_are_checked_where_a_config_is_read(table: type, given: dict[str, Any]) -> None:
    """Numbers, choices and keys that the contract does not have."""
    with pytest.raises(ValidationError):
        taken(table, given)


def test_files_are_absolute_paths_as_text() -> None:
    """They may go to another machine."""
    assert taken(Watermark, {"image": "mark.png"}).image == "/srv/lanternslide/mark.png"


@pytest.mark.parametrize(
    ("mark", "fits"),
    [({"text": "Ida"}, True), ({"image": "m.png"}, True), ({}, False), ({"text": "Ida", "image": "m.png"}, False)],
)
def test_a_watermark_is_a_text_or_an_image(mark: dict[str, str], *, fits: bool) -> None:
    """One of them, and not both."""
    try:
        taken(Watermark, mark)
    except ValidationError:
        assert not fits
    else:
        assert fits


def test_a_forecast_needs_the_operators_size() -> None:
    """The rest has usual values."""
    with pytest.raises(ValidationError):
        taken(Recompression, {"quality": 72})
    assert taken(Recompression, {"long_edge": 1240}).chroma == "4:2:0"
