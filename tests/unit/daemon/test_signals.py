"""Signals as messages, in this process."""

from __future__ import annotations

import signal

import pytest

from lanternslide.daemon.inbox import Inbox, Message, Reload, Stop
from lanternslide.daemon.signals import signals_into

HANDLED = [getattr(signal, name) for name in ("SIGTERM", "SIGINT", "SIGHUP", "SIGIO") if hasattr(signal, name)]


@pytest.mark.skipif(not hasattr(signal, "SIGHUP"), reason="the system has no such signals")
@pytest.mark.parametrize(
    ("name", "messages"), [("SIGTERM", [Stop()]), ("SIGINT", [Stop()]), ("SIGHUP", [Reload()]), ("SIGIO", [])]
)
def test_a_signal_leaves_mail(name: str, messages: list[Message]) -> None:
    """To stop, or to read the config; that a program opens a file which was just asked about is no reason to end."""
    inbox = Inbox()

    with signals_into(inbox):
        signal.raise_signal(getattr(signal, name))

    assert inbox.read(0) == messages


def test_a_second_signal_is_left_too() -> None:
    """It shortens the wait."""
    inbox = Inbox()

    with signals_into(inbox):
        for _ in range(2):
            signal.raise_signal(signal.SIGTERM)

    assert inbox.read(0) == [Stop(), Stop()]


def test_afterwards_signals_do_what_they_did_before() -> None:
    """Also where the service ends with an error."""
    before = [signal.getsignal(number) for number in HANDLED]

    def service() -> None:
        with signals_into(Inbox()):
            assert [signal.getsignal(number) for number in HANDLED] != before
            raise LookupError

    with pytest.raises(LookupError):
        service()

    assert [signal.getsignal(number) for number in HANDLED] == before
