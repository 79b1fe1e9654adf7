"""Asking whether a folder answers, where one may hang."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Self

import pytest

from lanternslide.intake import Round, look_through
from lanternslide.storage.probe import FRESH_SECONDS, Probe, SilentError
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


class Reader:
    """Reads folders and counts what it comes across."""

    def __init__(self, probe: Probe) -> None:
        self.probe = probe
        self.seen = 0
        self.ticks = 0

    def tick(self) -> None:
        """Take a sign of life."""
        self.ticks += 1

    def names_in(self, *folders: Path) -> Iterator[str]:
        """Yield what lies in folders."""
        for folder in folders:
            with os.scandir(folder) as entries:
                for entry in entries:
                    self.seen += 1
                    yield entry.name

    def read(self, folder: Path, items: Iterator[str]) -> list[str]:
        """Return what is read."""
        return list(self.probe.read(folder, items, lambda: self.seen, self.tick, seconds=DEADLINE))


@pytest.fixture
def reader() -> Reader:
    """Return what reads."""
    return Reader(Probe(DEADLINE))


def test_a_folder_is_read_to_its_end(tmp_path: Path, reader: Reader) -> None:
    """Everything once, however much it is, with a sign of life for each; what cannot be read says why."""
    for number in range(1000):
        (tmp_path / str(number)).touch()

    found = reader.read(tmp_path, reader.names_in(tmp_path))

    assert sorted(found, key=int) == [str(number) for number in range(1000)]
    assert reader.ticks >= 1000
    assert reader.read(tmp_path, iter(())) == []
    with pytest.raises(FileNotFoundError, match="nothing"):
        reader.read(tmp_path / "nothing", reader.names_in(tmp_path / "nothing"))
    assert reader.probe.answers(tmp_path)


def test_a_folder_that_hangs_while_it_is_read_is_given_up(tmp_path: Path, share: Share, reader: Reader) -> None:
    """It counts as silent until the system answers, and is read again then."""
    below = tmp_path / "below"
    below.mkdir()
    share.hang(below)

    with pytest.raises(SilentError):
        reader.read(tmp_path, reader.names_in(tmp_path, below))
    assert not reader.probe.answers(tmp_path)

    share.come_back()
    end = time.monotonic() + 10
    while not reader.probe.answers(tmp_path) and time.monotonic() < end:
        time.sleep(0.01)
    assert reader.read(tmp_path, reader.names_in(tmp_path, below)) == ["below"]


def test_a_large_folder_that_is_slow_to_list_is_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each name that the system gives is a sign of life, long before the first is looked at."""
    for number in range(12):
        (tmp_path / f"{number:02}.jpg").touch()
    scandir = os.scandir

    class Slow:
        """A share that gives a name now and then."""

        def __init__(self, path: str) -> None:
            self._entries = scandir(path)

        def __enter__(self) -> Self:
            return self

        def __exit__(self, *_: object) -> None:
            self._entries.close()

        def __iter__(self) -> Iterator[os.DirEntry[str]]:
            for entry in self._entries:
                time.sleep(DEADLINE / 4)
                yield entry

    monkeypatch.setattr(os, "scandir", Slow)
    came_across = Round()
    entries = look_through(tmp_path, came_across=came_across)

    found = list(Probe(DEADLINE).read(tmp_path, entries, lambda: came_across.seen, lambda: None, seconds=DEADLINE))

    assert [entry.relative for entry in found] == [f"{number:02}.jpg" for number in range(12)]


def test_who_comes_across_something_does_not_hang(tmp_path: Path, reader: Reader) -> None:
    """Also where nothing of it is an item for very long."""

    def slow() -> Iterator[str]:
        for _ in range(30):
            time.sleep(DEADLINE / 6)
            reader.seen += 1
        yield "x"

    assert reader.read(tmp_path, slow()) == ["x"]


def test_a_slow_folder_gets_more_time(tmp_path: Path, reader: Reader) -> None:
    """Twice as much each time that it was given up, up to a limit; so it is read in the end, and from then on."""

    def slow() -> Iterator[str]:
        time.sleep(3 * DEADLINE)
        yield "x"

    def is_read() -> bool:
        while not reader.probe.answers(tmp_path):
            time.sleep(0.01)
        try:
            return reader.read(tmp_path, slow()) == ["x"]
        except SilentError:
            return False

    assert [is_read() for _ in range(4)] == [False, False, True, True]
