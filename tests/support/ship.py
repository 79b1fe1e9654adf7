"""Write what is shipped in `deploy`, and the manifest's schema: ``PYTHONPATH=service python -m tests.support.ship``."""

from __future__ import annotations

import json
from pathlib import Path

from lanternslide.config import load_settings
from lanternslide.install import shipped_files
from lanternslide.report.manifest import manifest_schema

ROOT = Path(__file__).resolve().parents[2]
DEPLOY = ROOT / "deploy"
SCHEMA = ROOT / "service" / "lanternslide" / "report" / "manifest.schema.json"


def shipped() -> dict[str, bytes]:
    """Return what is to lie in `deploy`, for the home server of `config`."""
    settings = load_settings(ROOT / "config" / "home-server.toml")
    return shipped_files(settings, Path("/etc/lanternslide/lanternslide.toml"))


def schema_text() -> str:
    """Return the text of the manifest's schema."""
    return json.dumps(manifest_schema(), indent=2) + "\n"


def main() -> None:
    """Write every file."""
    for name, data in shipped().items():
        path = DEPLOY / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
        print(f"deploy/{name}")
    SCHEMA.write_text(schema_text(), "utf-8")
    print(SCHEMA.relative_to(ROOT))


if __name__ == "__main__":
    main()
