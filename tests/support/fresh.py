"""A delivery made in a process of its own, where nothing was read before but what a test says."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

__all__ = ["delivered_afresh"]

SCRIPT = """
import sys
from dataclasses import replace
from pathlib import Path
from tests.support.chain import deliver, recipe
out, policy, *originals = sys.argv[1:]
for original in originals:
    jpeg, made = deliver(Path(original), replace(recipe(120, sharpen=False), metadata=policy))
Path(out).write_bytes(jpeg)
print([doubt.key for doubt in made.findings])
"""


def delivered_afresh(*originals: Path, policy: str = "whole") -> tuple[bytes, str]:
    """Return the delivery of the last of *originals*, made one after the other, and the doubts about it."""
    out = originals[-1].with_suffix(".delivery")
    command = [sys.executable, "-c", SCRIPT, str(out), policy, *map(str, originals)]
    root = Path(__file__).resolve().parents[2]
    environment = {"PYTHONPATH": f"{root / 'service'}:{root}", "PATH": "/usr/bin:/bin"}
    done = subprocess.run(command, capture_output=True, text=True, check=False, env=environment)
    assert done.returncode == 0, done.stderr
    return out.read_bytes(), done.stdout
