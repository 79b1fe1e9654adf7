"""Pictures of kinds that no library writes, byte by byte, and sound ones of every kind that is read."""

from __future__ import annotations

import io
import struct
from collections.abc import Mapping
from functools import cache
from types import MappingProxyType
from typing import Any

import numpy as np
import numpy.typing as npt
import pyvips
import tifffile
from PIL import Image

from lanternslide.imaging.colour.srgb import srgb_profile
from tests.support.pictures import landscape

__all__ = [
    "HEIGHT",
    "WIDTH",
    "as_bigtiff",
    "framed_anew",
    "lossless_jpeg",
    "segment",
    "sound_files",
    "tiff",
    "with_tag",
]

WIDTH, HEIGHT = 96, 64
JPEG_ENDS = b"\xff\xd8", b"\xff\xd9"
KIND_BYTES = {1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 6: 1, 7: 1, 8: 2, 9: 4, 10: 8, 11: 4, 12: 8, 13: 4}
"""Bytes of a value by its type (TIFF 6.0, section 2)."""

CODE_BITS, CODES = 5, 17
"""A Huffman code of a length for all, for each number of bits that a difference can have."""


def segment(marker: int, content: bytes) -> bytes:
    """Return a segment of a JPEG (ITU-T T.81, B.1.1.4)."""
    return struct.pack(">BBH", 0xFF, marker, len(content) + 2) + content


def lossless_jpeg(codes: npt.NDArray[Any], bits: int = 8, marker: int = 0xC3) -> bytes:
    """Return a lossless JPEG of *codes* (rows, width, channels), each predicted by its left neighbour.

    Source: ITU-T T.81, annex H: H.1.2.1 (prediction), H.1.2.2 (codes).
    """
    rows, width, channels = codes.shape
    parts = bytes(number for channel in range(channels) for number in (channel + 1, 0x11, 0))
    frame = struct.pack(">BHHB", bits, rows, width, channels) + parts
    table = bytes(1 + CODE_BITS - 1) + bytes([CODES]) + bytes(16 - CODE_BITS) + bytes(range(CODES))
    scan = bytes([channels, *(number for channel in range(channels) for number in (channel + 1, 0)), 1, 0, 0])
    values = codes.astype(int)
    before = np.empty_like(values)
    before[:, 1:] = values[:, :-1]
    before[1:, 0] = values[:-1, 0]
    before[0, 0] = 1 << (bits - 1)
    written = "".join(map(_code, (values - before).reshape(-1).tolist()))
    written += "1" * (-len(written) % 8)
    data = int(written, 2).to_bytes(len(written) // 8, "big").replace(b"\xff", b"\xff\0")
    begin, end = JPEG_ENDS
    return begin + segment(marker, frame) + segment(0xC4, table) + segment(0xDA, scan) + data + end


def _code(difference: int) -> str:
    length = abs(difference).bit_length()
    rest = difference if difference > 0 else difference + (1 << length) - 1
    return format(length, f"0{CODE_BITS}b") + (format(rest, f"0{length}b") if length else "")


def framed_anew(jpeg: bytes, **changes: int) -> bytes:
    """Return a JPEG whose first frame has another *marker*, *bits*, *height* or number of *channels*."""
    at = next(at for at in range(len(jpeg)) if jpeg[at] == 0xFF and jpeg[at + 1] in (0xC0, 0xC2, 0xC3))
    (length,) = struct.unpack_from(">H", jpeg, at + 2)
    frame = bytearray(jpeg[at : at + 2 + length])
    channels = changes.get("channels", frame[9])
    frame[1] = changes.get("marker", frame[1])
    frame[4] = changes.get("bits", frame[4])
    if "height" in changes:
        frame[5:7] = struct.pack(">H", changes["height"])
    parts = bytes(number for channel in range(channels) for number in (channel + 1, 0x11, 0))
    head = bytes(frame[:2]) + struct.pack(">H", 8 + 3 * channels) + bytes(frame[4:9]) + bytes([channels])
    return jpeg[:at] + head + (bytes(frame[10:]) if channels == frame[9] else parts) + jpeg[at + 2 + length :]


def tiff(codes: npt.NDArray[Any], **options: Any) -> bytes:
    """Return a TIFF of *codes*, without a profile if none is in the *options*."""
    stream = io.BytesIO()
    tifffile.imwrite(stream, codes, metadata=None, **options)
    return stream.getvalue()


def with_tag(data: bytes, tag: int, value: int) -> bytes:
    """Return a TIFF with another *value* of a *tag* of its first page (TIFF 6.0, section 2; BigTIFF)."""
    changed = bytearray(data)
    order = "<" if data[:2] == b"II" else ">"
    is_big = struct.unpack_from(f"{order}H", data, 2) == (43,)
    number, count = (f"{order}Q", f"{order}Q") if is_big else (f"{order}I", f"{order}H")
    (start,) = struct.unpack_from(number, data, 8 if is_big else 4)
    (entries,) = struct.unpack_from(count, data, start)
    for entry in range(entries):
        at = start + struct.calcsize(count) + entry * (20 if is_big else 12)
        found, kind = struct.unpack_from(f"{order}HH", data, at)
        if found == tag:
            shape, most = (f"{order}H", 0xFFFF) if kind == 3 else (number, 2**64)
            struct.pack_into(shape, changed, at + 4 + struct.calcsize(number), min(value, most))
            return bytes(changed)
    raise LookupError(tag)


def _saved(picture: Image.Image, kind: str, **options: Any) -> bytes:
    stream = io.BytesIO()
    picture.save(stream, kind, **options)
    return stream.getvalue()


@cache
def sound_files() -> Mapping[str, tuple[str, bytes]]:
    """Return small sound files by name, of every kind that is read, each with the ending of its name."""
    picture = landscape(WIDTH, HEIGHT)
    codes = np.asarray(picture)
    wide = codes.astype(np.uint16) * 257
    planes = np.moveaxis(codes, -1, 0)
    profile = srgb_profile()
    exif = Image.Exif()
    exif[0x013B] = "Ida Kvist"
    files = {
        "JPEG": _saved(picture, "JPEG", quality=90, icc_profile=profile, exif=exif),
        "progressive JPEG": _saved(picture, "JPEG", quality=90, progressive=True, icc_profile=profile),
        "grey JPEG": _saved(picture.convert("L"), "JPEG"),
        "CMYK JPEG": _saved(picture.convert("CMYK"), "JPEG"),
        "lossless JPEG": lossless_jpeg(codes),
        "PNG": _saved(picture, "PNG", icc_profile=profile, exif=exif),
        "grey PNG": _saved(Image.fromarray(wide[..., 0]), "PNG"),
        "interlaced PNG": bytes(pyvips.Image.new_from_array(codes).pngsave_buffer(interlace=True)),
        "WebP": _saved(picture, "WEBP", quality=90, icc_profile=profile, exif=exif),
        "lossless WebP": _saved(picture, "WEBP", lossless=True),
        "TIFF": _saved(picture, "TIFF", icc_profile=profile, exif=exif),
        "LZW TIFF": _saved(picture, "TIFF", compression="tiff_lzw"),
        "ZIP TIFF": _saved(picture, "TIFF", compression="tiff_adobe_deflate"),
        "JPEG TIFF": _saved(picture, "TIFF", compression="jpeg"),
        "TIFF in tiles": tiff(codes, photometric="rgb", tile=(32, 32), compression="deflate"),
        "BigTIFF": tiff(codes, photometric="rgb", bigtiff=True, iccprofile=profile),
        "ZIP BigTIFF": tiff(wide, photometric="rgb", bigtiff=True, compression="deflate", predictor=True),
        "BigTIFF, other order": tiff(wide, photometric="rgb", bigtiff=True, byteorder=">"),
        "BigTIFF in tiles": tiff(codes, photometric="rgb", bigtiff=True, tile=(32, 32), compression="deflate"),
        "BigTIFF in planes": tiff(planes, photometric="rgb", bigtiff=True, planarconfig="separate"),
    }
    return MappingProxyType({name: (_ending(data), data) for name, data in files.items()})


def _ending(data: bytes) -> str:
    endings = {b"\xff\xd8": ".jpg", b"\x89P": ".png", b"RI": ".webp", b"II": ".tif", b"MM": ".tif"}
    return endings[data[:2]]


def as_bigtiff(classic: bytes) -> bytes:
    """Return an ordinary TIFF of one page as a BigTIFF: its directories, also inside one another, and its strips."""
    order = "<" if classic[:2] == b"II" else ">"
    begin = 16
    strips, data = _strips(classic, order), b""
    places = []
    for strip in strips:
        places.append(begin + len(data))
        data += strip
    (start,) = struct.unpack_from(f"{order}I", classic, 4)
    at = begin + len(data)
    head = classic[:2] + struct.pack(f"{order}HHHQ", 43, 8, 0, at)
    return (
        head + data + _big_directory(classic, order, start, at, {273: struct.pack(f"{order}{len(places)}I", *places)})
    )


def _entries(classic: bytes, order: str, start: int) -> list[tuple[int, int, int, bytes]]:
    (count,) = struct.unpack_from(f"{order}H", classic, start)
    found = []
    for at in range(start + 2, start + 2 + 12 * count, 12):
        tag, kind, number = struct.unpack_from(f"{order}HHI", classic, at)
        length = KIND_BYTES[kind] * number
        place = at + 8 if length <= 4 else struct.unpack_from(f"{order}I", classic, at + 8)[0]
        found.append((tag, kind, number, classic[place : place + length]))
    return found


def _strips(classic: bytes, order: str) -> list[bytes]:
    (start,) = struct.unpack_from(f"{order}I", classic, 4)
    values = {}
    for tag, kind, number, value in _entries(classic, order, start):
        if tag in (273, 279):
            values[tag] = struct.unpack(f"{order}{number}{'H' if kind == 3 else 'I'}", value)
    return [classic[at : at + length] for at, length in zip(values[273], values[279], strict=True)]


def _big_directory(classic: bytes, order: str, start: int, at: int, instead: Mapping[int, bytes]) -> bytes:
    entries = _entries(classic, order, start)
    table, behind = struct.pack(f"{order}Q", len(entries)), b""
    begin = at + 8 + 20 * len(entries) + 8
    for tag, kind, number, found in entries:
        place = begin + len(behind)
        if tag in (34665, 34853, 40965):
            (inner,) = struct.unpack(f"{order}I", found)
            behind += _big_directory(classic, order, inner, place, {})
            table += struct.pack(f"{order}HHQQ", tag, 18, 1, place)  # IFD8
            continue
        value = instead.get(tag, found)
        table += struct.pack(f"{order}HHQ", tag, 4 if tag in instead else kind, number)
        if len(value) <= 8:
            table += value.ljust(8, b"\0")
        else:
            table += struct.pack(f"{order}Q", place)
            behind += value + bytes(-len(value) % 8)
    return table + bytes(8) + behind
