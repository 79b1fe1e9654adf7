"""The record: others build on it."""

from __future__ import annotations

import json

import pytest
from pydantic import ValidationError

from lanternslide.records import Record
from tests.support.happenings import record

# The record's fields, transcribed from the contract.
FIELDS = [
    "original",
    "photographer",
    "destination",
    "density",
    "state",
    "reason",
    "output",
    "digest",
    "width",
    "height",
    "bytes",
    "quality",
    "quality_by",
    "chroma",
    "original_file",
    "strength",
    "rungs",
    "ssim",
    "delta_e",
    "acutance",
    "halo",
    "tone_shift",
    "out_of_gamut",
    "clipped",
    "forecast",
    "doubts",
    "notes",
    "attempts",
    "seconds",
    "peak_mib",
    "filed_to",
    "delivered_at",
    "plan",
    "version",
]


def test_a_record_has_the_fields_of_the_contract() -> None:
    """Others build on the record: its fields are exactly those, in that order, null where not known."""
    line = json.loads(record("club", 1).to_line())

    assert list(line) == FIELDS
    assert line["ssim"] is None
    assert list(line["original_file"]) == ["width", "height", "bits", "profile", "bytes", "digest"]


def test_a_record_is_one_line_of_its_own_letters() -> None:
    """Whatever stands in it."""
    line = record("club", 1, "a\nb 灯台").to_line()

    assert "\n" not in line
    assert "灯台" in line
    assert Record.model_validate_json(line) == record("club", 1, "a\nb 灯台")


def test_a_record_knows_no_other_fields() -> None:
    """A misspelt one is an error where it is written."""
    with pytest.raises(ValidationError):
        Record.model_validate({"original": "x", "photographer": "ida", "state": "delivered", "sise": 3})
