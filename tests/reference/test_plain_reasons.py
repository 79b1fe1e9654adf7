"""Damaged files of every kind through what workers do: whatever is said of them is for a photographer."""

from __future__ import annotations

import os
import random
import re
import struct
import sys
import zlib
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from lanternslide.errors import OriginalHeldError
from lanternslide.imaging.colour.srgb import srgb_profile
from lanternslide.imaging.reading.read import read_header
from lanternslide.records import JobDone, LeftOut, Made, Recipe, Refused, Rights, Stalled, Survey, TraceTask
from lanternslide.records.trace import Traced
from lanternslide.words import Doubt, Held, Passing, Said
from lanternslide.worker import make, survey, trace
from lanternslide.workers.worker_process import Raised, Returned, call
from tests.support.chain import recipe
from tests.support.hostile import CHANGES
from tests.support.odd_files import framed_anew, sound_files, with_tag
from tests.support.orders import delivery, job_for, survey_task

SOUND = sound_files()
TEMPORARY = ".lanternslide-1f2e3d4c-a1b2-7.part"
HOW = replace(recipe(40), rights=Rights(creator="Ida Kvist", copyright="© {year} Ida Kvist"))
INSIDE = re.compile(
    r"/proc/|/dev/fd|\.part\b|vips|libpng|libtiff|[Ee]rrno|\bcodec\b|scanline|\b0x|line \d+, column|Error\b|\bnull\b"
)
"""Paths of the inside, and words of libraries."""

RANDOM_ONES = 12
"""So many files with damage by chance, of each sound one."""


def said_of(original: Path, folder: Path, how: Recipe = HOW) -> Iterator[tuple[str, Said]]:
    """Yield what is said of an original by each function of a worker; none may fail unforeseen."""
    task = survey_task(original, (how, 1.0))
    surveyed = value_of(call(survey, task))
    if isinstance(surveyed, Refused | Stalled):
        yield "survey", surveyed.said
    foreseen = value_of(call(trace, TraceTask(survey=task, destinations=("club",))))
    if isinstance(foreseen, Refused | Stalled):
        yield "trace", foreseen.said
    elif isinstance(foreseen, Traced):
        findings = [*foreseen.findings, *(said for plan in foreseen.plans for said in plan.findings)]
        yield from (("trace", said) for said in findings)
    if not isinstance(surveyed, Survey):
        return
    made = value_of(call(make, job_for(original, delivery(7, how, folder / TEMPORARY))))
    if isinstance(made, Refused | Stalled):
        yield "make", made.said
        return
    assert isinstance(made, JobDone)
    for outcome in made.outcomes:
        match outcome:
            case Made(findings=found):
                yield from (("make", said) for said in found)
            case Stalled(said=said):
                yield "make", said
            case _:
                assert isinstance(outcome, LeftOut)


def value_of(found: Returned | Raised) -> object:
    """Return what a worker's function has returned."""
    assert isinstance(found, Returned), found.trace
    return found.value


def check(original: Path, data: bytes, folder: Path) -> list[str]:
    """Check what is said of a file with these bytes; return the keys."""
    original.write_bytes(data)
    found = list(said_of(original, folder))
    assert [(step, said.text) for step, said in found if INSIDE.search(said.text)] == []
    return [said.key for _, said in found]


@pytest.fixture
def out(tmp_path: Path) -> Path:
    """Return a folder to deliver into."""
    folder = tmp_path / "out"
    folder.mkdir()
    return folder


@pytest.mark.parametrize("name", SOUND)
def test_sound_files_are_delivered(tmp_path: Path, out: Path, name: str) -> None:
    """Each of them; nothing that is said of them holds the inside."""
    ending, data = SOUND[name]

    keys = check(tmp_path / f"seal{ending}", data, out)

    assert (out / TEMPORARY).is_file()
    assert not {*keys} & {*Held, Doubt.METADATA_LEFT_BEHIND, Doubt.RIGHTS_UNKNOWN}


@pytest.mark.parametrize("name", SOUND)
def test_cut_files_are_held_and_said_to_be(tmp_path: Path, out: Path, name: str) -> None:
    """Wherever they end."""
    ending, data = SOUND[name]
    for share in (0.0, 0.001, 0.01, 0.05, 0.2, 0.4, 0.6, 0.8, 0.95, 0.999):
        keys = check(tmp_path / f"seal{ending}", data[: int(len(data) * share)], out)

        assert keys or (out / TEMPORARY).is_file()
        if share == 0.0:
            assert keys == [Held.EMPTY, Held.EMPTY]


@pytest.mark.parametrize("name", SOUND)
def test_files_damaged_by_chance_are_told_plainly(tmp_path: Path, out: Path, name: str) -> None:
    """Bits turned over, parts missing or doubled, numbers that are huge."""
    ending, data = SOUND[name]
    chance = random.Random(name)
    for number in range(RANDOM_ONES):
        change = CHANGES[number % len(CHANGES)]
        check(tmp_path / f"seal{ending}", change(chance, data), out)


def _of_size_in_png(width: int, height: int) -> bytes:
    data = SOUND["PNG"][1]
    head = b"IHDR" + struct.pack(">II", width, height) + data[24:29]
    return data[:12] + head + struct.pack(">I", zlib.crc32(head)) + data[33:]


def _of_size_in_webp(width: int, height: int) -> bytes:
    data = SOUND["lossless WebP"][1]
    # The size stands in 14 bits each behind the signature (RFC 9649, from memory).
    size = (width - 1 & 0x3FFF) | (height - 1 & 0x3FFF) << 14
    return data[:21] + struct.pack("<I", size) + data[25:]


def _of_size_in_tiff(name: str) -> Callable[[int, int], bytes]:
    return lambda width, height: with_tag(with_tag(SOUND[name][1], 256, width), 257, height)


@pytest.mark.parametrize("size", [(0, 0), (1, 0), (65_535, 65_535), (2**31 - 1, 2**31 - 1), (1, 2**31 - 1)])
@pytest.mark.parametrize(
    "sized",
    [
        _of_size_in_png,
        _of_size_in_webp,
        *(_of_size_in_tiff(name) for name in ("TIFF", "LZW TIFF", "BigTIFF", "ZIP BigTIFF")),
        lambda _width, height: framed_anew(SOUND["JPEG"][1], height=height & 0xFFFF),
    ],
)
def test_absurd_sizes_are_held(
    tmp_path: Path, out: Path, sized: Callable[[int, int], bytes], size: tuple[int, int]
) -> None:
    """None of them takes memory, or the service's words."""
    keys = check(tmp_path / "seal.jpg", sized(*size), out)

    assert {*keys} & {*Held}


def test_a_profile_with_a_name_in_other_letters_is_no_fault(tmp_path: Path, out: Path) -> None:
    """PNG has Latin-1 there (third edition, 11.3.2.3). Its decoder remarks on the profile, and quotes the name."""
    profile = srgb_profile()
    odd = zlib.compress(profile[:12] + b"sea!" + profile[16:])  # no class of profile
    chunk = b"iCCP\xc9cran de Z\xfcrich\0\0" + odd
    packed = struct.pack(">I", len(chunk) - 4) + chunk + struct.pack(">I", zlib.crc32(chunk))
    data = SOUND["PNG"][1]
    own = data.index(b"iCCP") - 4
    (length,) = struct.unpack_from(">I", data, own)

    keys = check(tmp_path / "seal.png", data[:own] + packed + data[own + 12 + length :], out)

    assert (out / TEMPORARY).is_file()
    assert not {*keys} & {*Held}


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere names are Unicode")
def test_a_name_that_is_no_text_is_no_fault(tmp_path: Path) -> None:
    """Libvips quotes it; neither this error nor the next one is a fault of the service's own."""
    for name in (b"s\xe9al.tif", b"seal.tif"):
        original = Path(os.fsdecode(os.fsencode(tmp_path) + b"/" + name))
        original.write_bytes(SOUND["LZW TIFF"][1][:2000])
        with pytest.raises(OriginalHeldError) as held:
            read_header(original)

        assert held.value.said.key == Held.CUT_SHORT


@pytest.mark.parametrize("kind", ["missing", "a file"])
def test_a_folder_that_takes_nothing_is_named_and_no_temporary_file(tmp_path: Path, kind: str) -> None:
    """The reason names the destination's folder."""
    folder = tmp_path / "out"
    if kind == "a file":
        folder.write_bytes(b"")
    original = tmp_path / "seal.jpg"
    original.write_bytes(SOUND["JPEG"][1])

    found = list(said_of(original, folder))

    assert [said.key for _, said in found] == [Passing.FOLDER_TROUBLE]
    assert str(folder) in found[0][1].text
    assert not INSIDE.search(found[0][1].text.replace(str(folder), ""))
