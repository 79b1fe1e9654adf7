"""Write the demo inbox: python -m tests.scenario.make DIR [--only NAME]."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

# The profiles come from the project itself; started this way, nothing else puts its folder on the path.
sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "service"))

from tests.scenario.inbox import ORIGINALS, write_demo_inbox
from tests.scenario.pictures import picture

__all__ = ["main", "picture", "write_demo_inbox"]


def main() -> None:
    """Write all originals, or the one of the picture NAME, below DIR and print their sizes."""
    parser = argparse.ArgumentParser(prog="tests.scenario.make", description="Write the demo inbox.")
    parser.add_argument("folder", metavar="DIR", type=Path)
    parser.add_argument("--only", metavar="NAME", choices=[o.picture for o in ORIGINALS])
    chosen = parser.parse_args()
    for path in write_demo_inbox(chosen.folder, only=chosen.only):
        print(f"{path.stat().st_size:>9} {path}")


if __name__ == "__main__":
    main()
