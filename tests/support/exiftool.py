"""exiftool, an independent reader and writer of metadata: one process for all questions, since Perl starts slowly."""

from __future__ import annotations

import atexit
import functools
import itertools
import json
import shutil
import subprocess
from pathlib import Path
from tempfile import NamedTemporaryFile
from typing import Any

import pytest

__all__ = ["ask_exiftool", "by_exiftool", "needs_exiftool", "write_by_exiftool"]

needs_exiftool = pytest.mark.skipif(shutil.which("exiftool") is None, reason="needs exiftool, which is not here")

NUMBERS = itertools.count(1)


def by_exiftool(jpeg: bytes) -> dict[str, Any]:
    """Return what exiftool reads, by group and name."""
    with NamedTemporaryFile(suffix=".jpg") as file:
        file.write(jpeg)
        file.flush()
        (found,) = json.loads(ask_exiftool("-json", "-G1", "-n", "-struct", "-charset", "iptc=utf8", file.name))
    assert "ExifTool:Error" not in found, found
    return dict(found)


def write_by_exiftool(path: Path, *options: str) -> None:
    """Have exiftool write into the file at *path*; its remarks on details stop nothing (``-m``)."""
    said = ask_exiftool("-m", "-overwrite_original", *options, str(path))
    assert "1 image files updated" in said, said


def ask_exiftool(*arguments: str) -> str:
    """Return what exiftool prints for a command line, no word of which has a line end.

    Its warnings go to this process's error stream.
    """
    assert not [word for word in arguments if "\n" in word]
    process, number = _running(), next(NUMBERS)
    assert process.stdin is not None
    assert process.stdout is not None
    lines: list[str] = []
    try:
        process.stdin.write("\n".join([*arguments, f"-execute{number}", ""]))
        process.stdin.flush()
        while (line := process.stdout.readline()).rstrip() != f"{{ready{number}}}":
            assert line, "exiftool has ended"
            lines.append(line)
    except BaseException:  # an answer that is left unread would be taken for the next one
        _running.cache_clear()
        _end(process)
        raise
    return "".join(lines)


@functools.cache
def _running() -> subprocess.Popen[str]:
    process = subprocess.Popen(
        ["exiftool", "-stay_open", "True", "-@", "-"], stdin=subprocess.PIPE, stdout=subprocess.PIPE, encoding="utf-8"
    )
    atexit.register(_end, process)
    return process


def _end(process: subprocess.Popen[str]) -> None:
    with process:  # closes its pipes
        process.kill()
