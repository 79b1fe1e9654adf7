"""The fields that `metadata` counts, what exiftool reads of them, and what became of each in a delivery.

Sources: Exif 3.0 (CIPA DC-008); IPTC Photo Metadata Standard 2023.2 (IIM and XMP); PLUS LDF 2.0.1; XMP specification
parts 1 and 2 (ISO 16684-1); PNG (W3C), 11.3.3; exiftool's names of tags.
"""

from __future__ import annotations

import functools
import json
import re
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from tests.support.exiftool import ask_exiftool

__all__ = ["FATES", "FIELDS", "PATTERNS", "Tags", "compared", "fields_in", "warnings_in"]

Tags = dict[str, Any]
"""Values by exiftool's keys."""


MAKERS = (
    "MakerNotes|MakerUnknown|PreviewIFD|MetaIFD|Apple|Canon|Casio|DJI|FLIR|FujiFilm|GE|GoPro|Google|HP|JVC|Kodak|Leica|"
    "Minolta|Motorola|Nikon|Nintendo|Olympus|Panasonic|Pentax|Reconyx|Ricoh|Samsung|Sanyo|Sigma|Sony"
)
SEGMENTS = "CIFF|PictureInfo|InfiRay|Qualcomm|RMETA|Ducky|NITF|AFCP|SPIFF|MIE|JPEG-HDR|AVI1|JFXX"
EXPOSURE = "Exposure\\w*|FNumber|ISO\\w*|ApertureValue|ShutterSpeedValue|Flash|MeteringMode|FocalLength\\w*"
SCENE = (
    "\\w*SubjectDistance\\w*|Contrast|Saturation|Sharpness|Scene\\w+|LightSource|WhiteBalance|GainControl|FileSource"
)
CAPTURE = "DateTimeOriginal|CreateDate|DateTimeDigitized"
TERMS = "CopyrightStatus|CopyrightRegistrationNumber|CreditLineRequired|OtherConstraints|OtherLicense\\w*|TermsAnd\\w*"

FIELDS: Mapping[str, Mapping[str, str]] = {
    "author and rights": {
        "Exif author": "IFD0:Artist",
        "Exif copyright": "IFD0:Copyright",
        "Exif XPAuthor": "IFD0:XPAuthor",
        "IIM author": "IPTC:By-line",
        "IIM author's title": "IPTC:By-lineTitle",
        "IIM copyright": "IPTC:CopyrightNotice",
        "IIM credit": "IPTC:Credit",
        "IIM source": "IPTC:Source",
        "IIM contact": "IPTC:Contact",
        "IIM writer of the caption": "IPTC:Writer-Editor",
        "XMP author": "XMP-dc:Creator",
        "XMP rights": "XMP-dc:Rights.*",
        "XMP credit": "XMP-photoshop:Credit",
        "XMP source": "XMP-photoshop:Source",
        "XMP author's title, writer": "XMP-photoshop:(AuthorsPosition|CaptionWriter)",
        "XMP usage terms, owner": "XMP-xmpRights:(?!WebStatement).*",
        "XMP web statement": "XMP-xmpRights:WebStatement",
        "XMP contact": "XMP-iptcCore:CreatorContactInfo",
        "XMP Creative Commons": "XMP-cc:.*",
        "XMP author elsewhere": "XMP-(tiff|exif|exifEX|pdf|dcterms):(Artist|Author|Creator|Photographer)",
        "XMP rights elsewhere": "XMP-(tiff|exif|pdf|dcterms):(Copyright|Rights|RightsHolder|License)",
        "PNG author, copyright": "PNG:(Author|Artist|Copyright|Creator|Disclaimer)",
        "PLUS owner, creator, supplier": "XMP-plus:(CopyrightOwner|ImageCreator|ImageSupplier).*",
        "PLUS licensor": "XMP-plus:Licensor",
        "PLUS status, terms": f"XMP-plus:({TERMS})",
    },
    "title, description, keywords": {
        "Exif description": "IFD0:ImageDescription",
        "Exif user comment": "ExifIFD:UserComment",
        "Exif XP texts": "IFD0:XP(Title|Subject|Comment|Keywords)",
        "IIM title, headline": "IPTC:(ObjectName|Headline)",
        "IIM caption": "IPTC:Caption-Abstract",
        "IIM keywords": "IPTC:Keywords",
        "IIM categories": "IPTC:(Category|SupplementalCategories|SubjectReference)",
        "IIM instructions, job": "IPTC:(SpecialInstructions|OriginalTransmissionReference|FixtureIdentifier)",
        "XMP title, headline": "XMP-(dc:Title|photoshop:Headline).*",
        "XMP description": "XMP-dc:Description.*",
        "XMP alt text": "XMP-iptcCore:(AltText|ExtDescr)Accessibility.*",
        "XMP keywords": "XMP-dc:Subject",
        "XMP hierarchy of keywords": "XMP-[^:]+:(HierarchicalSubject|KeywordInfo|TagsList)",
        "XMP instructions, job": "XMP-photoshop:(Instructions|TransmissionReference)",
        "XMP people, events": "XMP-iptcExt:(PersonInImage|Event|OrganisationInImage)\\w*",
        "XMP regions": "XMP-(mwg-rs|iptcExt):(RegionInfo|ImageRegion)",
        "rating, label": "(XMP-xmp|IFD0):(Rating|RatingPercent|Label)",
        "PNG title, description": "PNG:(Title|Description|Comment|Source)",
        "JPEG comment": "File:Comment",
    },
    "dates": {
        "Exif capture": f"ExifIFD:({CAPTURE})",
        "Exif fractions, time zone": "ExifIFD:(SubSec|OffsetTime)\\w*",
        "Exif modified": "IFD0:ModifyDate",
        "IIM dates": "IPTC:(DateCreated|TimeCreated|DigitalCreation\\w*)",
        "XMP capture": f"XMP-(exif:({CAPTURE})|photoshop:DateCreated|xmp:CreateDate)",
        "XMP modified": "XMP-xmp:(ModifyDate|MetadataDate)",
        "PNG time": "PNG:(CreationTime|ModifyDate)",
    },
    "camera and exposure": {
        "Exif camera": "IFD0:(Make|Model)",
        "Exif lens": "ExifIFD:Lens(Make|Model|Info)",
        "Exif exposure": f"ExifIFD:({EXPOSURE})",
        "XMP camera, lens": "XMP-(tiff|exif|exifEX|aux):(Make|Model|Lens|LensInfo|LensMake|LensModel|LensID)",
        "XMP exposure": f"XMP-exif(EX)?:({EXPOSURE})",
        "Exif scene, processing": f"ExifIFD:({SCENE})",
        "XMP panorama": "XMP-GPano:.*",
        "maker notes": f"ExifIFD:MakerNote\\w*|({MAKERS})[A-Z]?\\w*:.*",
    },
    "AI, releases, encoded rights": {
        "digital source type": "XMP-iptcExt:DigitalSourceType",
        "AI prompt, system": "XMP-iptcExt:AI\\w*",
        "releases": "XMP-plus:((Model|Property)Release\\w*|MinorModelAge\\w*)",
        "models": "XMP-iptcExt:(ModelAge|AdditionalModelInformation|AddlModelInfo)",
        "encoded rights expressions": "XMP-iptcExt:(Embedded|Embd|Linked)Enc\\w*",
        "text and data mining": "XMP-(plus:DataMining|tdm:.*)",
        "signed provenance": "(JUMBF|C2PA|CBOR|JSON)\\w*:.*",
    },
    "place": {
        "Exif position": "GPS:.*",
        "IIM place": "IPTC:(City|Sub-location|Province-State|Country\\S*|Content-?Location\\w*)",
        "XMP place": "XMP-photoshop:(City|State|Country)|XMP-(iptcCore:(Location|CountryCode)|iptcExt:Location\\w*)",
        "XMP position": "XMP-(exif:GPS|drone-dji:|Camera:GPS).*",
    },
    "serial numbers, owner, computer": {
        "Exif camera's": "(ExifIFD|IFD0):(Camera)?SerialNumber",
        "Exif lens's": "ExifIFD:LensSerialNumber",
        "Exif owner": "ExifIFD:OwnerName",
        "Exif unique number": "ExifIFD:ImageUniqueID",
        "Exif computer": "IFD0:HostComputer",
        "Exif software": "IFD0:(Software|ProcessingSoftware)",
        "XMP serial numbers": "XMP-(aux|exifEX):(Lens|Body)?SerialNumber",
        "XMP owner": "XMP-(aux|exifEX):\\w*OwnerName",
        "XMP software": "XMP-(xmp:CreatorTool|tiff:Software|pdf:Producer)",
    },
    "structure, which must go": {
        "thumbnail": "IFD1:.*|(?!XMP)[^:]+:Thumbnail(Image|TIFF)",
        "XMP thumbnails": "XMP-xmp:Thumbnails",
        "previews, further pictures": (
            "(MPF|MPImage|SubIFD|IFD[2-9]|FlashPix)\\w*:.*|[^:]+:(PreviewImage|OtherImage|JpgFromRaw).*"
        ),
        "layout": "IFD0:(Strip|Tile|Rows|Compression|BitsPerSample|Photometric|Planar|JPEGTables|SubfileType)\\w*",
        "document name, page": "IFD0:(DocumentName|PageName|PageNumber)",
        "digests": "Photoshop:IPTCDigest|XMP-(exif|tiff):NativeDigest|XMP-photoshop:LegacyIPTCDigest",
        "image resources": "Photoshop:(?!IPTCDigest).*",
        "history, document": "XMP-photoshop:DocumentAncestors|XMP-(xmpMM:.*|[^:]+:History.*)",
        "development settings": "XMP-crs:.*",
        "depth, gain maps": "XMP-(GDepth|GImage|Container|hdrgm|HDRGainMap|xmpNote):.*",
        "further segments": f"({SEGMENTS})\\w*:.*",
    },
    "of the file": {
        "Exif orientation": "IFD0:Orientation",
        "Exif pixels, colour space": "ExifIFD:(ExifImage\\w+|ColorSpace)",
        "Exif resolution": "IFD0:([XY]Resolution|ResolutionUnit)",
    },
}
"""Patterns of exiftool's keys, ``GROUP:Name`` with ``-G1 -struct``, by a name for each field."""

PATTERNS = {label: re.compile(pattern) for group in FIELDS.values() for label, pattern in group.items()}
ANYWHERE = {label for label in PATTERNS if label.startswith("PNG ")}
"""Fields that a JPEG cannot have, so that their words may stand in any field."""

FATES = ("same", "changed", "gone", "added")


def asked(paths: Iterable[Path], *options: str) -> dict[Path, Tags]:
    """Return what exiftool says of each file."""
    said = ask_exiftool("-q", "-q", "-j", "-a", *options, *map(str, paths))
    return {Path(found.pop("SourceFile")): found for found in json.loads(said or "[]")}


def fields_in(paths: list[Path]) -> dict[Path, Tags]:
    """Return the fields of each file."""
    return asked(paths, "-G1", "-struct", "-n")


def warnings_in(paths: list[Path]) -> dict[Path, frozenset[str]]:
    """Return what exiftool finds wrong with each file."""
    found = asked(paths, "-G4", "-validate", "-warning", "-error")
    return {
        path: frozenset(str(text) for key, text in tags.items() if key.endswith((":Warning", ":Error")))
        for path, tags in found.items()
    }


@functools.cache
def labels_of(key: str) -> tuple[str, ...]:
    """Return what counts a key of exiftool."""
    return tuple(label for label, pattern in PATTERNS.items() if pattern.fullmatch(key))


def plain(value: Any) -> Any:
    """Return a value without what makes no difference."""
    if isinstance(value, dict):
        return {key: plain(part) for key, part in value.items()}
    if isinstance(value, list):
        return plain(value[0]) if len(value) == 1 else [plain(part) for part in value]
    return value.strip(" \t\r\n\0") if isinstance(value, str) else value


def by_label(tags: Tags) -> dict[str, Tags]:
    """Return the fields that are counted."""
    found: dict[str, Tags] = {}
    for key, value in tags.items():
        for label in labels_of(key):
            found.setdefault(label, {})[key] = plain(value)
    return found


def prediction_of(before: Tags, after: Tags, everything: str | None) -> str | None:
    """Return what became of a field; a text that may stand anywhere is sought in *everything*."""
    if everything is not None:
        there = {json.dumps(value, ensure_ascii=False)[1:-1] in everything for value in map(str, before.values())}
        return None if not before else "same" if there == {True} else "changed" if True in there else "gone"
    if not before:
        return "added" if after else None
    return "same" if before == after else "changed" if after else "gone"


def compared(original: Tags, delivery: Tags) -> tuple[dict[str, str], dict[str, tuple[Tags, Tags]]]:
    """Return what became of each field, and those that are not the same."""
    before, after = by_label(original), by_label(delivery)
    text = json.dumps(delivery, ensure_ascii=False)
    fates, differs = {}, {}
    for label in PATTERNS:
        pair = before.get(label, {}), after.get(label, {})
        fate = prediction_of(*pair, text if label in ANYWHERE else None)
        if fate is not None:
            fates[label] = fate
            if fate != "same":
                differs[label] = pair
    return fates, differs
