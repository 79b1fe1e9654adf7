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

from rich.cells import cell_len

from lanternslide.config.checks.mends import MENDS, TEXTS, mends_in_pairs, without_remark
from lanternslide.words import ConfigWord

__all__ = ["Slip", "decode", "slip_in"]

POSITION = re.compile(r" \(at (?:line ([0-9]+), column ([0-9]+)|end of document)\)$")
"""How the parser ends its messages (Python's tomllib)."""

QUOTES = ('"', "'")

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
        for word, mend in (*MENDS, *mends_in_pairs()):
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
        if row < 0 or not re.search(r"=\s*\{\s*$", without_remark(lines[row])):
            continue
        parts: list[str] = []
        for line in lines[row : row + LONGEST_TABLE]:
            parts.append(without_remark(line).strip())
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
