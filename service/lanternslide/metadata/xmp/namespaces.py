"""The namespaces of XMP that are known, and how their fields are called here.

A namespace is its address; the prefix is any program's choice (XMP specification part 1, ISO 16684-1, 6.2), so nothing
is ever decided by the prefix that a file uses. Keys are spelled ``Xmp.prefix.Name/prefix:Field`` with these prefixes.
"""

from __future__ import annotations

from collections.abc import Mapping

__all__ = [
    "FOREIGN",
    "OF_PICTURES_AND_HISTORY",
    "PREFIXES",
    "RDF",
    "SPELT_OTHERWISE",
    "STANDARD",
    "XML",
    "name_of",
    "tag_of",
]

RDF = "http://www.w3.org/1999/02/22-rdf-syntax-ns#"
XML = "http://www.w3.org/XML/1998/namespace"

FOREIGN = "?"
"""The prefix in keys of every namespace that is not known."""


def _by_address(groups: Mapping[str, str]) -> dict[str, str]:
    """Return the prefix of each namespace, from how the keys of its properties begin."""
    return {address: group.removeprefix("Xmp.").removesuffix(".") for group, address in groups.items()}


STANDARD = _by_address(
    {
        "Xmp.rdf.": RDF,
        "Xmp.xml.": XML,
        # XMP specification part 1 (ISO 16684-1), chapter 8, and part 2
        "Xmp.dc.": "http://purl.org/dc/elements/1.1/",
        "Xmp.xmp.": "http://ns.adobe.com/xap/1.0/",
        "Xmp.xmpRights.": "http://ns.adobe.com/xap/1.0/rights/",
        "Xmp.xmpidq.": "http://ns.adobe.com/xmp/Identifier/qual/1.0/",
        "Xmp.stDim.": "http://ns.adobe.com/xap/1.0/sType/Dimensions#",
        "Xmp.stArea.": "http://ns.adobe.com/xmp/sType/Area#",
        "Xmp.pdf.": "http://ns.adobe.com/pdf/1.3/",
        "Xmp.photoshop.": "http://ns.adobe.com/photoshop/1.0/",
        "Xmp.tiff.": "http://ns.adobe.com/tiff/1.0/",
        "Xmp.exif.": "http://ns.adobe.com/exif/1.0/",
        "Xmp.aux.": "http://ns.adobe.com/exif/1.0/aux/",
        # Exif 2.32 metadata for XMP (CIPA DC-X010-2019), annex
        "Xmp.exifEX.": "http://cipa.jp/exif/1.0/",
        # IPTC Photo Metadata Standard 2025.1
        "Xmp.Iptc4xmpCore.": "http://iptc.org/std/Iptc4xmpCore/1.0/xmlns/",
        "Xmp.Iptc4xmpExt.": "http://iptc.org/std/Iptc4xmpExt/2008-02-29/",
        # PLUS LDF 2.0.1
        "Xmp.plus.": "http://ns.useplus.org/ldf/xmp/1.0/",
        # Creative Commons Rights Expression Language (2008), and its namespace before
        "Xmp.cc.": "http://creativecommons.org/ns#",
        "Xmp.ccOld.": "http://web.resource.org/cc/",
        # DCMI Metadata Terms (2020)
        "Xmp.dcterms.": "http://purl.org/dc/terms/",
        # XMP specification part 2 (dynamic media)
        "Xmp.xmpDM.": "http://ns.adobe.com/xmp/1.0/DynamicMedia/",
        # TDM Reservation Protocol (W3C community group, 2024), vocabulary
        "Xmp.tdm.": "http://www.w3.org/ns/tdmrep/",
        # Metadata Working Group 2.0, 5.9: faces and the like, where they are in the frame
        "Xmp.mwg-rs.": "http://www.metadataworkinggroup.com/schemas/regions/",
    }
)
"""Published vocabularies, whose fields are known to say what they say."""

SPELT_OTHERWISE = {
    "http://ns.adobe.com/xap/1.0/sType/Area#": "http://ns.adobe.com/xmp/sType/Area#",
    "https://creativecommons.org/ns#": "http://creativecommons.org/ns#",
    "https://web.resource.org/cc/": "http://web.resource.org/cc/",
}
"""Addresses that programs write in place of a vocabulary's own (the first in files of the tracker-miners tests)."""

OF_PICTURES_AND_HISTORY = _by_address(
    {
        # XMP specification part 2: thumbnails, editing history, references to other files, extended XMP (part 3)
        "Xmp.xmpGImg.": "http://ns.adobe.com/xap/1.0/g/img/",
        "Xmp.xmpMM.": "http://ns.adobe.com/xap/1.0/mm/",
        "Xmp.stEvt.": "http://ns.adobe.com/xap/1.0/sType/ResourceEvent#",
        "Xmp.stRef.": "http://ns.adobe.com/xap/1.0/sType/ResourceRef#",
        "Xmp.stVer.": "http://ns.adobe.com/xap/1.0/sType/Version#",
        "Xmp.xmpNote.": "http://ns.adobe.com/xmp/note/",
        # Dynamic Depth 1.0 and what it grew out of: further pictures in the file
        "Xmp.GImage.": "http://ns.google.com/photos/1.0/image/",
        "Xmp.GAudio.": "http://ns.google.com/photos/1.0/audio/",
        "Xmp.GDepth.": "http://ns.google.com/photos/1.0/depthmap/",
        "Xmp.Container.": "http://ns.google.com/photos/1.0/container/",
        "Xmp.Item.": "http://ns.google.com/photos/1.0/container/item/",
        "Xmp.ContainerDD.": "http://ns.google.com/photos/dd/1.0/container/",
        "Xmp.ItemDD.": "http://ns.google.com/photos/dd/1.0/item/",
        "Xmp.ImageDD.": "http://ns.google.com/photos/dd/1.0/image/",
        # ISO 21496-1 and its forerunners: maps for brighter displays
        "Xmp.hdrgm.": "http://ns.adobe.com/hdr-gain-map/1.0/",
        "Xmp.HDRGainMap.": "http://ns.apple.com/HDRGainMap/1.0/",
    }
)
"""Vocabularies of further pictures in the original's file, and of what was done to it."""

PREFIXES = {**STANDARD, **OF_PICTURES_AND_HISTORY} | _by_address(
    {
        "Xmp.crs.": "http://ns.adobe.com/camera-raw-settings/1.0/",
        "Xmp.x.": "adobe:ns:meta/",
        # Motion Photo format 1.0, camera metadata: whether a video lies behind the picture
        "Xmp.GCamera.": "http://ns.google.com/photos/1.0/camera/",
        # Metadata Working Group 2.0: hierarchies of keywords
        "Xmp.mwg-kw.": "http://www.metadataworkinggroup.com/schemas/keywords/",
    }
)
"""What each namespace is called in keys, and in what is written."""

ADDRESSES = {prefix: address for address, prefix in PREFIXES.items()}


def name_of(tag: str) -> tuple[str, str]:
    """Return the prefix and the local name of a *tag* as ElementTree spells it, ``{address}name``."""
    address, _, local = tag.removeprefix("{").rpartition("}")
    return PREFIXES.get(address, FOREIGN), local


def tag_of(name: str) -> str:
    """Return the tag of a *name* such as ``dc:title``, whose prefix has to be a known one."""
    prefix, local = name.split(":")
    return f"{{{ADDRESSES[prefix]}}}{local}"
