"""What is wrong in a config that is not valid TOML: the line, and how to write it. Pure.

The parser says where it stopped, and calls things by the names of the grammar. Here the usual slips are tried on that
line, one after the other; what makes it valid is what the owner is shown.
"""

from __future__ import annotations

import codecs
import re
import tomllib
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from anyascii import anyascii
from rich.cells import cell_len

from lanternslide.words import ConfigWord

__all__ = ["Slip", "decode", "slip_in"]

LISTS = ("box", "densities", "destinations", "otherwise", "subfolders", "tags")
"""Keys whose value is a list."""

WHOLE = ("box", "height", "long_edge", "max_megapixels", "scan_seconds", "short_edge", "width")
"""Keys whose numbers may have thousands."""

WORDS_FOR_NONE = ("none", "null", "nil", "off", "on", "yes", "no", "true", "false")
"""No text that stands for itself."""

CURLY = str.maketrans(dict.fromkeys("“”„‟″«»", '"') | dict.fromkeys("‘’‚‛′", "'"))
"""What stands for straight quotation marks where a program is clever."""

YES, NO = ("yes", "on", "true", "y"), ("no", "off", "false", "n")

POSITION = re.compile(r" \(at (?:line ([0-9]+), column ([0-9]+)|end of document)\)$")
"""How the parser ends its messages (Python's tomllib)."""

QUOTES = ('"', "'")

TEXTS = re.compile(r'"(?:[^"\\]|\\.)*"|\'[^\']*\'')
"""Texts that are written right, on one line (TOML 1.0.0, "String")."""

LONGEST_LINE = 2000
"""Letters of a line in which slips are looked for."""

LONGEST_TABLE = 12
"""Lines over which a table in braces is looked for."""

WIDEST = 72
"""A longer line is shown around the place alone, so that it fits a window."""

MARKS = {
    codecs.BOM_UTF32_LE: "UTF-32", codecs.BOM_UTF32_BE: "UTF-32",
    codecs.BOM_UTF16_LE: "UTF-16", codecs.BOM_UTF16_BE: "UTF-16",
}  # fmt: skip
"""Byte order marks, the longer ones first (Unicode Standard, 23.8)."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Slip:
    """What is wrong in one line."""

    word: ConfigWord
    line: int | None = None  #: The line, from 1; None for the file as a whole.
    places: dict[str, str] = field(default_factory=dict)  #: What the sentence names.
    excerpt: str = ""  #: The line, and below it a mark under the place.


def decode(data: bytes) -> str | Slip:
    """Return the text of a config, or what is wrong with its letters: TOML is UTF-8 (TOML 1.0.0, "Spec")."""
    encoding = next((name for mark, name in MARKS.items() if data.startswith(mark)), None)
    if encoding is None and data.count(0) > len(data) / 4:
        encoding = "UTF-16"  # without its mark: every other byte of plain text is 0
    if encoding is not None:
        return Slip(word=ConfigWord.OTHER_ENCODING, places={"encoding": encoding})
    if data.lstrip().startswith(b"{\\rtf"):
        return Slip(word=ConfigWord.RICH_TEXT)
    data = data.removeprefix(codecs.BOM_UTF8)  # editors on Windows put it before a text
    try:
        return data.decode("utf-8").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        before = data[: error.start].decode("utf-8")
        row = before.count("\n")
        shown = data.split(b"\n")[row].decode("cp1252", "replace").rstrip("\r")
        return Slip(
            word=ConfigWord.NOT_UTF8, line=row + 1, excerpt=_excerpt(shown, len(before.rpartition("\n")[2]))
        )  # fmt: skip


def slip_in(text: str, error: tomllib.TOMLDecodeError, takes: Callable[[str, str], bool]) -> Slip:
    """Return what is wrong with a config that the parser refuses with *error*.

    *takes* says of a text that is valid TOML, and of a key in its last line, whether its value there is one that the
    config may have: nothing is proposed that would be refused.
    """
    lines = text.split("\n")
    number, column = _place(str(error), lines)
    if twice := _twice(lines, number, str(error)):
        return twice
    if re.fullmatch(r"\s*[\w.\"-]+\s*=\s*(#.*)?", lines[number]):
        return Slip(word=ConfigWord.NO_VALUE, line=number + 1, excerpt=_excerpt(lines[number], column))
    if several := _over_several(lines, number, takes):
        return several
    for row in _rows(lines, number):
        if len(lines[row]) > LONGEST_LINE:  # nobody wrote that by hand
            continue
        for word, mend in (*MENDS, *_pairs()):
            right = mend(lines[row])
            if right != lines[row] and _is_better(lines, row, right, number, takes):
                if not right.strip():
                    return Slip(word=ConfigWord.UNSEEN_LINE, line=row + 1, excerpt=_excerpt(lines[row], 0))
                at = column if row == number else len(lines[row])
                return Slip(
                    word=word, line=row + 1, places={"right": right.strip()},
                    excerpt=_excerpt(lines[row], _first_difference(lines[row], right, at)),
                )  # fmt: skip
    detail = POSITION.sub("", str(error))
    return Slip(
        word=ConfigWord.NOT_TOML, line=number + 1, places={"detail": detail}, excerpt=_excerpt(lines[number], column)
    )


def _over_several(lines: list[str], number: int, takes: Callable[[str, str], bool]) -> Slip | None:
    """Return that a table in braces goes over several lines, with how to write it on one."""
    for row in (number, number - 1):
        if row < 0 or not re.search(r"=\s*\{\s*$", _without_remark(lines[row])):
            continue
        parts: list[str] = []
        for line in lines[row : row + LONGEST_TABLE]:
            parts.append(_without_remark(line).strip())
            bare = TEXTS.sub("", " ".join(parts))
            if bare.count("{") <= bare.count("}"):
                break
        inside = ", ".join(part.rstrip(",") for part in parts[1:-1] if part)
        last = parts[-1].removesuffix("}").strip().rstrip(",")
        right = f"{parts[0]} {', '.join(filter(None, (inside, last)))} }}"
        key = _key_in(right)
        if inside and _is_valid(right) and key is not None and takes("\n".join([*lines[:row], right]), key):
            return Slip(
                word=ConfigWord.TABLE_ON_ONE_LINE, line=row + 1,
                places={"right": right, "first": str(row + 1), "last": str(row + len(parts))},
                excerpt=_excerpt(lines[row], lines[row].find("{")),
            )  # fmt: skip
    return None


def _without_remark(line: str) -> str:
    """Return a line without the comment at its end."""
    hidden = TEXTS.sub(lambda found: "x" * len(found[0]), line)
    return line[: hidden.index("#")] if "#" in hidden else line


def _pairs() -> Iterator[tuple[ConfigWord, Callable[[str], str]]]:
    """Yield two mends at a time, for a line with two slips."""
    for _, first in MENDS:
        for _, second in MENDS:
            yield ConfigWord.SEVERAL, lambda line, first=first, second=second: second(first(line))  # type: ignore[misc]


def _place(message: str, lines: list[str]) -> tuple[int, int]:
    """Return the row and column, from 0, where the parser stopped."""
    found = POSITION.search(message)
    if found is None or found[1] is None:
        row = max((row for row, line in enumerate(lines) if line.strip()), default=0)
        return row, len(lines[row])
    row = min(int(found[1]) - 1, len(lines) - 1)
    return row, min(int(found[2]) - 1, len(lines[row]))


def _rows(lines: list[str], number: int) -> Iterator[int]:
    """Yield the row where the parser stopped, unless it is valid by itself, and the last one before it that is not."""
    if not _is_valid(lines[number]):
        yield number
    for row in range(number - 1, -1, -1):
        if not _is_valid(lines[row]):
            yield row
            return


def _is_valid(line: str) -> bool:
    try:
        tomllib.loads(line)
    except (ValueError, RecursionError):
        return False
    return True


def _is_better(lines: list[str], row: int, right: str, number: int, takes: Callable[[str, str], bool]) -> bool:
    """Return whether a line in place of another is valid, is taken, and lets the parser get beyond where it stopped."""
    if not _is_valid(right) or any(
        text[:1] in QUOTES or text[-1:] in QUOTES for text in _texts_in(tomllib.loads(right))
    ):
        return False
    try:
        tomllib.loads("\n".join([*lines[:row], right, *lines[row + 1 :]]))
    except tomllib.TOMLDecodeError as error:
        if _place(str(error), lines)[0] <= number:
            return False
    except (ValueError, RecursionError):
        return False
    key = _key_in(right.partition("#")[0])
    return key is None or takes("\n".join([*lines[:row], right]), key)


def _texts_in(value: object) -> Iterator[str]:
    """Yield the texts in what a line says."""
    if isinstance(value, dict):
        value = list(value.values())
    if isinstance(value, list):
        for item in value:
            yield from _texts_in(item)
    elif isinstance(value, str) and value:
        yield value


def _twice(lines: list[str], number: int, message: str) -> Slip | None:
    """Return that a heading or a key stands twice, if that is what the parser says."""
    if not message.startswith(("Cannot declare", "Cannot overwrite", "Cannot redefine", "Cannot mutate")):
        return None
    line = lines[number]
    name = line.partition("#")[0].strip() if line.lstrip().startswith("[") else line.partition("=")[0].strip()
    for row in range(number - 1, -1, -1):
        is_same = lines[row].partition("#")[0].strip() == name if name.startswith("[") else _key_in(lines[row]) == name
        if is_same:
            word = ConfigWord.TABLE_TWICE if name.startswith("[") else ConfigWord.KEY_TWICE
            places = {"name": name, "first": str(row + 1)}
            return Slip(word=word, line=number + 1, places=places, excerpt=_excerpt(line, line.find(name)))
    # The table may be written on one line above.
    key = name.strip("[]").rpartition(".")[2]
    for row in range(number - 1, -1, -1):
        if _key_in(lines[row]) == key:
            places = {"name": key, "first": str(row + 1)}
            return Slip(
                word=ConfigWord.KEY_TWICE, line=number + 1, places=places, excerpt=_excerpt(line, line.find(key))
            )
    return None


def _key_in(line: str) -> str | None:
    return line.partition("=")[0].strip() if "=" in line else None


def _excerpt(line: str, column: int) -> str:
    """Return a line and a mark under its *column*; of a long line what is around that."""
    shown = line.replace("\t", " ")
    shown = "".join(c if c.isprintable() else "\N{OPEN BOX}" for c in shown)
    begin = max(0, min(column - WIDEST // 2, len(shown) - WIDEST))
    return f"{shown[begin : begin + WIDEST].rstrip()}\n{' ' * cell_len(shown[begin:column])}^"


def _first_difference(line: str, right: str, otherwise: int) -> int:
    return next((at for at, (one, other) in enumerate(zip(line, right, strict=False)) if one != other), otherwise)


# How a line may be mended. Each returns the line as it is if that is no matter of its own.


def _outside_texts(line: str, mend: Callable[[str], str]) -> str:
    """Return a line whose parts outside of texts are mended."""
    parts, end = [], 0
    for found in TEXTS.finditer(line):
        parts += [mend(line[end : found.start()]), found[0]]
        end = found.end()
    return "".join([*parts, mend(line[end:])])


def _straight_quotes(line: str) -> str:
    return line.translate(CURLY)


def _plain_spaces(line: str) -> str:
    spaced = "".join(" " if character.isspace() and character != "\t" else character for character in line)
    return "".join(character for character in spaced if character == "\t" or character.isprintable())


def _single_quotes(line: str) -> str:
    """Put texts with backslashes, as Windows has them in folders, into single quotation marks."""
    return re.sub(r'"([^"\']*\\[^"\']*)"', r"'\1'", line)


def _closed_text(line: str) -> str:
    """Close a text that ends with its line."""
    for quote in "\"'":
        bare = TEXTS.sub("", line)
        if bare.count(quote) == 1:
            body, hash_, remark = line.rstrip().partition(" #")  # an open text ends before a comment
            opened = body.rstrip(" \t]}")
            if bare.rstrip().endswith(quote):  # the opening one is missing
                before, equals, value = line.partition("=")
                return f"{before}{equals} {quote}{value.strip()}"
            return f"{opened}{quote}{body[len(opened) :].strip()}{'  #' + remark if hash_ else ''}"
    return line


def _truth(line: str) -> str:
    def mend(part: str) -> str:
        return re.sub(
            r"(=\s*)([A-Za-z]+)(?=\s*(?:[,}#]|$))",
            lambda found: found[1] + ("true" if found[2].lower() in YES else "false")
            if found[2].lower() in (*YES, *NO) else found[0],
            part,
        )  # fmt: skip

    return _outside_texts(line, mend)


def _number_alone(line: str) -> str:
    """Take units away from numbers, but for amounts of bytes, which are texts."""
    return _outside_texts(
        line,
        lambda part: re.sub(
            r"([=\[,]\s*-?[0-9]+(?:\.[0-9]+)?)\s*(?:px|pixels?|mp|megapixels?|seconds?|s|days?|%)(?=\s*(?:[,\]}#]|$))",
            r"\1", part, flags=re.IGNORECASE,
        ),
    )  # fmt: skip


def _plain_number(line: str) -> str:
    """Write decimals with a point, and thousands without anything between."""

    def mend(part: str) -> str:
        thousands = rf"\b({'|'.join(WHOLE)})(\s*=\s*[1-9][0-9]{{0,2}})((?:[,.' ][0-9]{{3}})+)(?=\s*(?:[,}}#]|$))"
        whole = re.sub(thousands, _joined, part)
        return re.sub(r"(=\s*-?[0-9]+),([0-9]+)(?=\s*(?:[},#]|$))", r"\1.\2", whole)

    return _outside_texts(line, mend)


def _joined(found: re.Match[str]) -> str:
    return found[1] + found[2] + re.sub(r"[^0-9]", "", found[3])


def _quoted(line: str) -> str:
    """Put what stands where a text should into quotation marks; names of destinations into a list."""
    before, equals, value = line.partition("=")
    if not equals:
        return line
    value, hash_, remark = value.partition(" #")
    value = value.strip()
    if value.translate(CURLY) != value or value.lower() in WORDS_FOR_NONE:
        return line
    if value.startswith("[") and value.endswith("]"):
        names = [name.strip().strip("\"'") for name in value[1:-1].split(",") if name.strip()]
        mended = f"[{', '.join(name if re.fullmatch(r'[0-9.]+', name) else _text(name) for name in names)}]"
    elif value.startswith("{"):
        mended = re.sub(
            r"(=\s*)([^\s\"'\[{,}0-9][^,}\"']*?)(?=\s*[,}])", lambda found: found[1] + _text(found[2]), value
        )
    elif not re.search(r"[^\W\d_]", value) or set(value) & set('"[]'):  # a text has a letter
        return line
    else:
        mended = _text(value)
    return f"{before.rstrip()} = {mended}{'  #' + remark if hash_ else ''}"


def _listed(line: str) -> str:
    """Put what stands where a list should into brackets."""
    before, equals, value = line.partition("=")
    value, hash_, remark = value.partition(" #")
    if not equals or before.strip() not in LISTS or set(value) & set('[]{}"'):
        return line
    return _quoted(f"{before}= [{value.strip()}]{hash_}{remark}")


def _text(value: str) -> str:
    if len(value) > 1 and value[0] == value[-1] == "'" and '"' not in value:  # a text with an apostrophe
        value = value[1:-1]
    return f"'{value}'" if "\\" in value else f'"{value}"'


def _closed_brackets(line: str) -> str:
    """Close a heading, a list or a table that ends with its line."""
    bare = TEXTS.sub("", line.partition("#")[0])
    missing = "".join(
        closing * (bare.count(opening) - bare.count(closing)) for opening, closing in ("[]", "{}")
    )  # fmt: skip
    if not missing or _without_remark(line).rstrip().endswith(("{", "[")):  # what is in it may stand below
        return line
    return f"{line.rstrip()}{' ' if missing.startswith('}') else ''}{missing}"


def _single_brackets(line: str) -> str:
    return re.sub(r"^\s*\[+\s*([^\[\]]+?)\s*\]*\s*$", r"[\1]", line) if line.lstrip().startswith("[[") else line


def _colon_for_equals(line: str) -> str:
    at_begin = re.sub(r"^(\s*[A-Za-z_][A-Za-z0-9_-]*)\s*(?::=?|==+|=>)\s*", r"\1 = ", line)
    return _outside_texts(
        at_begin, lambda part: re.sub(r"([{,]\s*[A-Za-z_][A-Za-z0-9_-]*)\s*:\s*", r"\1 = ", part)
    )  # fmt: skip


def _no_last_comma(line: str) -> str:
    """Take the comma away that stands before the end of a table on one line."""
    return _outside_texts(line, lambda part: re.sub(r"\s*,\s*}", " }", part))


def _nothing_after(line: str) -> str:
    """Take away what stands after a value."""
    return re.sub(r"\s*[;,]+\s*(#.*)?$", lambda found: f"  {found[1]}" if found[1] else "", line)


def _commas(line: str) -> str:
    """Put commas between the items of a list."""
    before, opening, rest = line.partition("[")
    if not opening or before.lstrip() == "":
        return line
    inside = re.sub(r"(\"[^\"]*\"|[0-9]+)\s*[;\s]\s*(?=[\"0-9])", r"\1, ", rest)
    return f"{before}[{inside}"


def _brackets_around(line: str) -> str:
    """Put texts with commas between them into brackets, also in place of round ones."""
    return re.sub(
        r"^(\s*(?:" + "|".join(LISTS) + r")\s*=\s*)\(?\s*((?:\"[^\"]*\"\s*,\s*)+\"[^\"]*\")\s*,?\s*\)?\s*(#.*)?$",
        lambda found: f"{found[1]}[{found[2]}]" + (f"  {found[3]}" if found[3] else ""), line,
    )  # fmt: skip


def _no_first_zero(line: str) -> str:
    return _outside_texts(line, lambda part: re.sub(r"(=\s*-?)0+([1-9][0-9]*)\b", r"\1\2", part))


def _box(line: str) -> str:
    """Write a box as a list."""
    return re.sub(r"(\bbox\s*=\s*)\(?\s*([0-9]+)\s*[x×*,]\s*([0-9]+)(?:\s*\))?", r"\1[\2, \3]", line)


def _plain_heading(line: str) -> str:
    """Give the name in a heading only what a name may have."""
    found = re.fullmatch(r"(\s*\[)(photographers|destinations)\.([^\]\"'.]+)((?:\.[a-z_.]+)?\]\s*(?:#.*)?)", line)
    if found is None:
        return line
    name = "-".join(re.findall(r"[A-Za-z0-9_]+", anyascii(found[3])))
    return f"{found[1]}{found[2]}.{name}{found[4]}"


def _hash_for_slashes(line: str) -> str:
    at_begin = re.sub(r"^(\s*)(?:[—–;%]|--+|/\*)\s*(?=\S)", r"\1# ", line)
    return _outside_texts(at_begin, lambda part: part.replace("//", "#", 1))


def _quotes_inside(line: str) -> str:
    """Put a text that has double quotation marks in it into single ones."""
    return re.sub(r"^([^\"'=]*=\s*)\"([^']*\"[^']*)\"(\s*(?:#.*)?)$", r"\1'\2'\3", line)


def _forward_slashes(line: str) -> str:
    """Write a folder of Windows with slashes, which it takes as well."""
    return re.sub(r"(=\s*)([\"']?)((?:[A-Za-z]:)?\\[^\"]*?)[\"']?(\s*)$", _slashed, line)


def _slashed(found: re.Match[str]) -> str:
    return f'{found[1]}"{found[3].rstrip().replace(chr(92) * 2, "/").replace(chr(92), "/")}"'


MENDS: tuple[tuple[ConfigWord, Callable[[str], str]], ...] = (
    (ConfigWord.CURLY_QUOTES, _straight_quotes),
    (ConfigWord.UNSEEN_LETTERS, _plain_spaces),
    (ConfigWord.BACKSLASHES, _single_quotes),
    (ConfigWord.CURLY_QUOTES, lambda line: _single_quotes(_straight_quotes(line))),
    (ConfigWord.YES_OR_NO, _truth),
    (ConfigWord.NUMBER_WITH_UNIT, _number_alone),
    (ConfigWord.ODD_NUMBER, _plain_number),
    (ConfigWord.TEXT_NOT_CLOSED, _closed_text),
    (ConfigWord.SINGLE_BRACKETS, _single_brackets),
    (ConfigWord.BRACKET_NOT_CLOSED, _closed_brackets),
    (ConfigWord.LIST_WITHOUT_BRACKETS, _listed),
    (ConfigWord.TEXT_WITHOUT_QUOTES, _quoted),
    (ConfigWord.QUOTES_INSIDE, _quotes_inside),
    (ConfigWord.FORWARD_SLASHES, _forward_slashes),
    (ConfigWord.REMARK, _hash_for_slashes),
    (ConfigWord.LIST_WITHOUT_BRACKETS, _box),
    (ConfigWord.LIST_WITHOUT_BRACKETS, _brackets_around),
    (ConfigWord.COMMA_MISSING, _commas),
    (ConfigWord.NOTHING_AFTER, _nothing_after),
    (ConfigWord.FIRST_ZERO, _no_first_zero),
    (ConfigWord.HEADING_NAME, _plain_heading),
    (ConfigWord.LAST_COMMA, _no_last_comma),
    (ConfigWord.COLON, _colon_for_equals),
    (ConfigWord.COLON, lambda line: _quoted(_colon_for_equals(line))),
    (ConfigWord.TEXT_NOT_CLOSED, lambda line: _closed_text(_straight_quotes(line))),
)
"""The usual slips, the surer ones first."""
