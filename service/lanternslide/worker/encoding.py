"""Encoding a rendering as its destination's recipe asks, counting what metadata add to the file."""

from __future__ import annotations

from datetime import UTC, datetime

from lanternslide.chain import Encoded, Found, Rendering, find_quality
from lanternslide.imaging.encode import decode_again, encode_jpeg
from lanternslide.imaging.measuring.ssim import ssim
from lanternslide.imaging.reading.source import Header
from lanternslide.metadata import Policy, Wishes
from lanternslide.records import Recipe
from lanternslide.worker.carrying import carried_over

__all__ = ["encoded", "wishes_of"]


def encoded(rendering: Rendering, header: Header, wishes: Wishes) -> Found:
    """Return the rendering as JPEG, at the quality that its plan's aim leads to."""
    plan = rendering.plan
    around: list[int] = []  # what metadata add to the file, once that is known

    def encode(quality: int) -> Encoded:
        jpeg = encode_jpeg(
            rendering.codes,
            quality=quality, chroma=plan.chroma, progressive=plan.progressive, density=header.density,
        )  # fmt: skip
        if plan.aim.max_bytes is not None and not around:
            around.append(len(carried_over(header, jpeg, wishes).jpeg) - len(jpeg))
        likeness = None if plan.aim.min_ssim is None else ssim(rendering.codes, decode_again(jpeg))
        return Encoded(quality=quality, jpeg=jpeg, size=len(jpeg) + sum(around), ssim=likeness)

    return find_quality(encode, plan.aim)


def wishes_of(recipe: Recipe, width: int, height: int, header: Header) -> Wishes:
    """Return what metadata a delivery is to have."""
    changed_at = datetime.fromtimestamp(header.path.stat().st_mtime, UTC)
    return Wishes(
        policy=Policy(recipe.metadata),
        keep_location=recipe.keep_location,
        keep_serials=recipe.keep_serials,
        rights=recipe.rights,
        width=width,
        height=height,
        year=str(changed_at.year),
        stored=(header.stored_width, header.stored_height),
        orientation=header.orientation,
        density=header.density,
    )
