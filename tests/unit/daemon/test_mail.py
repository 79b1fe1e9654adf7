"""Mail of other threads for the main loop."""

from __future__ import annotations

import threading
import time
from pathlib import Path

from lanternslide.daemon.executor import Answer, NotBegun
from lanternslide.daemon.mail import Hint, Lost, Mailbox, Reload, Stop

SEAL, KELP = Hint("ida", Path("seal.jpg")), Hint("ida", Path("kelp.jpg"))
LONG = 60.0


def test_all_mail_is_read_at_once_and_each_hint_once() -> None:
    """Many events of one file are one hint, and come after what workers and owners have to say."""
    mailbox = Mailbox()
    for item in (SEAL, SEAL, Stop(), KELP, Lost(), SEAL):
        mailbox.put(item)

    assert mailbox.read(0) == [Stop(), Lost(), SEAL, KELP]
    assert mailbox.read(0) == []


def test_nothing_but_a_hint_is_left_out() -> None:
    """A second stop shortens the wait, so it is not the first one again; neither is an answer like another."""
    mailbox = Mailbox()
    answer = Answer(key=("ida", Path("seal.jpg")), result=NotBegun())
    for item in (Stop(), Stop(), Reload(), answer, answer):
        mailbox.put(item)

    assert mailbox.read(0) == [Stop(), Stop(), Reload(), answer, answer]


def test_the_same_path_of_two_photographers_is_two_hints() -> None:
    """Each has a drop folder of their own."""
    mailbox = Mailbox()
    for name in ("ida", "juno"):
        mailbox.put(Hint(name, Path("seal.jpg")))

    assert len(mailbox.read(0)) == 2


def test_mail_that_is_there_is_not_waited_for() -> None:
    """However long one may wait for the first."""
    mailbox = Mailbox()
    mailbox.put(Stop())
    began = time.monotonic()

    assert mailbox.read(LONG) == [Stop()]
    assert time.monotonic() - began < LONG / 2


def test_mail_wakes_who_waits() -> None:
    """Another thread leaves something while the main loop sleeps."""
    mailbox = Mailbox()
    thread = threading.Timer(0.01, mailbox.put, (Reload(),))
    thread.start()
    began = time.monotonic()

    assert mailbox.read(LONG) == [Reload()]
    thread.join()
    assert time.monotonic() - began < LONG / 2


def test_without_mail_the_wait_ends() -> None:
    """Something else is due then."""
    began = time.monotonic()

    assert Mailbox().read(0.02) == []
    assert time.monotonic() - began >= 0.02
