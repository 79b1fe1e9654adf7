"""Asking whether a folder answers, where one may hang."""

from __future__ import annotations

import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from lanternslide.daemon.probe import FRESH_SECONDS, Probe
from tests.support.hanging import DEADLINE, Share


@pytest.fixture
def share() -> Iterator[Share]:
    """Return what has folders hang."""
    with Share.made() as share:
        yield share


class Clock:
    """The machine's clock, which stands."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.now = 1000.0
        monkeypatch.setattr(time, "monotonic", lambda: self.now)


@pytest.mark.parametrize("what", ["a folder", "a file", "nothing", "something below a file"])
def test_that_it_is_not_there_is_an_answer_as_well(tmp_path: Path, what: str) -> None:
    """Whatever is there, the system says so at once."""
    (tmp_path / "file").touch()
    path = {
        "a folder": tmp_path, "a file": tmp_path / "file", "nothing": tmp_path / "nothing",
        "something below a file": tmp_path / "file" / "x",
    }[what]  # fmt: skip

    assert Probe().answers(path)


def test_a_folder_that_hangs_is_waited_for_once(tmp_path: Path, share: Share, monkeypatch: pytest.MonkeyPatch) -> None:
    """It keeps one thread, however often it, or what lies in it, is asked about; others answer meanwhile."""
    hung = tmp_path / "share"
    share.hang(hung)
    probe = Probe(DEADLINE)
    assert not probe.answers(hung)
    monkeypatch.setattr(probe, "_deadline", 60.0)
    begun = time.monotonic()

    assert not any([probe.answers(hung), probe.answers(hung), probe.answers(hung / "out" / "club")])

    assert time.monotonic() - begun < 30
    assert share.asked == [hung]
    assert probe.answers(tmp_path)
    assert probe.answers(tmp_path / "share of another")


def test_a_folder_that_is_back_answers(tmp_path: Path, share: Share) -> None:
    """Also to what was asked before; nothing is remembered against it."""
    probe = Probe(DEADLINE)
    share.hang(tmp_path)
    assert not probe.answers(tmp_path)

    share.come_back()
    patience = time.monotonic() + 10
    while not probe.answers(tmp_path) and time.monotonic() < patience:
        pass
    assert probe.answers(tmp_path)


def test_a_folder_that_has_just_answered_is_not_asked_again(
    tmp_path: Path, share: Share, monkeypatch: pytest.MonkeyPatch
) -> None:
    """For a moment; after that it is, and may hang."""
    clock, probe = Clock(monkeypatch), Probe(DEADLINE)
    assert probe.answers(tmp_path)
    share.hang(tmp_path)

    clock.now += FRESH_SECONDS - 0.01
    assert probe.answers(tmp_path)
    clock.now += 0.01
    assert not probe.answers(tmp_path)
    assert share.asked == [tmp_path] * 2
