"""Which folders the service may see and write, for configs of all sorts."""

from __future__ import annotations

from pathlib import Path

import pytest

from lanternslide.config import Settings, load_settings
from lanternslide.errors import InstallError
from lanternslide.install.access import Access, access_of, access_of_one
from lanternslide.storage.mounts import Mount

STATE = Path("/var/lib/lanternslide")
PROGRAM = (Path("/opt/lanternslide"),)
CONFIG = Path("/etc/lanternslide")
ROOT = Mount(Path("/"), "ext4")


def settings_of(folder: Path, text: str) -> Settings:
    """Return the settings of a config with the destinations of an ordinary home server."""
    config = folder / "lanternslide.toml"
    config.write_text(text)
    return load_settings(config)


TWO = """
[photographers.ida]
drop = "/srv/lanternslide/drop/ida"
[photographers.juno]
drop = "/srv/lanternslide/drop/juno"
[destinations.portfolio]
folder = "/srv/lanternslide/out/{photographer}/portfolio"
size = { long_edge = 1050 }
[destinations.club]
folder = "/srv/lanternslide/out/club"
size = { long_edge = 1920 }
"""


def for_all(settings: Settings, *mounts: Mount, program: tuple[Path, ...] = PROGRAM) -> Access:
    """Return the access of one service for all."""
    return access_of(settings, STATE, program, (ROOT, *mounts))


def test_destinations_and_state_alone_are_written(tmp_path: Path) -> None:
    """Originals cannot be written, and homes are not seen."""
    access = for_all(settings_of(tmp_path, TWO))

    assert access == Access(writable=(Path("/srv/lanternslide/out"), STATE), readable=(), home="yes")


def test_folders_that_are_yet_to_be_made_can_be(tmp_path: Path) -> None:
    """Of a pattern, what does not vary with the photographer is written, since the rest is made in it."""
    access = for_all(settings_of(tmp_path, TWO.replace("/srv/lanternslide/out/club", "/data/clubs/club")))

    assert access.writable == (Path("/data/clubs"), Path("/srv/lanternslide/out"), STATE)


def test_filing_takes_one_folder_and_guards_the_others_drop_folders(tmp_path: Path) -> None:
    """Renaming needs one mount around both; a drop folder that nothing is filed from stays read-only."""
    text = TWO.replace('drop/ida"', 'drop/ida"\noriginals = "/srv/lanternslide/filed/ida"')

    access = for_all(settings_of(tmp_path, text))

    assert access.writable == (Path("/srv/lanternslide"), STATE)
    assert access.readable == (Path("/srv/lanternslide/drop/juno"),)


def test_filing_across_the_whole_disk_is_refused(tmp_path: Path) -> None:
    """A folder around both that is the whole system is not made writable."""
    text = TWO.replace('drop/ida"', 'drop/ida"\noriginals = "/data/filed/ida"')

    with pytest.raises(InstallError, match="into one folder"):
        for_all(settings_of(tmp_path, text))


@pytest.mark.parametrize(
    ("mount", "folder"),
    [
        (Mount(Path("/mnt/disk"), "ext4"), "/mnt/disk/out/club"),  # a disk that may be unplugged
        (Mount(Path("/nas"), "nfs4"), "/nas/pictures/out/club"),
    ],
)
def test_of_what_comes_and_goes_all_is_written(tmp_path: Path, mount: Mount, folder: str) -> None:
    """A share or disk is seen again when it is connected anew, so it gets no mount of its own inside."""
    access = for_all(settings_of(tmp_path, TWO.replace("/srv/lanternslide/out/club", folder)), mount)

    assert mount.folder in access.writable


def test_a_fixed_disk_is_no_share(tmp_path: Path) -> None:
    """Of a partition only the folder is written."""
    access = for_all(settings_of(tmp_path, TWO), Mount(Path("/srv"), "ext4"))

    assert access.writable == (Path("/srv/lanternslide/out"), STATE)


def test_of_homes_only_what_is_named_is_seen(tmp_path: Path) -> None:
    """A drop folder in a home, and a program or a watermark there, are bound into empty homes."""
    text = TWO.replace("/srv/lanternslide/drop/ida", "/home/ida/finished").replace(
        "1920 }", '1920 }\nwatermark = { image = "/home/ida/marks/mark.png" }'
    )

    access = for_all(settings_of(tmp_path, text), program=(Path("/home/ida/.venv"),))

    assert access.home == "tmpfs"
    assert set(access.readable) == {
        Path("/home/ida/.venv"),
        Path("/home/ida/finished"),
        Path("/home/ida/marks/mark.png"),
    }
    assert "BindReadOnlyPaths=-/home/ida/finished" in access.lines()


def test_a_folder_just_below_the_root_is_not_widened(tmp_path: Path) -> None:
    """The folder above a destination is written, too, unless that is one of the system's or a home."""
    text = TWO.replace("/srv/lanternslide/out/club", "/srv/club").replace(
        "/srv/lanternslide/out/{photographer}/portfolio", "/home/ida/site"
    )

    access = for_all(settings_of(tmp_path, text))

    assert set(access.writable) == {Path("/srv/club"), Path("/home/ida/site"), STATE}


def test_each_sees_their_own_and_what_is_shared(tmp_path: Path) -> None:
    """Of two photographers' folders the one's service is shown none of the other's."""
    access = access_of_one(settings_of(tmp_path, TWO), "ida", STATE, PROGRAM, CONFIG)

    assert access == Access(
        hidden=(Path("/srv"), STATE),
        readable=(Path("/srv/lanternslide/drop/ida"),),
        writable=(Path("/srv/lanternslide/out/club"), Path("/srv/lanternslide/out/ida"), STATE / "ida"),
        home="yes",
        must_be_there=True,
    )
    assert "juno" not in access.lines()


def test_each_can_file_where_both_folders_are_theirs(tmp_path: Path) -> None:
    """Folders below one of the photographer's own are bound as one, so that renaming works."""
    text = TWO.replace("/srv/lanternslide/drop/ida", "/srv/ida/drop").replace(
        '/drop"', '/drop"\noriginals = "/srv/ida/filed"', 1
    )

    access = access_of_one(settings_of(tmp_path, text), "ida", STATE, PROGRAM, CONFIG)

    assert Path("/srv/ida") in access.writable
    assert access.readable == ()


def test_where_links_lead_is_seen_too(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A folder that is a link into a home is bound there; another photographer's is covered there."""
    leads = {"/srv/lanternslide/drop/ida": "/home/ida/finished", "/srv/lanternslide/drop/juno": "/data/juno"}
    monkeypatch.setattr("os.path.realpath", lambda path, **_: leads.get(str(path), str(path)))
    settings = settings_of(tmp_path, TWO)

    whole, one = for_all(settings), access_of_one(settings, "ida", STATE, PROGRAM, CONFIG)

    assert whole.home == "tmpfs"
    assert Path("/home/ida/finished") in whole.readable
    assert Path("/data") in one.hidden
    assert {Path("/srv/lanternslide/drop/ida"), Path("/home/ida/finished")} <= set(one.readable)


def test_folders_for_temporary_files_are_refused(tmp_path: Path) -> None:
    """The service has such folders of its own, and would see nothing."""
    settings = settings_of(tmp_path, TWO.replace("/srv/lanternslide/drop/ida", "/var/tmp/drop"))  # noqa: S108

    with pytest.raises(InstallError, match="temporary"):
        for_all(settings)


def test_a_config_among_hidden_folders_is_refused(tmp_path: Path) -> None:
    """A config that the services could not read again says where it should lie."""
    with pytest.raises(InstallError, match="Move it"):
        access_of_one(settings_of(tmp_path, TWO), "ida", STATE, PROGRAM, Path("/srv/lanternslide"))


def test_filing_around_somebody_elses_folder_is_refused(tmp_path: Path) -> None:
    """What would show another's folder is refused, and both are named."""
    text = TWO.replace('drop/ida"', 'drop/ida"\noriginals = "/srv/lanternslide/filed/ida"')

    with pytest.raises(InstallError, match="drop/juno") as caught:
        access_of_one(settings_of(tmp_path, text), "ida", STATE, PROGRAM, CONFIG)

    assert "ida" in str(caught.value)
