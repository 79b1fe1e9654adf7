"""Write what is shipped in `deploy`: ``PYTHONPATH=service python -m tests.support.ship``."""

from __future__ import annotations

from pathlib import Path

from lanternslide.install import shipped_files

DEPLOY = Path(__file__).resolve().parents[2] / "deploy"


def main() -> None:
    """Write every file."""
    for name, data in shipped_files().items():
        (DEPLOY / name).write_bytes(data)
        print(f"deploy/{name}")


if __name__ == "__main__":
    main()
