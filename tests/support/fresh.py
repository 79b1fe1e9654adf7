"""A delivery made in a process of its own, where nothing was read before but what a test says."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryFile

from tests.support.starter import CAN_FORK, ROOT, Program, start

__all__ = ["delivered_afresh"]

FRESH = Program("tests.support.fresh", "tests.support.chain")
PATIENCE = 120.0


def delivered_afresh(*originals: Path, policy: str = "whole") -> tuple[bytes, str]:
    """Return the delivery of the last of *originals*, made one after the other, and the doubts about it."""
    out = originals[-1].with_suffix(".delivery")
    arguments = [str(out), policy, *map(str, originals)]
    environment = {"PYTHONPATH": f"{ROOT / 'service'}{os.pathsep}{ROOT}", "PATH": "/usr/bin:/bin"}
    with TemporaryFile() as said:
        if CAN_FORK:
            status = start(arguments, program=FRESH, environment=environment, output=said, errors=said).wait(PATIENCE)
        else:
            command = [sys.executable, "-m", FRESH.module, *arguments]
            status = subprocess.run(command, stdout=said, stderr=said, check=False, env=environment).returncode
        said.seek(0)
        text = said.read().decode()
    assert status == 0, text
    return out.read_bytes(), text


def deliver_all(out: str, policy: str, *originals: str) -> None:
    """Make a small delivery of each original, write the last one, and print its doubts."""
    from tests.support.chain import deliver, recipe  # noqa: PLC0415 - it loads the library that is to be fresh

    small = replace(recipe(120, sharpen=False), metadata=policy)
    *_, (jpeg, made) = (deliver(Path(original), small) for original in originals)
    Path(out).write_bytes(jpeg)
    print([doubt.key for doubt in made.doubts])


if __name__ == "__main__":
    deliver_all(*sys.argv[1:])
