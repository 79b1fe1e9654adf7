"""What a supervisor hears of the real service, and what it does not hear of one that hangs."""

from __future__ import annotations

import signal
import socket
import time
from collections.abc import Iterator
from pathlib import Path

import psutil
import pytest

from tests.support.pictures import save_jpeg
from tests.support.service import PATIENCE, make_home, watching


class Supervising:
    """A supervisor's end of the socket, and what it has heard."""

    def __init__(self, channel: socket.socket) -> None:
        self._channel = channel
        self.heard: list[str] = []

    def listen(self) -> list[str]:
        """Return all that was heard so far."""
        while True:
            try:
                self.heard.append(self._channel.recv(4096, socket.MSG_DONTWAIT).decode())
            except BlockingIOError:
                return self.heard


@pytest.fixture
def supervising(tmp_path: Path) -> Iterator[Supervising]:
    """Return a supervisor that listens."""
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as channel:
        channel.bind(str(tmp_path / "notify"))
        yield Supervising(channel)


def test_a_supervisor_hears_the_whole_life(tmp_path: Path, supervising: Supervising) -> None:
    """Ready, signs of life and what is at hand, reading the config again, and stopping are told, in that order."""
    (tmp_path / "home").mkdir()
    home = make_home(tmp_path / "home")
    environment = {"NOTIFY_SOCKET": str(tmp_path / "notify"), "WATCHDOG_USEC": "4000000"}
    with watching(home, environment=environment) as running:
        running.until(lambda: "READY=1" in supervising.listen(), "ready")
        began = len(supervising.heard)
        save_jpeg(home.drop() / "stack.jpg", 2000, 1200)
        running.until(lambda: len(home.delivered()) == 2, "the deliveries")
        running.until(lambda: supervising.listen().count("WATCHDOG=1") >= 3, "signs of life")
        running.until(lambda: "STATUS=Watching. Originals in hand: 0." in supervising.listen()[began:], "rest")
        running.process.send_signal(signal.SIGHUP)
        running.until(lambda: any(text.startswith("RELOADING=1") for text in supervising.listen()), "the reload")
        running.until(lambda: supervising.listen().count("READY=1") == 2, "ready again")
        assert running.stop() == 0

    heard = supervising.listen()
    assert "STATUS=Watching. Originals in hand: 1." in heard[began:]
    assert heard[-1] == "STOPPING=1\nEXTEND_TIMEOUT_USEC=45000000"


def test_taking_in_very_many_files_is_no_hang(tmp_path: Path, supervising: Supervising) -> None:
    """Where thousands settle at once, signs of life are given while they are taken in, before the first is done."""
    (tmp_path / "home").mkdir()
    home = make_home(tmp_path / "home")
    many = tmp_path / "many"
    many.mkdir()
    for number in range(6_000):
        (many / f"{number}.jpg").write_bytes(b"no picture %d" % number)
    limit = 2.0
    environment = {"NOTIFY_SOCKET": str(tmp_path / "notify"), "WATCHDOG_USEC": str(int(limit * 1e6))}
    with watching(home, environment=environment) as running:
        running.until(lambda: "READY=1" in supervising.listen(), "ready")
        many.rename(home.drop() / "many")
        longest, number, last = 0.0, 0, time.monotonic()
        log = home.root / "watch.log"  # read as it is: who is slow to listen misses signs of life
        while b'"event": "held"' not in log.read_bytes() and time.monotonic() < last + PATIENCE:
            beats, now = supervising.listen().count("WATCHDOG=1"), time.monotonic()
            if beats > number:
                number, longest, last = beats, max(longest, now - last), now
            time.sleep(0.02)

    assert number >= 2
    assert longest < limit


def test_a_service_that_hangs_gives_no_sign_of_life(tmp_path: Path, supervising: Supervising) -> None:
    """A process that stands still is silent, and speaks again once it goes on."""
    (tmp_path / "home").mkdir()
    home = make_home(tmp_path / "home")
    environment = {"NOTIFY_SOCKET": str(tmp_path / "notify"), "WATCHDOG_USEC": "1000000"}
    with watching(home, environment=environment) as running:
        running.until(lambda: supervising.listen().count("WATCHDOG=1") >= 2, "signs of life")
        running.process.send_signal(signal.SIGSTOP)
        running.until(lambda: psutil.Process(running.process.pid).status() == psutil.STATUS_STOPPED, "its stop")
        before = len(supervising.listen())
        time.sleep(2)  # in which it would have spoken four times
        assert len(supervising.listen()) == before
        running.process.send_signal(signal.SIGCONT)
        running.until(lambda: len(supervising.listen()) > before, "a sign of life")
