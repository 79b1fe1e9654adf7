"""The settings model: defaults, limits, and what is asked of it."""

from __future__ import annotations

from pathlib import Path

import pytest
from pydantic import BaseModel, ValidationError

from lanternslide.config.settings import (
    Destination,
    Photographer,
    Service,
    Size,
    Tone,
)
from lanternslide.records import Sharpening, UnsharpMask
from tests.support.configs import LEAST, keys_of, load

TWO = (
    LEAST
    + """
[destinations.club]
folder = "out/club"
size = { box = [1920, 1080] }

[photographers.juno]
drop = "drop/juno"
destinations = ["club"]
"""
)

# Transcribed from the contract.
DEFAULTS: list[tuple[type[BaseModel], dict[str, object]]] = [
    (
        Service,
        {
            "state": None, "workers": "auto", "memory": "auto", "settle_seconds": "auto", "watch": "auto",
            "scan_seconds": "auto", "job_timeout_seconds": "auto", "grace_seconds": 30, "attempts": 3,
            "max_megapixels": 1000, "unknown_names": "hold", "log": "auto", "executor": "local",
            "proofs_keep_days": 90,
        },
    ),
    (
        Photographer,
        {
            "creator": None, "copyright": None, "contact": None, "override_rights": False, "destinations": None,
            "otherwise": (), "originals": "stay", "proofs": False, "overrides": {},
        },
    ),
    (
        Destination,
        {
            "densities": (1,), "name": "{stem}.jpg", "slug": False, "sharpen": "auto",
            "tone": Tone(brightness=0, contrast=0), "out_of_gamut": "compress", "quality": 90, "min_ssim": 0.98,
            "max_bytes": None, "min_quality": 80, "chroma": "4:4:4", "progressive": True, "metadata": "whole",
            "keep_location": False, "keep_serials": False, "watermark": None, "forecast": None,
            "mode": "0644", "manifest": False,
        },
    ),
    (Size, {"enlarge": False}),
]  # fmt: skip


@pytest.mark.parametrize(("table", "defaults"), DEFAULTS, ids=lambda value: getattr(value, "__name__", ""))
def test_defaults_are_those_of_the_contract(table: type[BaseModel], defaults: dict[str, object]) -> None:
    """What a config leaves out means what the contract says."""
    assert {name: table.model_fields[name].default for name in defaults} == defaults


def test_a_drop_folder_a_folder_and_a_size_are_enough(tmp_path: Path) -> None:
    """Relative paths begin at the config."""
    settings = load(tmp_path)

    assert settings.photographers["ida"].drop == tmp_path / "drop" / "ida"
    assert settings.destinations["portfolio"].folder_for("ida") == tmp_path / "out" / "ida" / "portfolio"


def test_settings_never_change(tmp_path: Path) -> None:
    """What was loaded is frozen."""
    settings = load(tmp_path)

    with pytest.raises(ValidationError):
        settings.service.attempts = 5  # type: ignore[misc]


# Limits

LIMITS: list[tuple[str, list[str], list[str]]] = [
    # Whole numbers and numbers with a part; what is true or written as a text is none.
    ("workers", ["1", "256", '"auto"'], ["0", "257", "1.5", "true", '"4"', '"many"']),
    ("memory", ['"auto"', '"4 GiB"'], ['"0 MB"', "4096", '"lots"']),
    ("settle_seconds", ["0.1", "3600", '"auto"'], ["0.09", "3600.1", '"2"']),
    ("watch", ['"auto"', '"events"', '"poll"'], ['"Poll"', "true"]),
    ("scan_seconds", ["1", "86400", '"auto"'], ["0.9", "86401"]),
    ("job_timeout_seconds", ["10", '"auto"'], ["9.9", '"10"']),
    ("attempts", ["1"], ["0", "2.5"]),
    ("max_megapixels", ["1", "10000"], ["0.9", "10001", "inf", "nan"]),
    ("unknown_names", ['"hold"', '"keep"'], ['"drop"']),
    ("log", ['"auto"', '"console"', '"json"'], ['"text"']),
    ("executor", ['"local"', '"dask://127.0.0.1:8786"'], ['"dask://127.0.0.1"', '"dask://:1"', '"tcp://127.0.0.1:1"']),
    ("proofs_keep_days", ["1"], ["0"]),
]

OF_A_DESTINATION: list[tuple[str, list[str], list[str]]] = [
    ("densities", ["[1]", "[1, 1.5, 2, 4]"], ["[]", "[0.9]", "[4.1]", "[1, 1]", "[1, 1.5, 2, 3, 4]", "2"]),
    ("mode", ['"0644"', '"0600"', '"0666"'], ['"644"', "644", '"0755"', '"0444"', '"0264"', '"4644"', '"0o644"']),
    ("slug", ["true"], ['"true"', "1"]),
    ("sharpen", ['"auto"', "false"], ["true", '"none"', "1"]),
    ("sharpen.strength", ["0", "2"], ["-0.1", "2.1"]),
    ("sharpen.steps", ["1", "4"], ["0", "5", "1.5"]),
    ("sharpen.ratio", ["1.1", "4"], ["1", "4.1"]),
    ("sharpen.finish.radius", ["0.3", "3"], ["0.2", "3.1"]),
    ("sharpen.finish.amount", ["0", "500"], ["-1", "501"]),
    ("sharpen.finish.blend", ["0", "1"], ["-0.1", "1.1"]),
    ("tone.brightness", ["-20", "20"], ["-20.1", "20.1"]),
    ("tone.contrast", ["-50", "50"], ["-50.1", "50.1"]),
    ("out_of_gamut", ['"compress"', '"clip"'], ['"keep"']),
    ("quality", ["1", "100", '"auto"'], ["0", "101", '"best"']),
    ("max_bytes", ['"500 kB"'], ["500000", '"0 kB"']),
    ("min_quality", ["1", "100"], ["0", "101", '"auto"']),
    ("chroma", ['"4:4:4"', '"4:2:2"', '"4:2:0"'], ['"4:1:1"', '"444"']),
    ("metadata", ['"whole"', '"rights"', '"bare"'], ['"none"', "false"]),
    ("folder", ['"elsewhere/{photographer}"'], ['"elsewhere/{name}"', '""']),
]


def _given(limits: list[tuple[str, list[str], list[str]]], which: int) -> list[tuple[str, str]]:
    return [(limit[0], value) for limit in limits for value in limit[which]]


@pytest.mark.parametrize(("key", "value"), _given(LIMITS, 1))
def test_the_service_takes_what_the_contract_allows(tmp_path: Path, key: str, value: str) -> None:
    """Up to the limit, and with it."""
    load(tmp_path, f"{LEAST}\n[service]\n{key} = {value}\n")


@pytest.mark.parametrize(("key", "value"), _given(LIMITS, 2))
def test_the_service_refuses_everything_else(tmp_path: Path, key: str, value: str) -> None:
    """Beyond the limit, and of another kind; the one fault names the key."""
    word = "number-in-quotes" if value.strip('"').isdigit() and value.startswith('"') else "not-allowed"

    assert keys_of(tmp_path, f"{LEAST}\n[service]\n{key} = {value}\n") == {f"service.{key}": word}


def _without_folder(key: str) -> str:
    return LEAST.replace('folder = "out/{photographer}/portfolio"\n', "") if key == "folder" else LEAST


@pytest.mark.parametrize(("key", "value"), _given(OF_A_DESTINATION, 1))
def test_a_destination_takes_what_the_contract_allows(tmp_path: Path, key: str, value: str) -> None:
    """Up to the limit, and with it."""
    load(tmp_path, _without_folder(key) + f"{key} = {value}\n")


@pytest.mark.parametrize(("key", "value"), _given(OF_A_DESTINATION, 2))
def test_a_destination_refuses_everything_else(tmp_path: Path, key: str, value: str) -> None:
    """Beyond the limit, and of another kind; the one fault names the key."""
    text = _without_folder(key) + f"{key} = {value}\n"

    word = "table-needed" if key == "sharpen" and "{" not in value else "not-allowed"
    assert keys_of(tmp_path, text) == {f"destinations.portfolio.{key}": word}


@pytest.mark.parametrize("share", ["min_ssim", "watermark.height", "watermark.opacity"])
def test_shares_are_more_than_nothing(tmp_path: Path, share: str) -> None:
    """Nothing at all would make no sense; a likeness of 1 cannot be kept, a whole height and opacity can be."""
    table, _, _ = share.rpartition(".")
    text = LEAST + ('watermark.text = "Ida Marrow"\n' if table else "")
    key = f"destinations.portfolio.{share}"

    assert keys_of(tmp_path, f"{text}{share} = 0\n") == {key: "not-allowed"}
    load(tmp_path, f"{text}{share} = 0.001\n")
    if share == "min_ssim":
        assert keys_of(tmp_path, f"{text}{share} = 1\n") == {key: "not-allowed"}
    else:
        load(tmp_path, f"{text}{share} = 1\n")
        assert keys_of(tmp_path, f"{text}{share} = 1.001\n") == {key: "not-allowed"}


@pytest.mark.parametrize("rule", ["long_edge", "short_edge", "width", "height"])
def test_pixels_have_limits(tmp_path: Path, rule: str) -> None:
    """16 at the least, 100,000 at the most, and no part of one."""
    for value in ("16", "100000"):
        load(tmp_path, LEAST.replace("{ long_edge = 1050 }", f"{{ {rule} = {value} }}"))
    for value in ("15", "100001", "20.5"):
        text = LEAST.replace("{ long_edge = 1050 }", f"{{ {rule} = {value} }}")
        assert keys_of(tmp_path, text) == {f"destinations.portfolio.size.{rule}": "not-allowed"}


@pytest.mark.parametrize(
    ("size", "fits"),
    [
        ({"long_edge": 90}, True),
        ({"box": (90, 90)}, True),
        ({"area": 0.5, "enlarge": True}, True),
        ({}, False),
        ({"enlarge": True}, False),
        ({"long_edge": 90, "short_edge": 90}, False),
        ({"box": (90, 90), "area": 1}, False),
        ({"box": (90,)}, False),
        ({"area": 0}, False),
    ],
)
def test_a_size_is_exactly_one_rule(size: dict[str, object], *, fits: bool) -> None:
    """`enlarge` is none of the rules."""
    try:
        Size.model_validate(size)
    except ValidationError:
        assert not fits
    else:
        assert fits


def test_a_lead_needs_a_larger_size(tmp_path: Path) -> None:
    """With one step there is none to sharpen at; with two there is."""
    lead = "sharpen.lead = { radius = 1 }\n"

    assert keys_of(tmp_path, LEAST + lead) == {"destinations.portfolio.sharpen": "lead-size"}
    assert load(tmp_path, LEAST + lead + "sharpen.steps = 2\n").destinations["portfolio"].sharpen == Sharpening(
        steps=2, lead=UnsharpMask(radius=1)
    )


@pytest.mark.parametrize(
    ("name", "fits"),
    [("ida", True), ("_1-a", True), ("a" * 64, True), ("a" * 65, False), ("-ida", False), ("ida marrow", False),
     ("zoë", False), ("", False), ("../ida", False), ("ida\\n", False)],
)  # fmt: skip
@pytest.mark.parametrize("table", ["photographers.ida", "destinations.portfolio"])
def test_names_are_plain(tmp_path: Path, table: str, name: str, *, fits: bool) -> None:
    """They become folders and units: letters, digits, _ and -, at most 64, which the fault says."""
    text = LEAST.replace(f"[{table}]", f'[{table.partition(".")[0]}."{name}"]')

    if fits:
        load(tmp_path, text)
    else:
        assert "not-allowed" in keys_of(tmp_path, text).values()


# What is asked of them


def test_whose_destinations_they_are(tmp_path: Path) -> None:
    """All of them, in the config's order, unless a photographer names some."""
    settings = load(tmp_path, TWO)

    assert settings.destinations_of("ida") == ("portfolio", "club")
    assert settings.destinations_of("juno") == ("club",)


@pytest.mark.parametrize(
    ("folder", "fixed"),
    [
        ("/srv/out/{photographer}/portfolio", "/srv/out"),
        ("/srv/{photographer}-out/portfolio", "/srv"),
        ("/srv/out/club", "/srv/out"),
        ("/srv/out/{photographer}", "/srv/out"),
    ],
)
def test_the_part_of_a_folder_that_does_not_vary(folder: str, fixed: str) -> None:
    """It ends above the part that varies with the photographer; it is what is there before anything is delivered."""
    destination = Destination.model_validate({"folder": folder, "size": {"width": 90}})

    assert destination.fixed_folder() == Path(fixed)
    assert destination.folder_for("ida") == Path(folder.replace("{photographer}", "ida"))


def test_the_settings_of_one_photographers_service(tmp_path: Path) -> None:
    """That photographer alone, a state folder and a share of memory of their own; destinations stay as they are."""
    text = TWO + "[photographers.juno.overrides.club]\nquality = 70\n"
    settings = load(tmp_path, "[service]\nworkers = 3\n" + text)

    only = settings.only("juno", state=tmp_path / "state" / "juno", memory=5)

    assert list(only.photographers) == ["juno"]
    assert only.service == Service.model_validate(
        {"workers": 3, "state": str(tmp_path / "state" / "juno"), "memory": "5 B"}
    )
    assert only.destinations == settings.destinations
    assert only.destination_for("juno", "club").quality == 70
    assert list(settings.photographers) == ["ida", "juno"]
    assert settings.service.memory == "auto"
