"""Names of deliveries and of temporary files."""

from __future__ import annotations

import os
from itertools import islice

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lanternslide.delivery import delivered_names
from lanternslide.delivery.naming import MAX_STEM_BYTES, cut, is_name_of

STEMS = st.text(st.characters(exclude_characters="/\0", exclude_categories=["Cs"]), min_size=1, max_size=300)
DENSITIES = st.sampled_from([1, 1.5, 2, 4])


@given(stem=STEMS, density=DENSITIES)
def test_names_fit_every_file_system(stem: str, density: float) -> None:
    """A name and its first numbered ones end in .jpg, are different, and have at most 255 bytes."""
    names = list(islice(delivered_names(stem, density), 12))

    assert len(set(names)) == len(names)
    assert all(name.endswith(".jpg") and len(os.fsencode(name)) <= 255 for name in names)


def test_densities_and_numbers() -> None:
    """The density stands at the end, a number before it."""

    def first(stem: str, density: float, ending: str = ".jpg") -> list[str]:
        return list(islice(delivered_names(stem, density, ending), 2))

    assert first("grey-seal", 1) == ["grey-seal.jpg", "grey-seal-2.jpg"]
    assert first("grey-seal", 1.5) == ["grey-seal-1.5x.jpg", "grey-seal-2-1.5x.jpg"]
    assert first("me@skerrow", 2, ".jpeg") == ["me@skerrow-2x.jpeg", "me@skerrow-2-2x.jpeg"]


@given(stem=STEMS, density=DENSITIES, number=st.integers(0, 11))
def test_a_delivery_is_known_by_its_names(stem: str, density: float, number: int) -> None:
    """Every one of them is recognised, and none of another density."""
    name = next(islice(delivered_names(stem, density), number, None))

    assert is_name_of(name, stem, density, ".jpg")
    assert not is_name_of(name, stem, density + 1, ".jpg")


@pytest.mark.parametrize(
    "name",
    [
        *("gull.jpg", "grey-seal.jpg", "seal.jpeg", "sealxjpg", "seal.jpg\n"),
        *("seal-x.jpg", "seal-.jpg", "seal-2-3.jpg", "seal-2x.jpg"),
    ],
)
def test_other_names_are_not_its_own(name: str) -> None:
    """A letter more or less is another picture's name."""
    assert not is_name_of(name, "seal", 1, ".jpg")


@pytest.mark.parametrize(
    ("name", "most", "shorter"),
    [
        ("seal", 4, "seal"),
        ("seal", 3, "sea"),
        ("sé", 3, "sé"),
        ("sé", 2, "s"),
        ("a🦭", 4, "a"),
        ("a🦭", 5, "a🦭"),
        ("seal", 0, "s"),
        (os.fsdecode(b"s\xe9\xe9l"), 3, os.fsdecode(b"s\xe9\xe9")),
    ],
)
def test_no_letter_is_cut_in_two(name: str, most: int, shorter: str) -> None:
    """As many bytes as there is room for, and one letter at least; bytes that are no text stay as they are."""
    assert cut(name, most) == shorter


def test_a_long_name_leaves_room_for_number_and_density() -> None:
    """The stem is cut, not what tells deliveries apart."""
    first, second = islice(delivered_names("é" * 200, 1.5), 2)

    assert (first, second) == ("é" * 100 + "-1.5x.jpg", "é" * 100 + "-2-1.5x.jpg")
    assert MAX_STEM_BYTES == 200
