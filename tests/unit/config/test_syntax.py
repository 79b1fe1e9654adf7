"""What an owner is told about a config that is not valid: the line, what is wrong, and how to write it."""

from __future__ import annotations

import codecs
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lanternslide.config import load_settings
from lanternslide.config.syntax import Slip, decode, slip_in
from lanternslide.errors import ConfigError, ConfigFault
from lanternslide.words import say

GOOD = """\
[service]
state = "state"

[photographers.ida]
drop = "drop/ida"
creator = "Ida Marrow"
otherwise = ["portfolio"]
override_rights = false

[destinations.portfolio]
folder = "out/portfolio"
size = { long_edge = 1050 }
quality = 90
watermark = { text = "Ida Marrow", height = 0.04 }
"""


def fault_of(folder: Path, data: bytes) -> ConfigFault:
    """Return the one fault of a config."""
    path = folder / "lanternslide.toml"
    path.write_bytes(data)
    with pytest.raises(ConfigError) as error:
        load_settings(path)
    (fault,) = error.value.faults
    return fault


def test_the_good_one_is_good(tmp_path: Path) -> None:
    """So that each of the others has one fault."""
    (tmp_path / "lanternslide.toml").write_text(GOOD)
    assert load_settings(tmp_path / "lanternslide.toml").destinations


@pytest.mark.parametrize(
    ("line", "spoilt", "says"),
    [
        (6, "creator = “Ida Marrow”", 'quotation marks are curly. Write straight ones: creator = "Ida Marrow"'),
        (6, "creator = ‘Ida Marrow’", "curly. Write straight ones: creator = 'Ida Marrow'"),
        (6, 'creator = "Ida Marrow', 'A quotation mark is missing. Put one on each side of the text: creator = "Ida M'),
        (6, 'creator = Ida Marrow"', 'A quotation mark is missing. Put one on each side of the text: creator = "Ida M'),
        (6, "creator = Ida Marrow", 'Put text into quotation marks: creator = "Ida Marrow"'),
        (6, "creator = Ida Marrow # me", 'Put text into quotation marks: creator = "Ida Marrow"  # me'),
        (6, "creator = 'Ida's pictures'", 'Put text into quotation marks: creator = "Ida\'s pictures"'),
        (5, "drop = ~/Pictures", 'Put text into quotation marks: drop = "~/Pictures"'),
        (5, "drop = D:\\Drop", "Put text into quotation marks: drop = 'D:\\Drop'"),
        (
            5,
            'drop = "D:\\Users\\ida"',
            "a backslash begins a special character. Use single ones: drop = 'D:\\Users\\ida'",
        ),
        (5, 'drop = "\\\\nas\\photos"', "Use single ones: drop = '\\\\nas\\photos'"),
        (8, "override_rights = no", "Write true or false, in small letters: override_rights = false"),
        (8, "override_rights = True", "Write true or false, in small letters: override_rights = true"),
        (12, "size = { long_edge = 1050px }", "Write the number without its unit: size = { long_edge = 1050 }"),
        (13, "quality = 90 %", "Write the number without its unit: quality = 90"),
        (12, "size = { long_edge = 1,050 }", "nothing between its thousands: size = { long_edge = 1050 }"),
        (
            13,
            "min_ssim = 0,985",
            "a point before its decimals, and with nothing between its thousands: min_ssim = 0.985",
        ),
        (13, "densities = 1, 2", "Put a list into square brackets: densities = [1, 2]"),
        (13, "tags = gallery, web", 'Put a list into square brackets: tags = ["gallery", "web"]'),
        (5, r"drop = “D:\Drop\ida”", r"curly. Write straight ones: drop = 'D:\Drop\ida'"),
        (13, "max_bytes = 500 kB", 'Put text into quotation marks: max_bytes = "500 kB"'),
        (12, "size = { long_edge = 1050", "A closing bracket is missing: size = { long_edge = 1050 }"),
        (7, 'otherwise = ["portfolio"', 'A closing bracket is missing: otherwise = ["portfolio"]'),
        (
            7,
            'otherwise = ["portfolio]',
            'A quotation mark is missing. Put one on each side of the text: otherwise = ["po',
        ),
        (7, "otherwise = portfolio", 'Put a list into square brackets: otherwise = ["portfolio"]'),
        (7, "otherwise = [portfolio, club]", 'Put text into quotation marks: otherwise = ["portfolio", "club"]'),
        (10, "[destinations.portfolio", "A closing bracket is missing: [destinations.portfolio]"),
        (10, "[photographers.ida]", "The heading [photographers.ida] is in line 4 already."),
        (13, 'folder = "elsewhere"', "The key folder is in line 11 already. Leave one of the two lines out."),
        (13, "quality: 90", "Write = between a key and its value: quality = 90"),
        (13, "quality =", "There is no value after the =. Give one, or put # before the line."),
        (
            13,
            "quality\u00a0= 90",
            "You cannot see a space or a letter in this line. Type it again: quality = 90",
        ),
        (13, "quality 90", "This line cannot be read ("),
        # Nothing is proposed that would be refused, or that means something else.
        (8, "proofs = on", "This line cannot be read ("),
        (13, "quality = 90,5", "This line cannot be read ("),
        (8, "originals = none", "This line cannot be read ("),
    ],
)
def test_a_spoilt_line_is_shown_with_how_to_write_it(tmp_path: Path, line: int, spoilt: str, says: str) -> None:
    """Where it is, what is wrong, and a line that is valid in its place; the line itself, with a mark below it."""
    lines = GOOD.splitlines()
    lines[line - 1] = spoilt

    fault = fault_of(tmp_path, "\n".join(lines).encode())

    assert fault.key == f"line {line}"
    assert says in fault.said.text
    shown, mark = fault.excerpt.splitlines()
    assert shown == spoilt.replace("\u00a0", "␣")
    assert mark.strip() == "^"
    assert len(mark) <= len(shown) + 1
    assert str(fault).count("\n    ") == 2
    if ": " in says and "line" not in says:
        lines[line - 1] = fault.said.text.rpartition(": ")[2].replace(', "club"', "")
        (tmp_path / "mended.toml").write_text("\n".join(lines))
        assert load_settings(tmp_path / "mended.toml").destinations


def test_a_list_over_several_lines_is_not_closed_in_the_middle(tmp_path: Path) -> None:
    """The line that is wrong is shown, not the one that the list begins in."""
    fault = fault_of(tmp_path, GOOD.replace('["portfolio"]', "[\n  portfolio\n]").encode())

    assert fault.key == "line 8"
    assert "This line cannot be read" in fault.said.text


@pytest.mark.parametrize(
    ("spoilt", "key", "says"),
    [
        ('otherwise = "portfolio"', "photographers.ida.otherwise", 'Found "portfolio". Write a list: ["portfolio"].'),
        ('drop = "C:\\temp\\new"', "photographers.ida.drop", "Use single ones: drop = 'C:\\temp\\new'"),
        ("override_rights = 'yes'", "photographers.ida.override_rights", 'Found "yes". Allowed: true or false.'),
        ('drop = "D:\\bilder/Bücher"', "photographers.ida.drop", "Use single ones: drop = 'D:\\bilder/Bücher'"),
        ('watermark = { text = "Ida\tM" }', "destinations.portfolio.watermark.text", "Allowed: text"),
        ('densities = "2"', "destinations.portfolio.densities", "a list of 1 to 4 different numbers from 1 to 4"),
        ('max_bytes = "500"', "destinations.portfolio.max_bytes", 'with its unit, such as "500 kB"'),
        ("max_bytes = 500_000", "destinations.portfolio.max_bytes", 'with its unit, such as "500 kB"'),
        ('name = "picture.jpg"', "destinations.portfolio.name", "All pictures would be called alike."),
        ('name = "{year}-{width}.jpg"', "destinations.portfolio.name", "Put {stem}, the original's name, or {date}"),
        (
            "size = { long_edge = 2 }",
            "destinations.portfolio.size.long_edge",
            "Found 2. Allowed: pixels, 16 to 100000.",
        ),
        ("size = { box = [1920, 8] }", "destinations.portfolio.size.box", "in pixels, 16 to 100000 each"),
        ('creator = "Ida"', "destinations.portfolio.creator", "This key belongs to [photographers.NAME]."),
        ("workers = 2", "destinations.portfolio.workers", "This key belongs to [service]."),
        (
            "tone = { quality = 90 }",
            "destinations.portfolio.tone.quality",
            "This key belongs to [destinations.portfolio].",
        ),
    ],
)
def test_a_spoilt_value_is_told_how_to_write(tmp_path: Path, spoilt: str, key: str, says: str) -> None:
    """What is valid TOML and no config: each with what is right in its place."""
    name = spoilt.partition(" ")[0]
    former = [line for line in GOOD.splitlines() if line.startswith(f"{name} = ")]
    text = GOOD.replace(former[0], spoilt) if former and "creator" not in spoilt else GOOD + spoilt + "\n"

    fault = fault_of(tmp_path, text.encode())

    assert (fault.key, fault.excerpt) == (key, "")
    assert says in fault.said.text


def test_a_name_with_a_dot_is_told_in_one_sentence(tmp_path: Path) -> None:
    """A dot in a heading makes a table in a table; what that lacks is no fault of its own."""
    text = GOOD.replace("[destinations.portfolio]", "[destinations.my.site]").replace('["portfolio"]', "[]")

    fault = fault_of(tmp_path, text.encode())

    assert fault.said.text == "A name has no dots. Write [destinations.my-site]."
    fault = fault_of(tmp_path, text.replace("my.site", "www.skerrow.example").encode())
    assert fault.said.text == "A name has no dots. Write [destinations.www-skerrow-example]."


@pytest.mark.parametrize(("table", "near"), [("forcast", "forecast"), ("tones", "tone")])
def test_a_misspelt_table_is_no_name_with_a_dot(tmp_path: Path, table: str, near: str) -> None:
    """What stands around it is a destination already."""
    fault = fault_of(tmp_path, f"{GOOD}[destinations.portfolio.{table}]\nquality = 80\n".encode())

    assert f"did you mean “{near}”" in fault.said.text


def test_a_mark_before_the_text_moves_nothing(tmp_path: Path) -> None:
    """The line and the letter are found behind it."""
    data = codecs.BOM_UTF8 + "# é\n".encode() + b"caf\xe9 = 1"

    fault = fault_of(tmp_path, data)

    assert (fault.key, fault.excerpt) == ("line 2", "café = 1\n   ^")


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-16-be", "utf-32"])
def test_another_encoding_is_named(tmp_path: Path, encoding: str) -> None:
    """As some editors save a text."""
    fault = fault_of(tmp_path, GOOD.encode(encoding))

    assert fault.said.text == f"This file is saved as {encoding[:6].upper()}. Save it as UTF-8 in your editor."


def test_a_letter_of_an_old_code_page_is_shown(tmp_path: Path) -> None:
    """As Windows writes it where it does not write UTF-8."""
    fault = fault_of(tmp_path, GOOD.replace("Ida Marrow", "Ída").encode("cp1252"))

    assert fault.key == "line 6"
    assert "not in UTF-8" in fault.said.text
    assert fault.excerpt == 'creator = "Ída"\n' + " " * 11 + "^"


def test_lines_of_windows_and_a_mark_are_no_fault() -> None:
    """Editors there write both."""
    assert decode(GOOD.replace("\n", "\r\n").encode("utf-8-sig")) == GOOD


def test_a_long_line_is_shown_around_the_place(tmp_path: Path) -> None:
    """So that it fits a window, and the mark stands below its letter."""
    spoilt = f'creator = "{"Ida " * 40}" “x”'

    fault = fault_of(tmp_path, GOOD.replace('creator = "Ida Marrow"', spoilt).encode())

    shown, mark = fault.excerpt.splitlines()
    assert len(shown) <= 96
    assert shown[len(mark) - 1] == "“"


def test_tabs_are_no_fault(tmp_path: Path) -> None:
    """TOML takes them as spaces; where another fault is, the mark stands below its letter all the same."""
    (tmp_path / "lanternslide.toml").write_text(GOOD.replace("quality = 90", "\tquality\t=\t90"))
    assert load_settings(tmp_path / "lanternslide.toml").destinations

    fault = fault_of(tmp_path, GOOD.replace("quality = 90", "\tquality\t=\t90px").encode())
    assert fault.excerpt == " quality = 90px\n             ^"


def test_a_slip_of_the_whole_file_has_no_line() -> None:
    """There is none to show."""
    slip = decode(b"\xff\xfea\0")

    assert isinstance(slip, Slip)
    assert (slip.line, slip.excerpt) == (None, "")


@given(st.text(st.sampled_from("ab = '\"[]{}#,.\\\n\t0159:“”kpx%\u00a0"), max_size=40))
def test_whatever_stands_there_something_is_said(text: str) -> None:
    """No text is beyond it; what is shown is a line of it."""
    try:
        tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        slip = slip_in(text, error, lambda *_: True)
        assert slip.line is not None
        assert 1 <= slip.line <= text.count("\n") + 1
        assert say(slip.word, **slip.places).text
        assert len(slip.excerpt.splitlines()) == 2
