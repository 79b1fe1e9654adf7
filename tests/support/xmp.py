"""XMP put into JPEGs byte by byte, as careless or hostile programs may write it."""

from __future__ import annotations

import hashlib
import struct
from pathlib import Path

from tests.support.pictures import landscape

__all__ = ["NAMESPACES", "jpeg_with_xmp", "packet"]

# XMP specification parts 1 to 3
HEAD = b"http://ns.adobe.com/xap/1.0/\0"
EXTENSION = b"http://ns.adobe.com/xmp/extension/\0"
NAMESPACES = {
    "dc": "http://purl.org/dc/elements/1.1/",
    "xmpRights": "http://ns.adobe.com/xap/1.0/rights/",
    "xmpNote": "http://ns.adobe.com/xmp/note/",
    "ps": "http://ns.adobe.com/photoshop/1.0/",
    "exif": "http://ns.adobe.com/exif/1.0/",
    "tiff": "http://ns.adobe.com/tiff/1.0/",
    "plus": "http://ns.useplus.org/ldf/xmp/1.0/",
    "Iptc4xmpCore": "http://iptc.org/std/Iptc4xmpCore/1.0/xmlns/",
    "a": "http://skerrow.example/a/",
}


def packet(body: str, **namespaces: str) -> str:
    """Return a packet with properties."""
    declared = " ".join(f'xmlns:{prefix}="{address}"' for prefix, address in (NAMESPACES | namespaces).items())
    return (
        '<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">'
        f'<rdf:Description rdf:about="" {declared}>{body}</rdf:Description></rdf:RDF></x:xmpmeta>'
    )


def jpeg_with_xmp(path: Path, standard: str, extension: str = "") -> Path:
    """Write a JPEG with a packet, in which DIGEST stands for the digest of its extension."""
    landscape(320, 240).save(path, quality=90)
    more = extension.encode()
    digest = hashlib.md5(more, usedforsecurity=False).hexdigest().upper()
    head = EXTENSION + digest.encode()
    pieces = [head + struct.pack(">II", len(more), at) + more[at : at + 60_000] for at in range(0, len(more), 60_000)]
    parts = [HEAD + standard.replace("DIGEST", digest).encode(), *pieces]
    data = path.read_bytes()
    segments = b"".join(struct.pack(">BBH", 0xFF, 0xE1, len(part) + 2) + part for part in parts)
    path.write_bytes(data[:2] + segments + data[2:])
    return path
