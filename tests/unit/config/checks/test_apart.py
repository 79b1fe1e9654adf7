"""What keeps photographers from having a service each."""

from __future__ import annotations

from pathlib import Path

import pytest

from lanternslide.config import check_apart
from lanternslide.errors import ConfigError
from tests.support.configs import load

BOTH = """
[photographers.ida]
drop = "drop/ida"
[photographers.juno]
drop = "drop/juno"
"""


def club(folder: str = "out/club", *, manifest: bool = True) -> str:
    """Return a destination."""
    return f"""
[destinations.club]
folder = "{folder}"
size = {{ width = 90 }}
manifest = {str(manifest).lower()}
"""


def test_a_manifest_that_two_services_would_write_is_refused(tmp_path: Path) -> None:
    """The fault names the folder and both photographers, and is the destination's."""
    with pytest.raises(ConfigError) as error:
        check_apart("x.toml", load(tmp_path, BOTH + club()))

    (fault,) = error.value.faults
    assert (fault.file, fault.key, fault.said.key) == ("x.toml", "destinations.club.manifest", "shared-manifest")
    assert (
        f"The services of ida, juno would overwrite each other's manifest in {tmp_path / 'out' / 'club'}"
        in fault.said.text
    )
    assert "{photographer}" in fault.said.text


@pytest.mark.parametrize(
    "text",
    [
        BOTH + club("out/{photographer}/club"),
        BOTH + club(manifest=False),
        '[photographers.ida]\ndrop = "drop/ida"\n' + club(),
        BOTH.replace('"drop/juno"', '"drop/juno"\ndestinations = []') + club(),
        BOTH + club() + "[photographers.juno.overrides.club]\nmanifest = false\n",
        BOTH + club() + '[photographers.juno.overrides.club]\nfolder = "out/of-juno"\n',
    ],
    ids=["folders of their own", "no manifest", "one photographer", "not used", "off by override", "elsewhere"],
)
def test_manifests_of_one_writer_each_are_fine(tmp_path: Path, text: str) -> None:
    """Each folder has one photographer's manifest at the most."""
    check_apart("x.toml", load(tmp_path, text))


def test_overrides_count(tmp_path: Path) -> None:
    """A manifest that both have asked for in overrides alone is one too many; one that one has asked for is not."""
    of_ida, of_juno = (f"[photographers.{name}.overrides.club]\nmanifest = true\n" for name in ("ida", "juno"))
    settings = load(tmp_path, BOTH + club(manifest=False) + of_ida + of_juno)

    with pytest.raises(ConfigError, match=r"destinations\.club\.manifest"):
        check_apart("x.toml", settings)
    check_apart("x.toml", load(tmp_path, BOTH + club(manifest=False) + of_ida))
