"""Names in unit files, which systemd reads as they are."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lanternslide.install.escape import bound_path, command_line, listed_path

names = st.text(st.characters(exclude_categories=("C", "Z")), min_size=1).filter(lambda name: "/" not in name)


@given(st.lists(names, min_size=1))
def test_a_plain_word_stays_and_every_other_is_closed(parts: list[str]) -> None:
    """Quotes are balanced and no percent sign or dollar is left single, whatever a folder is called."""
    path = Path("/srv", " ".join(parts))

    for text in (listed_path(path), bound_path(path), command_line(Path("/bin/true"), [str(path)])):
        bare = text.replace("\\\\", "").replace('\\"', "")
        assert bare.count('"') in (0, 2)
        assert "%" not in text.replace("%%", "")
    assert "$" not in command_line(Path("/bin/true"), [str(path)]).replace("$$", "")


@pytest.mark.parametrize(
    ("name", "listed", "bound"),
    [
        ("/srv/out", "/srv/out", "/srv/out"),
        ("/srv/Skerrow Isles", '"/srv/Skerrow Isles"', '"/srv/Skerrow Isles"'),
        ("/srv/100%", "/srv/100%%", "/srv/100%%"),
        ("/srv/a:b", "/srv/a:b", "/srv/a\\:b"),
        ('/srv/"x"', '"/srv/\\"x\\""', '"/srv/\\"x\\""'),
    ],
)
def test_names_are_escaped_by_the_rules(name: str, listed: str, bound: str) -> None:
    """Spaces are quoted, percent signs doubled, colons kept from dividing (systemd.syntax(7), systemd.exec(5))."""
    assert (listed_path(Path(name)), bound_path(Path(name))) == (listed, bound)


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="systemd-analyze is not here")
def test_systemd_reads_odd_names(tmp_path: Path) -> None:
    """A program is found whose name holds most of what is special; systemd takes no quotes there."""
    program = tmp_path / "a b%c$d;h"
    program.write_text("#!/bin/sh\n")
    program.chmod(0o755)
    unit = tmp_path / "odd.service"
    command = command_line(program, ["x;y", "a\"b'c\\d$e"])
    unit.write_text(f"[Service]\nExecStart={command}\nReadWritePaths={listed_path(program)}\n")

    done = subprocess.run(
        ["systemd-analyze", "verify", "--man=no", str(unit)], capture_output=True, text=True, check=False
    )

    assert (done.returncode, done.stderr) == (0, "")


@pytest.mark.parametrize(
    ("word", "written"),
    [
        ("plain", "plain"),
        ("", '""'),
        ("a b", '"a b"'),
        ("a\tb", '"a\tb"'),
        ("100%", "100%%"),
        ("$HOME", "$$HOME"),
        ("it's", '"it\'s"'),
        ('say "so"', '"say \\"so\\""'),
        ("C:\\out", '"C:\\\\out"'),
        ("a;b", '"a;b"'),
    ],
)
def test_words_of_a_command(word: str, written: str) -> None:
    """Specifiers and variables are doubled, what parts words is quoted (systemd.service(5), "Command lines")."""
    assert command_line(Path("/bin/true"), ["-m", word]) == f"/bin/true -m {written}"


def test_a_dollar_is_special_in_what_follows_the_program_alone() -> None:
    """As systemd 252 shows; a percent sign is in both."""
    assert command_line(Path("/opt/a$b%c/python"), ["$"]) == "/opt/a$b%%c/python $$"


def test_a_bound_path_is_quoted_before_its_colons_are_kept() -> None:
    """The entry is unquoted first and divided at its colons after (systemd.exec(5), BindPaths=)."""
    assert bound_path(Path("/srv/a b:c")) == '"/srv/a b\\:c"'
