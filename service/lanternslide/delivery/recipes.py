"""Recipes as the ledger knows them: which deliveries an original asks for, and which were made otherwise."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import MISSING, asdict, fields
from functools import cache, lru_cache
from typing import Any

from lanternslide.config import ResolvedDestination, ResolvedPhotographer
from lanternslide.delivery.naming import is_former_name
from lanternslide.ledger import DeliveryRow, Wanted
from lanternslide.records import Recipe, Routing, Sharpening, SizeRule

__all__ = ["is_made_otherwise", "is_same_recipe", "recipes_for", "wanted_by"]


def recipes_for(photographer: ResolvedPhotographer, routing: Routing) -> Iterator[tuple[ResolvedDestination, float]]:
    """Yield the deliveries that an original asks for: the destination, and at which density."""
    for name in routing.destinations:
        destination = photographer.destinations[name]
        for density in destination.densities:
            yield destination, density


@lru_cache
def is_same_recipe(one: str, other: str) -> bool:
    """Return whether two recipes, as the ledger knows them, ask for the same; what one does not name is at its default.

    A ledger may know recipes from before a setting was there.
    """
    return _whole(one) == _whole(other)


def _whole(recipe: str) -> dict[str, Any]:
    """Return all settings of a recipe; before `keep_serials` was there, serial numbers travelled with "whole"."""
    named = json.loads(recipe)
    before = {"keep_serials": named.get("metadata", "whole") == "whole"}
    return {**_defaults(), **before, **named}


def is_made_otherwise(delivery: DeliveryRow, recipe: str) -> bool:
    """Return whether a delivery was made by another *recipe*, or stands under a name that is given no more."""
    has_former_name = delivery.output is not None and is_former_name(delivery.output.path.name, delivery.density)
    return has_former_name or not is_same_recipe(recipe, delivery.recipe)


@cache
def _defaults() -> dict[str, Any]:
    plain = Recipe(
        size=SizeRule(rule="long_edge", values=(1,)),
        sharpening=Sharpening(),
        quality=90,
        chroma="4:4:4",
        progressive=True,
    )
    named = {field.name for field in fields(Recipe) if field.default is not MISSING}
    return {name: value for name, value in asdict(plain).items() if name in named}


def wanted_by(photographer: ResolvedPhotographer, routing: Routing) -> list[Wanted]:
    """Return the deliveries that an original asks for, as the ledger knows them."""
    return [
        Wanted(destination=destination.name, density=density, recipe=destination.stored_recipe)
        for destination, density in recipes_for(photographer, routing)
    ]
