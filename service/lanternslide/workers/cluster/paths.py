"""What paths of this machine are called on another, and tasks with such paths. Pure."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Self

from lanternslide.records import DeliveryTask, Job, JobDone, Outcome, Recipe, Refused, Result, Stalled, SurveyTask, Task
from lanternslide.words import Said

__all__ = ["PathMap", "run_path", "task_there"]


@dataclass(frozen=True, slots=True)
class PathMap:
    """Pairs of folders: here, and there. The longest that fits counts; a path that fits none is called alike."""

    pairs: tuple[tuple[Path, Path], ...] = ()

    @classmethod
    def for_host(cls, host: str, paths: Mapping[str, Mapping[str, str]]) -> Self:
        """Return the map for *host*, a whole name or its part before the first dot, from ``[cluster.paths]``."""
        table = paths.get(host) or paths.get(host.partition(".")[0]) or {}
        pairs = ((Path(here), Path(there)) for here, there in table.items())
        return cls(tuple(sorted(pairs, key=lambda pair: len(pair[0].parts), reverse=True)))

    def there(self, path: Path) -> Path:
        """Return what *path* of this machine is called there."""
        for here, there in self.pairs:
            if path.is_relative_to(here):
                return there / path.relative_to(here)
        return path

    def back(self, said: Said) -> Said:
        """Return a sentence from there with the paths of this machine."""
        called = {str(there): str(here) for here, there in self.pairs}
        if not called:
            return said
        longest_first = "|".join(re.escape(there) for there in sorted(called, key=len, reverse=True))
        # Whole paths: neither a part of a longer one, nor the beginning of a longer name.
        whole = rf"(?<![\w./-])(?:{longest_first})(?![\w-]|\.\w)"
        return replace(said, text=re.sub(whole, lambda found: called[found[0]], said.text))

    def result_back(self, result: Result) -> Result:
        """Return what a worker has answered, with the paths of this machine."""
        match result:
            case Refused(said=said):
                return replace(result, said=self.back(said))
            case Stalled(said=said):
                return replace(result, said=self.back(said))
            case JobDone(outcomes=outcomes):
                return JobDone(outcomes=tuple(self._outcome_back(outcome) for outcome in outcomes))
            case _:
                return result

    def _outcome_back(self, outcome: Outcome) -> Outcome:
        return replace(outcome, said=self.back(outcome.said)) if isinstance(outcome, Stalled) else outcome


def task_there(task: Task, paths: PathMap, run: str) -> Task:
    """Return *task* with the paths of another machine; what a run writes has its own temporary name.

    A job may run twice, where a worker was only thought to be lost: neither run writes over the other's file.
    """
    match task:
        case SurveyTask(root=root, path=path, wanted=wanted):
            root_there = paths.there(root)
            return replace(
                task,
                root=root_there,
                path=root_there / path.relative_to(root),
                wanted=tuple((_recipe_there(recipe, paths), density) for recipe, density in wanted),
            )
        case Job(root=root, path=path, deliveries=deliveries):
            root_there = paths.there(root)
            return replace(
                task,
                root=root_there,
                path=root_there / path.relative_to(root),
                deliveries=tuple(_delivery_there(delivery, paths, run) for delivery in deliveries),
            )
        case _:
            return task


def run_path(temporary: Path, run: str) -> Path:
    """Return under which temporary name the run *run* writes what its task calls *temporary*."""
    return temporary.with_name(f"{temporary.stem}-{run}{temporary.suffix}")


def _delivery_there(task: DeliveryTask, paths: PathMap, run: str) -> DeliveryTask:
    return replace(
        task,
        temporary=run_path(paths.there(task.temporary), run),
        proofs=None if task.proofs is None else paths.there(task.proofs),
        recipe=_recipe_there(task.recipe, paths),
    )


def _recipe_there(recipe: Recipe, paths: PathMap) -> Recipe:
    mark = recipe.mark
    if mark is None or not paths.pairs:
        return recipe
    image = None if mark.image is None else str(paths.there(Path(mark.image)))
    font = None if mark.font is None else str(paths.there(Path(mark.font)))
    return replace(recipe, mark=replace(mark, image=image, font=font))
