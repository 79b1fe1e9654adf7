"""Making the first folders and config: whole, or not at all."""

from __future__ import annotations

from pathlib import Path

import pytest

import lanternslide.preview.first_folders as module
from lanternslide.config import FirstAnswers, FirstDestination, load_settings
from lanternslide.errors import UsageError
from lanternslide.preview.first_folders import begin

ANSWERS = FirstAnswers(
    creator="Ida Marrow",
    contact="",
    drop="drop/ida",
    destinations=(FirstDestination(name="portfolio", long_edge=1050),),
)


@pytest.mark.parametrize("name", ["write_temporary", "load_settings", "publish_new"])
def test_stopped_on_the_way_everything_is_deleted_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    """Ctrl-C while it makes things: what it made is gone, and what was there before is not."""

    def stopped(*_: object) -> None:
        # Nobody can press a key at that very moment, so the interrupt is put there.
        raise KeyboardInterrupt

    (tmp_path / "out").mkdir()
    monkeypatch.setattr(module, name, stopped)

    with pytest.raises(KeyboardInterrupt):
        begin(tmp_path / "lanternslide.toml", ANSWERS)

    assert list(tmp_path.rglob("*")) == [tmp_path / "out"]


def test_a_config_that_comes_meanwhile_is_not_replaced(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Somebody else's config, put there at the last moment, stays, and ours leaves nothing."""
    config = tmp_path / "lanternslide.toml"

    def meanwhile(path: Path) -> object:
        config.write_text("somebody else's")
        return load_settings(path)

    monkeypatch.setattr(module, "load_settings", meanwhile)

    with pytest.raises(UsageError, match="stays as it is"):
        begin(config, ANSWERS)

    assert config.read_text() == "somebody else's"
    assert [path.name for path in tmp_path.iterdir() if path.is_file()] == [config.name]
