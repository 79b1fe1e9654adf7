"""Asking whether a folder answers, where one may hang."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from lanternslide.daemon.probe import FRESH_SECONDS, Probe, SilentError
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


# Reading


def names_in(folder: Path) -> Iterator[str]:
    """Yield what lies in a folder."""
    with os.scandir(folder) as entries:
        for entry in entries:
            yield entry.name


def test_a_folder_is_read_to_its_end(tmp_path: Path) -> None:
    """Everything once, however much it is; and what cannot be read says why."""
    for number in range(1000):
        (tmp_path / str(number)).touch()
    probe = Probe(DEADLINE)

    assert sorted(probe.read(tmp_path, names_in(tmp_path)), key=int) == [str(number) for number in range(1000)]
    assert list(probe.read(tmp_path, iter(()))) == []
    with pytest.raises(FileNotFoundError, match="nothing"):
        list(probe.read(tmp_path / "nothing", names_in(tmp_path / "nothing")))
    assert probe.answers(tmp_path)


def test_a_folder_that_hangs_while_it_is_read_is_given_up(tmp_path: Path, share: Share) -> None:
    """What was read before is yielded; it counts as silent until the system answers, and is read again then."""
    probe = Probe(DEADLINE)
    (tmp_path / "below").mkdir()
    share.hang(tmp_path / "below")

    def both() -> Iterator[str]:
        yield from names_in(tmp_path)
        yield from names_in(tmp_path / "below")

    reading = probe.read(tmp_path, both(), seconds=DEADLINE)
    with pytest.raises(SilentError):
        list(reading)
    assert not probe.answers(tmp_path)

    share.come_back()
    end = time.monotonic() + 10
    while not probe.answers(tmp_path) and time.monotonic() < end:
        time.sleep(0.01)
    assert list(probe.read(tmp_path, both(), seconds=DEADLINE)) == ["below"]


def test_a_slow_folder_gets_more_time_until_it_was_read(tmp_path: Path) -> None:
    """Twice as much each time that it was given up, so that it is read in the end; then as usual."""
    probe = Probe(DEADLINE)

    def slow() -> Iterator[str]:
        time.sleep(3 * DEADLINE)
        yield "x"

    def given_up() -> bool:
        while not probe.answers(tmp_path):
            time.sleep(0.01)
        try:
            return list(probe.read(tmp_path, slow(), seconds=DEADLINE)) != ["x"]
        except SilentError:
            return True

    assert [given_up() for _ in range(4)] == [True, True, False, True]
