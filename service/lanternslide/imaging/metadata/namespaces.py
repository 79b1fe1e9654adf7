"""The namespaces of XMP that are known, and how their fields are called here.

A namespace is its address; the prefix is any program's choice (XMP specification part 1, ISO 16684-1, 6.2), so nothing
is ever decided by the prefix that a file uses. Keys are spelled ``Xmp.prefix.Name/prefix:Field`` with these prefixes.
"""

from __future__ import annotations

from collections.abc import Mapping

__all__ = ["FOREIGN", "OF_PICTURES_AND_HISTORY", "PREFIXES", "RDF", "STANDARD", "XML", "name_of", "tag_of"]

RDF = "http://www.w3.org/1999/02/22-rdf-syntax-ns#"
XML = "http://www.w3.org/XML/1998/namespace"

FOREIGN = "?"
"""The prefix in keys of every namespace that is not known."""

STANDARD: Mapping[str, str] = {
    RDF: "rdf",
    XML: "xml",
    # XMP specification part 1 (ISO 16684-1), chapter 8, and part 2
    "http://purl.org/dc/elements/1.1/": "dc",
    "http://ns.adobe.com/xap/1.0/": "xmp",
    "http://ns.adobe.com/xap/1.0/rights/": "xmpRights",
    "http://ns.adobe.com/xmp/Identifier/qual/1.0/": "xmpidq",
    "http://ns.adobe.com/xap/1.0/sType/Dimensions#": "stDim",
    "http://ns.adobe.com/xmp/sType/Area#": "stArea",
    "http://ns.adobe.com/pdf/1.3/": "pdf",
    "http://ns.adobe.com/photoshop/1.0/": "photoshop",
    "http://ns.adobe.com/tiff/1.0/": "tiff",
    "http://ns.adobe.com/exif/1.0/": "exif",
    "http://ns.adobe.com/exif/1.0/aux/": "aux",
    # Exif 2.32 metadata for XMP (CIPA DC-X010-2019), annex
    "http://cipa.jp/exif/1.0/": "exifEX",
    # IPTC Photo Metadata Standard 2023.2
    "http://iptc.org/std/Iptc4xmpCore/1.0/xmlns/": "Iptc4xmpCore",
    "http://iptc.org/std/Iptc4xmpExt/2008-02-29/": "Iptc4xmpExt",
    # PLUS LDF 2.0.1
    "http://ns.useplus.org/ldf/xmp/1.0/": "plus",
    # Creative Commons Rights Expression Language (2008), and its namespace before
    "http://creativecommons.org/ns#": "cc",
    "http://web.resource.org/cc/": "ccOld",
    # DCMI Metadata Terms (2020)
    "http://purl.org/dc/terms/": "dcterms",
    # Metadata Working Group 2.0, 5.9: faces and the like, where they are in the frame
    "http://www.metadataworkinggroup.com/schemas/regions/": "mwg-rs",
}
"""Published vocabularies, whose fields are known to say what they say."""

OF_PICTURES_AND_HISTORY: Mapping[str, str] = {
    # XMP specification part 2: thumbnails, editing history, references to other files, extended XMP (part 3)
    "http://ns.adobe.com/xap/1.0/g/img/": "xmpGImg",
    "http://ns.adobe.com/xap/1.0/mm/": "xmpMM",
    "http://ns.adobe.com/xap/1.0/sType/ResourceEvent#": "stEvt",
    "http://ns.adobe.com/xap/1.0/sType/ResourceRef#": "stRef",
    "http://ns.adobe.com/xap/1.0/sType/Version#": "stVer",
    "http://ns.adobe.com/xmp/note/": "xmpNote",
    # Dynamic Depth 1.0 and what it grew out of: further pictures in the file
    "http://ns.google.com/photos/1.0/image/": "GImage",
    "http://ns.google.com/photos/1.0/audio/": "GAudio",
    "http://ns.google.com/photos/1.0/depthmap/": "GDepth",
    "http://ns.google.com/photos/1.0/container/": "Container",
    "http://ns.google.com/photos/1.0/container/item/": "Item",
    "http://ns.google.com/photos/dd/1.0/container/": "ContainerDD",
    "http://ns.google.com/photos/dd/1.0/item/": "ItemDD",
    "http://ns.google.com/photos/dd/1.0/image/": "ImageDD",
    # ISO 21496-1 and its forerunners: maps for brighter displays
    "http://ns.adobe.com/hdr-gain-map/1.0/": "hdrgm",
    "http://ns.apple.com/HDRGainMap/1.0/": "HDRGainMap",
}
"""Vocabularies of further pictures in the original's file, and of what was done to it."""

PREFIXES: Mapping[str, str] = {
    **STANDARD,
    **OF_PICTURES_AND_HISTORY,
    "http://ns.adobe.com/camera-raw-settings/1.0/": "crs",
    "adobe:ns:meta/": "x",
}
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
