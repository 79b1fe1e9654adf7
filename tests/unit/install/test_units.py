"""Names in unit files, and writing and deleting those files."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from lanternslide.install.units import Run, service_unit, tmpfiles

RUN = Run(python=Path("/opt/x/bin/python"), config=Path("/etc/x.toml"), memory_mib=1024, stop_seconds=45)


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
