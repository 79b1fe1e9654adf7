"""Where words go that no terminal takes, or takes only some letters of."""

from __future__ import annotations

import io
import json
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
import structlog

from lanternslide.cli.unseen import delete_error, error_stream_in, leave_error, take_every_letter
from lanternslide.config import load_settings
from lanternslide.report import configure_log, crashes_logged
from lanternslide.report.logfile import LogFile

WORDS = "Bass Rock → 灯台 “café” 😀"


def old_stream(errors: str = "strict") -> io.TextIOWrapper:
    """Return a stream with an old code page of Windows, as a pipe has it there."""
    return io.TextIOWrapper(io.BytesIO(), encoding="cp1252", errors=errors, newline="\n")


def written(stream: io.TextIOWrapper) -> str:
    """Return what was written, as that code page reads it."""
    stream.flush()
    assert isinstance(stream.buffer, io.BytesIO)
    return stream.buffer.getvalue().decode("cp1252")


def test_no_letter_is_an_error(monkeypatch: pytest.MonkeyPatch) -> None:
    """A pipe with an old code page gets escapes for what it does not know."""
    out = old_stream()
    monkeypatch.setattr(sys, "stdout", out)
    monkeypatch.setattr(sys, "stderr", None)
    take_every_letter()
    print(WORDS)

    assert written(out) == "Bass Rock \\u2192 \\u706f\\u53f0 “café” \\U0001f600\n"


def test_json_says_every_letter_on_every_stream() -> None:
    """A JSON log on such a stream is JSON all the same."""
    stream = old_stream("backslashreplace")
    configure_log("json", stream)
    structlog.get_logger().info(WORDS)
    structlog.reset_defaults()

    assert json.loads(written(stream))["event"] == WORDS


def test_without_an_error_stream_the_log_is_a_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where Windows gives a process none, what goes there stands in the state folder; also why it has crashed."""
    monkeypatch.setattr(sys, "stderr", None)

    def fail() -> None:
        with error_stream_in(tmp_path):
            configure_log("auto")
            with crashes_logged():
                structlog.get_logger().info(WORDS)
                _ = 1 / 0

    with pytest.raises(SystemExit):
        fail()
    structlog.reset_defaults()

    lines = [json.loads(line) for line in (tmp_path / "log.jsonl").read_text("utf-8").splitlines()]
    assert [line["event"] for line in lines] == [WORDS, "crashed"]
    assert "ZeroDivisionError" in lines[1]["exception"]
    assert sys.stderr is None


def test_with_an_error_stream_there_is_no_log_file(tmp_path: Path) -> None:
    """Elsewhere nothing is written to a file."""
    before = sys.stderr
    with error_stream_in(tmp_path):
        assert sys.stderr is before

    assert list(tmp_path.iterdir()) == []


def test_the_last_error_is_left_where_nobody_sees_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without an error stream the last error alone stands in a file; with one, none does."""
    leave_error("seen", tmp_path)
    monkeypatch.setattr(sys, "stderr", None)
    for text in ("first", WORDS):
        leave_error(text, tmp_path / "state")

    assert [path.name for path in tmp_path.iterdir()] == ["state"]
    dated, said = (tmp_path / "state" / "error.txt").read_text("utf-8").splitlines()
    assert abs(datetime.fromisoformat(dated) - datetime.now(UTC)) < timedelta(minutes=1)
    assert said == WORDS
    delete_error(tmp_path / "state")
    delete_error(tmp_path / "state")
    assert list((tmp_path / "state").iterdir()) == []


def test_a_log_file_stays_small(tmp_path: Path) -> None:
    """It begins anew where it has become large; three former ones are kept, no line is lost between them or cut."""
    path = tmp_path / "log.jsonl"
    log = LogFile(path, most=100)
    for number in range(60):
        log.write(f"{number:09d}\n")
    log.close()

    files = sorted(tmp_path.iterdir(), key=lambda file: file.name)
    assert [file.name for file in files] == ["log.jsonl", "log.jsonl.1", "log.jsonl.2", "log.jsonl.3"]
    lines = [int(line) for file in (*files[:0:-1], files[0]) for line in file.read_text().splitlines()]
    assert lines == list(range(20, 60))


def test_a_log_goes_on_where_it_was(tmp_path: Path) -> None:
    """The next service writes on where the last one has ended."""
    for word in ("one\n", "two\n"):
        log = LogFile(tmp_path / "log.jsonl")
        log.write(word)
        log.close()

    assert (tmp_path / "log.jsonl").read_text() == "one\ntwo\n"


def test_a_log_that_somebody_has_open_grows(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where Windows does not let it be renamed, lines go on into the same file; none is lost, nothing stops."""

    def refuse(_self: Path, _target: Path) -> None:
        raise PermissionError

    log = LogFile(tmp_path / "log.jsonl", most=30)
    monkeypatch.setattr(Path, "replace", refuse)
    for number in range(10):
        log.write(f"{number:09d}\n")
    log.close()

    assert len((tmp_path / "log.jsonl").read_text().splitlines()) == 10


def test_a_log_that_cannot_be_written_stops_nothing(tmp_path: Path) -> None:
    """A folder that has gone costs the log's lines, not the service."""
    (tmp_path / "state").mkdir()
    log = LogFile(tmp_path / "state" / "log.jsonl", most=5)
    log.write("before\n")
    (tmp_path / "state" / "log.jsonl").unlink()
    (tmp_path / "state").rmdir()
    log.write("after\n")
    log.write("after that\n")
    log.close()

    assert list(tmp_path.iterdir()) == []


def test_a_config_that_begins_with_a_mark(tmp_path: Path) -> None:
    """Editors on Windows put a byte order mark before a text; the config is read all the same."""
    config = tmp_path / "lanternslide.toml"
    text = '[photographers.ida]\ndrop = "d"\n[destinations.club]\nfolder = "o"\nsize = { long_edge = 1050 }\n'
    config.write_bytes(text.replace("\n", "\r\n").encode("utf-8-sig"))

    assert list(load_settings(config).destinations) == ["club"]
