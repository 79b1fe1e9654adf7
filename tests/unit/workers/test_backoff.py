"""Growing pauses."""

from __future__ import annotations

from itertools import pairwise

from lanternslide.workers.backoff import Backoff

MINUTE = 60.0


def test_a_pause_doubles_up_to_ten_minutes() -> None:
    """What may pass is tried again soon at first, then rarely, and never given up, for months."""
    pauses = Backoff()
    found = [pauses.next_pause("club") for _ in range(5000)]

    for before, after in pairwise(found):
        assert after == min(2 * before, 10 * MINUTE)
    assert found[0] == 5
    assert found[-1] == 10 * MINUTE


def test_each_thing_waits_for_itself() -> None:
    """One that is in the way for long makes no other wait; once it has passed, its pauses begin anew."""
    pauses = Backoff()
    for _ in range(4):
        pauses.next_pause(("ida", "seal"))

    assert pauses.next_pause(("juno", "seal")) == 5
    pauses.forget(("ida", "seal"))
    pauses.forget("nobody has met this")
    assert pauses.next_pause(("ida", "seal")) == 5
    assert pauses.next_pause(("juno", "seal")) == 10
