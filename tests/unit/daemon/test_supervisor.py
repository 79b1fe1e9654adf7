"""What the supervisor hears, over a real socket."""

from __future__ import annotations

import os
import socket
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from lanternslide.daemon.supervisor import Supervisor


@pytest.fixture
def channel(tmp_path: Path) -> Iterator[socket.socket]:
    """Return a socket as a supervisor has one."""
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as listening:
        listening.bind(str(tmp_path / "notify"))
        listening.settimeout(5)
        yield listening


def heard(channel: socket.socket) -> str:
    """Return the next message."""
    return channel.recv(4096).decode()


def silent(channel: socket.socket) -> bool:
    """Return whether no message has come."""
    channel.setblocking(False)
    try:
        channel.recv(4096)
    except BlockingIOError:
        return True
    finally:
        channel.settimeout(5)
    return False


def test_what_is_said_is_what_is_heard(channel: socket.socket) -> None:
    """The assignments are those of sd_notify(3)."""
    supervisor = Supervisor(channel.getsockname())

    supervisor.ready()
    supervisor.stopping(45.5)
    supervisor.reloading()

    assert heard(channel) == "READY=1"
    assert heard(channel) == "STOPPING=1\nEXTEND_TIMEOUT_USEC=45500000"
    assert heard(channel).startswith("RELOADING=1\nMONOTONIC_USEC=")


def test_a_status_is_said_once(channel: socket.socket) -> None:
    """Only a new status is sent."""
    supervisor = Supervisor(channel.getsockname())

    for status in ("one", "one", "two"):
        supervisor.say(status)

    assert [heard(channel), heard(channel)] == ["STATUS=one", "STATUS=two"]
    assert silent(channel)


def test_signs_of_life_come_four_times_in_the_limit(channel: socket.socket) -> None:
    """A sign is due at once, and then after a quarter of the time limit."""
    supervisor = Supervisor(channel.getsockname(), 60.0)

    assert supervisor.is_due(100.0)
    supervisor.beat(100.0)

    assert heard(channel) == "WATCHDOG=1"
    assert not supervisor.is_due(114.9)
    assert supervisor.is_due(115.0)


def test_the_environment_names_it_for_this_process_alone() -> None:
    """Workers inherit nothing of it; a limit that is meant for another process counts for nothing."""
    mine = {"NOTIFY_SOCKET": "/run/x", "WATCHDOG_USEC": "60000000", "WATCHDOG_PID": str(os.getpid()), "PATH": "/bin"}
    others = {"NOTIFY_SOCKET": "/run/x", "WATCHDOG_USEC": "60000000", "WATCHDOG_PID": "1"}

    assert Supervisor.from_environment(mine).is_due(0.0)
    assert not Supervisor.from_environment(others).is_due(0.0)
    assert mine == {"PATH": "/bin"}


def test_an_abstract_name_is_reached() -> None:
    """An address that begins with @ is an abstract one (unix(7))."""
    name = f"lanternslide-{os.getpid()}"
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as listening:
        listening.bind(f"\0{name}")
        listening.settimeout(5)

        Supervisor(f"@{name}").ready()

        assert heard(listening) == "READY=1"


@pytest.mark.parametrize("address", ["", "/nowhere/at/all"])
def test_without_a_listener_nothing_happens(address: str) -> None:
    """Nobody who listens, or nobody any more, is no fault of the service's."""
    supervisor = Supervisor(address, 60.0)

    supervisor.ready()
    supervisor.say("Watching.")
    supervisor.beat(0.0)


def test_a_supervisor_that_does_not_read_holds_nothing_up(channel: socket.socket) -> None:
    """A full socket drops signs of life instead of waiting."""
    supervisor = Supervisor(channel.getsockname(), 60.0)
    began = time.monotonic()

    for number in range(5000):
        supervisor.beat(float(number))

    assert time.monotonic() - began < 4
    assert heard(channel) == "WATCHDOG=1"
