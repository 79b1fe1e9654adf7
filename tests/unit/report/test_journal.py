"""Lines for systemd's journal."""

from __future__ import annotations

import io
import json
import os
from pathlib import Path

import pytest
import structlog

from lanternslide.records.events import Began, RequestFailed, Waits
from lanternslide.report import LogReport, complaint, configure_log
from lanternslide.words import Passing, say


@pytest.mark.parametrize("kind", ["json", "console"])
def test_each_event_is_a_line_with_its_priority(tmp_path: Path, kind: str) -> None:
    """Where the log leads to the journal, every line begins with its level as sd-daemon(3) numbers them."""
    with (tmp_path / "journal").open("w+") as stream:
        status = os.fstat(stream.fileno())
        configure_log(kind, stream, {"JOURNAL_STREAM": f"{status.st_dev}:{status.st_ino}"})
        report = LogReport()
        for event in (
            Began(folders=("/srv/drop/ida", "/srv/drop/juno")),
            Waits(what="destination club", said=say(Passing.NO_WORKERS, detail="none")),
            RequestFailed(detail="no\nmore", trace="line one\nline two"),
        ):
            report(event)
        stream.seek(0)
        lines = stream.read().splitlines()
    structlog.reset_defaults()

    assert [line[:3] for line in lines] == ["<6>", "<4>", "<3>"]
    if kind == "json":
        assert json.loads(lines[2][3:])["exception"] == "line one\nline two"


@pytest.mark.parametrize("environment", [{}, {"JOURNAL_STREAM": "1:1"}])
def test_elsewhere_lines_stay_as_they_are(tmp_path: Path, environment: dict[str, str]) -> None:
    """Without the journal, or with a log that was led elsewhere, no line has a prefix."""
    with (tmp_path / "log").open("w+") as stream:
        configure_log("json", stream, environment)
        LogReport()(Began(folders=()))
        stream.seek(0)
        text = stream.read()
    structlog.reset_defaults()

    assert text.startswith("{")
    assert complaint("one\ntwo", io.StringIO(), environment) == "one\ntwo"


def test_every_fault_of_a_config_is_an_error_of_its_own(tmp_path: Path) -> None:
    """A message of some lines becomes as many events."""
    with (tmp_path / "journal").open("w") as stream:
        status = os.fstat(stream.fileno())
        environment = {"JOURNAL_STREAM": f"{status.st_dev}:{status.st_ino}"}

        assert complaint("one\ntwo", stream, environment) == "<3>one\n<3>two"
