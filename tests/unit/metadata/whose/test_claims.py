"""Whose picture an original says that it is: its author's, somebody else's, or the public's."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lanternslide.metadata.whose.claims import Claims, claims_of
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
    {"xmp": {"Xmp.Iptc4xmpCore.CreatorContactInfo/Iptc4xmpCore:CiAdrCity": "Skerrow"}},
    {
        "xmp": {
            "Xmp.plus.Licensor[1]/plus:LicensorName": "Ida Marrow",
            "Xmp.plus.Licensor[1]/plus:LicensorCity": "Skerrow",
            "Xmp.plus.Licensor[1]/plus:LicensorTelephoneType1": "http://ns.useplus.org/ldf/vocab/work",
        }
    },
    {"xmp": {"Xmp.plus.Licensor[1]/plus:LicensorEmail": "Ida@Skerrow.example"}},
    {"xmp": {"Xmp.cc.license": "All rights reserved"}},
    {"xmp": {"Xmp.cc.license": "https://idamarrow.example/terms"}},
    {"xmp": {"Xmp.plus.ImageSupplierImageID": "A-17", "Xmp.plus.LicensorTransactionID": "A-18"}},
    {
        "xmp": {
            "Xmp.Iptc4xmpExt.Creator": [""],
            "Xmp.Iptc4xmpExt.Creator/Iptc4xmpExt:Name": "Ida Marrow",
            "Xmp.Iptc4xmpExt.Creator/Iptc4xmpExt:Role": "http://cv.iptc.org/newscodes/rolesincontent/photographer",
        }
    },
    {"exif": {"Exif.Image.Copyright": "DIGITAL CAMERA", "Exif.Image.Artist": "Your Name"}},
    {"xmp": {"Xmp.?.Credit": "yes"}},
    {"xmp": {"Xmp.xmpMM.Pantry[1]/dc:creator[1]": "Juno Pell"}},
    {"png": {"copyright": "Copyright 2019-2026 Ida Marrow, www.marrow.example"}},
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
    ({"png": {"photographer": "Juno Pell"}}, "photographer: Juno Pell"),
    ({"png": {"copyright holder": "Juno Pell"}}, "copyright: Juno Pell"),
    ({"png": {"rights": "Juno Pell"}}, "rights: Juno Pell"),
    ({"png": {"credit": "Skerry Press"}}, "credit: Skerry Press"),
    ({"xmp": {"Xmp.aux.OwnerName": "Juno Pell"}}, "owner of the camera: Juno Pell"),
    ({"xmp": {"Xmp.exifEX.CameraOwnerName": "Juno Pell"}}, "owner of the camera: Juno Pell"),
    ({"xmp": {"Xmp.dc.author": "Juno Pell"}}, "author: Juno Pell"),
    ({"xmp": {"Xmp.photoshop.Copyright": "Juno Pell"}}, "copyright: Juno Pell"),
    ({"xmp": {"Xmp.?.copyrightHolderName": "Juno Pell"}}, "copyrightholdername: Juno Pell"),
    ({"xmp": {"Xmp.plus.ImageCreator": "Juno Pell"}}, "creator: Juno Pell"),
    ({"xmp": {"Xmp.plus.CopyrightOwner[1]/plus:CopyrightOwnerID": "PLUS-7"}}, "owner: PLUS-7"),
    ({"xmp": {"Xmp.cc.license": "https://press.example/terms"}}, "licence: https://press.example"),
    ({"exif": {"Exif.Image.Copyright": "www.press.example"}}, "copyright: www.press.example"),
    ({"exif": {"Exif.Image.Copyright": "desk@press.example"}}, "copyright: desk@press.example"),
    ({"exif": {"Exif.Image.Artist": "Ida von Marrow"}}, "artist: Ida von Marrow"),
    ({"exif": {"Exif.Image.Artist": "Ida Marrow World"}}, "artist: Ida Marrow World"),
    ({"exif": {"Exif.Image.Artist": "John.Doe"}}, "artist: John.Doe"),
    ({"exif": {"Exif.Image.Artist": "May Law"}}, "artist: May Law"),
    ({"exif": {"Exif.Image.Copyright": "(c) 2024 Express. All rights reserved. Reproduction prohibited"}}, "Express"),
    ({"exif": {"Exif.Image.Copyright": "© 2020 Jan Prior. No use without permission"}}, "copyright: © 2020 Jan"),
    ({"exif": {"Exif.Image.Copyright": "© 2020 Jan"}}, "copyright: © 2020 Jan"),
    ({"xmp": {"Xmp.dc.creator": ["www.idamarrowson.example"]}}, "creator: www.idamarrowson.example"),
    ({"exif": {"Exif.Image.Artist": "Noé"}}, "artist: Noé"),
    ({"exif": {"Exif.Image.Artist": "Ida & Jan Marrow"}}, "artist: Ida & Jan Marrow"),
    ({"exif": {"Exif.Image.Artist": "Ida Marrow & June"}}, "artist: Ida Marrow & June"),
    ({"exif": {"Exif.Image.Artist": "\u0301Juno Pell"}}, "artist: "),
    ({"exif": {"Exif.Image.Copyright": "No copyright"}}, "copyright: No copyright"),
    ({"exif": {"Exif.Image.Copyright": "Use freely: may be copied without permission"}}, "copyright: Use freely"),
    ({"xmp": {"Xmp.plus.Licensor/dc:creator": "Juno Pell"}}, "licensor: Juno Pell"),
    ({"xmp": {"Xmp.Iptc4xmpExt.Creator/Iptc4xmpExt:Name": "Juno Pell"}}, "creator: Juno Pell"),
    ({"xmp": {"Xmp.?.author": ["Ida Marrow"] * 50 + ["Juno Pell"]}}, "author: longer than any name"),
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


@pytest.mark.parametrize(
    "notice",
    [
        "© 2024 Ida Marrow Photography LLC", "Ida Marrow Studio", "© Ida Marrow Fine Art Photography", "IdaMarrow",
        "All rights reserved. No use without prior written consent of Ida Marrow", "May 2024 © Ida Marrow",
        "© Ida Marrow, Vervielfältigung nur mit Genehmigung", "© Ida Marrow. Jede Nutzung ist honorarpflichtig",
        "© Ida Marrow. Aucune utilisation sans autorisation", "© Ida Marrow | VG Bild-Kunst, Bonn 2024",
        "© Ida Marrow, https://www.marrow.example/", "© MMXXIV Ida Marrow", "Ida Marrow - ARR", "idamarrow.example",
        "© Ida Marrow, all rights reserved worldwide", "Image copyright Ida Marrow. Do not copy.", "Ⓒ Ida Marrow",
        "© Ida Marrow, Tel. +44 30 1234567", "© Ida Marrow. For editorial use only.",
        "Monday, 5th May 2024 © Ida Marrow",
        "© Ida Marrow - No part of this image may be reproduced without my permission", "Ida Marrow's",
        "©2024Ida Marrow",
        "©️ Ida Marrow", "Ida Marrow™️", "© Ida Marrow. Keine Nutzung ohne Genehmigung", "Bild: Ida Marrow",
        "© Ida Marrow. Toute reproduction interdite", "Ida Marrow. You may not use this image",
        "Ida Marrow. Non-commercial use only", "www.idamarrowphotography.example", "15 May 2024, Ida Marrow",
        "Ida Marrow Landscape Photography", "Alla rättigheter förbehållna. Ida Marrow", "Urheber: Ida Marrow",
        "Ida Marrow (c) 2024. Unauthorized use is strictly prohibited", "© Ida Marrow. Contact: ida@skerrow.example",
        "www.idamarrow.example", "ida@skerrow.example", "Ida Marrow. No use without prior permission",
        "www.idamarrowfineart.example", "pictures.example/idamarrowofficial", "Ida Marrow. Protected by law",
        "© Ida Marrow. Editorial only. No reproduction.", "Express permission required. Ida Marrow",
    ],
)  # fmt: skip
def test_what_goes_with_a_name_makes_no_other(notice: str) -> None:
    """Businesses, months, the law, addresses beside the name: common practice, no source."""
    assert claims({"exif": {"Exif.Image.Copyright": notice}}).others == ()


@pytest.mark.parametrize(
    "notice",
    [
        "No use without prior permission", "No use without express permission", "Prior consent required",
        "Unauthorized use prohibited by law", "Protected by law", "Editorial only. No reproduction.",
    ],
)  # fmt: skip
def test_what_only_forbids_names_nobody(notice: str) -> None:
    """Whoever forbids it is not told."""
    assert claims({"exif": {"Exif.Image.Copyright": notice}}).others == ()


@pytest.mark.parametrize(
    ("own", "said"),
    [
        ("Götz von Berg", "Foto von Goetz von Berg"), ("Müller & Sohn", "© Mueller und Sohn"), ("Strauß", "STRAUSS"),
        ("Di Fruscia", "Photo Di Fruscia"), ("李小龍", "攝影:李小龍"), ("李小龍", "李小龍 版權所有"),
        ("安娜", "© 安娜摄影"),
        ("Анна Берг", "Фото: Анна Берг. Все права защищены"), ("田中 花子", "田中花子"), ("田中花子", "© 田中 花子"),
        ("Åse Dahl", "Aase Dahl"), ("Aase Dahl", "Åse Dahl"), ("Ida Marrow Photography", "Ida Marrow"),
        ("Line Hansen", "© 2024 Line Hansen"), ("Nur Aydin", "Nur Aydin Photography"),
    ],
)  # fmt: skip
def test_names_are_spelt_in_more_ways_than_one(own: str, said: str) -> None:
    """Umlauts as two letters, and names without a blank."""
    assert claims({"exif": {"Exif.Image.Artist": said}}, Rights(creator=own)).others == ()


@pytest.mark.parametrize(
    ("own", "said"),
    [
        (Rights(creator="Michael Berg"), "Michal Berg"), (Rights(creator="Mae Li"), "Ma Li"),
        (Rights(creator="An Na"), "Anna"), (Rights(creator="Marrow"), "Jan Marrow"),
        (Rights(creator="Marrow"), "May Marrow"),
        (Rights(creator="Ida Marrow", contact="https://skerry-press.example/ida"), "Ida Marrow / Skerry Press"),
        (Rights(creator="Berger"), "https://juno-hamberger.example"),
        (Rights(creator="Berger"), "www.bergerac-photo.example"), (Rights(creator="Marrow"), "© 2024 Jan Marrow"),
        (Rights(copyright="© 2024 Jan Berg"), "© 2021 June Berg"), (Rights(creator="Hansen"), "Line Hansen"),
        (Rights(creator="Line Hansen"), "Hansen"), (Rights(creator="Ida Marrow"), "Ida & Nur Marrow"),
        (Rights(creator="Ida Marrow"), "Ida Marrow & Line"), (Rights(creator="You Jin"), "Jin"),
        (Rights(creator="Marrow"), "© 24 Jan Marrow"), (Rights(creator="Marrow"), "© 24 Jan"),
        (Rights(creator="Martin"), "www.martina.example"), (Rights(creator="Gabriel"), "gabriela@press.example"),
        # A month behind a year may be a first name; nobody can tell.
        (Rights(creator="Ida Marrow"), "© 2024 May, Ida Marrow"),
    ],
)  # fmt: skip
def test_names_that_are_much_alike_are_not_the_same(own: Rights, said: str) -> None:
    """Two letters for one only where the name has an umlaut; words of a contact are no name."""
    assert claims({"exif": {"Exif.Image.Artist": said}}, own).others


@pytest.mark.parametrize("own", ["© {year} Ida Marrow Photography", "© Ida Marrow. All rights reserved worldwide."])
def test_a_copyright_alone_says_whose_it_is(own: str) -> None:
    """Whatever else stands in it."""
    assert not claims({"exif": {"Exif.Image.Copyright": "© 2023 Ida Marrow"}}, Rights(copyright=own))


@pytest.mark.parametrize(
    ("terms", "is_anothers"),
    [
        ("Copyright law protects this image", False),
        ("Images by this photographer may not be used.", False),
        ("The copyright remains with Ida Marrow", False),
        ("Please credit the photographer", False),
        ("Ask Ida Marrow for a licence. Photo by Ida Marrow, Skerrow", False),
        ("Credit: Ida Marrow / skerrow.example required", False),
        ("No reproduction without the permission of the copyright holder", False),
        ("Not in the public domain. All rights reserved.", False),
        ("Not released under Creative Commons", False),
        ("No use without permission of Juno Pell", True),
        ("Photo by Juno Pell", True),
        ("© 2024 Juno Pell", True),
        ("Copyright 2024 Juno Pell", True),
        ("Owned by Skerry Press", True),
        ("Not for sale, Creative Commons BY-NC", True),
        ("Released under Creative Commons", True),
        ("Do not treat as public domain", False),
        ("Property of Ida Marrow and may not be reproduced without her consent", False),
        ("© Ida Marrow for editorial use only", False),
        ("No use without the permission of the author in any medium", False),
        ("Photo: editorial use only", False),
        ("Photos by Juno Pell", True),
        ("© 2024, Juno Pell", True),
        ("Copyright Juno Pell", True),
        ("© Ida Marrow / Juno Pell", True),
        ("Credit Juno Pell", True),
        ("Photographer: Juno Pell", True),
        ("All rights held by Juno Pell", True),
        ("Permission must be obtained from Juno Pell", True),
        ("Why not in Creative Commons? It is!", True),
        ("Attribution 4.0 International", True),
        ("© 2020 — Karl Otto", True),
        ("© [Karl Otto]", True),
        ("Photo : Karl Otto", True),
        ("Bildrechte: Karl Otto", True),
        ("Rights managed, not royalty-free", False),
        ("This picture is not free to use", False),
        ("No copyright is transferred with the license", False),
        ("CREDIT REQUIRED", False),
        ("Credit Line Required", False),
        ("Copyright Restrictions Apply", False),
        ("Image: Do Not Crop", False),
        ("No known copyright restrictions", True),
        ("Credit Line: Juno Pell", True),
        ("Mandatory Credit Line: Juno Pell / Skerry Press", True),
        ("Photo by Line Hansen", True),
        ("© 2024 Nature Images Ltd", True),
        ("© Landscape Gallery", True),
        ("Photo: Bild", True),
        ("No copyright is claimed in this picture", True),
        ("There is no copyright in this picture", True),
        ("No copyright – use as you like", True),
        ("No copyright will be transferred", False),
        ("Rights: RM", False),
        ("Usage rights: Online only", False),
        ("Credit + Link Required", False),
        ("This picture is not free for any use", False),
    ],
)
def test_terms_name_somebody_where_they_say_whose_it_is(terms: str, *, is_anothers: bool) -> None:
    """Sentences about the law name nobody; what is denied gives nothing to the public."""
    assert bool(claims({"xmp": {"Xmp.xmpRights.UsageTerms": {"x-default": terms}}}).others) is is_anothers


@pytest.mark.parametrize(
    ("contact", "address", "is_anothers"),
    [
        ("https://kelp.example", "https://www.kelp.example/terms", False),
        ("www.kelp.example/", "desk@kelp.example", False),
        ("https://kelp.example/ida", "https://kelp.example/juno", True),
        ("ida@kelp.example", "juno@kelp.example", True),
        ("ida@kelp.example", "https://kelp.example/terms", True),
        ("ida@kelp.example", "IDA@kelp.example", False),
        ("https://kelp.example", "https://kelp.example.press.example/", True),
        ("https://kelp.example", "https://kelp.example@press.example/", True),
    ],
)
def test_a_site_of_ones_own_is_not_shared(contact: str, address: str, *, is_anothers: bool) -> None:
    """Where the contact is a mailbox or a page, others may have theirs at the same host."""
    own = Rights(creator="Ída Marrow", contact=contact)
    assert bool(claims({"xmp": {"Xmp.xmpRights.WebStatement": address}}, own).others) is is_anothers


def test_more_fields_than_anybody_writes_are_looked_at_in_part() -> None:
    """What is not looked at may name anybody."""
    many = {f"Xmp.?.made{number}/dc:author": "Ida Marrow" for number in range(3_000)}

    assert claims({"xmp": many}).others == ("more than anybody writes",)


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
