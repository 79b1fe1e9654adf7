"""Where an original goes: tags, folder, otherwise, and near misses."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lanternslide.config import RoutingNames
from lanternslide.errors import OriginalHeldError
from lanternslide.intake import route
from lanternslide.intake.routing import is_one_typo

NAMES = ("portfolio", "journal", "club", "noticeboard")


def place(**changes: object) -> RoutingNames:
    """Return what a photographer's four destinations are called."""
    given = {
        "photographer": "ida",
        "tags": {name: name for name in NAMES} | {"blog": "journal"},
        "subfolders": {name: name for name in NAMES},
        "otherwise": ("portfolio",),
    }
    return RoutingNames(**{**given, **changes})  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("path", "destinations", "folder", "stem", "why"),
    [
        ("grey-seal.tif", ("portfolio",), ".", "grey-seal", "otherwise"),
        ("grey-seal@journal.tif", ("journal",), ".", "grey-seal", "tag"),
        ("grey-seal@journal@club.tif", ("journal", "club"), ".", "grey-seal", "tag"),
        ("grey-seal@Blog@JOURNAL.tif", ("journal",), ".", "grey-seal", "tag"),
        ("club/grey-seal.tif", ("club",), ".", "grey-seal", "folder"),
        ("Club/islands/grey-seal.tif", ("club",), "islands", "grey-seal", "folder"),
        ("club/grey-seal@journal.tif", ("journal",), ".", "grey-seal", "tag"),
        ("islands/grey-seal.tif", ("portfolio",), "islands", "grey-seal", "otherwise"),
        ("islands/club/grey-seal.tif", ("portfolio",), "islands/club", "grey-seal", "otherwise"),
        ("islands/grey-seal@club.tif", ("club",), "islands", "grey-seal", "tag"),
        ("grey.seal.v2@club.tif", ("club",), ".", "grey.seal.v2", "tag"),
    ],
)
def test_routes(path: str, destinations: tuple[str, ...], folder: str, stem: str, why: str) -> None:
    """Tags first, else the first folder, else otherwise; a matched folder leaves the path, deeper ones stay."""
    routing = route(Path(path), place())

    assert (routing.destinations, routing.folder, routing.stem, routing.why) == (destinations, Path(folder), stem, why)


@pytest.mark.parametrize(
    ("path", "named_by"),
    [
        ("grey-seal@Blog@club@journal.tif", ("Blog", "club")),
        ("Club/islands/grey-seal.tif", ("Club",)),
        ("club/grey-seal@NOTICEBOARD.tif", ("NOTICEBOARD",)),
        ("islands/grey-seal.tif", ()),
    ],
)
def test_what_named_each_destination_is_known_as_it_is_written(path: str, named_by: tuple[str, ...]) -> None:
    """The first tag that means a destination, or the folder; nothing where otherwise decides."""
    assert route(Path(path), place()).named_by == named_by


@pytest.mark.parametrize("name", ["grey-seal@journal.tif", "grey-seal@club@noticeboard.tif", "grey-seal.tif"])
def test_paths_that_differ_in_tags_are_one_picture(name: str) -> None:
    """What makes a picture is its path without tags."""
    assert route(Path("islands") / name, place()).picture == Path("islands/grey-seal.tif")


@pytest.mark.parametrize(
    ("path", "key", "says"),
    [
        ("x@jornal.tif", "unknown-tag", "did you mean “@journal”?"),
        ("x@zzz.tif", "unknown-tag", "@portfolio, @journal"),
        ("x@journal@.tif", "unknown-tag", "asks for “@”"),
        ("jornal/x.tif", "near-miss-folder", "“journal”"),
        ("Clubs/x.tif", "near-miss-folder", "“club”"),
        ("notceboard/deep/x.tif", "near-miss-folder", "“noticeboard”"),
        ("@journal.tif", "tag-without-name", "grey-seal@journal.tif"),
        (" .tif", "nothing-but-spaces", "Give it a name"),
    ],
)
def test_what_is_not_clearly_named_is_held(path: str, key: str, says: str) -> None:
    """An unknown tag, a folder one typo away, a name without a name: held, with the near miss named."""
    with pytest.raises(OriginalHeldError) as held:
        route(Path(path), place())

    assert held.value.said.key == key
    assert says in held.value.said.text


def test_nothing_named_and_no_otherwise_is_held() -> None:
    """Without tag, folder and otherwise there is nowhere to go."""
    with pytest.raises(OriginalHeldError) as held:
        route(Path("x.tif"), place(otherwise=()))

    assert held.value.said.key == "no-destination"


def test_unknown_names_can_be_part_of_the_name() -> None:
    """With that setting an unknown @name stays in the name, and is remembered."""
    routing = route(Path("me@skerrow@club.tif"), place(keep_unknown=True))

    assert (routing.stem, routing.destinations, routing.kept_tags) == ("me@skerrow", ("club",), ("skerrow",))


PARTS = st.text(st.characters(codec="utf-8", exclude_characters="/\0"), min_size=1, max_size=12).filter(
    lambda part: part not in (".", "..")
)


@given(
    folders=st.lists(st.one_of(PARTS, st.sampled_from(NAMES)), max_size=3),
    stem=PARTS,
    tags=st.lists(st.sampled_from(NAMES)),
)
def test_nothing_goes_where_it_was_not_sent(folders: list[str], stem: str, tags: list[str]) -> None:
    """A destination is chosen only if its tag or first folder stands there, or it is in otherwise."""
    path = Path(*folders, stem + "".join(f"@{tag}" for tag in tags) + ".tif")
    try:
        routing = route(path, place())
    except OriginalHeldError:
        return

    spelled = {part.casefold() for part in path.stem.split("@")[1:]}
    allowed = {place().tags[part] for part in spelled if part in place().tags}
    if not allowed and len(path.parts) > 1 and path.parts[0].casefold() in NAMES:
        allowed = {path.parts[0].casefold()}
    assert set(routing.destinations) == (allowed or {"portfolio"})
    assert ".." not in routing.folder.parts
    assert "@" not in routing.stem


def distance(one: str, other: str) -> int:
    """Return the restricted Damerau-Levenshtein distance by its definition, slowly."""
    table = {(i, 0): i for i in range(len(one) + 1)} | {(0, j): j for j in range(len(other) + 1)}
    for i in range(1, len(one) + 1):
        for j in range(1, len(other) + 1):
            table[i, j] = min(
                table[i - 1, j] + 1, table[i, j - 1] + 1, table[i - 1, j - 1] + (one[i - 1] != other[j - 1])
            )
            if i > 1 and j > 1 and one[i - 2 : i] == other[j - 2 : j][::-1]:
                table[i, j] = min(table[i, j], table[i - 2, j - 2] + 1)
    return table[len(one), len(other)]


@given(one=st.text("abc", max_size=5), other=st.text("abc", max_size=5))
def test_one_typo_is_a_distance_of_one(one: str, other: str) -> None:
    """One letter more, less or changed, or two neighbours swapped, and nothing else."""
    assert is_one_typo(one, other) == (distance(one, other) == 1)


def test_one_typo_examples() -> None:
    """The slips that fingers make."""
    right = "journal"
    slips = [right[:i] + right[i + 1 :] for i in range(len(right))]
    slips += [right[:i] + b + a + right[i + 2 :] for i, (a, b) in enumerate(pairwise(right))]

    assert all(is_one_typo(slip, right) for slip in slips)
