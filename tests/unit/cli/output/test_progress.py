"""Progress on a terminal."""

from __future__ import annotations

import io
import json
import re
import sys
from collections.abc import Iterator

import pytest
import structlog

from lanternslide.cli.output.progress import progress_on_terminal
from lanternslide.records.events import Behind, Ended, Event, Finished, Found, Started, Waits
from lanternslide.report import LogReport
from lanternslide.words import Passing, say
from tests.support.happenings import file_of


class Terminal(io.StringIO):
    """An error stream that is a terminal."""

    def isatty(self) -> bool:
        """Return that it is one."""
        return True


@pytest.fixture(autouse=True)
def calm(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Have a wide terminal; reset the log afterwards."""
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setenv("COLUMNS", "120")
    yield
    structlog.reset_defaults()


def seen(monkeypatch: pytest.MonkeyPatch, stream: io.StringIO, *events: Event, log: str = "auto") -> str:
    """Return what the error stream has got after these events, the last picture of the bars included."""
    monkeypatch.setattr(sys, "stderr", stream)
    monkeypatch.setattr(sys, "__stderr__", stream)
    with progress_on_terminal(log) as tell:
        report = LogReport()
        for event in events:
            tell(event)
            report(event)
    return stream.getvalue()


def last(monkeypatch: pytest.MonkeyPatch, *events: Event) -> list[str]:
    """Return the lines of the last picture of the bars after these events, without signs for terminals."""
    shown, _, _ = seen(monkeypatch, Terminal(), *events).partition("\x1b[?25h")  # the cursor comes back at the end
    _, _, picture = shown.rpartition("\x1b[2K")  # each picture begins where the one before was wiped away
    return [line.rstrip() for line in re.sub(r"\x1b\[[0-9;?]*[A-Za-z]", "", picture).splitlines()]


def test_a_log_for_programs_stays_one(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where there is no terminal, or JSON was asked for, nothing is drawn between its lines."""
    for stream, log in ((io.StringIO(), "auto"), (Terminal(), "json")):
        text = seen(monkeypatch, stream, Found(file=file_of()), Ended(), log=log)

        assert [json.loads(line)["event"] for line in text.splitlines()] == ["stopped"]


def test_without_a_terminal_the_log_may_be_for_people(monkeypatch: pytest.MonkeyPatch) -> None:
    """If that was asked for; there are no bars all the same."""
    text = seen(monkeypatch, io.StringIO(), Found(file=file_of()), Ended(), log="console")

    assert re.fullmatch(r"\d\d:\d\d:\d\d  stopped\n", text)


def test_on_a_terminal_lines_of_the_log_stand_above_the_bar(monkeypatch: pytest.MonkeyPatch) -> None:
    """In the words for people."""
    text = seen(monkeypatch, Terminal(), Found(file=file_of()), Ended())

    assert "All originals" in text
    assert "stopped" in text
    assert "{" not in text


def test_the_bar_counts_what_is_known(monkeypatch: pytest.MonkeyPatch) -> None:
    """What was found, what is to be made again beyond it, and what of all that is done."""
    events: list[Event] = [Found(file=file_of(f"{n}.jpg")) for n in range(3)]
    events += [Behind(number=4), Finished(file=file_of("0.jpg"), changed=True)]

    (line,) = last(monkeypatch, *events)
    assert "1/7" in line
    (line,) = last(monkeypatch, Behind(number=4))
    assert "0/4" in line


def test_what_is_being_made_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    """Until it is finished, or waits for something."""
    begun = [Started(file=file_of(name), deliveries=2) for name in ("a.jpg", "b.jpg", "c.jpg")]
    away = say(Passing.READ_ONLY, folder="out")

    *lines, _ = last(
        monkeypatch, *begun, Finished(file=file_of("a.jpg"), changed=True), Waits(what="ida: b.jpg", said=away),
    )  # fmt: skip

    assert len(lines) == 1
    assert "ida: c.jpg: making 2" in lines[0]


def test_names_are_data(monkeypatch: pytest.MonkeyPatch) -> None:
    """What looks like markup is shown as it is; one that is begun again has one line."""
    started = Started(file=file_of("[red]x[/red].jpg"), deliveries=1)

    *lines, _ = last(monkeypatch, started, started)

    assert len(lines) == 1
    assert "ida: [red]x[/red].jpg: making 1" in lines[0]


def test_what_does_not_end_a_line_ends_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    """An original that nobody has begun may be finished, and a folder may be in the way."""
    away = say(Passing.READ_ONLY, folder="out")

    (line,) = last(monkeypatch, Waits(what="club", said=away), Finished(file=file_of(), changed=False), Ended())

    assert "1/1" in line
