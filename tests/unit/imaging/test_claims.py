"""Whose picture an original says that it is: its author's, somebody else's, or the public's."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lanternslide.imaging.metadata.claims import Claims, claims_of
from lanternslide.records import Rights

OWN = Rights(creator="Ída Marrow", copyright="© {year} Ída Marrow", contact="ida@skerrow.example")


def claims(fields: dict[str, dict[str, Any]], own: Rights = OWN) -> Claims:
    """Return what fields say, by kind."""
    return claims_of({"exif": {}, "iptc": {}, "xmp": {}, "png": {}, **fields}, own)


OURS = [
    {},
    {"exif": {"Exif.Image.Artist": "Ida Marrow"}},
    {"exif": {"Exif.Image.Artist": "  IDA   MARROW "}},
    {"exif": {"Exif.Image.Copyright": "Copyright (c) 2019-2026 by Ida Marrow. All rights reserved."}},
    {"exif": {"Exif.Image.Copyright": "© Marrow, Ida"}},
    {"exif": {"Exif.Image.Copyright": "Ída Marrow\0Ída Marrow"}},
    {"exif": {"Exif.Image.Copyright": "© 2026"}},
    {"iptc": {"Iptc.Application2.Byline": ["I\u0301da Marrow"], "Iptc.Application2.Credit": "Photo: Ida Marrow"}},
    {"xmp": {"Xmp.dc.rights": {"x-default": "© Ida Marrow", "de": "© Ida Marrow"}, "Xmp.xmpRights.Marked": "True"}},
    {"xmp": {"Xmp.dc.creator": ["Ida Marrow"], "Xmp.xmpRights.UsageTerms": {"x-default": "No use without asking."}}},
    {"xmp": {"Xmp.dc.creator": ["Ida Marrow"], "Xmp.xmpRights.WebStatement": "https://skerrow.example/terms"}},
    {"xmp": {"Xmp.xmpRights.UsageTerms": {"x-default": "Editorial use only. Ask first."}}},
    {"exif": {"Exif.Image.Copyright": "© 2019–24 Ida Marrow, alle Rechte vorbehalten. ida@skerrow.example"}},
    {
        "exif": {
            "Exif.Image.Copyright": "Ida_Marrow™ 05.06.2024, no use without permission",
            "Exif.Image.Artist": "Unknown",
        }
    },
    {
        "xmp": {
            "Xmp.plus.Licensor[1]/plus:LicensorName": "Ida Marrow",
            "Xmp.plus.Licensor[1]/plus:LicensorURL": "https://s.example",
        }
    },
    {"png": {"author": "Ida Marrow", "title": "Skerry, by Juno Pell's boat", "software": "Something 2"}},
    {"xmp": {"Xmp.Iptc4xmpCore.CreatorContactInfo/Iptc4xmpCore:CiEmailWork": "ida@skerrow.example"}},
]

OTHERS = [
    ({"exif": {"Exif.Image.Artist": "Juno Pell"}}, "artist: Juno Pell"),
    ({"exif": {"Exif.Image.Artist": "Ida Marrow; Juno Pell"}}, "artist: Juno Pell"),
    ({"exif": {"Exif.Image.Artist": "I. Marrow"}}, "artist: I. Marrow"),
    ({"exif": {"Exif.Image.Copyright": "Ida Marrow\0Pell Editions"}}, "copyright: Pell Editions"),
    ({"exif": {"Exif.Image.XPAuthor": "Juno Pell"}}, "author: Juno Pell"),
    ({"iptc": {"Iptc.Application2.Byline": ["Ida Marrow"], "Iptc.Application2.Credit": "Skerry Press"}}, "credit"),
    ({"iptc": {"Iptc.Application2.Contact": ["desk@press.example"]}}, "contact: desk@press.example"),
    ({"xmp": {"Xmp.dc.creator": ["Juno Pell"]}}, "creator: Juno Pell"),
    ({"xmp": {"Xmp.dc.rights": {"x-default": "© Ida Marrow", "de": "© Juno Pell"}}}, "rights: © Juno Pell"),
    ({"xmp": {"Xmp.plus.Licensor[1]/plus:LicensorName": "Skerry Press"}}, "licensor: Skerry Press"),
    ({"xmp": {"Xmp.plus.CopyrightOwner[1]/plus:CopyrightOwnerName": "Juno Pell"}}, "owner: Juno Pell"),
    ({"xmp": {"Xmp.xmpRights.UsageTerms": {"x-default": "Licensed as CC BY-SA 4.0"}}}, "usage terms: Licensed as CC"),
    ({"xmp": {"Xmp.xmpRights.WebStatement": "https://press.example/terms"}}, "web statement: https://press.example"),
    ({"xmp": {"Xmp.Iptc4xmpCore.CreatorContactInfo/Iptc4xmpCore:CiUrlWork": "https://p.example"}}, "contact: https"),
    ({"xmp": {"Xmp.xmpRights.Marked": "False"}}, "marked as public domain"),
    ({"xmp": {"Xmp.dc.creator": ["Ida Marrow"], "Xmp.xmpRights.Marked": "False"}}, "marked as public domain"),
    ({"xmp": {"Xmp.cc.license": "https://creativecommons.org/licenses/by/4.0/"}}, "licence: https://creativecommons"),
    ({"xmp": {"Xmp.dc.creator": ["Ida Marrow"], "Xmp.dc.rights": {"x-default": "CC BY 4.0 Ida Marrow"}}}, "rights: CC"),
    ({"exif": {"Exif.Image.Copyright": "Public domain"}}, "copyright: Public domain"),
    ({"xmp": {"Xmp.plus.CopyrightStatus": "http://ns.useplus.org/ldf/vocab/CS-PUB"}}, "marked as public domain"),
    ({"xmp": {"Xmp.dc.contributor": ["Juno Pell"]}}, "contributor: Juno Pell"),
    ({"png": {"author": ["Juno Pell", "Ida Marrow"]}}, "author: Juno Pell"),
    ({"png": {"author": "Juno Pell"}}, "author: Juno Pell"),
    ({"png": {"copyright": "Juno Pell"}}, "copyright: Juno Pell"),
]


@pytest.mark.parametrize("fields", OURS)
def test_what_names_nobody_else_is_no_claim(fields: dict[str, dict[str, Any]]) -> None:
    """Case, accents, signs, years and the words of a notice make no other name; terms are their author's."""
    assert claims(fields).others == ()


@pytest.mark.parametrize(("fields", "told"), OTHERS)
def test_whoever_else_is_named_is_told(fields: dict[str, dict[str, Any]], told: str) -> None:
    """Wherever it stands; what gives a picture to the public is somebody's word as well."""
    assert any(told in other for other in claims(fields).others)


def test_letters_without_an_accent_to_lose_are_alike() -> None:
    """As people type them who do not have them."""
    assert not claims({"exif": {"Exif.Image.Artist": "Soren Blabaer"}}, Rights(creator="Søren Blåbær"))


def test_very_much_text_is_looked_at_in_part() -> None:
    """What is not looked at may name anybody."""
    many = ";".join(f"name{chr(97 + number % 26)}{number}x" for number in range(100_000))

    others = claims({"png": {"author": [many]}}).others

    assert len(others) == 51
    assert others[-1] == "author: longer than any name"


def test_who_has_no_name_of_their_own_owns_nothing_that_is_named() -> None:
    """With a contact alone, every name is another's."""
    assert claims({"exif": {"Exif.Image.Artist": "Ida Marrow"}}, Rights(contact="ida@skerrow.example")).others


NAMES = st.sampled_from(["Ida Marrow", "ida  marrow", "© 2026 Ída Marrow", "", "Juno Pell", "Skerry Press", "© 2020"])
PLACES = [
    ("exif", "Exif.Image.Artist"), ("exif", "Exif.Image.Copyright"), ("iptc", "Iptc.Application2.Byline"),
    ("iptc", "Iptc.Application2.Credit"), ("xmp", "Xmp.dc.creator"), ("xmp", "Xmp.dc.rights"), ("png", "author"),
]  # fmt: skip


@given(said=st.lists(NAMES, min_size=len(PLACES), max_size=len(PLACES)))
def test_another_name_in_any_place_is_found(said: list[str]) -> None:
    """Whatever stands in the other places."""
    fields: dict[str, dict[str, Any]] = {"exif": {}, "iptc": {}, "xmp": {}, "png": {}}
    for (kind, key), text in zip(PLACES, said, strict=True):
        if text:
            fields[kind][key] = text

    assert bool(claims(fields)) == any("Juno" in text or "Press" in text for text in said)
