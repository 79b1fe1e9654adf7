"""Requests and answers as files in a real state folder."""

from __future__ import annotations

import json
import os
import stat
import sys
from pathlib import Path

import pytest

from lanternslide.requests.request_folder import Reply, Request, RequestFolder

FULL = Request(
    command="sweep", paths=("/drop/ida/seal.jpg", "/drop/ida/islands"), destination="club", again=True, missing=True,
    since_ns=1_700_000_000_123_456_789,
)  # fmt: skip
PLAIN = Request(command="retry")


@pytest.fixture
def requests(tmp_path: Path) -> RequestFolder:
    """Return the requests of a service that has started."""
    requests = RequestFolder(tmp_path / "state")
    requests.prepare()
    return requests


def taken(requests: RequestFolder) -> list[Request | None]:
    """Return what is asked for at the moment."""
    return [request for _, request in requests.take()]


def lay(requests: RequestFolder, content: str, name: str = "1-1") -> None:
    """Put something into the folder that another program has written."""
    (requests.folder / f"{name}.request").write_text(content, "utf-8")


@pytest.mark.parametrize("request_", [FULL, PLAIN, Request(command="withdraw", paths=("/drop/se\udcffal\n.jpg",))])
def test_a_request_arrives_as_it_was_left(requests: RequestFolder, request_: Request) -> None:
    """Every part of it, to the nanosecond, and paths whose bytes are no text."""
    name = requests.leave(request_)

    assert list(requests.take()) == [(name, request_)]
    assert [path.name for path in requests.folder.iterdir()] == [f"{name}.request"], "nothing half written is left"


def test_the_oldest_comes_first(requests: RequestFolder) -> None:
    """An owner who takes back and then retries means that order."""
    asked = [Request(command="withdraw", paths=(str(index),)) for index in range(3)]
    names = [requests.leave(request) for request in asked]

    assert list(requests.take()) == list(zip(names, asked, strict=True))


def test_a_request_stays_until_it_is_answered(requests: RequestFolder, tmp_path: Path) -> None:
    """Also after a crash of the service, which begins with what lies there."""
    first, second = requests.leave(PLAIN), requests.leave(FULL)
    assert taken(requests) == [PLAIN, FULL]

    again = RequestFolder(tmp_path / "state")
    again.prepare()
    assert taken(again) == [PLAIN, FULL]
    again.reply(first, Reply())

    assert list(again.take()) == [(second, FULL)]


def test_an_answer_is_read_once(requests: RequestFolder) -> None:
    """By whoever asked; until it is there, there is none."""
    mine, others = requests.leave(FULL), requests.leave(PLAIN)
    answer = Reply(lines=("“seal.jpg” is tried again.", "se\udcffal"), status=3)
    assert requests.take_reply(mine) is None

    requests.reply(mine, answer)

    assert requests.take_reply(others) is None
    assert requests.take_reply(mine) == answer
    assert requests.take_reply(mine) is None


def test_a_request_that_was_taken_back_is_not_done(requests: RequestFolder) -> None:
    """Its owner waits no longer; once more changes nothing."""
    name = requests.leave(FULL)

    requests.take_back(name)
    requests.take_back(name)

    assert taken(requests) == []


def test_a_request_that_is_taken_back_while_they_are_read_is_passed_over(requests: RequestFolder) -> None:
    """The others are done all the same."""
    requests.leave(PLAIN)
    second = requests.leave(FULL)
    requests.leave(PLAIN)

    reading = requests.take()
    next(reading)
    requests.take_back(second)

    assert [request for _, request in reading] == [PLAIN]


@pytest.mark.parametrize(
    "content",
    [
        "",
        "{",
        "null",
        "[]",
        '"retry"',
        '{"command": "retry"}',
        '{"command": "retry", "paths": null}',
        '{"paths": []}',
        '{"command": "retry", "paths": [], "gently": true}',
        "[" * 100_000,
    ],
)
def test_what_cannot_be_understood_is_answered_too(requests: RequestFolder, content: str) -> None:
    """It may be from a newer version, or from nobody: it stops no other, and has a name to be answered under."""
    lay(requests, content)
    good = requests.leave(PLAIN)

    assert dict(requests.take()) == {"1-1": None, good: PLAIN}
    requests.reply("1-1", Reply(status=2))
    assert taken(requests) == [PLAIN]


def test_bytes_that_are_no_text_cannot_be_understood(requests: RequestFolder) -> None:
    """Neither can a folder."""
    (requests.folder / "1-1.request").write_bytes(b"\xff\xfe")
    (requests.folder / "1-2.request").mkdir()

    assert taken(requests) == [None, None]


def test_what_an_older_version_leaves_is_understood(requests: RequestFolder) -> None:
    """What it does not name is at its default."""
    lay(requests, json.dumps({"command": "retry", "paths": ["a"]}))

    assert taken(requests) == [Request(command="retry", paths=("a",))]


@pytest.mark.parametrize("name", [".1-1.request", "1-1.answer", "notes.txt", "request"])
def test_only_whole_requests_count(requests: RequestFolder, name: str) -> None:
    """Half a one has a dot name until it is whole; anything else is no request."""
    path = requests.folder / name
    path.write_text(json.dumps({"command": "retry", "paths": []}), "utf-8")

    assert taken(requests) == []


def test_without_a_service_ever_started_nothing_is_asked(tmp_path: Path) -> None:
    """There is no folder then, and leaving the first request makes it."""
    requests = RequestFolder(tmp_path / "state")
    assert taken(requests) == []

    requests.leave(PLAIN)

    assert taken(requests) == [PLAIN]


def test_a_folder_that_cannot_be_read_is_a_fault(tmp_path: Path) -> None:
    """It is said to the owner, who would wait for ever."""
    requests = RequestFolder(tmp_path)
    requests.folder.write_text("no folder")

    with pytest.raises(OSError, match=r"requests"):
        taken(requests)
    with pytest.raises(OSError, match=r"requests"):
        requests.prepare()


def test_a_start_clears_what_nobody_waits_for(requests: RequestFolder) -> None:
    """Answers, and what a killed command or service left half written; what is asked for stays."""
    name = requests.leave(PLAIN)
    requests.reply("1-1", Reply())
    (requests.folder / ".2-2.request").write_text("{")

    requests.prepare()

    assert [path.name for path in requests.folder.iterdir()] == [f"{name}.request"]


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has access lists")
def test_requests_are_nobody_elses_business(tmp_path: Path) -> None:
    """The folder is closed to others, whoever makes it first."""
    before = os.umask(0)
    try:
        for state, first in (
            (tmp_path / "a", RequestFolder.prepare),
            (tmp_path / "b", lambda found: found.leave(PLAIN)),
        ):
            requests = RequestFolder(state)
            first(requests)
            assert stat.S_IMODE(requests.folder.stat().st_mode) == 0o700
    finally:
        os.umask(before)


def test_an_answer_that_cannot_be_written_ends_the_request_all_the_same(requests: RequestFolder) -> None:
    """It was done, and must not be done again and again."""
    name = requests.leave(PLAIN)
    in_the_way = requests.folder / f"{name}.answer"
    in_the_way.mkdir()

    with pytest.raises(OSError, match=r"answer"):
        requests.reply(name, Reply())

    assert taken(requests) == []


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such files")
@pytest.mark.parametrize("kind", ["pipe", "link", "folder", "device"])
def test_what_is_no_file_is_not_waited_for(requests: RequestFolder, tmp_path: Path, kind: str) -> None:
    """A pipe would be waited for without end; a link leads to what nobody has asked for."""
    path = requests.folder / "1-1.request"
    match kind:
        case "pipe":
            os.mkfifo(path)
        case "link":
            (tmp_path / "elsewhere").write_text(json.dumps({"command": "withdraw", "paths": ["/drop"]}))
            path.symlink_to(tmp_path / "elsewhere")
        case "folder":
            path.mkdir()
        case _:
            path.symlink_to("/dev/zero")

    assert taken(requests) == [None]


@pytest.mark.skipif(sys.platform == "win32" or os.geteuid() != 0, reason="needs the right to give a file away")
def test_what_another_user_has_put_there_is_no_request(requests: RequestFolder) -> None:
    """Who may write into the folder may not give commands."""
    lay(requests, json.dumps({"command": "withdraw", "paths": ["/drop"]}))
    os.chown(requests.folder / "1-1.request", 54_321, -1)

    assert taken(requests) == ([None] if os.geteuid() != 54_321 else [])
