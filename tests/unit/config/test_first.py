"""The first config: whatever was answered, it is TOML that says just that, and it loads."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import TypeVar

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

import lanternslide.config
from lanternslide.config import FirstAnswers, FirstPlace, key_for, load_settings, reference_file, render_first
from lanternslide.config.answers import in_the_way_of, read_edge, read_folder, read_place, read_words
from lanternslide.config.first import toml_text
from lanternslide.words import Beginning, Said

CHECKOUT = Path(__file__).resolve().parents[3]
REFERENCE = Path("/made/up/reference.toml")
WHAT_WINDOWS_DRAWS = 'C:\\Users\\Zoë\\Bilder für\'s "Web"'

Answer = TypeVar("Answer")

TYPED = st.text(
    st.one_of(st.characters(exclude_categories=["Cs"]), st.sampled_from("\"'\\#{}[]=\n\r\t\0🦭äß~/ \u200d\u3000")),
    max_size=40,
)
NAMES = st.from_regex(r"[A-Za-z0-9_][A-Za-z0-9_-]{0,63}", fullmatch=True)
PLACES = st.lists(
    st.builds(FirstPlace, name=NAMES, long_edge=st.integers(1, 100_000)),
    min_size=1, max_size=4, unique_by=lambda place: place.name.casefold(),
)  # fmt: skip


def answers(creator: str = "", contact: str = "", drop: str = "drop/me", place: str = "portfolio") -> FirstAnswers:
    """Return answers that say nothing special but for what is given."""
    places = (FirstPlace(name=place, long_edge=1050),)
    return FirstAnswers(creator=creator, contact=contact, drop=drop, places=places)


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


@given(creator=TYPED, contact=TYPED, drop=TYPED, places=PLACES)
def test_any_answers_become_a_config_that_says_them(
    creator: str, contact: str, drop: str, places: list[FirstPlace]
) -> None:
    """Each answer stands under its key, what was not answered under none, and there is nothing else."""
    given_answers = FirstAnswers(creator=creator, contact=contact, drop=drop, places=tuple(places))

    found = tomllib.loads(render_first(given_answers, REFERENCE))

    key = given_answers.key
    owner = {"drop": drop, "otherwise": [places[0].name], "proofs": f"proofs/{key}"}
    owner |= {"creator": creator, "copyright": "© {year} " + creator} if creator else {}
    owner |= {"contact": contact} if contact else {}
    assert found == {
        "service": {"state": "state"},
        "photographers": {key: owner},
        "destinations": {
            place.name: {
                "folder": f"out/{{photographer}}/{place.name}",
                "size": {"long_edge": place.long_edge},
            }
            for place in places
        },
    }


@settings(max_examples=200, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(creator=TYPED, contact=TYPED, drop=TYPED, place=TYPED, edge=TYPED)
@example(creator="Ida Marrow", contact="", drop=WHAT_WINDOWS_DRAWS, place="club", edge="1050")
@example(creator="CON", contact="", drop="~", place="club", edge="1050")
def test_what_the_questions_take_loads(
    tmp_path: Path, creator: str, contact: str, drop: str, place: str, edge: str
) -> None:
    """Whatever is typed is refused with a reason or stands in a config without a fault."""
    name = taken_or("", read_words(creator))
    called = taken_or("portfolio", read_place(place, []))
    long_edge = taken_or(1050, read_edge(edge))
    taken = FirstAnswers(
        creator=name, contact=taken_or("", read_words(contact)), drop=taken_or("drop/me", read_folder(drop, tmp_path)),
        places=(FirstPlace(name=called, long_edge=long_edge),),
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


# The reference


def test_the_reference_is_where_the_config_says() -> None:
    """In a checkout it is the one file; the wheel is told to put it where the installed code looks."""
    wheel = tomllib.loads((CHECKOUT / "pyproject.toml").read_text("utf-8"))["tool"]["hatch"]["build"]["targets"]
    (installed,) = wheel["wheel"]["force-include"].items()

    assert reference_file() == CHECKOUT / "config" / "reference.toml"
    assert installed == ("config/reference.toml", "lanternslide/config/reference.toml")
    assert Path(lanternslide.config.__file__).parent.parts[-2:] == ("lanternslide", "config")
    assert "config/reference.toml" in wheel["sdist"]["include"]


# Answers


@pytest.mark.parametrize(
    ("drop", "why"),
    [
        ("out", "not-apart"),
        ("out/ida/portfolio", "not-apart"),
        ("proofs/me/deep", "not-apart"),
        ("state", "not-apart"),
        (".", "not-apart"),
        ("..", "not-apart"),
        ("x/../out", "not-apart"),
        ("linked", "not-apart"),
        ("file", "file-in-the-way"),
        ("file/deeper", "file-in-the-way"),
        ("", "unseen"),
        ("'  '", "unseen"),
        ("''", "unseen"),
        ('""', "unseen"),
        ("drop\x07", "unseen"),
        ("~nobody-of-this-name/drop", "no-home"),
    ],
)
def test_drop_folders_that_cannot_be_are_refused(tmp_path: Path, drop: str, why: str) -> None:
    """Inside or around what the service writes, by a link too; where a file is; not to be told."""
    (tmp_path / "out").mkdir()
    (tmp_path / "linked").symlink_to(tmp_path / "out")
    (tmp_path / "file").touch()

    assert reason(read_folder(drop, tmp_path)) == why


@pytest.mark.parametrize(
    ("typed", "drop"),
    [
        ("  drop/ida ", "drop/ida"),
        ("'/srv/My Pictures'", "/srv/My Pictures"),
        ('"/srv/My Pictures"', "/srv/My Pictures"),
        ("outside", "outside"),
        ("~/drop", "/home/of/ida/drop"),
        ("~", "/home/of/ida"),
        ("'", "'"),
    ],
)
def test_drop_folders_stand_as_they_were_typed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, typed: str, drop: str
) -> None:
    """Without the quotation marks that a terminal puts around what is dragged onto it; a home is written out."""
    monkeypatch.setenv("HOME", "/home/of/ida")

    assert read_folder(typed, tmp_path) == drop


@pytest.mark.parametrize("typed", [WHAT_WINDOWS_DRAWS, "D:/Drop", "\\\\nas\\photos"])
def test_a_folder_of_another_system_is_refused(tmp_path: Path, typed: str) -> None:
    """Elsewhere than on Windows it would become a folder of that odd name."""
    found = read_folder(typed, tmp_path)

    assert isinstance(found, Said)
    assert found.key == Beginning.FROM_WINDOWS.value


def test_what_is_in_the_way_is_the_file_itself(tmp_path: Path) -> None:
    """The nearest thing that is there and no folder, a link that leads nowhere too; nothing where a folder can be."""
    (tmp_path / "link").symlink_to("nowhere")

    assert in_the_way_of(tmp_path / "link" / "a" / "b") == tmp_path / "link"
    assert in_the_way_of(tmp_path / "a" / "b") is None


@pytest.mark.parametrize(("typed", "edge"), [("1050", 1050), (" 1 ", 1), ("1600px", 1600), ("1600 Pixels", 1600)])
def test_sizes_are_whole_numbers_of_pixels(typed: str, edge: int) -> None:
    """With or without their unit."""
    assert read_edge(typed) == edge


@pytest.mark.parametrize("typed", ["", "0", "-5", "100001", "10.5", "1e3", "large", "١٠٥٠", "1050 cm", "9" * 5000])
def test_other_sizes_are_refused(typed: str) -> None:
    """What a config would not take is not taken here."""
    assert reason(read_edge(typed)) == "no-edge"


@pytest.mark.parametrize(
    ("typed", "why"),
    [
        ("my site", "no-name"),
        ("-club", "no-name"),
        ("clüb", "no-name"),
        ("", "no-name"),
        ("club\n", None),
        ("a" * 65, "no-name"),
        ("../out", "no-name"),
        ("NUL", "reserved-name"),
        ("Portfolio", "same-name"),
        ("portfolio-2", None),
    ],
)
def test_places_have_names_that_a_config_takes(typed: str, why: str | None) -> None:
    """Each once, without regard to case."""
    answer = read_place(typed, ["portfolio"])

    assert answer == typed.strip() if why is None else reason(answer) == why


def test_names_are_texts_that_can_be_seen() -> None:
    """Spaces of all kinds become plain ones; characters that cannot be seen are refused."""
    assert read_words(" 山田\u3000太郎\xa0 ") == "山田 太郎"
    assert read_words("  ") == ""
    assert reason(read_words("Ida\u202eMarrow")) == "unseen"
