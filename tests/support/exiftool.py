"""exiftool, an independent reader and writer of metadata: one process for all questions, since Perl starts slowly."""

from __future__ import annotations

import atexit
import functools
import json
import shutil
import subprocess
from pathlib import Path
from tempfile import NamedTemporaryFile
from typing import Any

import pytest

__all__ = ["ask_exiftool", "by_exiftool", "needs_exiftool", "write_by_exiftool"]

needs_exiftool = pytest.mark.skipif(shutil.which("exiftool") is None, reason="needs exiftool, which is not here")

READY = "{ready}"


def by_exiftool(jpeg: bytes) -> dict[str, Any]:
    """Return what exiftool reads, by group and name."""
    with NamedTemporaryFile(suffix=".jpg") as file:
        file.write(jpeg)
        file.flush()
        (found,) = json.loads(ask_exiftool("-json", "-G1", "-n", "-struct", "-charset", "iptc=utf8", file.name))
    return dict(found)


def write_by_exiftool(path: Path, *options: str) -> None:
    """Write into the file at *path* what *options* say, each of one line."""
    said = ask_exiftool("-m", "-overwrite_original", *options, str(path))
    assert "1 image files updated" in said, said


def ask_exiftool(*arguments: str) -> str:
    """Return what exiftool prints for a command line; its warnings go to this process's error stream."""
    assert not [word for word in arguments if "\n" in word]
    process = _running()
    assert process.stdin is not None
    assert process.stdout is not None
    process.stdin.write("\n".join([*arguments, "-execute", ""]))
    process.stdin.flush()
    lines: list[str] = []
    while (line := process.stdout.readline()).rstrip() != READY:
        assert line, "exiftool has ended"
        lines.append(line)
    return "".join(lines)


@functools.cache
def _running() -> subprocess.Popen[str]:
    process = subprocess.Popen(
        ["exiftool", "-stay_open", "True", "-@", "-"], stdin=subprocess.PIPE, stdout=subprocess.PIPE, encoding="utf-8"
    )

    def end() -> None:
        process.communicate("-stay_open\nFalse\n", timeout=10)

    atexit.register(end)
    return process
