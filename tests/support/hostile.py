"""Files that mean harm, or that met with an accident: made by chance from a seed, the same each time."""

from __future__ import annotations

import io
import random
import struct
import zlib
from collections.abc import Callable
from functools import cache
from pathlib import Path

from lanternslide.imaging.colour.srgb import srgb_profile
from tests.support.pictures import landscape

__all__ = ["hostile_file", "write_hostile"]

WIDTH, HEIGHT = 96, 64


def _saved(kind: str, **options: object) -> bytes:
    stream = io.BytesIO()
    landscape(WIDTH, HEIGHT).save(stream, kind, icc_profile=srgb_profile(), **options)
    return stream.getvalue()


@cache
def _sound() -> tuple[tuple[str, bytes], ...]:
    """Return sound files of every kind, with their endings."""
    return (
        (".jpg", _saved("JPEG", quality=90)),
        (".jpg", _saved("JPEG", quality=90, progressive=True, subsampling=2)),
        (".png", _saved("PNG")),
        (".tif", _saved("TIFF")),
        (".tif", _saved("TIFF", compression="tiff_lzw")),
        (".tif", _saved("TIFF", compression="tiff_adobe_deflate")),
        (".tif", _saved("TIFF", compression="jpeg")),
        (".webp", _saved("WEBP", quality=90)),
        (".webp", _saved("WEBP", lossless=True)),
    )


def _cut(chance: random.Random, data: bytes) -> bytes:
    return data[: chance.randrange(len(data))]


def _flipped(chance: random.Random, data: bytes) -> bytes:
    changed = bytearray(data)
    for _ in range(chance.choice((1, 2, 8, 64))):
        changed[chance.randrange(len(changed))] ^= 1 << chance.randrange(8)
    return bytes(changed)


def _flipped_head(chance: random.Random, data: bytes) -> bytes:
    changed = bytearray(data)
    for _ in range(chance.randint(1, 6)):
        changed[chance.randrange(min(len(changed), 400))] = chance.randrange(256)
    return bytes(changed)


def _zeroed(chance: random.Random, data: bytes) -> bytes:
    start = chance.randrange(len(data))
    length = chance.randint(1, len(data) - start)
    return data[:start] + bytes(length) + data[start + length :]


def _repeated(chance: random.Random, data: bytes) -> bytes:
    start = chance.randrange(len(data))
    return data[:start] + data[chance.randrange(len(data)) :] + data[start:]


def _with_more(chance: random.Random, data: bytes) -> bytes:
    return data + chance.randbytes(chance.randint(1, 5000))


def _huge_numbers(chance: random.Random, data: bytes) -> bytes:
    """Write a huge number over four bytes somewhere near the start, in either byte order."""
    place = chance.randrange(4, min(len(data) - 4, 300))
    number = chance.choice((0x7FFFFFFF, 0xFFFFFFFF, 0x40000000, 65535, 0))
    return data[:place] + struct.pack(chance.choice("<>") + "I", number) + data[place + 4 :]


CHANGES: tuple[Callable[[random.Random, bytes], bytes], ...] = (
    _cut, _flipped, _flipped_head, _zeroed, _repeated, _with_more, _huge_numbers,
)  # fmt: skip


def _chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def _png(chance: random.Random, width: int, height: int, *chunks: bytes) -> bytes:
    header = struct.pack(">IIBBBBB", width, height, chance.choice((8, 16)), 2, 0, 0, chance.choice((0, 1)))
    return b"\x89PNG\r\n\x1a\n" + _chunk(b"IHDR", header) + b"".join(chunks) + _chunk(b"IEND", b"")


def _bomb(chance: random.Random) -> tuple[str, bytes]:
    """Return a PNG of few bytes that claims, and mostly holds, very many pixels."""
    width, height = chance.choice(
        ((30_000, 30_000), (1_000_000, 20), (20, 1_000_000), (2**31 - 1, 2**31 - 1), (7000, 7000))
    )
    return ".png", _png(chance, width, height, _chunk(b"IDAT", zlib.compress(bytes(10_000_000), 9)))


def _absurd_profile(chance: random.Random) -> tuple[str, bytes]:
    """Return a PNG whose profile is a bomb, nested nonsense, or a sound one with a tag table that lies."""
    profile = bytearray(srgb_profile())
    match chance.randrange(4):
        case 0:
            profile = bytearray(50_000_000)
        case 1:
            profile[128:132] = struct.pack(">I", chance.choice((0xFFFFFFFF, 100_000, 0)))
        case 2:
            for _ in range(20):
                profile[chance.randrange(128, len(profile))] = chance.randrange(256)
        case _:
            profile[0:4] = struct.pack(">I", 0xFFFFFFFF)
    rows = (b"\0" + bytes(3 * WIDTH)) * HEIGHT
    header = struct.pack(">IIBBBBB", WIDTH, HEIGHT, 8, 2, 0, 0, 0)
    chunks = _chunk(b"iCCP", b"x\0\0" + zlib.compress(bytes(profile), 9)) + _chunk(b"IDAT", zlib.compress(rows))
    return ".png", b"\x89PNG\r\n\x1a\n" + _chunk(b"IHDR", header) + chunks + _chunk(b"IEND", b"")


def _something_else(chance: random.Random) -> tuple[str, bytes]:
    """Return what is no picture at all, or one of a kind that is not read, under a picture's ending."""
    stream = io.BytesIO()
    landscape(WIDTH, HEIGHT).save(stream, chance.choice(("GIF", "BMP", "PPM", "ICO")))
    text = b"<svg xmlns='http://www.w3.org/2000/svg'><image href='file:///etc/passwd'/></svg>"
    program = b"%!PS-Adobe-3.0 EPSF-3.0\n(/etc/passwd) (r) file\n"
    other = (stream.getvalue(), text, program, b"", bytes(5000), chance.randbytes(5000), b"II*\0", b"\xff\xd8\xff")
    return chance.choice((".jpg", ".png", ".tif", ".webp")), chance.choice(other)


def _loop(chance: random.Random) -> tuple[str, bytes]:
    """Return a TIFF whose directories lead in a circle, or to far outside."""
    entries = struct.pack("<H", 1) + struct.pack("<HHII", 256, 4, 1, 100)
    return ".tif", b"II*\0" + struct.pack("<I", 8) + entries + struct.pack("<I", chance.choice((8, 0xFFFFFFF0, 4)))


def hostile_file(seed: int) -> tuple[str, bytes]:
    """Return an ending and the bytes of a file that means harm."""
    chance = random.Random(seed)
    special = chance.randrange(20)
    if special < 4:
        return (_bomb, _absurd_profile, _something_else, _loop)[special](chance)
    ending, data = chance.choice(_sound())
    if special == 4:
        return chance.choice((".jpg", ".png", ".tif", ".webp")), data  # the wrong ending
    for _ in range(chance.choice((1, 1, 2))):
        data = chance.choice(CHANGES)(chance, data)
        if len(data) < 16:
            break
    return ending, data


def write_hostile(folder: Path, seeds: range) -> None:
    """Write so many such files, each under its seed."""
    for seed in seeds:
        ending, data = hostile_file(seed)
        (folder / f"{seed}{ending}").write_bytes(data)
