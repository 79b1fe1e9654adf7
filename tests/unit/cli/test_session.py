"""What every command that works needs: settings, the state folder under lock, the ledger."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from lanternslide.cli.session import (
    Named,
    divided_among,
    has_ledger,
    ledger_to_read,
    open_ledger,
    open_settings,
    refuse_divided,
    state_folder,
)
from lanternslide.config import Settings
from lanternslide.errors import ConfigError, StateError, StateLockedError, UsageError
from lanternslide.ledger import Ledger, StateLock, holder_of
from tests.support.configs import LEAST, load

BOTH = LEAST + '[photographers.juno]\ndrop = "drop/juno"\n'
WITH_STATE = f'[service]\nstate = "state"\nmemory = "3 GiB"\n{BOTH}'


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    """Return the settings of two photographers; the state folder lies beside the config."""
    return load(tmp_path, WITH_STATE)


def make_ledger(folder: Path) -> None:
    """Begin a ledger."""
    folder.mkdir(parents=True)
    with Ledger(folder):
        pass


# Settings


def test_the_config_that_is_named_counts(tmp_path: Path, settings: Settings) -> None:
    """Of all photographers, where none is named."""
    assert open_settings(Named(config=tmp_path / "lanternslide.toml")) == settings


def test_one_photographers_service_has_its_own_state_and_share(tmp_path: Path, settings: Settings) -> None:
    """A folder in the state folder of all, and an equal part of the memory."""
    only = open_settings(Named(config=tmp_path / "lanternslide.toml", photographer="juno"))

    assert list(only.photographers) == ["juno"]
    assert only.service.state == tmp_path / "state" / "juno"
    assert only.service.memory == 3 * 1024**3 // len(settings.photographers)


def test_a_photographer_who_is_not_there_is_wrong_usage(tmp_path: Path, settings: Settings) -> None:
    """Those who are there are named."""
    assert list(settings.photographers) == ["ida", "juno"]
    with pytest.raises(UsageError, match=r"no photographer “jun”.*ida, juno") as caught:
        open_settings(Named(config=tmp_path / "lanternslide.toml", photographer="jun"))

    assert caught.value.exit_status == 2


def test_a_shared_manifest_keeps_photographers_from_services_of_their_own(tmp_path: Path) -> None:
    """One service for all may write it."""
    text = BOTH.replace("{photographer}/", "").replace("[photographers.juno]", "manifest = true\n[photographers.juno]")
    load(tmp_path, text)

    open_settings(Named(config=tmp_path / "lanternslide.toml"))
    with pytest.raises(ConfigError, match="manifest"):
        open_settings(Named(config=tmp_path / "lanternslide.toml", photographer="ida"))


@pytest.mark.parametrize(
    ("config", "environment", "folder"),
    [
        (WITH_STATE, {"STATE_DIRECTORY": "/var/lib/x"}, "state"),
        (BOTH, {"STATE_DIRECTORY": "/var/lib/x"}, "/var/lib/x"),
        (BOTH, {"STATE_DIRECTORY": "/var/lib/x:/var/lib/y"}, "/var/lib/x"),
        (BOTH, {"STATE_DIRECTORY": ""}, "home/lanternslide"),
        (BOTH, {}, "home/lanternslide"),
    ],
)
def test_where_the_state_folder_is(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, config: str, environment: dict[str, str], folder: str
) -> None:
    """The config's, else the first that systemd names (systemd.exec(5)), else the user's."""
    monkeypatch.setattr("platformdirs.user_state_dir", lambda name, *_, **__: str(tmp_path / "home" / name))

    assert state_folder(load(tmp_path, config), environment) == tmp_path / folder


# The ledger


def test_the_folder_is_locked_for_the_command_meanwhile(tmp_path: Path, settings: Settings) -> None:
    """Whoever comes second hears who was first; afterwards it is free."""
    with open_ledger(settings, "watch") as ledger:
        assert ledger.folder == tmp_path / "state"
        assert holder_of(tmp_path / "state") == f"lanternslide watch, process {os.getpid()}"
        with pytest.raises(StateLockedError, match="lanternslide watch"), open_ledger(settings, "sweep"):
            pass

    assert holder_of(tmp_path / "state") is None


def test_reading_needs_no_lock_and_makes_no_folder(tmp_path: Path, settings: Settings) -> None:
    """Where there is no ledger yet, there is an empty one that is kept nowhere."""
    with ledger_to_read(settings) as empty:
        assert empty.reading.counts() == {}
    assert not (tmp_path / "state").exists()

    make_ledger(tmp_path / "state")
    with StateLock(tmp_path / "state", "lanternslide watch"), ledger_to_read(settings) as ledger:
        assert ledger.folder == tmp_path / "state"


def test_a_ledger_that_is_not_there_is_not_seen(tmp_path: Path) -> None:
    """Nor is one where a file stands in the folder's place."""
    (tmp_path / "file").touch()
    assert not has_ledger(tmp_path)
    assert not has_ledger(tmp_path / "file")

    make_ledger(tmp_path / "state")
    assert has_ledger(tmp_path / "state")


# Services of single photographers


def test_who_has_a_folder_of_their_own(tmp_path: Path, settings: Settings) -> None:
    """Those with a ledger in it; nobody, where the state folder has one itself."""
    assert divided_among(settings, tmp_path / "state") == []
    make_ledger(tmp_path / "state" / "juno")
    (tmp_path / "state" / "ida").mkdir()
    assert divided_among(settings, tmp_path / "state") == ["juno"]

    with Ledger(tmp_path / "state"):
        pass
    assert divided_among(settings, tmp_path / "state") == []


def test_a_command_for_all_is_refused_where_each_has_a_service(tmp_path: Path, settings: Settings) -> None:
    """It would begin a second ledger; the words say how to name one. With one named it goes on."""
    make_ledger(tmp_path / "state" / "juno")

    for refused in (
        lambda: refuse_divided(settings, tmp_path / "state"),
        lambda: ledger_to_read(settings),
        lambda: open_ledger(settings, "sweep").__enter__(),
    ):
        with pytest.raises(UsageError, match="--photographer NAME, with one of ida, juno"):
            refused()
    assert not has_ledger(tmp_path / "state")

    only = open_settings(Named(config=tmp_path / "lanternslide.toml", photographer="juno"))
    with open_ledger(only, "sweep") as ledger:
        assert ledger.folder == tmp_path / "state" / "juno"


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() != 0, reason="only root gives a folder away")
def test_root_leaves_nothing_in_another_users_state(tmp_path: Path, settings: Settings) -> None:
    """The user is named; reading is allowed."""
    pwd = pytest.importorskip("pwd")
    make_ledger(tmp_path / "state")
    before = sorted(path.name for path in (tmp_path / "state").iterdir())
    os.chown(tmp_path / "state", pwd.getpwnam("nobody").pw_uid, -1)

    with pytest.raises(StateError, match="sudo -u nobody"), open_ledger(settings, "sweep"):
        pass
    with ledger_to_read(settings) as ledger:
        assert ledger.reading.counts() == {}

    assert sorted(path.name for path in (tmp_path / "state").iterdir()) == before
