"""Run the command line: ``python -m lanternslide``."""

from lanternslide.cli.main import entrypoint

if __name__ == "__main__":
    entrypoint()
