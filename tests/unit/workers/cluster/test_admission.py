"""Where jobs are admitted to a cluster."""

from __future__ import annotations

import pytest

from lanternslide.errors import PassingFaultError
from lanternslide.words import Passing, say
from lanternslide.workers.cluster.admission import LargestWorker


def test_what_did_not_fit_is_tried_once_something_larger_is_there() -> None:
    """Not for every worker that comes."""
    largest_worker = LargestWorker()
    largest_worker.note(1, 300)
    for need in (900, 500):
        with pytest.raises(PassingFaultError) as fault:
            largest_worker.check(need)
        assert fault.value.said == say(Passing.NO_WORKER_LARGE_ENOUGH, need=f"{need} MiB", largest="300 MiB")
    largest_worker.note(2, 400)
    assert not largest_worker.fits(500)
    largest_worker.note(3, 600)
    assert (largest_worker.fits(500), largest_worker.fits(900)) == (True, False)


def test_before_anybody_is_there_nothing_is_refused() -> None:
    """Who comes may be large enough; until then nothing fits, either."""
    largest_worker = LargestWorker()
    largest_worker.check(10_000)
    assert not largest_worker.fits(1)
