"""The first config: whatever was answered, it is TOML that says just that, and it loads."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import TypeVar

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from lanternslide.config import FirstAnswers, FirstDestination, key_for, load_settings, render_first
from lanternslide.config.beginning.answers import read_destination, read_edge, read_folder, read_words
from lanternslide.config.beginning.first import toml_text
from lanternslide.words import Said

CHECKOUT = Path(__file__).resolve().parents[3]
REFERENCE = Path("/made/up/reference.toml")
WHAT_WINDOWS_DRAWS = 'C:\\Users\\Zoë\\Bilder für\'s "Web"'

Answer = TypeVar("Answer")

TYPED = st.text(
    st.one_of(st.characters(exclude_categories=["Cs"]), st.sampled_from("\"'\\#{}[]=\n\r\t\0🦭äß~/ \u200d\u3000")),
    max_size=40,
)
NAMES = st.from_regex(r"[A-Za-z0-9_][A-Za-z0-9_-]{0,63}", fullmatch=True)
DESTINATIONS = st.lists(
    st.builds(FirstDestination, name=NAMES, long_edge=st.integers(1, 100_000)),
    min_size=1, max_size=4, unique_by=lambda destination: destination.name.casefold(),
)  # fmt: skip


def answers(
    creator: str = "", contact: str = "", drop: str = "drop/me", destination: str = "portfolio"
) -> FirstAnswers:
    """Return answers that say nothing special but for what is given."""
    destinations = (FirstDestination(name=destination, long_edge=1050),)
    return FirstAnswers(creator=creator, contact=contact, drop=drop, destinations=destinations)


def reason(answer: object) -> str:
    """Return why an answer was refused."""
    assert isinstance(answer, Said)
    return answer.key


def taken_or(instead: Answer, answer: Answer | Said) -> Answer:
    """Return an answer, or something else where it was refused."""
    return instead if isinstance(answer, Said) else answer


# Rendering


@given(TYPED)
@example(WHAT_WINDOWS_DRAWS)
@example('"""')
@example("'''")
@example("C:\\new\\table")
def test_any_text_becomes_a_string_of_toml(text: str) -> None:
    """A text is read back as it was, on one line, whatever it holds."""
    rendered = toml_text(text)

    assert tomllib.loads(f"key = {rendered}")["key"] == text
    assert len(rendered.splitlines()) == 1


@given(creator=TYPED, contact=TYPED, drop=TYPED, destinations=DESTINATIONS)
def test_any_answers_become_a_config_that_says_them(
    creator: str, contact: str, drop: str, destinations: list[FirstDestination]
) -> None:
    """Each answer stands under its key, what was not answered under none, and there is nothing else."""
    given_answers = FirstAnswers(creator=creator, contact=contact, drop=drop, destinations=tuple(destinations))

    found = tomllib.loads(render_first(given_answers, REFERENCE))

    key = given_answers.key
    owner = {"drop": drop, "otherwise": [destinations[0].name], "proofs": f"proofs/{key}"}
    owner |= {"creator": creator, "copyright": "© {year} " + creator} if creator else {}
    owner |= {"contact": contact} if contact else {}
    assert found == {
        "service": {"state": "state"},
        "photographers": {key: owner},
        "destinations": {
            destination.name: {
                "folder": f"out/{{photographer}}/{destination.name}",
                "size": {"long_edge": destination.long_edge},
            }
            for destination in destinations
        },
    }


@settings(max_examples=200, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(creator=TYPED, contact=TYPED, drop=TYPED, destination=TYPED, edge=TYPED)
@example(creator="Ida Marrow", contact="", drop=WHAT_WINDOWS_DRAWS, destination="club", edge="1050")
@example(creator="CON", contact="", drop="~", destination="club", edge="1050")
def test_what_the_questions_take_loads(
    tmp_path: Path, creator: str, contact: str, drop: str, destination: str, edge: str
) -> None:
    """Whatever is typed is refused with a reason or stands in a config without a fault."""
    name = taken_or("", read_words(creator))
    called = taken_or("portfolio", read_destination(destination, []))
    long_edge = taken_or(1050, read_edge(edge))
    taken = FirstAnswers(
        creator=name, contact=taken_or("", read_words(contact)), drop=taken_or("drop/me", read_folder(drop, tmp_path)),
        destinations=(FirstDestination(name=called, long_edge=long_edge),),
    )  # fmt: skip
    path = tmp_path / "lanternslide.toml"
    path.write_text(render_first(taken, REFERENCE), "utf-8")

    loaded = load_settings(path)

    assert loaded.photographers[taken.key].drop == tmp_path / taken.drop
    assert loaded.photographers[taken.key].creator == (name or None)
    assert loaded.destinations[called].size.long_edge == long_edge


def test_the_config_can_be_read_on_a_narrow_terminal() -> None:
    """With usual answers, no line is longer than 80 columns."""
    text = render_first(answers("Ida Marrow", "ida@skerrow.example", "drop/ida"), REFERENCE)

    assert max(map(len, text.splitlines())) <= 80


@pytest.mark.parametrize("folder", ["with\nline", "\u202eback", "caf\udce9"])
def test_the_path_of_the_reference_stays_a_remark(folder: str) -> None:
    """A path that holds a line end or bytes that are no text cannot break out of its line."""
    text = render_first(answers(), Path("/") / folder / "reference.toml")

    assert tomllib.loads(text)["photographers"].keys() == {"me"}
    text.encode()


@pytest.mark.parametrize(
    ("name", "key"),
    [
        ("Ida Marrow", "ida"),
        ("Zoë Märrow", "zoe"),
        ("O'Brien", "obrien"),
        ("Ида", "ida"),
        ("", "me"),
        ("--", "me"),
        ("\"' x", "me"),
        ("Con Marrow", "me"),
        ("Com1", "me"),
        ("a" * 80, "a" * 64),
    ],
)
def test_the_first_name_is_the_key(name: str, key: str) -> None:
    """In plain lower-case letters, allowed in a config and as a folder on every system; else a word for oneself."""
    assert key_for(name) == key
