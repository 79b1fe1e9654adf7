"""What a config says about work on more than one machine."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from tests.support.configs import LEAST, faults, keys_of, load


def config(executor: str = "local", cluster: str = "") -> str:
    """Return a config with an executor and what stands in [cluster]."""
    table = f"[cluster]\n{cluster}\n" if cluster else ""
    return f'[service]\nexecutor = "{executor}"\n{table}{LEAST}'


@pytest.mark.parametrize(
    ("executor", "place"),
    [
        ("dask://studio:8786", "studio:8786"),
        ("dask://192.0.2.1:8786", "192.0.2.1:8786"),
        ("dask://0.0.0.0:8786", "0.0.0.0:8786"),
        ("dask://localhost.example:8786", "localhost.example:8786"),
        ("dask://128.0.0.1:1", "128.0.0.1:1"),
    ],
)
def test_a_scheduler_elsewhere_is_refused_without_keys(tmp_path: Path, executor: str, place: str) -> None:
    """What is sent there is run there: only loopback does without encryption, and the fault says how to have it."""
    found = faults(tmp_path, config(executor))["service.executor"]

    assert f'The scheduler "{executor}" is on another machine' in found
    assert f'"dask+tls://{place}"' in found


@pytest.mark.parametrize("executor", ["local", "dask://127.0.0.1:8786", "dask://127.0.1.1:8786", "dask://localhost:1"])
def test_a_scheduler_on_this_machine_needs_no_keys(tmp_path: Path, executor: str) -> None:
    """Nobody else can listen there (RFC 1122, 3.2.1.3; RFC 6761, 6.3)."""
    assert load(tmp_path, config(executor)).service.executor == executor


def test_encryption_needs_all_keys(tmp_path: Path) -> None:
    """Each that is missing, or cannot be read, is named."""
    (tmp_path / "ca.pem").touch()

    found = faults(tmp_path, config("dask+tls://studio:8786", 'tls_ca = "ca.pem"\ntls_key = "no.pem"'))

    assert set(found) == {"cluster.tls_cert", "cluster.tls_key"}
    assert "needs its keys" in found["cluster.tls_cert"]
    assert "No such file" in found["cluster.tls_key"]


def test_encryption_without_any_key_names_all(tmp_path: Path) -> None:
    """Also where there is no table for them, and on this machine."""
    expected = {f"cluster.tls_{name}": "keys-missing" for name in ("ca", "cert", "key")}

    assert keys_of(tmp_path, config("dask+tls://127.0.0.1:8786")) == expected


def test_one_key_asks_for_the_others(tmp_path: Path) -> None:
    """Whoever names one means to have encryption, whatever the executor says yet."""
    (tmp_path / "ca.pem").touch()

    found = keys_of(tmp_path, config("local", 'tls_ca = "ca.pem"'))

    assert found == {"cluster.tls_cert": "keys-missing", "cluster.tls_key": "keys-missing"}


def test_all_keys_that_can_be_read_are_enough(tmp_path: Path) -> None:
    """They lie beside the config."""
    for name in ("ca", "cert", "key"):
        (tmp_path / f"{name}.pem").touch()
    keys = 'tls_ca = "ca.pem"\ntls_cert = "cert.pem"\ntls_key = "key.pem"'

    settings = load(tmp_path, config("dask+tls://studio:8786", keys))

    assert settings.cluster is not None
    assert settings.cluster.tls_key == tmp_path / "key.pem"


def test_a_folder_is_no_key(tmp_path: Path) -> None:
    """It cannot be read."""
    for name in ("ca.pem", "cert.pem"):
        (tmp_path / name).touch()
    (tmp_path / "key.pem").mkdir()
    keys = 'tls_ca = "ca.pem"\ntls_cert = "cert.pem"\ntls_key = "key.pem"'

    assert keys_of(tmp_path, config("dask+tls://studio:1", keys)) == {"cluster.tls_key": "key-unreadable"}


def test_what_the_work_needs_must_be_installed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A cluster takes packages that the service does without; they are asked for only where there is one."""
    monkeypatch.setitem(sys.modules, "distributed", None)

    assert keys_of(tmp_path, config("dask://127.0.0.1:8786")) == {"service.executor": "extra-missing"}
    load(tmp_path, config("local"))


@pytest.mark.parametrize(
    ("here", "there", "fits"),
    [
        ("/srv/photos", "/mnt/photos", True),
        ("/srv/photos", "photos", False),
        ("photos", "/mnt/photos", False),
        ("~/photos", "/mnt", False),
    ],
)
def test_paths_of_hosts_are_whole(tmp_path: Path, here: str, there: str, *, fits: bool) -> None:
    """A path that begins somewhere in the middle means nothing on another machine, here or there."""
    text = config("local", f'paths = {{ studio = {{ "{here}" = "{there}" }}, harbour = {{ "/srv" = "/mnt" }} }}')

    if fits:
        load(tmp_path, text)
    else:
        assert f'Found "{here}" = "{there}".' in faults(tmp_path, text)["cluster.paths.studio"]
