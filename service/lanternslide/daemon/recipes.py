"""From the config to what intake and workers need to know."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import MISSING, asdict, fields
from functools import cache, lru_cache
from typing import Any

from lanternslide.config import Destination, Photographer, Settings, Size
from lanternslide.config.settings import SIZE_RULES, Pass, Watermark
from lanternslide.delivery import is_former_name
from lanternslide.intake import Place
from lanternslide.ledger import DeliveryRow, Wanted
from lanternslide.records import Mark, Mask, Operator, Recipe, Rights, Routing, Sharpening, SizeRule

__all__ = ["is_made_otherwise", "is_same_recipe", "place_of", "recipe_of", "recipes_for", "wanted_by"]


def place_of(settings: Settings, photographer: str) -> Place:
    """Return what the destinations of *photographer* are called."""
    names = settings.destinations_of(photographer)
    destinations = {name: settings.destination_for(photographer, name) for name in names}
    return Place(
        photographer=photographer,
        tags={tag.casefold(): name for name, place in destinations.items() for tag in place.tags or (name,)},
        subfolders={
            folder.casefold(): name for name, place in destinations.items() for folder in place.subfolders or (name,)
        },
        otherwise=settings.photographers[photographer].otherwise,
        keep_unknown=settings.service.unknown_names == "keep",
    )


def recipe_of(destination: Destination, photographer: Photographer) -> Recipe:
    """Return how pictures of *photographer* are prepared for *destination*."""
    by_need = destination.quality == "auto"
    return Recipe(
        size=_size_rule(destination.size),
        sharpening=_sharpening(destination),
        quality=None if destination.quality == "auto" else destination.quality,
        min_ssim=destination.min_ssim if by_need else None,
        max_bytes=destination.max_bytes,
        # What has no say is left out, so that a change of it asks for nothing.
        min_quality=destination.min_quality if by_need or destination.max_bytes is not None else None,
        forecast=None if destination.forecast is None else Operator(**destination.forecast.model_dump()),
        chroma=destination.chroma,
        progressive=destination.progressive,
        brightness=destination.tone.brightness,
        contrast=destination.tone.contrast,
        clip=destination.out_of_gamut == "clip",
        metadata=destination.metadata,
        keep_location=destination.keep_location,
        keep_serials=destination.keep_serials,
        mark=_mark(destination.watermark),
        name=destination.name,
        slug=destination.slug,
        rights=Rights(
            creator=photographer.creator,
            copyright=photographer.copyright,
            contact=photographer.contact,
            override=photographer.override_rights,
        ),
    )


def _sharpening(destination: Destination) -> Sharpening:
    match destination.sharpen:
        case "auto":
            return Sharpening()
        case False:
            return Sharpening(strength=0.0)
        case sharpen:
            return Sharpening(
                strength=sharpen.strength,
                steps=sharpen.steps,
                ratio=sharpen.ratio,
                lead=_mask(sharpen.lead),
                finish=_mask(sharpen.finish),
            )


def _mark(found: Watermark | None) -> Mark | None:
    if found is None:
        return None
    return Mark(
        text=found.text,
        image=None if found.image is None else str(found.image),
        corner=found.corner,
        height=found.height,
        margin=found.margin,
        opacity=found.opacity,
        font=None if found.font is None else str(found.font),
    )


def _mask(found: Pass | None) -> Mask | None:
    return Mask(radius=found.radius, amount=found.amount, blend=found.blend) if found else None


def _size_rule(size: Size) -> SizeRule:
    rule = next(name for name in SIZE_RULES if getattr(size, name) is not None)
    value = getattr(size, rule)
    return SizeRule(rule=rule, values=value if isinstance(value, tuple) else (value,), enlarge=size.enlarge)


def recipes_for(settings: Settings, photographer: str, routing: Routing) -> Iterator[tuple[str, Recipe, float]]:
    """Yield the deliveries that an original asks for: the destination's name, how, and at which density."""
    for name in routing.destinations:
        destination = settings.destination_for(photographer, name)
        for density in destination.densities:
            yield name, recipe_of(destination, settings.photographers[photographer]), density


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


def wanted_by(settings: Settings, photographer: str, routing: Routing) -> list[Wanted]:
    """Return the deliveries that an original asks for, as the ledger knows them."""
    return [
        Wanted(destination=name, density=density, recipe=json.dumps(asdict(recipe), sort_keys=True))
        for name, recipe, density in recipes_for(settings, photographer, routing)
    ]
