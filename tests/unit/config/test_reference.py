"""The file that explains every key: it lies where it is said to lie, and says what is so."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

from pydantic import BaseModel
from pydantic_core import PydanticUndefined

import lanternslide.config
from lanternslide.config import reference_file
from lanternslide.config.checks.tables import fields_of
from lanternslide.config.settings import (
    Cluster,
    Destination,
    Photographer,
    Service,
    Size,
    Tone,
)
from lanternslide.records import Recompression, Sharpening, UnsharpMask, Watermark

CHECKOUT = Path(__file__).resolve().parents[3]
CONFIG = CHECKOUT / "config"


def test_the_reference_is_where_the_config_says() -> None:
    """In a checkout it is the one file; the wheel is told to put it where the installed code looks."""
    wheel = tomllib.loads((CHECKOUT / "pyproject.toml").read_text("utf-8"))["tool"]["hatch"]["build"]["targets"]
    (installed,) = wheel["wheel"]["force-include"].items()

    assert reference_file() == CHECKOUT / "config" / "reference.toml"
    assert installed == ("config/reference.toml", "lanternslide/config/reference.toml")
    assert Path(lanternslide.config.__file__).parent.parts[-2:] == ("lanternslide", "config")
    assert "config/reference.toml" in wheel["sdist"]["include"]


def test_the_reference_names_every_key_with_its_default() -> None:
    """The reference and the model cannot drift apart: every key stands there, with its default, below a comment."""
    text = (CONFIG / "reference.toml").read_text("utf-8")
    lines = text.splitlines()
    data = tomllib.loads(text)
    tables: dict[str, tuple[type[BaseModel], dict[str, Any]]] = {
        "service": (Service, data["service"]),
        "photographers.ida": (Photographer, data["photographers"]["ida"]),
        "destinations.portfolio": (Destination, data["destinations"]["portfolio"]),
    }

    for prefix, (model, given) in tables.items():
        for name, field in model.model_fields.items():
            key = f"{prefix}.{name}"
            live = name in given
            assert live or any(line.startswith((f"# {name} = ", f"# [{key}]", f"# [{key}.")) for line in lines), (
                f"{key} is missing in reference.toml"
            )
            if live and field.default is not PydanticUndefined and not isinstance(given[name], dict):
                default = list(field.default) if isinstance(field.default, tuple) else field.default
                assert given[name] == default, f"{key} has another default in reference.toml"
    smaller: tuple[type, ...] = (Size, Sharpening, UnsharpMask, Tone, Watermark, Recompression, Cluster)
    for table in smaller:
        for name in fields_of(table):
            assert any(f"{name} = " in line for line in lines), f"{table.__name__}.{name} is missing in reference.toml"


def test_the_reference_explains_every_key() -> None:
    """Each key of the reference stands below a comment, or in a run of keys that share one."""
    lines = (CONFIG / "reference.toml").read_text("utf-8").splitlines()

    for number, line in enumerate(lines):
        if "=" in line and not line.startswith("#"):
            before = [above for above in lines[max(0, number - 6) : number] if above.startswith("# ")]
            assert before, f"line {number + 1} of reference.toml has no comment"
