"""What the metadata of an original are carried over from."""

from __future__ import annotations

import errno
import os
import tempfile
from dataclasses import replace
from pathlib import Path

import pyexiv2
import pytest

from lanternslide.imaging.colour.srgb import srgb_profile
from lanternslide.imaging.reading.read import read_header
from lanternslide.metadata import Carried, Wishes
from lanternslide.records import Rights
from lanternslide.worker import carrying
from lanternslide.worker.carrying import carried_over
from lanternslide.worker.encoding import wishes_of
from tests.support.chain import deliver, recipe
from tests.support.odd_files import as_bigtiff, sound_files
from tests.support.pictures import landscape

IDA = Rights(creator="Ida Kvist", copyright="© {year} Ida Kvist")


def bigtiff(path: Path) -> Path:
    """Return a BigTIFF that says what was taken, where and when, and has words in XMP."""
    landscape(96, 64).save(path, "TIFF", icc_profile=srgb_profile())
    with pyexiv2.Image(str(path)) as image:
        image.modify_exif({"Exif.Photo.DateTimeOriginal": "2024:05:06 07:08:09", "Exif.Photo.LensModel": "a long one"})
        image.modify_xmp({"Xmp.dc.title": "Bass Rock"})
    path.write_bytes(as_bigtiff(path.read_bytes()))
    return path


def test_a_bigtiff_is_delivered_with_all_it_says(tmp_path: Path) -> None:
    """Its owner's rights are added as to any other picture, and nothing is doubtful."""
    original = bigtiff(tmp_path / "seal.tif")

    jpeg, made = deliver(original, replace(recipe(40), rights=IDA, metadata="whole"))

    with pyexiv2.ImageData(jpeg) as image:
        exif, xmp = image.read_exif(), image.read_xmp()
    assert exif["Exif.Photo.LensModel"] == "a long one"
    assert exif["Exif.Image.Artist"] == "Ida Kvist"
    assert xmp["Xmp.dc.title"] == {'lang="x-default"': "Bass Rock"}
    assert made.captured == "2024-05-06"
    assert [said.key for said in made.findings if not said.is_note] == []


def refuse(_name: str) -> int:
    """Refuse as a hardened system does."""
    raise PermissionError(errno.EPERM, "Operation not permitted")


@pytest.mark.parametrize("place", ["memory", "a folder", "a folder, where memory is refused"])
def test_nothing_stays_of_what_stands_in(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, place: str) -> None:
    """Neither a file nor an open one; wherever it is kept, the delivery is the same."""
    original = bigtiff(tmp_path / "seal.tif")
    expected, _ = deliver(original, replace(recipe(40), rights=IDA, metadata="whole"))
    folder = tmp_path / "temporary"
    folder.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(folder))
    if place == "a folder":
        monkeypatch.setattr(carrying, "DESCRIPTORS", tmp_path / "nowhere")
    elif place != "memory":
        monkeypatch.setattr(os, "memfd_create", refuse, raising=False)
    descriptors = Path("/proc/self/fd")
    before = len(list(descriptors.iterdir())) if descriptors.is_dir() else 0

    found, _ = deliver(original, replace(recipe(40), rights=IDA, metadata="whole"))

    assert found == expected
    assert list(folder.iterdir()) == []
    assert (len(list(descriptors.iterdir())) if descriptors.is_dir() else 0) == before


@pytest.mark.parametrize("name", sound_files())
def test_others_are_read_from_their_own_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str) -> None:
    """Nothing is copied."""
    ending, data = sound_files()[name]
    original = tmp_path / f"seal{ending}"
    original.write_bytes(data)
    header = read_header(original)
    read: list[Path] = []

    def note(path: Path, jpeg: bytes, _: Wishes) -> Carried:
        read.append(path)
        return Carried(jpeg=jpeg)

    wishes = wishes_of(recipe(40), 40, 27, header)
    monkeypatch.setattr(carrying, "carry_metadata", note)

    carried_over(header, b"", wishes)

    assert (read == [original]) == ("BigTIFF" not in name)


@pytest.mark.parametrize(
    ("policy", "keeps", "keys"),
    [("whole", True, ["metadata-left-behind"]), ("whole", False, []), ("rights", True, [])],
)
def test_a_makers_note_is_said_to_be_missing(tmp_path: Path, policy: str, keys: list[str], *, keeps: bool) -> None:
    """Where it would have travelled."""
    original = tmp_path / "seal.tif"
    landscape(96, 64).save(original, "TIFF", icc_profile=srgb_profile())
    with pyexiv2.Image(str(original)) as image:
        image.modify_exif({"Exif.Image.Make": "Seal", "Exif.Photo.MakerNote": "1 2 3 4 5 6 7 8 9"})
    original.write_bytes(as_bigtiff(original.read_bytes()))

    how = replace(recipe(40), metadata=policy, keep_location=keeps, keep_serials=keeps)
    _, made = deliver(original, how)

    assert [said.key for said in made.findings if not said.is_note] == keys
