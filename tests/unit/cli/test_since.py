"""The option --since."""

from __future__ import annotations

import time
from collections.abc import Iterator
from datetime import datetime, timedelta

import click
import pytest
from click.testing import CliRunner, Result

from lanternslide.cli.since import since_option


@click.command()
@since_option("Only what is newer.")
def ask(since: datetime | None) -> None:
    """Say what was understood."""
    click.echo("none" if since is None else f"{since.isoformat()} {since.timestamp() * 1e9:.0f}")


def asked(*words: str) -> Result:
    """Run the command."""
    return CliRunner().invoke(ask, words)


@pytest.fixture(params=["UTC-14", "UTC", "UTC+12"])
def zone(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> Iterator[timedelta]:
    """Have local time be that of a zone; return how far it is ahead of UTC."""
    monkeypatch.setenv("TZ", request.param)
    time.tzset()
    yield -timedelta(seconds=time.timezone)
    monkeypatch.undo()
    time.tzset()


@pytest.mark.parametrize(
    ("date", "begins"),
    [
        ("2026-11-25", "2026-11-25T00:00:00"),
        ("2026-11-25T18:30", "2026-11-25T18:30:00"),
        ("2026-11-25T18:30:15", "2026-11-25T18:30:15"),
    ],
)
def test_a_day_or_a_time_is_local(zone: timedelta, date: str, begins: str) -> None:
    """A day begins at midnight where its owner is."""
    expected = datetime.fromisoformat(f"{begins}+00:00") - zone

    assert asked("--since", date).output == f"{begins} {expected.timestamp() * 1e9:.0f}\n"


@pytest.mark.parametrize(("date", "begins"), [("0001-01-01", "1900-01-01"), ("9999-12-31T23:59", "2200-01-01")])
@pytest.mark.usefixtures("zone")
def test_every_day_can_be_told(date: str, begins: str) -> None:
    """Days that no file is of become the nearest that can be told as nanoseconds in every time zone."""
    answer = asked("--since", date)

    assert answer.exit_code == 0
    assert answer.output.startswith(f"{begins}T00:00:00 ")
    assert abs(int(answer.output.split()[1])) < 2**63


def test_without_it_all_counts() -> None:
    """No day is the default."""
    assert asked().output == "none\n"


@pytest.mark.parametrize("date", ["", "soon", "2026-13-01", "25.11.2026", "2026-11-25T18:30+01:00"])
def test_what_is_no_day_is_wrong_usage(date: str) -> None:
    """With what would be one."""
    answer = asked("--since", date)

    assert answer.exit_code == 2
    assert "%Y-%m-%d" in answer.output


def test_the_help_says_what_a_date_is() -> None:
    """Below what the command itself says of it."""
    text = " ".join(asked("--help").output.split())

    assert "Only what is newer. DATE is 2026-11-25, say" in text
