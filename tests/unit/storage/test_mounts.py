"""Which folders lie on shares."""

from __future__ import annotations

from pathlib import Path

import pytest

from lanternslide.storage.mounts import Mount, is_remote, mount_of, mounts

TABLE = [
    Mount(Path("/"), "ext4"),
    Mount(Path("/srv/share"), "cifs"),
    Mount(Path("/srv/share/local"), "btrfs"),
    Mount(Path("/media/disk"), "fuseblk"),
    Mount(Path("/home/ida/sshfs"), "fuse.sshfs"),
    Mount(Path("/mnt/twice"), "ext4"),
    Mount(Path("/mnt/twice"), "nfs4"),
    Mount(Path("/srv/share2"), "xfs"),
]


@pytest.mark.parametrize(
    ("path", "remote"),
    [
        ("/srv/drop", False),
        ("/srv/share/drop", True),
        ("/srv/share/local/drop", False),
        ("/srv/share2/drop", False),
        ("/media/disk/drop", False),
        ("/home/ida/sshfs/drop", True),
        ("/mnt/twice/drop", True),
    ],
)
def test_shares_are_told_by_the_mount_table(path: str, *, remote: bool) -> None:
    """The deepest mount counts, and of two in one place the later; a local disk through FUSE is local."""
    assert is_remote(Path(path), lambda: TABLE) is remote


def test_the_real_mount_table_is_read(tmp_path: Path) -> None:
    """A temporary folder lies on some mount."""
    assert mount_of(tmp_path.resolve(), mounts()) is not None


def test_a_link_into_a_share_counts(tmp_path: Path) -> None:
    """What counts is where a folder really lies."""
    (tmp_path / "share").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "share")
    table = [Mount(Path("/"), "ext4"), Mount((tmp_path / "share").resolve(), "nfs")]

    assert is_remote(tmp_path / "link" / "drop", lambda: table)
