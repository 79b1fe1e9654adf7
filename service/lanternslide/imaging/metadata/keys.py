"""Which metadata travels: decisions on the keys that the library (exiv2) gives to Exif, IPTC IIM and XMP.

Sources: Exif 3.0 (CIPA DC-008); TIFF 6.0; IPTC Photo Metadata Standard 2023.2 (IIM and XMP fields); PLUS LDF 2.0.1;
XMP specification parts 1 and 2 (ISO 16684-1). Which fields speak of a place, beyond those that the standards define,
is told by the words of their names.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from enum import StrEnum

__all__ = ["AUTHOR", "KINDS", "Policy", "holds_picture", "is_of_maker", "speaks_of_place", "travels"]

KINDS = ("exif", "iptc", "xmp")
"""The kinds of metadata, as the library calls them."""


class Policy(StrEnum):
    """How much of an original's metadata travels."""

    WHOLE = "whole"  #: All but what never travels.
    RIGHTS = "rights"  #: What names the author and the rights, and what the picture is of.
    BARE = "bare"  #: Nothing.


# TIFF 6.0, sections 8, 10 and 13 to 22, and supplements: how the original's file is laid out.
STRUCTURE = frozenset(
    f"Exif.Image.{name}"
    for name in (
        "NewSubfileType", "SubfileType", "ImageWidth", "ImageLength", "BitsPerSample", "Compression",
        "PhotometricInterpretation", "Threshholding", "FillOrder", "StripOffsets", "SamplesPerPixel",
        "RowsPerStrip", "StripByteCounts", "PlanarConfiguration", "TransferFunction", "Predictor",
        "WhitePoint", "PrimaryChromaticities", "ColorMap", "TileWidth", "TileLength", "TileOffsets",
        "TileByteCounts", "SubIFDs", "InkSet", "ExtraSamples", "SampleFormat", "JPEGTables", "JPEGProc",
        "JPEGInterchangeFormat", "JPEGInterchangeFormatLength", "YCbCrCoefficients", "YCbCrSubSampling",
        "YCbCrPositioning", "ReferenceBlackWhite", "XMLPacket", "IPTCNAA", "ImageResources", "ImageSourceData",
        "InterColorProfile", "PageNumber", "PageName",
    )
)  # fmt: skip

FILES = frozenset({
    "Exif.Image.DocumentName", "Exif.Image.ImageHistory", "Exif.Image.OriginalRawFileName",
    "Exif.Image.OriginalRawFileData", "Exif.Photo.RelatedSoundFile", "Exif.Iop.RelatedImageFileFormat",
    "Exif.Iop.RelatedImageWidth", "Exif.Iop.RelatedImageLength", "Exif.Image.DNGPrivateData",
})  # fmt: skip
"""Exif that names other files, or tells what was done to this one."""

NEVER_GROUPS = ("Exif.Thumbnail.", "Exif.SubImage", "Exif.SubThumb", "Exif.Image2.", "Exif.Image3.", "Exif.MpfInfo.")
"""Groups of Exif that hold thumbnails and further pictures."""

NEVER_XMP = (
    "Xmp.xmpGImg.", "Xmp.GImage", "Xmp.GContainer", "Xmp.Container", "Xmp.Item", "Xmp.hdrgm", "Xmp.HDRGainMap",
    "Xmp.xmpMM.", "Xmp.stEvt.", "Xmp.stRef.", "Xmp.photoshop.History", "Xmp.photoshop.DocumentAncestors",
    "Xmp.photoshop.ICCProfile", "Xmp.photoshop.ColorMode", "Xmp.crs.RawFileName", "Xmp.xmpNote.",
    "Xmp.tiff.ImageWidth", "Xmp.tiff.ImageLength", "Xmp.tiff.BitsPerSample", "Xmp.tiff.Compression",
    "Xmp.tiff.PhotometricInterpretation", "Xmp.tiff.SamplesPerPixel", "Xmp.tiff.PlanarConfiguration",
    "Xmp.tiff.NativeDigest", "Xmp.tiff.YCbCr", "Xmp.exif.NativeDigest",
    "Xmp.exif.MakerNote",
)  # fmt: skip
"""XMP of further pictures in the original's file (previews, depth, maps for brighter displays), of what was done to it
where, and of how its file is laid out."""

NEVER_IPTC = ("Iptc.Application2.Preview", "Iptc.Application2.RasterizedCaption")

PICTURE_WORDS = frozenset({"thumbnail", "thumbnails", "preview"})
"""Words in the names of maker notes and XMP that hold small versions of the unprocessed picture."""

PATH_WORDS = frozenset({"path", "filename", "filepath"})
"""Words in the names of XMP that says where the original's file lay."""

PLACE_WORDS = frozenset({
    "lat", "lon", "lng", "altitude", "location", "locality", "city", "country", "province", "landmark", "geo", "place",
    "address", "coordinate", "coordinates",
})  # fmt: skip
PLACE_PARTS = ("gps", "latitude", "longitude", "longtitude", "sublocation", "worldregion", "geotag", "geohash")
"""What speaks of a place wherever it stands in a name; the misspelt one is some drones' own."""

PLACE_KEYS = frozenset({
    "Iptc.Application2.SubLocation", "Iptc.Application2.ProvinceState", "Xmp.photoshop.State",
})  # fmt: skip
"""Fields of places that no word tells."""

PLACE_NAMESPACES = ("Exif.GPSInfo.", "Xmp.dwc.")

NO_PLACE = frozenset({"SubjectLocation"})
"""Where in the frame the subject is (Exif 3.0, 4.6.5)."""

CONTACTS = (
    "Xmp.iptc.CreatorContactInfo", "Xmp.plus.Licensor", "Xmp.plus.CopyrightOwner", "Xmp.plus.ImageCreator",
    "Xmp.plus.ImageSupplier",
)  # fmt: skip
"""Structures whose addresses are where somebody can be reached, not where a picture was taken."""

RIGHTS_EXIF = frozenset({
    "Exif.Image.Artist", "Exif.Image.Copyright", "Exif.Image.ImageDescription", "Exif.Image.XPTitle",
    "Exif.Image.XPAuthor", "Exif.Image.XPSubject", "Exif.Image.XPKeywords", "Exif.Photo.ImageTitle",
    "Exif.Photo.Photographer",
})  # fmt: skip
RIGHTS_IPTC = frozenset(
    f"Iptc.Application2.{name}"
    for name in (
        "Byline", "BylineTitle", "Copyright", "Credit", "Source", "Contact", "ObjectName", "Headline", "Caption",
        "Keywords",
    )
)  # fmt: skip
RIGHTS_XMP = (
    "Xmp.dc.creator", "Xmp.dc.rights", "Xmp.dc.title", "Xmp.dc.description", "Xmp.dc.subject",
    "Xmp.photoshop.AuthorsPosition", "Xmp.photoshop.Credit", "Xmp.photoshop.Source", "Xmp.photoshop.Headline",
    "Xmp.xmpRights.", "Xmp.cc.", "Xmp.iptc.CreatorContactInfo", "Xmp.iptc.AltTextAccessibility",
    "Xmp.iptc.ExtDescrAccessibility", "Xmp.plus.Licensor", "Xmp.plus.CopyrightOwner", "Xmp.plus.ImageCreator",
    "Xmp.plus.ImageSupplier", "Xmp.plus.DataMining", "Xmp.plus.OtherConstraints", "Xmp.plus.CreditLineRequired",
    "Xmp.plus.TermsAndConditions", "Xmp.plus.OtherLicense", "Xmp.plus.LicensorNotes", "Xmp.plus.CopyrightStatus",
    "Xmp.plus.CopyrightRegistrationNumber",
)  # fmt: skip

AUTHOR: Mapping[str, frozenset[str]] = {
    "exif": frozenset({"Exif.Image.Artist", "Exif.Image.Copyright"}),
    "iptc": frozenset({"Iptc.Application2.Byline", "Iptc.Application2.Copyright"}),
    "xmp": frozenset({"Xmp.dc.creator", "Xmp.dc.rights", "Xmp.xmpRights.UsageTerms", "Xmp.xmpRights.WebStatement"}),
}
"""What is missed most where nothing travels."""

UNKNOWN = re.compile(r"\.0x[0-9a-f]+$")
"""Fields that the library knows by number alone."""

PARTS = re.compile(r"[./\[\]:]")
WORDS = re.compile(r"[A-Z]+(?![a-z])|[A-Z]?[a-z]+")
STANDARD_EXIF = frozenset({"Image", "Photo", "GPSInfo", "Iop", "Thumbnail", "MpfInfo", "MakerNote"})


def travels(kind: str, policy: Policy, *, keep_location: bool) -> Callable[[str], bool]:
    """Return which keys of a *kind* of metadata travel; a location that is to be kept is, but where nothing travels."""
    never = {"exif": _never_exif, "iptc": _never_iptc, "xmp": _never_xmp}[kind]
    rights = {"exif": RIGHTS_EXIF.__contains__, "iptc": RIGHTS_IPTC.__contains__, "xmp": _is_rights_xmp}[kind]

    def decide(key: str) -> bool:
        if policy is Policy.BARE or never(key):
            return False
        if is_of_maker(key) or UNKNOWN.search(key):  # whatever it says, a place may be in it
            return keep_location and policy is Policy.WHOLE
        if speaks_of_place(key):
            return keep_location
        return policy is Policy.WHOLE or rights(key)

    return decide


def _never_exif(key: str) -> bool:
    return key in STRUCTURE or key in FILES or key.startswith(NEVER_GROUPS)


def _never_iptc(key: str) -> bool:
    return key.startswith(NEVER_IPTC)


def _never_xmp(key: str) -> bool:
    words = _words(key)
    return key.startswith(NEVER_XMP) or bool(PICTURE_WORDS & words) or bool(PATH_WORDS & words)


def _is_rights_xmp(key: str) -> bool:
    return key.startswith(RIGHTS_XMP)


def speaks_of_place(key: str) -> bool:
    """Return whether a field says where a picture was taken, or what place it shows."""
    if key in PLACE_KEYS or key.startswith(PLACE_NAMESPACES) or key == "Exif.Image.GPSTag":
        return True
    if key.startswith(CONTACTS) or key.rsplit(".", 1)[-1] in NO_PLACE:
        return False
    return bool(PLACE_WORDS & _words(key)) or any(part in key.lower() for part in PLACE_PARTS)


def _words(key: str) -> frozenset[str]:
    """Return the words that a key's namespace and names are made of, without the kind."""
    names = PARTS.split(key.split(".", 1)[-1])
    return frozenset(word.lower() for name in names for word in WORDS.findall(name))


def is_of_maker(key: str) -> bool:
    """Return whether a key is one of a camera's maker, or the note that holds those.

    Taking single fields out of such a note leaves their bytes behind, so it travels whole or not at all.
    """
    return key == "Exif.Photo.MakerNote" or (key.startswith("Exif.") and key.split(".")[1] not in STANDARD_EXIF)


def holds_picture(key: str) -> bool:
    """Return whether a key of a camera's maker stands for a small version of the unprocessed picture."""
    return is_of_maker(key) and bool(PICTURE_WORDS & _words(key))
