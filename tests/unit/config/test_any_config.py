"""Whatever a config says: it loads, or every fault has words."""

from __future__ import annotations

import json
import tomllib
from copy import deepcopy
from pathlib import Path
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from lanternslide.config import load_settings
from lanternslide.errors import ConfigError

REFERENCE = tomllib.loads((Path(__file__).resolve().parents[3] / "config" / "reference.toml").read_text("utf-8"))

VALUES = st.one_of(
    st.booleans(),
    st.integers(-(10**12), 10**12),
    st.floats(allow_nan=False, allow_infinity=False),
    st.text(max_size=8),
    st.sampled_from(["auto", "stay", "{photographer}", "{x}", "~", "500 kB", "out", "drop/ida"]),
    st.lists(st.one_of(st.integers(-1, 5), st.text(max_size=3)), max_size=3),
    st.dictionaries(st.sampled_from(["long_edge", "width", "steps", "text", "x"]), st.integers(-1, 2000), max_size=2),
)
NEW_KEYS = st.sampled_from(
    ["qualty", "size", "sharpen", "watermark", "overrides", "densities", "tags", "forecast", "x y"]
)


def tables(config: dict[str, Any]) -> list[dict[str, Any]]:
    """Return a config's tables, itself among them."""
    return [config, *(table for value in config.values() if isinstance(value, dict) for table in tables(value))]


def toml(config: dict[str, Any]) -> str:
    """Return a config as TOML, everything in inline tables."""
    return "".join(f"{json.dumps(key)} = {_inline(value)}\n" for key, value in config.items())


def _inline(value: Any) -> str:
    if isinstance(value, dict):
        return "{" + ", ".join(f"{json.dumps(key)} = {_inline(inner)}" for key, inner in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(_inline, value)) + "]"
    return json.dumps(value)


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_any_config_loads_or_says_why(tmp_path: Path, data: st.DataObject) -> None:
    """Keys taken out, added and given any value: never another error than a list of faults, each with its words."""
    config = deepcopy(REFERENCE)
    for _ in range(data.draw(st.integers(1, 4))):
        table = data.draw(st.sampled_from(tables(config)))
        key = data.draw(st.one_of(st.sampled_from(sorted(table)), NEW_KEYS) if table else NEW_KEYS)
        if data.draw(st.booleans()):
            table[key] = data.draw(VALUES)
        else:
            table.pop(key, None)
    path = tmp_path / "lanternslide.toml"
    path.write_text(toml(config), "utf-8")

    try:
        load_settings(path)
    except ConfigError as error:
        found = error.faults
    else:
        return
    assert found
    assert all(fault.said.text and str(fault).startswith(str(path)) for fault in found)
