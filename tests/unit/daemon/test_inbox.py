"""Mail of other threads for the main loop."""

from __future__ import annotations

import threading
import time
from pathlib import Path

from lanternslide.daemon.inbox import Inbox, Reload, Stop
from lanternslide.intake.hints import Hint, Lost
from lanternslide.workers.executor import Answer, NotBegun

SEAL, KELP = Hint("ida", Path("seal.jpg")), Hint("ida", Path("kelp.jpg"))
LONG = 60.0


def test_all_mail_is_read_at_once_and_each_hint_once() -> None:
    """Many events of one file are one hint, and come after what workers and owners have to say."""
    inbox = Inbox()
    for item in (SEAL, SEAL, Stop(), KELP, Lost(), SEAL):
        inbox.put(item)

    assert inbox.read(0) == [Stop(), Lost(), SEAL, KELP]
    assert inbox.read(0) == []


def test_nothing_but_a_hint_is_left_out() -> None:
    """A second stop shortens the wait, so it is not the first one again; neither is an answer like another."""
    inbox = Inbox()
    answer = Answer(key=("ida", Path("seal.jpg")), result=NotBegun())
    for item in (Stop(), Stop(), Reload(), answer, answer):
        inbox.put(item)

    assert inbox.read(0) == [Stop(), Stop(), Reload(), answer, answer]


def test_the_same_path_of_two_photographers_is_two_hints() -> None:
    """Each has a drop folder of their own."""
    inbox = Inbox()
    for name in ("ida", "juno"):
        inbox.put(Hint(name, Path("seal.jpg")))

    assert len(inbox.read(0)) == 2


def test_mail_that_is_there_is_not_waited_for() -> None:
    """However long one may wait for the first."""
    inbox = Inbox()
    inbox.put(Stop())
    began = time.monotonic()

    assert inbox.read(LONG) == [Stop()]
    assert time.monotonic() - began < LONG / 2


def test_mail_wakes_who_waits() -> None:
    """Another thread leaves something while the main loop sleeps."""
    inbox = Inbox()
    thread = threading.Timer(0.01, inbox.put, (Reload(),))
    thread.start()
    began = time.monotonic()

    assert inbox.read(LONG) == [Reload()]
    thread.join()
    assert time.monotonic() - began < LONG / 2


def test_without_mail_the_wait_ends() -> None:
    """Something else is due then."""
    began = time.monotonic()

    assert Inbox().read(0.02) == []
    assert time.monotonic() - began >= 0.02
