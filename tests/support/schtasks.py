"""A stand-in for the program of Windows' Task Scheduler, and a service that it would have started.

The stand-in is a fake: the real one runs on Windows alone. It notes what it is asked and answers as told; what the real
one answers was never seen here.
"""

from __future__ import annotations

import json
import stat
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

STAND_IN = """#!{python}
import json, pathlib, sys
here = pathlib.Path(__file__).parent
asked = sys.argv[1:]
files = [pathlib.Path(asked[2]).read_bytes().hex()] if asked[:2] == ["/Create", "/XML"] else []
with (here / "asked").open("a") as log:
    log.write(json.dumps([asked, files, sorted(path.name for path in (here.parent / "state").glob("*"))]) + "\\n")
refused = (here / "refuses").read_text().split() if (here / "refuses").exists() else []
if asked[0] in refused:
    print("ERROR: Access is denied.", file=sys.stderr)
    sys.exit(1)
if asked[0] == "/Query" and (here / "task").exists():
    sys.stdout.buffer.write((here / "task").read_bytes())
if asked[0] == "/Query":
    sys.stdout.write(sys.stdin.read())
"""

HOLDER = """
import sys, time
from pathlib import Path
from lanternslide.ledger import StateLock, take_stop_request
folder = Path(sys.argv[1])
with StateLock(folder, "lanternslide watch"):
    print("holds", flush=True)
    while not take_stop_request(folder):
        time.sleep(0.02)
"""
"""A process that holds a state folder until the stop file asks it not to."""


class System:
    """Where the stand-in notes what it was asked."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        program = folder / "schtasks"
        program.write_text(STAND_IN.replace("{python}", sys.executable))
        program.chmod(program.stat().st_mode | stat.S_IXUSR)

    def refuse(self, verb: str) -> None:
        """Answer *verb* with a refusal from now on."""
        (self.folder / "refuses").write_text(verb)

    def asked(self) -> list[list[str]]:
        """Return the arguments of every call."""
        return [arguments for arguments, _, _ in self._notes()]

    def files(self) -> list[bytes]:
        """Return the task files that were handed over."""
        return [bytes.fromhex(file) for _, files, _ in self._notes() for file in files]

    def in_state(self) -> list[list[str]]:
        """Return what lay in the state folder at every call."""
        return [names for _, _, names in self._notes()]

    def _notes(self) -> list[tuple[list[str], list[str], list[str]]]:
        log = self.folder / "asked"
        return [json.loads(line) for line in log.read_text().splitlines()] if log.exists() else []

    def show(self, definition: bytes) -> None:
        """Answer with *definition* from now on, where a task is asked for."""
        (self.folder / "task").write_bytes(definition)


@contextmanager
def service(state: Path) -> Iterator[subprocess.Popen[str]]:
    """Hold *state* in another process meanwhile, until it is asked to stop."""
    process = subprocess.Popen([sys.executable, "-c", HOLDER, str(state)], stdout=subprocess.PIPE, text=True)
    with process:
        assert process.stdout is not None
        assert process.stdout.readline() == "holds\n"
        try:
            yield process
        finally:
            process.kill()
