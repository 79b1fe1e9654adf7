"""Words that no terminal takes: where they go, and what becomes of letters that a stream does not know."""

from __future__ import annotations

import io
import json
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
import structlog

from lanternslide.cli.output.unseen import delete_error, error_file, error_stream_in, leave_error, take_every_letter
from lanternslide.report import configure_log, crashes_logged

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


def test_a_stream_that_takes_letters_its_own_way_is_left_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever has set it so wants it so; the error stream is seen to like the other."""
    out, err = old_stream("ignore"), old_stream()
    monkeypatch.setattr(sys, "stdout", out)
    monkeypatch.setattr(sys, "stderr", err)
    take_every_letter()
    print("→")
    print("→", file=sys.stderr)

    assert written(out) == "\n"
    assert written(err) == "\\u2192\n"


def test_without_any_output_words_go_nowhere(monkeypatch: pytest.MonkeyPatch) -> None:
    """And are no error."""
    monkeypatch.setattr(sys, "stdout", None)
    take_every_letter()

    print(WORDS)
    sys.stdout.close()


def test_the_error_stream_is_gone_again_after_an_error(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """However the work ends; the log is closed."""
    monkeypatch.setattr(sys, "stderr", None)
    logs = []

    def fail() -> None:
        with error_stream_in(tmp_path):
            logs.append(sys.stderr)
            raise KeyError

    with pytest.raises(KeyError):
        fail()

    assert sys.stderr is None
    assert [log.closed for log in logs] == [True]


def test_an_error_is_left_in_the_users_state_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The config that names another may be what is wrong; it is closed to others."""
    monkeypatch.setattr("platformdirs.user_state_dir", lambda name: str(tmp_path / name))
    monkeypatch.setattr(sys, "stderr", None)

    leave_error("wrong")

    assert error_file() == tmp_path / "lanternslide" / "error.txt"
    assert error_file().read_text("utf-8").splitlines()[1:] == ["wrong"]
    if sys.platform != "win32":
        assert error_file().parent.stat().st_mode & 0o777 == 0o700


def test_an_error_that_cannot_be_left_is_no_other(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nobody is there to be told; the exit status says that something was wrong."""
    monkeypatch.setattr(sys, "stderr", None)
    (tmp_path / "file").touch()

    leave_error("wrong", tmp_path / "file")
    delete_error(tmp_path / "file")

    assert (tmp_path / "file").read_bytes() == b""
