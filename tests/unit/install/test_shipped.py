"""What lies in `deploy` for systems to start the service by, and what systemd's own tools say of it."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest

from tests.support.ship import DEPLOY, shipped

SHIPPED = shipped()
UNITS = [name for name in SHIPPED if name.endswith(".service")]
HIGHEST = {"all": 4, "each": 4, "cluster": 13}
"""The highest exposure of each system unit, in tenths: 0.4, and what the network costs where it is needed."""

needs_systemd = pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="systemd-analyze is not here")


def analyze(*arguments: str | Path) -> subprocess.CompletedProcess[str]:
    """Run systemd-analyze."""
    return subprocess.run(
        ["systemd-analyze", "--no-pager", *map(str, arguments)], capture_output=True, text=True, check=False
    )


@pytest.mark.parametrize("name", SHIPPED)
def test_what_is_shipped_is_what_is_made(name: str) -> None:
    """The files in `deploy` are those that the code makes, byte for byte."""
    assert (DEPLOY / name).read_bytes() == SHIPPED[name]


def test_nothing_else_is_shipped() -> None:
    """No file of a former version stays behind."""
    found = {path.relative_to(DEPLOY).as_posix() for path in (DEPLOY / "systemd").rglob("*") if path.is_file()}

    assert found == {name for name in SHIPPED if name.startswith("systemd/")}


@needs_systemd
@pytest.mark.parametrize("name", [name for name in UNITS if "/user/" not in name])
def test_exposure(name: str) -> None:
    """Systemd counts no more exposure of a system unit than is accounted for in it."""
    highest = HIGHEST[name.split("/")[1]]

    done = analyze("security", "--offline=yes", f"--threshold={highest}", DEPLOY / name)

    print(f"{name}: {done.stdout.splitlines()[-1]}")
    assert done.returncode == 0, done.stdout


@needs_systemd
@pytest.mark.parametrize("name", UNITS)
def test_units_are_verified_without_a_warning(name: str, tmp_path: Path) -> None:
    """Systemd understands every line; the program is replaced by one that is there."""
    unit = tmp_path / Path(name).name.replace("@.", "@ida.")
    unit.write_text((DEPLOY / name).read_text().replace("/opt/lanternslide/bin/python", "/bin/true"))

    # --man=no: no manual page is named, and the tool would look for `man` itself.
    done = analyze("verify", "--man=no", unit)

    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")


@needs_systemd
def test_a_wrong_line_would_be_seen(tmp_path: Path) -> None:
    """The check above can fail."""
    unit = tmp_path / "wrong.service"
    unit.write_text("[Service]\nExecStart=/bin/true\nMemoryMaks=1G\n")

    assert "MemoryMaks" in analyze("verify", "--man=no", unit).stderr
