"""What an owner is told about a config that is not valid: the line, what is wrong, and how to write it."""

from __future__ import annotations

import codecs
import re
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lanternslide.config import find_config, load_settings
from lanternslide.config.checks.syntax import Slip, decode, slip_in
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
            "This line has a space or character that cannot be seen. Type it again: quality = 90",
        ),
        (6, "copyright = © {year} Ida Marrow", 'Put text into quotation marks: copyright = "© {year} Ida Marrow"'),
        (
            6,
            'creator = "Ida "the cat" Marrow"',
            "single quotation marks around text that has double ones: creator = 'Ida",
        ),
        (5, 'drop = "D:\\Ida\'s\\Drop"', 'Write / in place of each backslash: drop = "D:/Ida\'s/Drop"'),
        (5, 'drop = "D:\\Ida\\Drop', 'Write / in place of each backslash: drop = "D:/Ida/Drop"'),
        (12, "size = { long_edge: 1050 }", "Write = between a key and its value: size = { long_edge = 1050 }"),
        (12, "size = { long_edge = 1050, }", "Remove the comma before the closing }: size = { long_edge = 1050 }"),
        (
            12,
            "size = { long_edge = 1050 px, enlarge = yes }",
            "More than one thing is wrong in this line. Write: size = ",
        ),
        (13, "quality = 90 // enough", "A comment begins with #: quality = 90 # enough"),
        (10, "[destinations.my site]", "a to z, A to Z, digits, _ and -. Write [destinations.my-site]"),
        (4, "[photographers.ída]", "a to z, A to Z, digits, _ and -. Write [photographers.ida]"),
        (13, "[destinations.portfolio.size]", "The key size is in line 12 already."),
        (5, 'drop = "drop/ida   # here', 'Put one on each side of the text: drop = "drop/ida"  # here'),
        (13, "quality = 90;", "Nothing stands after a value: quality = 90"),
        (13, "quality = 90,  # enough", "Nothing stands after a value: quality = 90  # enough"),
        (13, "quality = 090", "Write a number without a 0 in front: quality = 90"),
        (12, "size = { box = 1920x1080 }", "into square brackets: size = { box = [1920, 1080] }"),
        (12, "size = { box = (1920, 1080) }", "into square brackets: size = { box = [1920, 1080] }"),
        (7, 'otherwise = ["portfolio" "club"]', "a comma between the items of a list: otherwise = ["),
        (12, "size = { box = [1920 1080] }", "a comma between the items of a list: size = { box = [1920, 1080] }"),
        (7, 'otherwise = ("portfolio", "club")', 'Put a list into square brackets: otherwise = ["portfolio", "club"]'),
        (7, 'otherwise = "portfolio", "club"  # both', "Put a list into square brackets: otherwise = ["),
        (10, "[[destinations.portfolio]", "Write the heading with single brackets: [destinations.portfolio]"),
        (6, 'creator == "Ida Marrow"', 'Write = between a key and its value: creator = "Ida Marrow"'),
        (13, "— quality", "A comment begins with #: # quality"),
        (13, "; quality = 90", "A comment begins with #: # quality = 90"),
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
    if any(without in says for without in ("in line", "cannot be read", "no value after")):
        return  # there is no line to propose
    right = re.split(r"Write (?=\[)|: (?!.*: )", fault.said.text)[-1]
    lines[line - 1] = right
    text = "\n".join(lines)
    if "my-site" in right:  # the picture goes where that name is
        text = text.replace('["portfolio"]', '["my-site"]')
    if "club" in right:
        text += '\n[destinations.club]\nfolder = "out/club"\nsize = { long_edge = 900 }\n'
    (tmp_path / "mended.toml").write_text(text)
    assert load_settings(tmp_path / "mended.toml").destinations


def test_a_list_over_several_lines_is_not_closed_in_the_middle(tmp_path: Path) -> None:
    """The line that is wrong is shown, not the one that the list begins in."""
    fault = fault_of(tmp_path, GOOD.replace('["portfolio"]', "[\n  portfolio\n]").encode())

    assert fault.key == "line 8"
    assert "This line cannot be read" in fault.said.text


@pytest.mark.parametrize(
    ("spoilt", "right"),
    [
        ("size = {\n  long_edge = 1050\n}", "size = { long_edge = 1050 }"),
        (
            'watermark = {\n  text = "{year} Ida",\n  corner = "lower right"\n}',
            'watermark = { text = "{year} Ida", corner = "lower right" }',
        ),
        (
            'watermark = {\n  text = "#1 Ida",  # mine\n  corner = "lower right"\n}',
            'watermark = { text = "#1 Ida", corner = "lower right" }',
        ),
        (
            "sharpen = {\n  steps = 1,\n  finish = { radius = 0.6, amount = 100 },\n}",
            "sharpen = { steps = 1, finish = { radius = 0.6, amount = 100 } }",
        ),
        ("size = {\n  long_edge = 1050, # pixels\n  enlarge = true,\n}", "size = { long_edge = 1050, enlarge = true }"),
    ],
)
def test_a_table_over_several_lines_is_written_on_one(tmp_path: Path, spoilt: str, right: str) -> None:
    """TOML wants a table in braces on one line (TOML 1.0.0, "Inline Table"); nothing in it is lost."""
    key = spoilt.partition(" ")[0]
    former = next((line for line in GOOD.splitlines() if line.startswith(f"{key} = ")), "quality = 90")
    fault = fault_of(tmp_path, GOOD.replace(former, spoilt).encode())

    first = GOOD.splitlines().index(former) + 1
    place = f"Write this in place of lines {first} to {first + spoilt.count(chr(10))}"
    assert fault.said.text == f"A table in braces must stand on one line. {place}: {right}"
    (tmp_path / "mended.toml").write_text(GOOD.replace(former, right))
    assert load_settings(tmp_path / "mended.toml").destinations


def test_an_open_table_is_not_closed_as_an_empty_one(tmp_path: Path) -> None:
    """What belongs in it stands below."""
    fault = fault_of(tmp_path, GOOD.replace("quality = 90", "tone = {\n\n").encode())

    assert "{ }" not in fault.said.text


def test_a_line_with_nothing_to_see_is_to_be_deleted(tmp_path: Path) -> None:
    """There is nothing to type again."""
    fault = fault_of(tmp_path, GOOD.replace("quality = 90", "quality = 90\n\a").encode())

    assert (fault.key, "Delete the line." in fault.said.text) == ("line 14", True)


def test_a_text_that_would_have_quotation_marks_in_it_is_not_proposed(tmp_path: Path) -> None:
    """A text over several lines that is not closed has no likely right form."""
    fault = fault_of(tmp_path, GOOD.replace('drop = "drop/ida"', 'drop = """drop/ida').encode())

    assert "This line cannot be read" in fault.said.text


@pytest.mark.parametrize(
    ("heading", "says"),
    [
        ("[[destinations.portfolio]]", "Write the heading with single brackets: [destinations.portfolio]"),
        ("[Destinations.portfolio]", "There is no heading [Destinations]. Write [destinations.portfolio]"),
        ("[destination.portfolio]", "There is no heading [destination]. Write [destinations.portfolio]"),
        ("[destinaitons.portfolio]", "There is no heading [destinaitons]. Write [destinations.portfolio]"),
        ("[destinations]", "This heading needs a name, such as [destinations.portfolio]."),
        ("[portfolio]", "There is no heading [portfolio]. Write [destinations.portfolio]"),
    ],
)
def test_a_wrong_heading_is_one_fault(tmp_path: Path, heading: str, says: str) -> None:
    """What is missing because of it is no fault of its own."""
    assert fault_of(tmp_path, GOOD.replace("[destinations.portfolio]", heading).encode()).said.text == says


@pytest.mark.parametrize(
    "absurd",
    [
        f"quality = {'9' * 5000}",
        f"tags = {'[' * 3000}",
        f"[destinations.{'.'.join('a' * 3000)}]",
        f'creator = "{chr(92) * 20_000}',
        f"creator = {' ' * 20_000}x",
    ],
    ids=["a long number", "many brackets", "many dots", "many backslashes", "many spaces"],
)
def test_what_nobody_writes_is_refused_all_the_same(tmp_path: Path, absurd: str) -> None:
    """At once, and as any other fault: a running service goes on with its former config."""
    fault_of(tmp_path, f"{GOOD}{absurd}\n".encode())


def test_the_mark_stands_below_wide_letters(tmp_path: Path) -> None:
    """Which take two columns each (Unicode Standard Annex 11)."""
    fault = fault_of(tmp_path, GOOD.replace('"Ida Marrow"\n', '"写真家" x\n', 1).encode())

    assert fault.excerpt.splitlines()[1] == " " * (len('creator = "') + 2 * 3 + len('" ')) + "^"


def test_a_tag_may_be_written_as_in_a_name(tmp_path: Path) -> None:
    """With its @."""
    path = tmp_path / "lanternslide.toml"
    path.write_text(GOOD + 'tags = ["@web"]\n')

    assert load_settings(path).destinations["portfolio"].tags == ("web",)


@pytest.mark.parametrize(
    ("spoilt", "key", "says"),
    [
        ('otherwise = "portfolio, portfolio"', "photographers.ida.otherwise", 'a list: ["portfolio", "portfolio"].'),
        ('otherwise = ""', "photographers.ida.otherwise", "Write a list: []."),
        ('quality = "90"', "destinations.portfolio.quality", "Write a number without quotation marks: quality = 90"),
        ("long_edge = 900", "destinations.portfolio.long_edge", "Write size = { long_edge = 900 }"),
        ('otherwise = "portfolio"', "photographers.ida.otherwise", 'Found "portfolio". Write a list: ["portfolio"].'),
        ('drop = "C:\\temp\\new"', "photographers.ida.drop", "Use single ones: drop = 'C:\\temp\\new'"),
        ("override_rights = 'yes'", "photographers.ida.override_rights", 'Found "yes". Allowed: true or false.'),
        ('drop = "D:\\bilder/Bücher"', "photographers.ida.drop", "Use single ones: drop = 'D:\\bilder/Bücher'"),
        ('watermark = { text = "Ida\tM" }', "destinations.portfolio.watermark.text", "Allowed: text"),
        ('densities = "2"', "destinations.portfolio.densities", "a list of 1 to 4 different numbers from 1 to 4"),
        ('max_bytes = "500"', "destinations.portfolio.max_bytes", 'with its unit, such as "500 kB"'),
        ("max_bytes = 500_000", "destinations.portfolio.max_bytes", 'with its unit, such as "500 kB"'),
        ('name = "picture.jpg"', "destinations.portfolio.name", "Different pictures would get the same name."),
        ('name = "{year}-{width}.jpg"', "destinations.portfolio.name", "Add {stem}, the original's name, or {date}."),
        (
            "size = { long_edge = 2 }",
            "destinations.portfolio.size.long_edge",
            "Found 2. Allowed: pixels, 16 to 100000.",
        ),
        ("size = { box = [1920, 8] }", "destinations.portfolio.size.box", "in pixels, 16 to 100000 each"),
        (
            "enlarge = true",
            "destinations.portfolio.enlarge",
            "This key belongs in size. Write size = { long_edge = 1050, enlarge = true }",
        ),
        ("height = 700", "destinations.portfolio.height", "Write size = { height = 700 }"),
        ('corner = "upper left"', "destinations.portfolio.corner", 'height = 0.04, corner = "upper left" }'),
        ("lead = { radius = 1 }", "destinations.portfolio.lead", "This key belongs in sharpen. Write it there."),
        ("size = 1050", "destinations.portfolio.size", "For example: size = { long_edge = 1050 }"),
        ('watermark = "Ida"', "destinations.portfolio.watermark", "For example: watermark = { text = "),
        ('sharpen = "strong"', "destinations.portfolio.sharpen", "For example: sharpen = { strength = 0.8 }"),
        ("strength = 0.8", "destinations.portfolio.strength", "Write sharpen = { strength = 0.8 }"),
        (
            "opacity = 0.5",
            "destinations.portfolio.opacity",
            'Write watermark = { text = "Ida Marrow", height = 0.04, opacity',
        ),
        ("brightness = 5", "destinations.portfolio.brightness", "Write tone = { brightness = 5 }"),
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


def test_rich_text_is_named(tmp_path: Path) -> None:
    """As some editors save it if nobody tells them."""
    fault = fault_of(tmp_path, b"{\\rtf1\\ansi [service]}")

    assert fault.said.text == "This file is saved as rich text. Save it as plain text in your editor."


def test_a_second_ending_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An editor may add one, which Windows hides."""
    (tmp_path / "lanternslide.toml.txt").touch()
    monkeypatch.chdir(tmp_path)

    with pytest.raises(ConfigError, match=r"lanternslide\.toml\.txt here\. Rename it to lanternslide\.toml\."):
        find_config(None, {})


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
    spoilt = f'creator = "{"Ida " * 40}" x'

    fault = fault_of(tmp_path, GOOD.replace('creator = "Ida Marrow"', spoilt).encode())

    shown, mark = fault.excerpt.splitlines()
    assert len(shown) <= 72
    assert shown[len(mark) - 1] == "x"


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
