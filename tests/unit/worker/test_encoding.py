"""Encoding a rendering as its destination asks: the file that is delivered counts, not its pixels alone."""

from __future__ import annotations

import io
import os
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from PIL import Image, JpegImagePlugin

from lanternslide.chain import Rendering
from lanternslide.imaging.colour.srgb import srgb_profile
from lanternslide.imaging.encode import decode_again, encode_jpeg
from lanternslide.imaging.measuring.ssim import ssim
from lanternslide.imaging.reading.read import read_header
from lanternslide.imaging.reading.source import Header
from lanternslide.metadata import Policy, carry_metadata
from lanternslide.records import Recipe, Rights
from lanternslide.worker.encoding import encoded, wishes_of
from tests.support.chain import recipe, render
from tests.support.pictures import landscape

DESCRIPTION = "Kelp on the ledges below the North Stack. " * 50
"""2,100 letters, which travel with a picture."""

RECIPE = recipe(60)


@pytest.fixture(scope="module")
def original(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return an original that says much of itself."""
    exif = Image.Exif()
    exif[0x010E] = DESCRIPTION
    path = tmp_path_factory.mktemp("drop") / "kelp-ledges.jpg"
    landscape(120, 80).save(path, quality=95, icc_profile=srgb_profile(), exif=exif, dpi=(240, 240))
    return path


@pytest.fixture(scope="module")
def header(original: Path) -> Header:
    """Return what its file says."""
    return read_header(original)


def rendered(original: Path, **how: Any) -> tuple[Rendering, Recipe]:
    """Return a rendering of an original, and how it is to be prepared."""
    wanted = replace(RECIPE, **how)
    return render(original, wanted), wanted


@pytest.mark.parametrize("max_bytes", [5_600, 6_000])
def test_a_budget_is_for_the_whole_file(original: Path, header: Header, max_bytes: int) -> None:
    """Metadata are part of a file: with them it stays within the budget, and one step better would not."""
    rendering, how = rendered(original, quality=95, max_bytes=max_bytes)
    wishes = wishes_of(how, 60, 40, header)

    found = encoded(rendering, header, wishes)

    whole = carry_metadata(original, found.chosen.jpeg, wishes).jpeg
    assert found.by == "bytes"
    assert found.chosen.size == len(whole) <= max_bytes
    assert len(found.chosen.jpeg) < max_bytes - len(DESCRIPTION)
    better = encode_jpeg(
        rendering.codes, quality=found.chosen.quality + 1, chroma="4:4:4", progressive=True, density=header.density
    )
    assert len(carry_metadata(original, better, wishes).jpeg) > max_bytes


def test_what_does_not_travel_takes_no_room(original: Path, header: Header) -> None:
    """Where the description stays behind, its room is left for the pixels."""
    rendering, how = rendered(original, quality=95, max_bytes=6_000)

    whole, bare = (
        encoded(rendering, header, wishes_of(replace(how, metadata=policy), 60, 40, header)).chosen
        for policy in ("whole", "bare")
    )

    assert bare.quality > whole.quality


def test_need_leads_to_the_least_that_keeps_the_likeness(original: Path, header: Header) -> None:
    """The likeness is that of the decoded JPEG to the rendering; one step lower would not keep it."""
    rendering, how = rendered(original, quality=None, min_ssim=0.98)

    found = encoded(rendering, header, wishes_of(how, 60, 40, header))

    kept = ssim(rendering.codes, decode_again(found.chosen.jpeg))
    assert found.by == "ssim"
    assert found.chosen.ssim == kept
    assert kept is not None
    assert kept >= 0.98
    lower = encode_jpeg(
        rendering.codes, quality=found.chosen.quality - 1, chroma="4:4:4", progressive=True, density=header.density
    )
    likeness = ssim(rendering.codes, decode_again(lower))
    assert likeness is not None
    assert likeness < 0.98


@pytest.mark.parametrize(
    ("chroma", "progressive", "sampling"), [("4:4:4", True, 0), ("4:2:2", False, 1), ("4:2:0", True, 2)]
)
def test_the_file_is_as_the_destination_asks(
    original: Path, header: Header, chroma: str, sampling: int, *, progressive: bool
) -> None:
    """Quality, chroma and the order of its data are the recipe's, dots per inch the original's."""
    rendering, how = rendered(original, quality=77, chroma=chroma, progressive=progressive)

    found = encoded(rendering, header, wishes_of(how, 60, 40, header))

    assert (found.chosen.quality, found.by, found.chosen.ssim) == (77, "config", None)
    with Image.open(io.BytesIO(found.chosen.jpeg)) as image:
        assert image.size == (60, 40)
        assert JpegImagePlugin.get_sampling(image) == sampling
        assert bool(image.info.get("progressive")) == progressive
        assert image.info["dpi"] == (240, 240)


@pytest.mark.parametrize("policy", ["whole", "rights", "bare"])
def test_what_is_to_travel_is_the_destinations_choice(header: Header, policy: str) -> None:
    """Policy, location and rights are the recipe's; the size is that of the delivery, not of the original."""
    rights = Rights(creator="Ida Marrow")
    how = replace(RECIPE, metadata=policy, keep_location=True, rights=rights)

    wishes = wishes_of(how, 60, 40, header)

    assert (wishes.policy, wishes.keep_location, wishes.rights) == (Policy(policy), True, rights)
    assert (wishes.width, wishes.height) == (60, 40)


@pytest.mark.parametrize(("second", "year"), [(59, "2019"), (60, "2020")])
def test_the_year_of_a_file_is_that_of_its_last_change(original: Path, header: Header, second: int, year: str) -> None:
    """By universal time, so that every machine says the same."""
    changed = datetime(2019, 12, 31, 23, 59, 0, tzinfo=UTC).timestamp() + second
    os.utime(original, (changed, changed))

    assert wishes_of(RECIPE, 60, 40, header).year == year
