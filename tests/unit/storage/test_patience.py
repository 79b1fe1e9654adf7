"""Waiting a moment for a file that another program has open."""

from __future__ import annotations

import sys
import time

import pytest

from lanternslide.storage.patience import patiently


class Hindered:
    """An act that fails so many times before it succeeds."""

    def __init__(self, times: int, error: type[OSError] = PermissionError) -> None:
        self.left = times
        self.error = error
        self.tries = 0

    def __call__(self, number: int, *, sign: int = 1) -> int:
        """Return the *number* with its *sign*."""
        self.tries += 1
        if self.left:
            self.left -= 1
            raise self.error
        return sign * number


@pytest.fixture
def pauses(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    """Return the pauses that are made, in place of making them."""
    pauses: list[float] = []
    monkeypatch.setattr(time, "sleep", pauses.append)
    return pauses


@pytest.mark.parametrize("platform", ["linux", "win32"])
def test_what_nobody_hinders_is_done_once(pauses: list[float], monkeypatch: pytest.MonkeyPatch, platform: str) -> None:
    """With all that it is given, and without a pause."""
    monkeypatch.setattr(sys, "platform", platform)
    act = Hindered(0)

    assert patiently(act, 7, sign=-1) == -7
    assert (act.tries, pauses) == (1, [])


@pytest.mark.parametrize(("times", "done"), [(1, True), (5, True), (6, False)])
def test_windows_lets_go_of_most_files_within_half_a_second(
    pauses: list[float], monkeypatch: pytest.MonkeyPatch, times: int, *, done: bool
) -> None:
    """So long it is tried again; then what the system says counts."""
    monkeypatch.setattr(sys, "platform", "win32")
    act = Hindered(times)

    if done:
        assert patiently(act, 7) == 7
    else:
        with pytest.raises(PermissionError):
            patiently(act, 7)

    assert act.tries == min(times + 1, 6)
    assert sum(pauses) == pytest.approx(0.1 * min(times, 5))


@pytest.mark.parametrize(("platform", "error"), [("linux", PermissionError), ("win32", FileNotFoundError)])
def test_what_does_not_pass_by_waiting_is_said_at_once(
    pauses: list[float], monkeypatch: pytest.MonkeyPatch, platform: str, error: type[OSError]
) -> None:
    """A lack of rights elsewhere, and any other error everywhere."""
    monkeypatch.setattr(sys, "platform", platform)
    act = Hindered(1, error)

    with pytest.raises(error):
        patiently(act, 7)

    assert (act.tries, pauses) == (1, [])
