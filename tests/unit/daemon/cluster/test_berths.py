"""Where jobs are admitted to a cluster."""

from __future__ import annotations

import pytest

from lanternslide.daemon.cluster.berths import Berths
from lanternslide.errors import PassingFaultError
from lanternslide.words import Passing, say


def test_what_did_not_fit_is_tried_once_something_larger_is_there() -> None:
    """Not for every worker that comes."""
    berths = Berths()
    berths.note(1, 300)
    for need in (900, 500):
        with pytest.raises(PassingFaultError) as fault:
            berths.check(need)
        assert fault.value.said == say(Passing.NO_WORKER_LARGE_ENOUGH, need=f"{need} MiB", largest="300 MiB")
    berths.note(2, 400)
    assert not berths.fits(500)
    berths.note(3, 600)
    assert (berths.fits(500), berths.fits(900)) == (True, False)


def test_before_anybody_is_there_nothing_is_refused() -> None:
    """Who comes may be large enough; until then nothing fits, either."""
    berths = Berths()
    berths.check(10_000)
    assert not berths.fits(1)
