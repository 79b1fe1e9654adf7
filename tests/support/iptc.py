"""IPTC IIM and image resource blocks put into files byte by byte (IIM 4.2, 1.5; XMP specification part 3, 1.1.2)."""

from __future__ import annotations

import struct
import zlib
from pathlib import Path

from tests.support.pictures import landscape

__all__ = ["SIGNATURE", "block", "data_set", "jpeg_with_blocks", "png_with_chunks", "raw_profile"]

SIGNATURE = b"Photoshop 3.0\0"


def data_set(record: int, number: int, data: bytes) -> bytes:
    """Return a data set."""
    return bytes((0x1C, record, number)) + struct.pack(">H", len(data)) + data


def block(number: int, data: bytes) -> bytes:
    """Return an image resource block without a name."""
    return b"8BIM" + struct.pack(">HHI", number, 0, len(data)) + data + b"\0" * (len(data) % 2)


def jpeg_with_blocks(path: Path, *segments: bytes) -> Path:
    """Write a JPEG with segments APP13, each of which holds some bytes."""
    landscape(320, 240).save(path, "JPEG", quality=90)
    data = path.read_bytes()
    parts = [SIGNATURE + content for content in segments]
    head = b"".join(struct.pack(">BBH", 0xFF, 0xED, len(part) + 2) + part for part in parts)
    path.write_bytes(data[:2] + head + data[2:])
    return path


def png_with_chunks(path: Path, *chunks: tuple[bytes, bytes]) -> Path:
    """Write a PNG with further chunks (PNG third edition, 5.3) behind its header."""
    landscape(320, 240).save(path, "PNG")
    data = path.read_bytes()
    made = b"".join(
        struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))
        for kind, content in chunks
    )
    path.write_bytes(data[:33] + made + data[33:])
    return path


def raw_profile(name: str, data: bytes) -> tuple[bytes, bytes]:
    """Return a chunk zTXt with octets as hexadecimal text, 72 digits a line, as programs write them."""
    digits = data.hex()
    lines = "\n".join(digits[at : at + 72] for at in range(0, len(digits), 72))
    text = f"\n{name}\n{len(data):8}\n{lines}\n"
    return b"zTXt", f"Raw profile type {name}".encode() + b"\0\0" + zlib.compress(text.encode())
