"""What would be installed, said on any machine; and what cannot be installed like this."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.support.service import PLAIN, Home, make_home, run

SERVER = (
    PLAIN.replace('"drop/', '"/srv/pictures/drop/')
    .replace('"out/', '"/srv/pictures/out/')
    .replace('"state"', '"/var/lib/lanternslide"')
)
"""Folders as a server has them; none has to be there for a dry run."""

MACHINES = SERVER.replace("workers = 2", 'workers = 2\nmemory = "1 GiB"\ngrace_seconds = 60')


def dry(home: Home, *arguments: str) -> str:
    """Return what a dry run prints."""
    ran = run(home, "install", "--dry-run", *arguments)
    assert ran.status == 0, ran.errors
    return ran.output


def test_limits_follow_the_config(tmp_path: Path) -> None:
    """The memory is the budget and 512 MiB for the rest; a stop may take the grace time and 15 seconds."""
    said = dry(make_home(tmp_path, MACHINES), "--systemd")

    assert "MemoryMax=1536M" in said
    assert "TimeoutStopSec=75s" in said
    assert "ReadWritePaths=-/srv/pictures/out" in said
    assert f"--config {tmp_path / 'lanternslide.toml'} watch" in said
    assert "systemctl daemon-reload" in said


def test_paths_are_written_without_dots(tmp_path: Path) -> None:
    """What the config leads to by way of the folder above is named as it is; systemd takes no other."""
    home = make_home(tmp_path, SERVER.replace("/srv/pictures/out/club", "/srv/pictures/out/../clubs/club"))

    said = dry(home, "--systemd")

    assert "ReadWritePaths=-/srv/pictures/clubs" in said
    assert ".." not in said.replace("...", "")


def test_one_user_needs_no_root(tmp_path: Path) -> None:
    """The unit has nothing in it that only root may ask for."""
    said = dry(make_home(tmp_path, SERVER), "--systemd", "--user")

    assert "WantedBy=default.target" in said
    for setting in ("User=", "ProtectSystem=", "CapabilityBoundingSet="):
        assert setting not in said


def test_it_is_written_into_a_file(tmp_path: Path) -> None:
    """With --output, what would be printed stands in the file."""
    home = make_home(tmp_path, SERVER)
    printed = dry(home, "--systemd")

    dry(home, "--systemd", "--output", str(tmp_path / "unit.txt"))
    dry(home, "--windows-task", "--output", str(tmp_path / "task.xml"))

    assert (tmp_path / "unit.txt").read_text("utf-8") == printed
    assert (tmp_path / "task.xml").read_bytes()[:2] == b"\xff\xfe"


def test_the_machines_service_needs_a_state_folder_in_the_config(tmp_path: Path) -> None:
    """Otherwise commands would look for the ledger elsewhere; the key is named."""
    ran = run(
        make_home(tmp_path, SERVER.replace('state = "/var/lib/lanternslide"', "")), "install", "--systemd", "--dry-run"
    )

    assert ran.status == 2
    assert "service.state" in ran.errors


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ((), "--systemd on Linux"),
        (("--systemd", "--user", "--per-photographer"), "use only one"),
        (("--systemd", "--output", "x"), "--dry-run"),
        (("--windows-task", "--user"), "one task"),
        (("--windows-task",), "deploy/lanternslide-task.xml"),
    ],
)
def test_what_does_not_go_together_is_said(tmp_path: Path, arguments: tuple[str, ...], said: str) -> None:
    """Wrong usage ends with 2 before anything is done."""
    ran = run(make_home(tmp_path, SERVER), "install", *arguments)

    assert ran.status == 2
    assert said.lower() in ran.errors.lower()


def test_originals_filed_far_away_are_refused(tmp_path: Path) -> None:
    """Both folders are named, and what to do."""
    config = SERVER.replace('drop = "/srv/pictures/drop/ida"', 'drop = "/drop-of-ida"\noriginals = "/filed/ida"')

    ran = run(make_home(tmp_path, config), "install", "--systemd", "--dry-run")

    assert ran.status == 2
    assert "/drop-of-ida" in ran.errors
    assert "/filed/ida" in ran.errors
