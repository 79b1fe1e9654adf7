"""How a line of a config may be mended that is not valid TOML: one usual slip after the other. Pure.

Each mend returns the line as it is if the slip is not its own; whether what it returns is right, others find out.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from typing import TypeAlias

from anyascii import anyascii

from lanternslide.words import ConfigWord

__all__ = ["MENDS", "TEXTS", "Mend", "mends_in_pairs", "without_remark"]

Mend: TypeAlias = Callable[[str], str]

LISTS = ("box", "densities", "destinations", "otherwise", "subfolders", "tags")
"""Keys whose value is a list."""

WHOLE = ("box", "height", "long_edge", "max_megapixels", "scan_seconds", "short_edge", "width")
"""Keys whose numbers may have thousands."""

WORDS_FOR_NONE = ("none", "null", "nil", "off", "on", "yes", "no", "true", "false")
"""No text that stands for itself."""

CURLY = str.maketrans(dict.fromkeys("“”„‟″«»", '"') | dict.fromkeys("‘’‚‛′", "'"))
"""What stands for straight quotation marks where a program is clever."""

YES, NO = ("yes", "on", "true", "y"), ("no", "off", "false", "n")

TEXTS = re.compile(r'"(?:[^"\\]|\\.)*"|\'[^\']*\'')
"""Texts that are written right, on one line (TOML 1.0.0, "String")."""


def without_remark(line: str) -> str:
    """Return a line without the comment at its end."""
    hidden = TEXTS.sub(lambda found: "x" * len(found[0]), line)
    return line[: hidden.index("#")] if "#" in hidden else line


def _outside_texts(line: str, mend: Mend) -> str:
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
    if not missing or without_remark(line).rstrip().endswith(("{", "[")):  # what is in it may stand below
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


MENDS: tuple[tuple[ConfigWord, Mend], ...] = (
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


def mends_in_pairs() -> Iterator[tuple[ConfigWord, Mend]]:
    """Yield two mends at a time, for a line with two slips."""
    for _, first in MENDS:
        for _, second in MENDS:
            yield ConfigWord.SEVERAL, lambda line, first=first, second=second: second(first(line))  # type: ignore[misc]
