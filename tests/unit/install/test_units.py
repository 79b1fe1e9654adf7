"""Names in unit files, and writing and deleting those files."""

from __future__ import annotations

import shutil
import subprocess
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lanternslide.errors import InstallError
from lanternslide.install.escape import bound_path, command_line, listed_path
from lanternslide.install.systemd import Installation, carry_out, installed
from lanternslide.install.units import MARK, Run, service_unit, tmpfiles
from lanternslide.words import Install

RUN = Run(python=Path("/opt/x/bin/python"), config=Path("/etc/x.toml"), memory_mib=1024, stop_seconds=45)

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


def test_pauses_grow_where_systemd_can() -> None:
    """A setting of a newer systemd is written only where it is understood."""
    old, new = (service_unit(replace(RUN, version=version), None, user=True) for version in (252, 254))

    assert "RestartSteps" not in old
    assert "RestartSteps" in new


def test_state_folders_are_closed_to_others() -> None:
    """Each photographer's state folder is theirs alone; the one around them is root's."""
    text = tmpfiles(Path("/var/lib/lanternslide"), {"ida": "ida", "juno": "users"})

    assert text.splitlines()[1:] == [
        "d /var/lib/lanternslide 0755 root root",
        "d /var/lib/lanternslide/ida 0700 ida ida",
        "d /var/lib/lanternslide/juno 0700 juno users",
    ]


def plan_in(folder: Path, text: str = f"# {MARK}\n[Unit]\n") -> Installation:
    """Return an installation of one file."""
    return Installation(files={folder / "lanternslide.service": text}, commands=(("true",),), units=("lanternslide",))


def test_files_are_written_over_only_if_they_are_ours(tmp_path: Path) -> None:
    """What an earlier installation wrote is replaced; what somebody else did stays, and is named."""
    carry_out(plan_in(tmp_path))
    carry_out(plan_in(tmp_path, f"# {MARK}\n[Service]\n"))
    assert "[Service]" in (tmp_path / "lanternslide.service").read_text()
    (tmp_path / "lanternslide.service").write_text("[Unit]\n# mine\n")

    with pytest.raises(InstallError) as caught:
        carry_out(plan_in(tmp_path))

    assert caught.value.said.key == Install.IN_THE_WAY.value
    assert (tmp_path / "lanternslide.service").read_text() == "[Unit]\n# mine\n"
    assert [path.name for path in tmp_path.iterdir()] == ["lanternslide.service"]


def test_only_what_was_installed_is_found(tmp_path: Path) -> None:
    """What an owner has put beside it, by `systemctl edit` for instance, is not taken away."""
    carry_out(plan_in(tmp_path))
    own = tmp_path / "lanternslide@ida.service.d"
    own.mkdir()
    (own / "folders.conf").write_text(f"# {MARK}\n")
    (own / "override.conf").write_text("[Service]\nNice=5\n")
    (tmp_path / "lanternslide@.service").write_text("[Unit]\n")

    found = installed(tmp_path)

    assert found.files == (tmp_path / "lanternslide.service", own / "folders.conf")
    assert not found.has_account


def test_what_the_system_refuses_is_said(tmp_path: Path) -> None:
    """A command that fails is named with what it said."""
    plan = Installation(files={}, commands=(("ls", str(tmp_path / "none")),), units=())

    with pytest.raises(InstallError, match="none"):
        carry_out(plan)
