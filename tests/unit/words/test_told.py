"""What others say of an error, without the service's inside."""

from __future__ import annotations

import errno
from pathlib import Path

import pytest

from lanternslide.words import Held, Passing, named, say, told, without_inside

INNER = ("/proc/self/fd/6", "/proc/thread-self/fd/12", "/proc/4711/fd/3", "/proc/4711/task/4712/fd/3", "/dev/fd/6")
TEMPORARY = "/out/.lanternslide-1f2e3d4c-a1b2-7.part"
BLANKS = "/my photos/out/.HELD.txt.part"


@pytest.mark.parametrize("path", INNER)
@pytest.mark.parametrize(
    ("said", "left"),
    [
        ("{}: The file is of an unknown kind", "The file is of an unknown kind"),
        ("{}: failed to open: no such file", "failed to open: no such file"),
        ("reading failed: '{}'", "reading failed"),
        ('cannot identify "{}"', "cannot identify the file"),
        ("unable to open {}.", "unable to open the file."),
        ("unable to open {} for reading", "unable to open the file for reading"),
        ("IsADirectoryError: is a folder: '{}'\nmore", "IsADirectoryError: is a folder\nmore"),
        ("nothing of the kind", "nothing of the kind"),
    ],
)
def test_descriptors_are_taken_out(path: str, said: str, left: str) -> None:
    """Wherever the path stands, what is left is a sentence."""
    assert without_inside(said.format(path)) == left


@pytest.mark.parametrize(
    ("said", "left"),
    [
        (f"No space left on device: '{TEMPORARY}'", "No space left on device"),
        (f"No such file: '{TEMPORARY}' -> '/out/seal.jpg'", "No such file"),
        (f"No such file: '/out/seal.jpg' -> '{TEMPORARY}'", "No such file: '/out/seal.jpg'"),
        (f"No such file: '{TEMPORARY}' -> '{BLANKS}'", "No such file"),
        (f"Permission denied: '{BLANKS}'", "Permission denied"),
        (r"Denied: 'C:\out\.seal.jpg.0a1b2c3d.part'", "Denied"),
        (f"{TEMPORARY} is in use", "the file is in use"),
        (".page.png.0a1b2c3d.part: too long", "too long"),
    ],
)
def test_temporary_names_are_taken_out(said: str, left: str) -> None:
    """With the folders before them, with blanks or without."""
    assert without_inside(said) == left


@pytest.mark.parametrize(
    "text",
    [
        "/srv/photos/seal.part",
        "/srv/.hidden/seal.jpg",
        "seal.part.jpg",
        "/proc/sys/fs/inotify/max_user_watches",
        "/srv/proc/self/fd/6",
        "/proc/self/fd/6/in.jpg",
        "a.part of the picture",
        "",
    ],
)
def test_an_owners_names_stay(text: str) -> None:
    """A name that is not hidden, or of another kind, is somebody's."""
    assert without_inside(text) == text


@pytest.mark.parametrize(
    ("error", "text"),
    [
        (OSError(errno.EIO, "Input/output error", "/proc/self/fd/6"), "Input/output error"),
        (OSError("cannot open resource"), "cannot open resource"),
        (RuntimeError("/proc/self/fd/6: of an unknown kind\nand more"), "of an unknown kind"),
        (RuntimeError(f"[Errno 28] No space left on device: '{TEMPORARY}'"), "No space left on device"),
        (RuntimeError("\n  the second line\n"), "the second line"),
        (TimeoutError(), "TimeoutError"),
        (RuntimeError("/proc/self/fd/6"), "the file"),
    ],
)
def test_an_error_is_told_in_one_line(error: Exception, text: str) -> None:
    """The system's number and the file are left out; what says nothing is called by its kind."""
    assert told(error) == text


def test_the_kind_of_an_error_is_named_once() -> None:
    """For whoever looks for the cause."""
    assert named(LookupError("no seal")) == "LookupError: no seal"
    assert named(LookupError()) == "LookupError"


@pytest.mark.parametrize("detail", [RuntimeError("/proc/self/fd/6: odd"), "/proc/self/fd/6: odd"])
def test_no_sentence_holds_the_inside(detail: object) -> None:
    """Whoever says something need not think of it."""
    assert say(Held.DAMAGED, detail=detail).text == say(Held.DAMAGED, detail="odd").text


@pytest.mark.parametrize("piece", ["(", "/", "'", ".", "/.a", "'.a", "/.part", ".a.part.", "(/fd/6"])
@pytest.mark.timeout(5)
def test_long_texts_are_looked_through_at_once(piece: str) -> None:
    """What an original quotes can be long and odd."""
    assert without_inside(piece * 20_000 + "x.part") != ""


def test_folders_stay_in_sentences() -> None:
    """An owner's folder is printed as it is."""
    folder = Path("/srv/photos/out")

    assert str(folder) in say(Passing.DISK_FULL, folder=folder).text
