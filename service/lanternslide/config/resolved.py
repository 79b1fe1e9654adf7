"""What a config comes to: for each photographer and destination one frozen object, worked out once for each reading."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from functools import cached_property
from pathlib import Path

from lanternslide.config.settings import SIZE_RULES, Destination, Photographer, Settings, Size
from lanternslide.records import Recipe, Rights, Sharpening, SizeRule

__all__ = ["ResolvedDestination", "ResolvedPhotographer", "RoutingNames", "recipe_of", "resolve"]


@dataclass(frozen=True, kw_only=True, slots=True)
class RoutingNames:
    """What a photographer's destinations are called."""

    photographer: str
    tags: Mapping[str, str]  #: From a tag, case-folded, to its destination.
    subfolders: Mapping[str, str]  #: From a folder's name, case-folded, to its destination.
    otherwise: tuple[str, ...]  #: For files without tag or subfolder.
    keep_unknown: bool = False  #: Whether an unknown tag is part of the name.


@dataclass(frozen=True, kw_only=True)
class ResolvedDestination:
    """A destination as one photographer uses it."""

    name: str
    folder: Path  #: Where this photographer's deliveries go.
    fixed_folder: Path  #: What must be there already: above the folder, or above its part that varies.
    densities: tuple[float, ...]
    recipe: Recipe  #: How pictures are prepared, whatever their density.
    mode: int  #: Permissions of deliveries.
    manifest: bool  #: Whether the folder has a manifest.
    is_shared: bool  #: Whether all photographers deliver into the same folder.

    @cached_property
    def stored_recipe(self) -> str:
        """The recipe as the ledger has it: JSON."""
        return json.dumps(asdict(self.recipe), sort_keys=True)


@dataclass(frozen=True, kw_only=True, slots=True)
class ResolvedPhotographer:
    """A photographer, with all that the config says."""

    name: str
    drop: Path
    names: RoutingNames
    destinations: Mapping[str, ResolvedDestination] = field(default_factory=dict)  #: By name, in the config's order.
    filed: Path | None = None  #: Where finished originals are filed away; None: they stay.
    proofs: Path | None = None  #: Where proof sheets go; None: there are none.


def resolve(settings: Settings) -> dict[str, ResolvedPhotographer]:
    """Return every photographer of a config by name."""
    return {name: _photographer(settings, name) for name in settings.photographers}


def _photographer(settings: Settings, name: str) -> ResolvedPhotographer:
    owner = settings.photographers[name]
    used = {place: settings.destination_for(name, place) for place in settings.destinations_of(name)}
    return ResolvedPhotographer(
        name=name,
        drop=owner.drop,
        names=RoutingNames(
            photographer=name,
            tags={tag.casefold(): place for place, said in used.items() for tag in said.tags or (place,)},
            subfolders={
                folder.casefold(): place for place, said in used.items() for folder in said.subfolders or (place,)
            },
            otherwise=owner.otherwise,
            keep_unknown=settings.service.unknown_names == "keep",
        ),
        destinations={place: _destination(place, said, owner, name) for place, said in used.items()},
        filed=owner.originals if isinstance(owner.originals, Path) else None,
        proofs=owner.proofs if isinstance(owner.proofs, Path) else None,
    )


def _destination(name: str, said: Destination, owner: Photographer, photographer: str) -> ResolvedDestination:
    folder = said.folder_for(photographer)
    return ResolvedDestination(
        name=name,
        folder=folder,
        fixed_folder=said.fixed_folder(),
        densities=said.densities,
        recipe=recipe_of(said, owner),
        mode=int(said.mode, 8),
        manifest=said.manifest,
        is_shared=said.folder == folder,
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
        forecast=destination.forecast,
        chroma=destination.chroma,
        progressive=destination.progressive,
        brightness=destination.tone.brightness,
        contrast=destination.tone.contrast,
        clip=destination.out_of_gamut == "clip",
        metadata=destination.metadata,
        keep_location=destination.keep_location,
        keep_serials=destination.keep_serials,
        mark=destination.watermark,
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
        case sharpening:
            return sharpening


def _size_rule(size: Size) -> SizeRule:
    rule = next(name for name in SIZE_RULES if getattr(size, name) is not None)
    value = getattr(size, rule)
    return SizeRule(rule=rule, values=value if isinstance(value, tuple) else (value,), enlarge=size.enlarge)
