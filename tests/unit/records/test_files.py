"""Files as they were seen, and how their names are shown."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lanternslide.records import DroppedFile, Fingerprint, shown_path, shown_text


def file_of(relative: Path, filed: Path | None = None) -> DroppedFile:
    """Return a file of Ida's drop folder."""
    fingerprint = Fingerprint(size=1, mtime_ns=2, inode=3)
    return DroppedFile(
        photographer="ida", drop=Path("/srv/drop"), relative=relative, fingerprint=fingerprint, filed=filed
    )


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("Bass Rock – 灯台 “café” 😀.jpg", "Bass Rock – 灯台 “café” 😀.jpg"),
        ("a\nb\tc", r"a\nb\tc"),
        ("a\x1b[31mb", r"a\x1b[31mb"),
        ("gpj.\u202elaes", r"gpj.\u202elaes"),
        ("zero\u200bwidth", r"zero\u200bwidth"),
        (os.fsdecode(b"caf\xe9.jpg"), r"caf\xe9.jpg"),
        # Halves of characters (Unicode 16, 23.6) stand for no byte, but for U+DC80 to U+DCFF (PEP 383).
        ("a\ud800b", r"a\ud800b"),
        ("a\udfffb", r"a\udfffb"),
        ("a\udc7fb", r"a\udc7fb"),
        ("a\udd00b", r"a\udd00b"),
        ("a\udc80b\udcff", r"a\x80b\xff"),
    ],
)
def test_names_are_safe_to_print(name: str, shown: str) -> None:
    """What can be read stays; line ends, control characters, marks that turn writing and what is no text do not."""
    assert shown_text(name) == shown
    assert shown_path(Path("isles") / name) == f"isles/{shown}"


@given(st.binary(min_size=1, max_size=20))
def test_any_name_has_one_line_of_text(name: bytes) -> None:
    """Whatever bytes it has, it can be written as UTF-8, and nothing in it is unseen."""
    shown = shown_text(os.fsdecode(name))

    shown.encode("utf-8")
    assert shown.isprintable()


def test_a_fingerprint_tells_states_of_a_file_apart(tmp_path: Path) -> None:
    """Another size, time or file under the name is another fingerprint; being read, or renamed, is none."""
    path = tmp_path / "x.jpg"
    path.write_bytes(b"one")
    first = Fingerprint.of(path.stat())
    path.read_bytes()
    moved = path.rename(tmp_path / "y.jpg")
    assert Fingerprint.of(moved.stat()) == first
    assert (first.size, first.inode) == (3, moved.stat().st_ino)

    os.utime(moved, ns=(0, first.mtime_ns + 1))
    later = Fingerprint.of(moved.stat())
    assert later.mtime_ns == first.mtime_ns + 1
    (tmp_path / "other").write_bytes(b"one")
    os.utime(tmp_path / "other", ns=(0, later.mtime_ns))
    assert Fingerprint.of((tmp_path / "other").stat()) != later
    moved.write_bytes(b"three")
    os.utime(moved, ns=(0, later.mtime_ns))
    assert Fingerprint.of(moved.stat()) != later


def test_a_file_lies_in_its_drop_folder() -> None:
    """It is shown with whose it is, safe to print; links are followed up to the drop folder."""
    file = file_of(Path("isles") / os.fsdecode(b"caf\xe9.jpg"))

    assert file.path == Path("/srv/drop/isles") / os.fsdecode(b"caf\xe9.jpg")
    assert file.root == Path("/srv/drop")
    assert file.shown == r"ida: isles/caf\xe9.jpg"


def test_a_file_that_is_filed_away_is_still_called_as_it_was() -> None:
    """It lies elsewhere, and links are followed up to the folder there."""
    file = file_of(Path("isles/x.jpg"), filed=Path("/srv/filed/isles/x-2.jpg"))

    assert file.path == Path("/srv/filed/isles/x-2.jpg")
    assert file.root == Path("/srv/filed/isles")
    assert file.shown == "ida: isles/x.jpg"
