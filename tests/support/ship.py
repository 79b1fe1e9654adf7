"""Write what is shipped in `deploy`: ``PYTHONPATH=service python -m tests.support.ship``."""

from __future__ import annotations

from pathlib import Path

from lanternslide.config import load_settings
from lanternslide.install import shipped_files

ROOT = Path(__file__).resolve().parents[2]
DEPLOY = ROOT / "deploy"


def shipped() -> dict[str, bytes]:
    """Return what is to lie in `deploy`, for the home server of `config`."""
    settings = load_settings(ROOT / "config" / "home-server.toml")
    return shipped_files(settings, Path("/etc/lanternslide/lanternslide.toml"))


def main() -> None:
    """Write every file."""
    for name, data in shipped().items():
        path = DEPLOY / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
        print(f"deploy/{name}")


if __name__ == "__main__":
    main()
