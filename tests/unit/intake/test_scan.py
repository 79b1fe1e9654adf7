"""Looking through a drop folder on a real file system."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from lanternslide.intake import count_others, look_at, scan
from lanternslide.intake.scan import Kind, kind_of


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("grey-seal.tif", Kind.PICTURE),
        ("GREY.JPEG", Kind.PICTURE),
        ("a.webp", Kind.PICTURE),
        (".grey.jpg", Kind.LITTER),
        ("~grey.jpg", Kind.LITTER),
        ("grey.jpg.part", Kind.LITTER),
        ("grey.jpg.crdownload", Kind.LITTER),
        ("grey.jpg~", Kind.LITTER),
        ("Thumbs.db", Kind.LITTER),
        (".DS_Store", Kind.LITTER),
        ("._grey.jpg", Kind.LITTER),
        ("grey.sync-conflict-20260101-1.jpg", Kind.LITTER),
        ("grey.xmp", Kind.OTHER),
        ("grey.cr3", Kind.OTHER),
        ("grey.psd", Kind.OTHER),
        ("grey", Kind.OTHER),
    ],
)
def test_kinds(name: str, kind: Kind) -> None:
    """Pictures are done, other files are left alone, litter is not even counted."""
    assert kind_of(name) is kind


@pytest.fixture
def drop(tmp_path: Path) -> Path:
    """Return a drop folder with a bit of everything."""
    folder = tmp_path / "drop"
    (folder / "islands" / "deep").mkdir(parents=True)
    (folder / ".hidden").mkdir()
    (folder / "album.jpg").mkdir()
    outside = tmp_path / "outside"
    outside.mkdir()
    (outside / "private.jpg").touch()
    for name in ("a.jpg", "notes.txt", "b.jpg.part", "islands/c.tif", "islands/deep/d.png", ".hidden/e.jpg"):
        (folder / name).touch()
    (folder / "album.jpg" / "inside.jpg").touch()
    (folder / "linked").symlink_to(outside)
    (folder / "linked.jpg").symlink_to(outside / "private.jpg")
    os.mkfifo(folder / "pipe.jpg")
    return folder


def test_a_scan_finds_pictures_alone(drop: Path) -> None:
    """Pictures in all folders and folders named like one; no litter, links, pipes, or what lies in hidden folders."""
    found = {str(file.relative): file.is_folder for file in scan("ida", drop)}

    assert found == {"a.jpg": False, "album.jpg": True, "islands/c.tif": False, "islands/deep/d.png": False}


def test_files_of_other_kinds_are_counted(drop: Path) -> None:
    """In all folders, links among them; no litter, nor what lies in hidden folders or in one named like a picture."""
    for name in ("islands/c.xmp", "islands/deep/d.cr3", ".hidden/e.xmp", "album.jpg/f.xmp"):
        (drop / name).touch()

    assert count_others(drop) == 4  # these two, notes.txt, and the link that is not followed
    with pytest.raises(FileNotFoundError):
        count_others(drop / "none")


@pytest.mark.parametrize(
    ("hint", "found"),
    [
        ("a.jpg", ["a.jpg"]),
        ("islands", ["islands/c.tif", "islands/deep/d.png"]),
        (".", ["a.jpg", "album.jpg", "islands/c.tif", "islands/deep/d.png"]),
        ("album.jpg/inside.jpg", ["album.jpg"]),
        (".hidden/e.jpg", []),
        ("linked/private.jpg", []),
        ("linked.jpg", []),
        ("pipe.jpg", []),
        ("notes.txt", []),
        ("b.jpg.part", []),
        ("gone.jpg", []),
        ("gone/x.jpg", []),
    ],
)
def test_a_hint_finds_what_a_scan_would(drop: Path, hint: str, found: list[str]) -> None:
    """Following a hint never finds anything that a scan does not."""
    assert [str(file.relative) for file in look_at("ida", drop, Path(hint))] == found


def test_a_missing_drop_folder_is_an_error(tmp_path: Path) -> None:
    """A drop folder that cannot be listed is not an empty one."""
    with pytest.raises(FileNotFoundError):
        list(scan("ida", tmp_path / "away"))


def test_names_that_are_no_text(tmp_path: Path) -> None:
    """A name in bytes that are no UTF-8 is found, and shown escaped."""
    (tmp_path / os.fsdecode(b"caf\xe9\n\x1b[31m.jpg")).touch()

    (file,) = scan("ida", tmp_path)

    assert os.fsencode(file.relative) == b"caf\xe9\n\x1b[31m.jpg"
    assert file.shown == r"ida: caf\xe9\n\x1b[31m.jpg"
