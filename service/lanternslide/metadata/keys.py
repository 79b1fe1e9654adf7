"""Which metadata travels: decisions on the keys that the library (exiv2) gives to Exif and IPTC IIM, and `tree` to XMP.

Sources: Exif 3.0 (CIPA DC-008); TIFF 6.0; IPTC Photo Metadata Standard 2025.1 (IIM and XMP fields); PLUS LDF 2.0.1;
XMP specification parts 1 and 2 (ISO 16684-1); TDM Reservation Protocol (W3C community group, 2024). Which fields
speak of a place, beyond those that the standards define, is told by the words of their names.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from enum import StrEnum

from lanternslide.metadata.xmp.namespaces import OF_PICTURES_AND_HISTORY, STANDARD

__all__ = [
    "AUTHOR",
    "CALLED", "KINDS", "Policy", "holds_picture", "is_foreign", "is_of_maker", "names_owner", "speaks_of_place",
    "travels",
]  # fmt: skip

KINDS = ("exif", "iptc", "xmp")
"""The kinds of metadata, as the library calls them."""


CALLED = {"exif": "Exif", "xmp": "XMP", "iptc": "IPTC", "png": "its texts", "extras": "what lies beside the picture"}
"""What the kinds, and what else is read, are called for a person."""


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
        "PhotometricInterpretation", "Thresholding", "FillOrder", "StripOffsets", "SamplesPerPixel",
        "RowsPerStrip", "StripByteCounts", "PlanarConfiguration", "TransferFunction", "Predictor",
        "WhitePoint", "PrimaryChromaticities", "ColorMap", "TileWidth", "TileLength", "TileOffsets",
        "TileByteCounts", "SubIFDs", "InkSet", "ExtraSamples", "SampleFormat", "JPEGTables", "JPEGProc",
        "JPEGInterchangeFormat", "JPEGInterchangeFormatLength", "YCbCrCoefficients", "YCbCrSubSampling",
        "YCbCrPositioning", "ReferenceBlackWhite", "XMLPacket", "IPTCNAA", "ImageResources", "ImageSourceData",
        "InterColorProfile", "PageNumber", "PageName", "JPEGRestartInterval", "JPEGLosslessPredictors",
        "JPEGPointTransforms", "JPEGQTables", "JPEGDCTables", "JPEGACTables", "T4Options", "T6Options", "InkNames",
        "NumberOfInks", "DotRange", "Indexed", "SMinSampleValue", "SMaxSampleValue", "TransferRange",
        "GrayResponseUnit", "GrayResponseCurve", "OPIProxy", "ClipPath", "XClipPathUnits", "YClipPathUnits",
        "AsShotICCProfile", "AsShotPreProfileMatrix", "CurrentICCProfile", "CurrentPreProfileMatrix",
    )
)  # fmt: skip

RAW = tuple(
    f"Exif.Image.{name}"
    for name in (
        "ColorMatrix", "ForwardMatrix", "ReductionMatrix", "CameraCalibration", "AnalogBalance", "AsShot", "Baseline",
        "BayerGreenSplit", "LinearResponseLimit", "LinearizationTable", "BlackLevel", "WhiteLevel",
        "CalibrationIlluminant", "Profile", "ExtraCameraProfiles", "Current", "OpcodeList", "NoiseProfile",
        "NoiseReductionApplied", "DefaultCrop", "DefaultScale", "DefaultUserCrop", "DefaultBlackRender",
        "BestQualityScale", "AntiAliasStrength", "ShadowScale",
        "ActiveArea", "MaskedAreas", "CFA", "SubTileBlockSize", "RowInterleaveFactor", "ColorimetricReference", "DNG",
        "RawDataUniqueID", "RawImageDigest", "NewRawImageDigest", "OriginalDefault", "PreviewColorSpace",
        "PreviewSettings", "PreviewApplication", "PreviewDateTime",
    )
)  # fmt: skip
"""How names begin of what is said of a raw picture and its colours (Digital Negative 1.7.1), untrue of a delivery."""

FILES = frozenset({
    "Exif.Image.DocumentName", "Exif.Image.ImageHistory", "Exif.Image.0x935c", "Exif.Image.ImageID",
    "Exif.Image.OriginalRawFileName",
    "Exif.Image.OriginalRawFileData", "Exif.Photo.RelatedSoundFile", "Exif.Iop.RelatedImageFileFormat",
    "Exif.Iop.RelatedImageWidth", "Exif.Iop.RelatedImageLength", "Exif.Image.DNGPrivateData",
})  # fmt: skip
"""Exif that names other files, or tells what was done to this one."""

NEVER_GROUPS = ("Exif.Thumbnail.", "Exif.SubImage", "Exif.SubThumb", "Exif.Image2.", "Exif.Image3.", "Exif.MpfInfo.")
"""Groups of Exif that hold thumbnails and further pictures."""

NEVER_XMP = frozenset({
    "Xmp.xmp.BaseURL", "Xmp.tiff.DocumentName", "Xmp.exif.RelatedSoundFile",
    "Xmp.photoshop.History", "Xmp.photoshop.DocumentAncestors", "Xmp.photoshop.ICCProfile",
    "Xmp.photoshop.ICCProfileName", "Xmp.photoshop.ColorMode", "Xmp.crs.RawFileName", "Xmp.tiff.ImageWidth",
    "Xmp.tiff.ImageLength", "Xmp.tiff.BitsPerSample", "Xmp.tiff.Compression", "Xmp.tiff.PhotometricInterpretation",
    "Xmp.tiff.SamplesPerPixel", "Xmp.tiff.PlanarConfiguration", "Xmp.tiff.NativeDigest", "Xmp.tiff.YCbCrCoefficients",
    "Xmp.tiff.YCbCrSubSampling", "Xmp.tiff.YCbCrPositioning", "Xmp.exif.NativeDigest", "Xmp.exif.MakerNote",
    "Xmp.photoshop.LegacyIPTCDigest", "Xmp.photoshop.EmbeddedXMPDigest", "Xmp.photoshop.SidecarForExtension",
})  # fmt: skip
"""XMP of what was done to the original's file, and of how it is laid out."""

MARKS_OF_VIDEO = ("Xmp.GCamera.MicroVideo", "Xmp.GCamera.MotionPhoto")
"""XMP that says where in the original's file a video is (Motion Photo format 1.0, camera metadata)."""

NEVER_PREFIXES = frozenset(OF_PICTURES_AND_HISTORY.values())
KNOWN_PREFIXES = frozenset(STANDARD.values())

CLOSED: Mapping[str, frozenset[str]] = {
    "Xmp.photoshop.": frozenset({
        "AuthorsPosition", "CaptionWriter", "Category", "City", "Country", "Credit", "DateCreated", "Headline",
        "Instructions", "Source", "State", "SupplementalCategories", "TransmissionReference", "Urgency",
    }),
    "Xmp.Iptc4xmpCore.": frozenset({
        "AltTextAccessibility", "CountryCode", "CreatorContactInfo", "ExtDescrAccessibility", "IntellectualGenre",
        "Location", "Scene", "SubjectCode",
    }),
    "Xmp.xmpDM.": frozenset({"artist", "copyright"}),
}  # fmt: skip
"""All names that are known of some vocabularies: of two in which places have names of one word (IPTC Photo Metadata
Standard 2025.1), so that a name that is spelt wrong is none of them, and of one for films, what speaks of rights."""

NEVER_IPTC = ("Iptc.Application2.Preview", "Iptc.Application2.RasterizedCaption")

PICTURE_WORDS = frozenset({"thumbnail", "thumbnails", "preview"})
"""Words in the names of maker notes and XMP that hold small versions of the unprocessed picture."""

PATH_WORDS, PATH_PARTS = frozenset({"path"}), ("filename", "filepath")
NO_PATHS = frozenset({"filenameasdelivered"})
"""Words, and parts of names, of XMP that says where the original's file lay; and what PLUS calls a licensee's copy."""

PLACE_WORDS = frozenset({
    "lat", "lon", "lng", "latlon", "latlng", "latlong", "altitude", "location", "locations", "locality", "localities",
    "city", "cities", "cityname", "country", "countries", "countryname", "countrycode", "province", "provinces",
    "landmark", "geo", "place", "places", "placename", "address", "coordinate", "coordinates",
})  # fmt: skip
PLACE_PARTS = (
    "gps", "latitude", "longitude", "longtitude", "sublocation", "worldregion", "geotag", "geohash", "geoloc", "geopos",
    "geocod", "latlon", "latlng", "placename", "countryname", "countrycode", "cityname", "postalcode", "pluscode",
)  # fmt: skip
"""What speaks of a place wherever it stands in a name; the misspelt one is some drones' own."""

PLACE_NAMES = frozenset({
    "state", "county", "region", "town", "village", "district", "venue", "street", "zip", "zipcode", "position",
    "elevation", "absalt", "lrftargetabsalt", "easting", "northing", "utm", "mgrs", "continent", "island", "mapurl",
    "spatial", "point", "where",
})  # fmt: skip
"""What speaks of a place where it is the whole name of a field (as part of one it may be a job, or a face)."""

PLACE_KEYS = frozenset({
    "Iptc.Application2.SubLocation", "Iptc.Application2.ProvinceState", "Xmp.dc.coverage", "Xmp.dcterms.coverage",
})  # fmt: skip
"""Fields of places that no word tells; what a picture covers is a place or a time (DCMI Metadata Terms)."""

NO_PLACE = frozenset({"SubjectLocation"})
"""Where in the frame the subject is (Exif 3.0, 4.6.5)."""

CONTACT = re.compile(
    r"Xmp\.(?:Iptc4xmpCore\.CreatorContactInfo|plus\.(?:Licensor|CopyrightOwner|ImageCreator|ImageSupplier)\w*)"
    r"(?:\[\d+\]|/Iptc4xmpCore:Ci\w+|/plus:(?:Licensor|CopyrightOwner|ImageCreator|ImageSupplier)\w*)*"
)
"""Structures whose own fields for addresses are where somebody can be reached, not where a picture was taken."""

RIGHTS_EXIF = frozenset({
    "Exif.Image.Artist", "Exif.Image.Copyright", "Exif.Image.ImageDescription", "Exif.Image.XPTitle",
    "Exif.Image.XPAuthor", "Exif.Image.XPSubject", "Exif.Image.XPKeywords", "Exif.Photo.ImageTitle",
    "Exif.Photo.Photographer",
})  # fmt: skip
RIGHTS_IPTC = frozenset(
    f"Iptc.Application2.{name}"
    for name in (
        "Byline", "BylineTitle", "Copyright", "Credit", "Source", "Contact", "ObjectName", "Headline", "Caption",
        "Keywords", "SpecialInstructions",
    )
)  # fmt: skip
RIGHTS_XMP = frozenset({
    "Xmp.dc.creator", "Xmp.dc.rights", "Xmp.dc.title", "Xmp.dc.description", "Xmp.dc.subject", "Xmp.dcterms.license",
    "Xmp.dcterms.rights", "Xmp.dcterms.rightsHolder", "Xmp.dcterms.creator", "Xmp.pdf.Author", "Xmp.pdf.Copyright",
    "Xmp.tiff.Artist", "Xmp.tiff.Copyright", "Xmp.photoshop.AuthorsPosition", "Xmp.photoshop.Credit",
    "Xmp.photoshop.Source", "Xmp.photoshop.Headline", "Xmp.Iptc4xmpCore.CreatorContactInfo",
    "Xmp.Iptc4xmpCore.AltTextAccessibility", "Xmp.Iptc4xmpCore.ExtDescrAccessibility", "Xmp.photoshop.Instructions",
    "Xmp.dc.publisher", "Xmp.dc.contributor", "Xmp.dcterms.publisher", "Xmp.dcterms.accessRights",
    "Xmp.exifEX.Photographer", "Xmp.xmpDM.artist", "Xmp.xmpDM.copyright",
    *(f"Xmp.Iptc4xmpExt.{name}" for name in (
        "DigitalSourceType", "DigitalSourcefileType", "AISystemUsed", "AISystemVersionUsed", "AIPromptInformation",
        "AIPromptWriterName", "EmbdEncRightsExpr", "LinkedEncRightsExpr", "RegistryId", "CopyrightYear", "Contributor",
        "Creator", "DigImageGUID",
    )),
})  # fmt: skip
RIGHTS_FAMILIES = ("Xmp.xmpRights.", "Xmp.cc.", "Xmp.ccOld.", "Xmp.plus.", "Xmp.tdm.")

ARTWORK = "Xmp.Iptc4xmpExt.ArtworkOrObject"
RIGHTS_OF_ARTWORK = re.compile(
    r":AO(?:CopyrightNotice|Creator(?:Id)?|Source|CurrentCopyrightOwner\w+|CurrentLicensor\w+|Title)$"
)
"""What an artwork in the picture has of rights (IPTC Photo Metadata Standard 2025.1, artwork or object details)."""

AUTHOR: Mapping[str, frozenset[str]] = {
    "exif": frozenset({"Exif.Image.Artist", "Exif.Image.Copyright"}),
    "iptc": frozenset({"Iptc.Application2.Byline", "Iptc.Application2.Copyright"}),
    "xmp": frozenset({"Xmp.dc.creator", "Xmp.dc.rights", "Xmp.xmpRights.UsageTerms", "Xmp.xmpRights.WebStatement"}),
}
"""What is missed most where nothing travels."""

SERIAL_WORDS = frozenset({"serial", "serialnumber"})
SERIALS = frozenset({"hostcomputer"})
OWNERS = frozenset({"ownername", "cameraownername"})
"""Names of fields that tell which camera, lens or computer it was, and whose camera (Exif 3.0, 4.6.6; XMP part 2)."""

UNKNOWN = re.compile(r"\.0x[0-9a-f]+$")
"""Fields that the library knows by number alone."""

ROOT_ENDS = re.compile(r"[/\[]")
PREFIX = re.compile(r"/\??([^/:\[]+):")
PARTS = re.compile(r"[./\[\]:]")
WORDS = re.compile(r"[A-Z]+(?![a-z])|[A-Z]?[a-z]+")
STANDARD_EXIF = frozenset({"Image", "Photo", "GPSInfo", "Iop", "Thumbnail", "MpfInfo", "MakerNote"})


def travels(
    kind: str, policy: Policy, *, keep_location: bool, keep_serials: bool = False, keep_owner: bool = False
) -> Callable[[str], bool]:
    """Return which keys of a *kind* of metadata travel; a location that is to be kept is, but where nothing travels.

    Serial numbers do where they are to be kept, and the camera owner's name where that is the author's too. What may
    hold both a place and a serial number travels where both may.
    """
    never = {"exif": _never_exif, "iptc": _never_iptc, "xmp": _never_xmp}[kind]
    rights = {"exif": RIGHTS_EXIF.__contains__, "iptc": RIGHTS_IPTC.__contains__, "xmp": _is_rights_xmp}[kind]

    def decide(key: str) -> bool:
        if policy is Policy.BARE or never(key):
            return False
        if is_of_maker(key) or UNKNOWN.search(key):  # whatever it says, a place or a number may be in it
            return keep_location and keep_serials and policy is Policy.WHOLE
        if not keep_serials and ((names_owner(key) and not keep_owner) or is_serial(key)):
            return False
        if speaks_of_place(key):
            return keep_location
        if is_foreign(key):
            return keep_location and policy is Policy.WHOLE
        return policy is Policy.WHOLE or rights(key)

    return decide


def _never_exif(key: str) -> bool:
    return key in STRUCTURE or key in FILES or key.startswith((*NEVER_GROUPS, *RAW))


def _never_iptc(key: str) -> bool:
    return key.startswith(NEVER_IPTC)


def _never_xmp(key: str) -> bool:
    root = _root(key)
    if root in NEVER_XMP or root.startswith(MARKS_OF_VIDEO) or _prefixes(key) & NEVER_PREFIXES:
        return True
    names = [name.lower() for name in _names(key) if name.lower() not in NO_PATHS]
    is_file = any(part in name for part in PATH_PARTS for name in names)
    return is_file or bool((PICTURE_WORDS | PATH_WORDS) & _words(key))


def _is_rights_xmp(key: str) -> bool:
    root = _root(key)
    if root == ARTWORK:
        return root == key or RIGHTS_OF_ARTWORK.search(key) is not None
    return root in RIGHTS_XMP or root.startswith(RIGHTS_FAMILIES)


def is_serial(key: str) -> bool:
    """Return whether a field tells which camera, lens or computer a picture comes from."""
    names = [name.lower() for name in _names(key)]
    return bool(SERIAL_WORDS & _words(key)) or any("serialnumber" in name or name in SERIALS for name in names)


def names_owner(key: str) -> bool:
    """Return whether a field names the owner of the camera."""
    return any(name.lower() in OWNERS for name in _names(key))


def is_foreign(key: str) -> bool:
    """Return whether a key of XMP, or one of the structures it is in, is of no published vocabulary.

    What such a field says, its name cannot tell for certain: a place may be in it.
    """
    if not key.startswith("Xmp."):
        return False
    prefix, name = _root(key).split(".", 2)[1:]
    return not _prefixes(key) <= KNOWN_PREFIXES or name not in CLOSED.get(f"Xmp.{prefix}.", {name})


def speaks_of_place(key: str) -> bool:
    """Return whether a field says where a picture was taken, or what place it shows."""
    if _root(key) in PLACE_KEYS or key.startswith("Exif.GPSInfo.") or key == "Exif.Image.GPSTag":
        return True
    if CONTACT.fullmatch(key) or key.rsplit(".", 1)[-1] in NO_PLACE:
        return False
    names = _names(key)
    if any(name.lower() in PLACE_NAMES for name in names):
        return True
    return bool(PLACE_WORDS & _words(key)) or any(part in name.lower() for part in PLACE_PARTS for name in names)


def _root(key: str) -> str:
    """Return the key of the property that a field of a structure is in."""
    return ROOT_ENDS.split(key, maxsplit=1)[0]


def _prefixes(key: str) -> frozenset[str]:
    """Return the prefixes of the namespaces in a key of XMP."""
    _, prefix, rest = key.split(".", 2)
    return frozenset({prefix, *(found[1] for found in PREFIX.finditer(rest))})


def _names(key: str) -> list[str]:
    """Return the names in a key, without the kind and the group or the namespaces."""
    return PARTS.split(PREFIX.sub("/", key.split(".", 2)[-1]))


def _words(key: str) -> frozenset[str]:
    """Return the words that a key's names are made of."""
    return frozenset(word.lower() for name in _names(key) for word in WORDS.findall(name))


def is_of_maker(key: str) -> bool:
    """Return whether a key is one of a camera's maker, or the note that holds those.

    Taking single fields out of such a note leaves their bytes behind, so it travels whole or not at all.
    """
    return key == "Exif.Photo.MakerNote" or (key.startswith("Exif.") and key.split(".")[1] not in STANDARD_EXIF)


def holds_picture(key: str) -> bool:
    """Return whether a key of a camera's maker stands for a small version of the unprocessed picture."""
    return is_of_maker(key) and bool(PICTURE_WORDS & _words(key))
