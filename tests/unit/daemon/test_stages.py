"""What a picture in hand is at, and what follows."""

from __future__ import annotations

from pathlib import Path
from typing import get_args

from lanternslide.daemon.stages import FOLLOWS, Ending, Stage


def test_every_stage_leads_to_an_ending() -> None:
    """Nothing stays in hand for ever, and nothing is at a stage, or ends, in a way that no other leads to."""
    stages, endings = set(get_args(Stage)), set(get_args(Ending))

    assert FOLLOWS.keys() == stages
    assert set().union(*FOLLOWS.values()) == (stages | endings) - {first_stage()}
    assert all(FOLLOWS[stage] & endings for stage in stages)


def first_stage() -> type[Stage]:
    """Return what every picture begins with."""
    return next(iter(FOLLOWS))


def test_the_table_for_developers_is_true() -> None:
    """Each row has a stage, the stages that may follow, and the endings."""
    text = (Path(__file__).parents[3] / "DEVELOPERS.md").read_text("utf-8")
    rows = [line.split("|")[1:4] for line in text.splitlines() if line.startswith("| ")]
    named = {stage.__name__: stage for stage in FOLLOWS}
    told = {
        cells[0].strip(): {name.strip() for cell in cells[1:] for name in cell.split(",") if name.strip()}
        for cells in rows
        if cells[0].strip() in named
    }

    assert told == {stage.__name__: {kind.__name__ for kind in kinds} for stage, kinds in FOLLOWS.items()}
