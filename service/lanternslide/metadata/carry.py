"""Carrying Exif, IPTC and XMP from an original into a delivery.

The original is opened by path and only read. What describes the original's file rather than the picture (its
structure, orientation, embedded previews, history) never travels; the rest as the destination's policy says.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from lanternslide.metadata.agreement import (
    THE_AUTHOR,
    THE_COPYRIGHT,
    Contradiction,
    agreed_words,
    contradictions,
)
from lanternslide.metadata.files.extras import Extra
from lanternslide.metadata.keys import AUTHOR, CALLED, Policy
from lanternslide.metadata.reading import POINTERS
from lanternslide.metadata.source import BROKEN, Source, first_line, reading, take_over_texts
from lanternslide.metadata.whose.claims import Claims, claims_of, texts_of
from lanternslide.metadata.whose.names import says_anything
from lanternslide.metadata.whose.rights import AUTHORS_IN_PNG, NOTICES_IN_PNG, Changes, about_of, agreed, capture_date
from lanternslide.metadata.wishes import Wishes
from lanternslide.metadata.writing import WRITERS, Lost, choice
from lanternslide.records import About, Rights

__all__ = ["Carried", "carry_metadata"]

NOTHING = About()


@dataclass(frozen=True, kw_only=True, slots=True)
class Carried:
    """A delivery with its metadata."""

    jpeg: bytes
    left_behind: tuple[str, ...] = ()  #: What could not be read, or not be written, for a person.
    too_large: tuple[str, ...] = ()  #: What did not fit into a JPEG, for a person.
    lacks_rights: bool = False  #: Whether rights data were there, and the destination wants none.
    captured: str | None = None  #: The day on which the picture was taken (ISO 8601), as far as it says.
    about: About = NOTHING  #: What the delivery's metadata say in words.
    year: str | None = None  #: The year of the file, where that stands for the one of capture.
    anothers: tuple[str, ...] = ()  #: What the original says of somebody else, so that own rights were not added.
    replaced: tuple[str, ...] = ()  #: What the original said of somebody else, and own rights have replaced.
    unread: tuple[str, ...] = ()  #: What could not be read, so that own rights were not added, for a person.
    contradictions: tuple[Contradiction, ...] = ()  #: On what the original says different things.
    extras: tuple[Extra, ...] = ()  #: What the original's file holds beside its picture.
    lost_regions: bool = False  #: Whether regions in the picture, such as faces, could not be carried over.


def carry_metadata(original: Path, jpeg: bytes, wishes: Wishes) -> Carried:
    """Return *jpeg* (the delivery, without metadata but for its profile) with what *wishes* want of *original*.

    What cannot be read or written is left behind and named; it never stops a delivery.
    """
    with reading(original) as source:
        return _carried(source, jpeg, wishes)


def _carried(source: Source, jpeg: bytes, wishes: Wishes) -> Carried:
    captured = capture_date(source.fields)
    if wishes.policy is Policy.BARE:
        said = (source.fields[kind].get(key, "") for kind, keys in AUTHOR.items() for key in keys)
        has_rights = any(says_anything(text) for value in said for text in texts_of(value))
        texts = [text for keyword in (*AUTHORS_IN_PNG, *NOTICES_IN_PNG) for text in source.texts.get(keyword, ())]
        has_rights = has_rights or any(map(says_anything, texts))
        return Carried(jpeg=jpeg, lacks_rights=has_rights, captured=captured, extras=_left_out(source, wishes))
    claims = _claims(source, wishes.rights)
    unread = tuple(source.unread)
    take_over_texts(source)
    has_own = any((wishes.rights.creator, wishes.rights.copyright, wishes.rights.contact))
    is_anothers = has_own and not wishes.rights.override and bool(claims or unread)
    rights = agreed(
        source.fields, wishes.rights, captured[:4] if captured else wishes.year, is_anothers=is_anothers,
        replaces=has_own and bool(claims), texts=source.texts,
    )  # fmt: skip
    own = _together(source, wishes, rights, is_anothers=is_anothers)
    left, lost = [*source.left, *_damaged(source, wishes)], Lost()
    for kind, write in WRITERS:
        try:
            jpeg = write(source, jpeg, wishes, own[kind], lost)
        except BROKEN as error:
            left.append(f"{CALLED[kind]}: {first_line(error)}")
    about = about_of(source.fields, own)
    if wishes.policy is not Policy.WHOLE:
        about = replace(about, captured=None)
    notice = wishes.rights.copyright or ""
    guesses = captured is None and "{year}" in notice and about.copyright == notice.replace("{year}", wishes.year)
    return Carried(
        jpeg=jpeg,
        left_behind=(*left, *lost.left),
        too_large=tuple(lost.too_large),
        captured=captured,
        about=about,
        year=wishes.year if guesses else None,
        anothers=claims.others if is_anothers else (),
        replaced=claims.others if has_own and wishes.rights.override else (),
        unread=_called(unread) if is_anothers and not claims else (),
        contradictions=contradictions(
            source.fields,
            iim_is_newer=source.iim_is_newer,
            without=(THE_AUTHOR, THE_COPYRIGHT) if is_anothers or (wishes.rights.override and has_own) else (),
            keep=lambda kind, key: choice(kind, source, wishes)(key),
        ),
        extras=_left_out(source, wishes),
        lost_regions=lost.regions,
    )


def _called(blocks: Iterable[str]) -> tuple[str, ...]:
    """Return what blocks are called, each once."""
    return tuple(dict.fromkeys(CALLED.get(block, "all of it") for block in blocks))


def _claims(source: Source, own: Rights) -> Claims:
    """Return what the original says of somebody else, in any of its blocks."""
    empty: dict[str, dict[str, Any]] = {"exif": {}, "iptc": {}, "xmp": {}, "png": {}}
    blocks = [{**empty, **source.fields, "png": source.texts}, *({**empty, **further} for further in source.further)]
    try:
        others = [other for block in blocks for other in claims_of(block, own).others]
    except BROKEN:
        source.unread.append("all")
        return Claims()
    return Claims(others=tuple(dict.fromkeys(others)))


def _together(source: Source, wishes: Wishes, rights: Changes, *, is_anothers: bool) -> Changes:
    """Return what to write so that the kinds agree, of what travels: own *rights* data where they have a say."""
    own = wishes.rights
    decided = ((THE_AUTHOR, own.creator), (THE_COPYRIGHT, own.copyright))
    without = [what for what, text in decided if is_anothers or text is not None]
    words = agreed_words(source.fields, iim_is_newer=source.iim_is_newer, without=without)
    agreed_on: Changes = {}
    for kind, changes in words.items():
        keep = choice(kind, source, wishes)
        agreed_on[kind] = {key: text for key, text in changes.items() if keep(key)} | rights[kind]
    return agreed_on


def _damaged(source: Source, wishes: Wishes) -> list[str]:
    """Return the damaged fields of Exif that would travel, for a person."""
    keep = choice("exif", source, wishes)
    names = [key.rsplit(".", 1)[-1] for key in sorted(source.damaged - POINTERS) if keep(key)]
    return [f"{CALLED['exif']}: {', '.join(names)}, damaged"] if names else []


def _left_out(source: Source, wishes: Wishes) -> tuple[Extra, ...]:
    """Return what the file holds beside its picture and a delivery does not carry."""
    keeps_foreign = wishes.policy is Policy.WHOLE and wishes.keep_location
    return tuple(extra for extra in source.extras if not (extra is Extra.KEYWORD_TREE and keeps_foreign))
