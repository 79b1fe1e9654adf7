"""What nobody has foreseen, in the commands that work."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pytest
import structlog

from lanternslide.cli.main import cli
from lanternslide.daemon.service import Service
from tests.support.service import PLAIN


@pytest.mark.parametrize("command", ["watch", "sweep"])
def test_a_crash_is_one_event(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, command: str) -> None:
    """Each command logs it in the same way, also where there is no error stream, and ends with 1."""

    def crash(_service: Service, **_named: object) -> None:
        _ = 1 / 0

    config = tmp_path / "lanternslide.toml"
    config.write_text(PLAIN, "utf-8")
    monkeypatch.setattr(Service, "run", crash)
    monkeypatch.setattr(sys, "stderr", None)
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "own"))
    with pytest.raises(SystemExit) as caught:
        cli.main(["--config", str(config), command], standalone_mode=False)
    structlog.reset_defaults()

    assert caught.value.code == 1
    (line,) = (tmp_path / "state" / "log.jsonl").read_text("utf-8").splitlines()
    event = json.loads(line)
    assert (event["event"], event["level"]) == ("crashed", "critical")
    assert "ZeroDivisionError" in event["exception"]
