"""Small configs, for tests of what is made of them."""

from __future__ import annotations

from pathlib import Path

import pytest

from lanternslide.config import Settings, load_settings
from lanternslide.errors import ConfigError

__all__ = ["LEAST", "faults", "keys_of", "load", "sentences"]

LEAST = """
[photographers.ida]
drop = "drop/ida"

[destinations.portfolio]
folder = "out/{photographer}/portfolio"
size = { long_edge = 1050 }
"""
"""The least config; further lines are keys of the destination."""


def load(folder: Path, text: str = LEAST) -> Settings:
    """Load a config with this text, which lies in *folder*."""
    return load_settings(_written(folder, text))


def faults(folder: Path, text: str) -> dict[str, str]:
    """Return the faults of a config by key, each of which has one."""
    found = _refused(folder, text)
    assert len({fault.key for fault in found.faults}) == len(found.faults)
    return {fault.key: fault.said.text for fault in found.faults}


def keys_of(folder: Path, text: str) -> dict[str, str]:
    """Return the keys of the sentences about a config, by the key that each is about."""
    return {fault.key: fault.said.key for fault in _refused(folder, text).faults}


def sentences(folder: Path, text: str) -> list[str]:
    """Return what is said about a config, fault by fault."""
    return [fault.said.text for fault in _refused(folder, text).faults]


def _refused(folder: Path, text: str) -> ConfigError:
    with pytest.raises(ConfigError) as error:
        load_settings(_written(folder, text))
    assert error.value.exit_status == 2
    assert all(fault.file == str(folder / "lanternslide.toml") for fault in error.value.faults)
    return error.value


def _written(folder: Path, text: str) -> Path:
    path = folder / "lanternslide.toml"
    path.write_text(text, "utf-8")
    return path
