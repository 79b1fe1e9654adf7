"""The log as a file of bounded size."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from lanternslide.report.logfile import LogFile


def test_a_log_file_stays_small(tmp_path: Path) -> None:
    """It begins anew before it becomes large; three former ones are kept, no line is lost between them or cut."""
    path = tmp_path / "log.jsonl"
    log = LogFile(path, most=100)
    for number in range(60):
        log.write(f"{number:09d}\n")
    log.close()

    files = sorted(tmp_path.iterdir(), key=lambda file: file.name)
    assert [file.name for file in files] == ["log.jsonl", "log.jsonl.1", "log.jsonl.2", "log.jsonl.3"]
    assert all(file.stat().st_size <= 100 for file in files)
    lines = [int(line) for file in (*files[:0:-1], files[0]) for line in file.read_text().splitlines()]
    assert lines == list(range(27, 60)), "nine lines fit into each"


def test_a_log_goes_on_where_it_was(tmp_path: Path) -> None:
    """The next service writes on where the last one has ended."""
    for word in ("one\n", "two\n"):
        log = LogFile(tmp_path / "log.jsonl")
        log.write(word)
        log.close()

    assert (tmp_path / "log.jsonl").read_text() == "one\ntwo\n"


def test_a_log_that_somebody_has_open_grows(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where Windows does not let it be renamed, lines go on into the same file; none is lost, nothing stops."""

    def refuse(_source: str, _target: str) -> None:
        raise PermissionError

    log = LogFile(tmp_path / "log.jsonl", most=30)
    monkeypatch.setattr(os, "rename", refuse)
    for number in range(10):
        log.write(f"{number:09d}\n")
    log.close()

    assert len((tmp_path / "log.jsonl").read_text().splitlines()) == 10


def test_a_log_that_somebody_has_open_costs_no_former_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each line tries again to put it aside; the former files are not pushed out by that."""
    path = tmp_path / "log.jsonl"
    for number in (1, 2, 3):
        path.with_name(f"log.jsonl.{number}").write_text(f"{number}\n")
    rename = os.rename

    def refuse(source: str, target: str) -> None:
        if Path(source) == path:
            raise PermissionError
        rename(source, target)

    log = LogFile(path, most=30)
    monkeypatch.setattr(os, "rename", refuse)
    for number in range(10):
        log.write(f"{number:09d}\n")
    log.close()

    assert [path.with_name(f"log.jsonl.{number}").read_text() for number in (1, 2, 3)] == ["1\n", "2\n", "3\n"]
    assert len(path.read_text().splitlines()) == 10


def test_a_log_that_cannot_be_closed_goes_on(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A disk that is full says so at the latest when a file is closed."""
    log = LogFile(tmp_path / "log.jsonl", most=20)
    log.write("before...\n")
    stream = log._handler.stream
    assert stream is not None
    close = stream.close

    def fail() -> None:
        close()
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(stream, "close", fail)
    for number in range(3):
        log.write(f"{number:09d}\n")
    log.close()

    assert (tmp_path / "log.jsonl").read_text() == "000000002\n"
    assert (tmp_path / "log.jsonl.3").read_text() == "before...\n"


def test_a_log_that_cannot_be_written_stops_nothing(tmp_path: Path) -> None:
    """A folder that has gone costs the log's lines, not the service."""
    (tmp_path / "state").mkdir()
    log = LogFile(tmp_path / "state" / "log.jsonl", most=10)
    log.write("before\n")
    (tmp_path / "state" / "log.jsonl").unlink()
    (tmp_path / "state").rmdir()
    log.write("after\n")
    log.write("after that\n")
    log.close()

    assert list(tmp_path.iterdir()) == []


def test_a_large_log_of_before_is_put_aside_at_once(tmp_path: Path) -> None:
    """What the last service has left counts, too; a file of exactly the limit is large."""
    path = tmp_path / "log.jsonl"
    path.write_text("x" * 9 + "\n")
    log = LogFile(path, most=10)
    log.write("new\n")
    log.close()

    assert path.read_text() == "new\n"
    assert (tmp_path / "log.jsonl.1").read_text() == "x" * 9 + "\n"


def test_a_line_is_there_at_once_and_its_length_is_told(tmp_path: Path) -> None:
    """Whoever reads the file meanwhile sees it; what is no text is escaped, not lost."""
    log = LogFile(tmp_path / "log.jsonl")

    assert log.write(text := os.fsdecode(b"caf\xe9 \xe7\x81\xaf\n")) == len(text)
    assert (tmp_path / "log.jsonl").read_text("utf-8") == "caf\\udce9 灯\n"
    assert log.writable()
    log.close()
    assert log.closed
