"""Loading a config: what it means, and every fault at once."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest
from pydantic import BaseModel, ValidationError
from pydantic_core import PydanticUndefined

from lanternslide.config import Settings, find_config, load_settings
from lanternslide.config.settings import (
    Cluster,
    Destination,
    Forecast,
    Pass,
    Photographer,
    Service,
    Sharpen,
    Size,
    Watermark,
)
from lanternslide.errors import ConfigError

CONFIG = Path(__file__).resolve().parents[3] / "config"

LEAST = """
[photographers.ida]
drop = "drop/ida"

[destinations.portfolio]
folder = "out/{photographer}/portfolio"
size = { long_edge = 1050 }
"""


def load(tmp_path: Path, text: str) -> Settings:
    """Load a config with this text."""
    path = tmp_path / "lanternslide.toml"
    path.write_text(text)
    return load_settings(path)


def faults(tmp_path: Path, text: str) -> dict[str, str]:
    """Return the faults of a config by key."""
    with pytest.raises(ConfigError) as error:
        load(tmp_path, text)
    assert error.value.exit_status == 2
    assert all(fault.file == str(tmp_path / "lanternslide.toml") for fault in error.value.faults)
    return {fault.key: fault.said.text for fault in error.value.faults}


@pytest.mark.parametrize("name", ["demo", "home-server", "reference"])
def test_shipped_configs_load(name: str) -> None:
    """Every config that is shipped can be loaded."""
    assert load_settings(CONFIG / f"{name}.toml").destinations


def test_the_least_config_has_the_defaults(tmp_path: Path) -> None:
    """A drop folder, a folder and a size are enough; the rest is as the contract says."""
    settings = load(tmp_path, LEAST)
    portfolio = settings.destinations["portfolio"]

    assert settings.photographers["ida"].drop == tmp_path / "drop" / "ida"
    assert portfolio.folder_for("ida") == tmp_path / "out" / "ida" / "portfolio"
    assert portfolio.fixed_folder() == tmp_path / "out"
    assert (portfolio.quality, portfolio.chroma, portfolio.sharpen, portfolio.densities) == (90, "4:4:4", "auto", (1,))
    assert (portfolio.metadata, portfolio.keep_location, portfolio.min_ssim) == ("whole", False, 0.98)
    assert (settings.service.attempts, settings.service.grace_seconds) == (3, 30)


def test_settings_never_change(tmp_path: Path) -> None:
    """What was loaded is frozen."""
    settings = load(tmp_path, LEAST)

    with pytest.raises(ValidationError):
        settings.service.attempts = 5  # type: ignore[misc]


def test_six_faults_are_named_at_once(tmp_path: Path) -> None:
    """Each fault has its key, what was found, what is allowed, and the nearest right key."""
    found = faults(
        tmp_path,
        """
[service]
workers = 0
setle_seconds = 3

[photographers.ida]
otherwise = ["portfolo"]

[destinations.portfolio]
folder = "out/portfolio"
size = { long_edge = 1050, width = 700 }
quality = "best"

[destinations.club]
folder = "out/portfolio/club"
size = { long_egde = 1050 }
densities = [1, 1]
""",
    )

    assert found == {
        "service.workers": 'Found 0. Allowed: "auto", or 1 to 256.',
        "service.setle_seconds": found["service.setle_seconds"],
        "photographers.ida.drop": "This key is required. Allowed: a folder.",
        "destinations.portfolio.size": (
            "Found long_edge, width. Give exactly one of long_edge, short_edge, width, height, box or area."
        ),
        "destinations.portfolio.quality": 'Found "best". Allowed: 1 to 100, or "auto".',
        "destinations.club.size.long_egde": found["destinations.club.size.long_egde"],
        "destinations.club.densities": "Found [1, 1]. Allowed: a list of 1 to 4 different numbers from 1 to 4.",
    }
    assert "did you mean “settle_seconds”?" in found["service.setle_seconds"]
    assert "did you mean “long_edge”?" in found["destinations.club.size.long_egde"]


@pytest.mark.parametrize(
    ("change", "key", "says"),
    [
        ("quality = 90.5", "destinations.portfolio.quality", "Found 90.5"),
        ("quality = true", "destinations.portfolio.quality", "Found true"),
        ('chroma = "444"', "destinations.portfolio.chroma", '"4:2:0"'),
        ('max_bytes = "500 kilo"', "destinations.portfolio.max_bytes", 'such as "500 kB"'),
        ("sharpen = { steps = 9 }", "destinations.portfolio.sharpen.steps", "1 to 4"),
        ("sharpen = { lead = { radius = 0.2 } }", "destinations.portfolio.sharpen.lead.radius", "does nothing"),
        ("watermark = { opacity = 1 }", "destinations.portfolio.watermark", "a text or an image"),
        ('watermark = { text = "Ida", image = "x.png" }', "destinations.portfolio.watermark", "a text or an image"),
        ('name = "{stem}"', "destinations.portfolio.name", "{stem}, {photographer}"),
        ('name = "a/{stem}.jpg"', "destinations.portfolio.name", "{stem}, {photographer}"),
        ('name = "{title}.jpg"', "destinations.portfolio.name", "{stem}, {photographer}"),
        ("sharpen = { lead = { radius = 1 } }", "destinations.portfolio.sharpen", "steps = 2 or more"),
        ('tags = "journal"', "destinations.portfolio.tags", "a list of names"),
        ("densities = []", "destinations.portfolio.densities", "1 to 4"),
        ("tone = { brightness = 30 }", "destinations.portfolio.tone.brightness", "-20 to 20"),
    ],
)
def test_a_wrong_value_says_what_is_allowed(tmp_path: Path, change: str, key: str, says: str) -> None:
    """A value that does not fit is named with its key and what would fit."""
    assert says in faults(tmp_path, LEAST + change)[key]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("[photographers.ida\n", "not valid TOML"),
        ("", "No photographer is named"),
        ("photographers = 3\n", "Allowed: tables of photographers"),
    ],
)
def test_a_file_that_says_nothing_useful(tmp_path: Path, text: str, says: str) -> None:
    """Broken TOML, an empty file and a table that is none are told as such."""
    assert any(says in fault for fault in faults(tmp_path, text).values())


def test_a_missing_file_is_said(tmp_path: Path) -> None:
    """A config that is not there is a fault of its own, with the places that were looked at where none was named."""
    with pytest.raises(ConfigError, match="cannot be read"):
        load_settings(tmp_path / "nowhere.toml")


def test_the_config_is_found_in_order(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The one that is named, then the environment's, then this folder's, then the user's."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "home"))
    with pytest.raises(ConfigError, match="There is no config here"):
        find_config(None, {})
    users = tmp_path / "home" / "lanternslide" / "lanternslide.toml"
    users.parent.mkdir(parents=True)
    users.touch()
    assert find_config(None, {}) == users
    (tmp_path / "lanternslide.toml").touch()
    assert find_config(None, {}) == Path("lanternslide.toml")
    assert find_config(None, {"LANTERNSLIDE_CONFIG": "other.toml"}) == Path("other.toml")
    assert find_config(Path("named.toml"), {"LANTERNSLIDE_CONFIG": "other.toml"}) == Path("named.toml")


@pytest.mark.parametrize(
    ("state", "drop", "folder", "keys"),
    [
        ("state", "drop", "drop/out", {"destinations.portfolio.folder"}),
        ("state", "out/ida/portfolio/in", "out/{photographer}/portfolio", {"photographers.ida.drop"}),
        ("drop/state", "drop", "out", {"service.state"}),
        ("same", "drop", "same", {"destinations.portfolio.folder", "service.state"}),
        ("state", "drop", "link", {"photographers.ida.drop", "destinations.portfolio.folder"}),
    ],
)
def test_folders_must_lie_apart(tmp_path: Path, state: str, drop: str, folder: str, keys: set[str]) -> None:
    """A folder inside another, or the same, is refused with both keys named, links resolved."""
    (tmp_path / "drop").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "drop")

    found = faults(
        tmp_path,
        f"""
[service]
state = "{state}"
[photographers.ida]
drop = "{drop}"
[destinations.portfolio]
folder = "{folder}"
size = {{ long_edge = 1050 }}
""",
    )

    (key,) = found
    assert key in keys
    assert "lies inside, or is, the folder of" in found[key]


def test_one_folder_for_all_photographers_is_no_overlap(tmp_path: Path) -> None:
    """A destination whose folder does not vary is shared."""
    settings = load(tmp_path, LEAST.replace("{photographer}/", "") + '[photographers.juno]\ndrop = "drop/juno"\n')

    assert settings.destinations["portfolio"].folder_for("ida") == settings.destinations["portfolio"].folder_for("juno")


def test_the_home_folder_is_expanded(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A folder that begins with ~ lies in the home folder."""
    monkeypatch.setenv("HOME", str(tmp_path / "ida"))

    settings = load(tmp_path, LEAST.replace("drop/ida", "~/drop"))

    assert settings.photographers["ida"].drop == tmp_path / "ida" / "drop"


def test_a_tag_means_one_place(tmp_path: Path) -> None:
    """Two destinations cannot share a tag, whatever its case."""
    text = LEAST + 'tags = ["web"]\n[destinations.club]\nfolder = "out/club"\nsize = { width = 9 }\ntags = ["Web"]\n'

    assert "already means the destination portfolio" in faults(tmp_path, text)["destinations.club.tags"]


def test_overrides_change_one_photographers_destination(tmp_path: Path) -> None:
    """What a photographer overrides holds for that photographer alone; the rest stays."""
    text = LEAST + "quality = 80\n[photographers.ida.overrides.portfolio]\nsize = { width = 900 }\n"

    settings = load(tmp_path, text + '[photographers.juno]\ndrop = "drop/juno"\n')

    assert settings.destination_for("ida", "portfolio").size == Size(width=900)
    assert settings.destination_for("ida", "portfolio").quality == 80
    assert settings.destination_for("juno", "portfolio").size == Size(long_edge=1050)


def test_overrides_are_checked(tmp_path: Path) -> None:
    """Faults in overrides are named by their own keys."""
    text = LEAST + "[photographers.ida.overrides.portfolio]\nqualty = 3\n[photographers.ida.overrides.portfolo]\n"

    found = faults(tmp_path, text)

    assert "did you mean “quality”?" in found["photographers.ida.overrides.portfolio.qualty"]
    assert "did you mean “portfolio”?" in found["photographers.ida.overrides.portfolo"]


@pytest.mark.parametrize(
    ("executor", "said"),
    [
        ("dask://studio:8786", "is on another machine"),
        ("dask://192.0.2.1:8786", "dask+tls://192.0.2.1:8786"),
        ("dask://localhost.example:8786", "is on another machine"),
        ("dask://127.0.0.1", "Allowed"),
        ("elsewhere", "Allowed"),
    ],
)
def test_a_scheduler_elsewhere_is_refused_without_keys(tmp_path: Path, executor: str, said: str) -> None:
    """What is sent there is run there: only loopback does without encryption."""
    found = faults(tmp_path, f'[service]\nexecutor = "{executor}"\n' + LEAST)

    assert said in found["service.executor"]


@pytest.mark.parametrize("executor", ["local", "dask://127.0.0.1:8786", "dask://127.0.1.1:8786", "dask://localhost:1"])
def test_a_scheduler_on_this_machine_needs_no_keys(tmp_path: Path, executor: str) -> None:
    """Nobody else can listen there."""
    assert load(tmp_path, f'[service]\nexecutor = "{executor}"\n' + LEAST).service.executor == executor


def test_encryption_needs_all_keys(tmp_path: Path) -> None:
    """Each that is missing, or cannot be read, is named."""
    (tmp_path / "ca.pem").touch()
    text = '[service]\nexecutor = "dask+tls://studio:8786"\n[cluster]\ntls_ca = "ca.pem"\ntls_key = "no.pem"\n'

    found = faults(tmp_path, text + LEAST)

    assert set(found) == {"cluster.tls_cert", "cluster.tls_key"}
    assert "needs its keys" in found["cluster.tls_cert"]
    assert "No such file" in found["cluster.tls_key"]


def test_paths_of_hosts_are_whole(tmp_path: Path) -> None:
    """A path that begins somewhere in the middle means nothing on another machine."""
    text = '[cluster.paths]\nstudio = { "/srv/photos" = "photos" }\nharbour = { "/srv" = "/mnt" }\n'

    assert 'Found "/srv/photos" = "photos".' in faults(tmp_path, text + LEAST)["cluster.paths.studio"]


def test_a_home_of_nobody_is_a_fault(tmp_path: Path) -> None:
    """`~` with a name that this machine does not know is refused like any folder that cannot be."""
    found = faults(tmp_path, LEAST.replace('"drop/ida"', '"~nobody-of-this-name/drop"'))

    assert found == {"photographers.ida.drop": 'Found "~nobody-of-this-name/drop". Allowed: a folder.'}


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
    for model in (Size, Sharpen, Pass, Watermark, Forecast, Cluster):
        for name in model.model_fields:
            assert any(f"{name} = " in line for line in lines), f"{model.__name__}.{name} is missing in reference.toml"


def test_the_reference_explains_every_key() -> None:
    """Each key of the reference stands below a comment, or in a run of keys that share one."""
    lines = (CONFIG / "reference.toml").read_text("utf-8").splitlines()

    for number, line in enumerate(lines):
        if "=" in line and not line.startswith("#"):
            before = [above for above in lines[max(0, number - 6) : number] if above.startswith("# ")]
            assert before, f"line {number + 1} of reference.toml has no comment"
