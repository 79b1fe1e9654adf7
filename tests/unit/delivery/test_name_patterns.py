"""What deliveries are called: patterns, and letters that every system takes."""

from __future__ import annotations

import os
import re
from itertools import islice
from pathlib import Path, PureWindowsPath

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lanternslide.delivery import called, delivered_names, folder_called, is_name_of

VALUES = {
    "stem": "Grey Seal", "photographer": "ida", "destination": "club", "width": "1050", "height": "700",
    "date": "2026-05-14", "year": "2026",
}  # fmt: skip
FIELDS = st.sampled_from([f"{{{name}}}" for name in VALUES])
PATTERNS = st.lists(FIELDS | st.sampled_from(["-", " ", "_", "a", "…", "."]), min_size=1, max_size=6).map(
    lambda parts: "".join(parts) + ".jpg"
)
NAMES = st.text(min_size=1, max_size=300) | st.binary(min_size=1, max_size=300).map(os.fsdecode)


@pytest.mark.parametrize(
    ("pattern", "slug", "expected"),
    [
        ("{stem}.jpg", False, ("Grey Seal", ".jpg")),
        ("{stem}-{width}x{height}.jpg", False, ("Grey Seal-1050x700", ".jpg")),
        ("{date} {stem} for {destination}.jpeg", False, ("2026-05-14 Grey Seal for club", ".jpeg")),
        ("{year}_{photographer}_{stem}.jpg", True, ("2026-ida-grey-seal", ".jpg")),
    ],
)
def test_fields_are_filled_in(pattern: str, expected: tuple[str, str], *, slug: bool) -> None:
    """Each field stands for its value; the ending stays."""
    assert called(pattern, VALUES, slug=slug) == expected


@pytest.mark.parametrize("half", [0xD800, 0xDC7F, 0xDFFF])
def test_half_a_character_is_none(half: int) -> None:
    """Windows lets names hold halves of characters: they become hyphens, and nothing breaks."""
    assert called("{stem}.jpg", VALUES | {"stem": f"seal{chr(half)}two"}, slug=False)[0] == "seal-two"


@pytest.mark.parametrize(
    ("stem", "plain", "slug"),
    [
        ("a:b*c?d", "a-b-c-d", "a-b-c-d"),
        ("50% #1", "50- -1", "50-1"),
        ("CON", "_CON", "con-"),
        ("lpt1.old", "_lpt1.old", "lpt1-old"),
        ("COM¹", "_COM¹", "com1-"),
        (".hidden", "hidden", "hidden"),
        ("ends. . ", "ends", "ends"),
        ("a\nb\x07c", "a bc", "a-bc"),
        ("seal\u202egpj", "sealgpj", "sealgpj"),
        ("cafe\u0301", "caf\u00e9", "cafe"),
        ("Łódź – Ñandú", "Łódź – Ñandú", "lodz-nandu"),
        ("тюлень", "тюлень", "tyulen"),
        ("海豹", "海豹", "haibao"),
        ("...", "picture", "picture"),
        ("\udcff\udcfe", "--", "picture"),
        ("{width}", "{width}", "width"),
    ],
)
def test_names_that_somebody_does_not_take(stem: str, plain: str, slug: str) -> None:
    """Windows' characters and device names, an address's marks, what is hidden, invisible or no text."""
    values = VALUES | {"stem": stem}

    assert called("{stem}.jpg", values, slug=False)[0] == plain
    assert called("{stem}.jpg", values, slug=True)[0] == slug


@given(pattern=PATTERNS, stem=NAMES, folder=NAMES, slug=st.booleans())
def test_no_name_leaves_its_folder_or_breaks_a_system(pattern: str, stem: str, folder: str, *, slug: bool) -> None:
    """Whatever an original and its folder are called, a name is one plain name for every system."""
    called_stem, ending = called(pattern, VALUES | {"stem": stem}, slug=slug)
    below = folder_called(Path(*[part for part in folder.split("/") if part not in ("", ".", "..", "\0")]), slug=slug)

    for name in (*islice(delivered_names(called_stem, 2, ending), 3), *below.parts):
        assert os.path.basename(name) == name == PureWindowsPath(name).name  # noqa: PTH119
        assert name not in (".", "..", "")
        assert not name.startswith((".", " "))
        assert not name.endswith((".", " "))
        assert len(name.encode("utf-8")) <= 255
        assert name.isprintable()
        assert not re.search(r'[<>:"/\\|?*#%]', name)
        # Python's own judgement of Windows' reserved names.
        assert not PureWindowsPath(name).is_reserved()
        if slug:
            assert re.fullmatch(r"[a-z0-9-]+(\.jpg)?", name)


@given(pattern=PATTERNS, stem=NAMES, slug=st.booleans())
def test_width_is_never_cut_off(pattern: str, stem: str, *, slug: bool) -> None:
    """It is the stem that is cut where a name would be too long, so that sizes keep their own names."""
    one, other = (called("{stem}-{width}.jpg", VALUES | {"stem": stem, "width": width}, slug=slug) for width in "12")

    assert one != other
    assert called(pattern, VALUES | {"stem": stem}, slug=slug) == called(pattern, VALUES | {"stem": stem}, slug=slug)


@given(stem=NAMES.filter(lambda name: name == name.strip()), density=st.sampled_from([1, 1.5, 2]))
def test_a_delivery_knows_its_own_names(stem: str, density: float) -> None:
    """Every name that may be given is recognised, and no other picture's."""
    for name in islice(delivered_names(stem, density), 12):
        assert is_name_of(name, stem, density, ".jpg")
    assert not is_name_of(f"{stem}-x.jpg", stem, density, ".jpg")
    assert not is_name_of("grey-seal-2x.jpg", "grey-seal", 1, ".jpg")
