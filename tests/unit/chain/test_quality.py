"""The search for a JPEG quality, against trying every quality."""

from __future__ import annotations

from collections.abc import Sequence

from hypothesis import given, settings
from hypothesis import strategies as st

from lanternslide.chain.quality import MOST_ENCODES, Aim, Encoded, Found, find_quality

SIZES = st.lists(st.integers(0, 40_000), min_size=100, max_size=100).map(
    lambda steps: [1000 + sum(steps[: n + 1]) for n in range(100)]
)
"""Bytes at qualities 1 to 100: never falling."""

LIKENESSES = st.lists(st.floats(0, 1), min_size=100, max_size=100).map(sorted)
AIMS = st.builds(
    Aim,
    quality=st.none() | st.integers(1, 100),
    min_ssim=st.just(0.98) | st.floats(0.5, 0.999),
    max_bytes=st.none() | st.integers(500, 5_000_000),
    floor=st.integers(1, 100),
)


class Camera:
    """Encodes by tables of sizes and likenesses, and counts."""

    def __init__(self, sizes: Sequence[int], likenesses: Sequence[float]) -> None:
        self.sizes, self.likenesses = sizes, likenesses
        self.tried: list[int] = []

    def __call__(self, quality: int) -> Encoded:
        """Encode."""
        self.tried.append(quality)
        size, ssim = self.sizes[quality - 1], self.likenesses[quality - 1]
        return Encoded(quality=quality, jpeg=bytes([quality]), size=size, ssim=ssim)

    def expected(self, aim: Aim) -> int:
        """Return the quality that trying each would choose."""
        fitting = [q for q in range(1, 101) if aim.max_bytes is None or self.sizes[q - 1] <= aim.max_bytes]
        if aim.quality is not None:
            if aim.quality in fitting or aim.floor >= aim.quality:
                return aim.quality
            return max([q for q in fitting if q >= aim.floor], default=aim.floor)
        assert aim.min_ssim is not None
        alike = [q for q in range(aim.floor, 101) if self.likenesses[q - 1] >= aim.min_ssim]
        wanted = min(alike, default=100)
        return max([q for q in fitting if aim.floor <= q <= wanted], default=aim.floor)


@settings(max_examples=400)
@given(sizes=SIZES, likenesses=LIKENESSES, aim=AIMS)
def test_it_finds_what_trying_every_quality_would(sizes: list[int], likenesses: list[float], aim: Aim) -> None:
    """Whatever the figures, the choice is that of an exhaustive search, in at most eight encodes, none twice."""
    camera = Camera(sizes, likenesses)

    found = find_quality(camera, aim)

    assert found.chosen.quality == camera.expected(aim)
    assert found.chosen.jpeg == bytes([found.chosen.quality])
    assert len(camera.tried) == len(set(camera.tried)) <= MOST_ENCODES
    assert found.tried == tuple((q, sizes[q - 1]) for q in sorted(camera.tried))


def _found(aim: Aim) -> Found:
    return find_quality(Camera([1000 * q for q in range(1, 101)], [q / 101 for q in range(1, 101)]), aim)


def test_it_says_what_decided() -> None:
    """The config, the likeness or the bytes."""
    assert (_found(Aim(quality=90)).chosen.quality, _found(Aim(quality=90)).by) == (90, "config")
    assert _found(Aim(quality=90, max_bytes=95_000)).by == "config"
    lowered = _found(Aim(quality=90, max_bytes=84_500, floor=80))
    assert (lowered.chosen.quality, lowered.by) == (84, "bytes")
    over = _found(Aim(quality=90, max_bytes=70_000, floor=80))
    assert (over.chosen.quality, over.by) == (80, "bytes")
    needed = _found(Aim(quality=None, min_ssim=92.5 / 101, floor=80))
    assert (needed.chosen.quality, needed.by) == (93, "ssim")
    squeezed = _found(Aim(quality=None, min_ssim=92.5 / 101, max_bytes=88_000, floor=80))
    assert (squeezed.chosen.quality, squeezed.by) == (88, "bytes")
    never = _found(Aim(quality=None, min_ssim=0.9999, floor=80))
    assert (never.chosen.quality, never.by) == (100, "ssim")


def test_without_a_budget_there_is_one_encode() -> None:
    """A quality from the config costs nothing more."""
    assert _found(Aim(quality=90)).tried == ((90, 90_000),)


def test_a_picture_too_small_to_be_compared_gets_the_least() -> None:
    """Where SSIM cannot be told, need leads to the lowest quality allowed."""
    found = find_quality(
        lambda quality: Encoded(quality=quality, jpeg=b"", size=100 + quality, ssim=None),
        Aim(quality=None, min_ssim=0.98, floor=80),
    )

    assert found.chosen.quality == 80
