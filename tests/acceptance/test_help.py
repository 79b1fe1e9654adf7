"""The help texts, and the README against them."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from lanternslide.cli.main import cli
from tests.support.pictures import save_jpeg
from tests.support.service import SERVICE, make_home, sweep

README = Path(__file__).resolve().parents[2] / "README.md"


def run(*arguments: str) -> subprocess.CompletedProcess[str]:
    """Run the command line without a config."""
    return subprocess.run(
        [sys.executable, "-m", "lanternslide", *arguments],
        capture_output=True, text=True, encoding="utf-8", check=False, cwd="/",
        env={"PYTHONPATH": str(SERVICE), "HOME": "/nowhere"},
    )  # fmt: skip


@pytest.mark.parametrize("arguments", [["--help"], *([name, "--help"] for name in cli.commands)])
def test_help_fits_a_terminal_and_needs_no_config(arguments: list[str]) -> None:
    """Every help text fits 80 columns and is there without a config."""
    done = run(*arguments)

    assert done.returncode == 0, done.stderr
    assert max(map(len, done.stdout.splitlines())) <= 80


def test_every_command_is_in_the_readme() -> None:
    """The README names every command."""
    text = README.read_text("utf-8")

    assert [name for name in cli.commands if f"lanternslide {name}" not in text] == []


@pytest.mark.parametrize("arguments", [["swep"], ["--colour"], ["sweep", "extra"]])
def test_wrong_usage_has_its_status(arguments: list[str]) -> None:
    """A wrong command, option or argument ends with 2 and says what is wrong."""
    done = run(*arguments)

    assert done.returncode == 2
    assert arguments[-1] in done.stderr


def test_no_config_is_said() -> None:
    """Without a config there is a message that says where one was looked for."""
    done = run("sweep")

    assert done.returncode == 2
    assert "There is no config here" in done.stderr
    assert "lanternslide.toml" in done.stderr


def test_the_readme_begins_with_the_job() -> None:
    """One paragraph states the job, and two commands set everything up."""
    _, first, *_ = README.read_text("utf-8").split("\n\n")

    assert first.startswith("You drop")
    assert "sh deploy/demo.sh" in README.read_text("utf-8")
    assert "sh tests/run.sh" in README.read_text("utf-8")


def test_the_readmes_config_works_as_it_says(tmp_path: Path) -> None:
    """The config in the README, with the folders that it asks for, delivers what is dropped."""
    home = make_home(tmp_path, README.read_text("utf-8").split("```toml\n")[1].split("```")[0])
    (home.drop() / "club" / "islands").mkdir(parents=True)
    save_jpeg(home.drop() / "north-stack.jpg", 2000, 1200)
    save_jpeg(home.drop() / "club" / "islands" / "stack.jpg", 2000, 1200)

    ran = sweep(home, "env", f"STATE_DIRECTORY={tmp_path / 'state'}")

    assert ran.status == 0, ran.errors
    assert home.delivered().keys() == {"ida/portfolio/north-stack.jpg", "club/islands/stack.jpg"}
