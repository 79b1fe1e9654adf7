"""A back catalogue that is made again: after all that is fresh, once each whatever is killed, and with an estimate."""

from __future__ import annotations

import os
import re
import sqlite3
import time
from collections import Counter
from contextlib import closing
from pathlib import Path
from typing import Self

import pytest

from lanternslide.requests.request_folder import Request, RequestFolder
from tests.support.catalogue import CHANGED, make_catalogue, numbered, remade
from tests.support.pictures import save_jpeg, size_of
from tests.support.service import Home, Ran, Watching, run, watching
from tests.support.terminal import Terminal

MANY = 200
"""Enough for something to happen in the middle."""

SOME = 60
"""Enough to be counted, where nothing happens meanwhile."""


def change(home: Home) -> None:
    """Change the config so that everything is to be made again."""
    home.config.write_text(home.config.read_text().replace(*CHANGED))


def delivered_in(*logs: list[dict[str, object]]) -> Counter[object]:
    """Return how often each original was delivered, by what logs say."""
    return Counter(event["original"] for log in logs for event in log if event["event"] == "delivered")


def older_left(home: Home) -> int:
    """Return how many originals the ledger says are to be made again."""
    with closing(sqlite3.connect(home.root / "state" / "ledger.sqlite")) as connection:
        (number,) = connection.execute("SELECT count(*) FROM original WHERE older = 1").fetchone()
    return int(number)


def begun(service: Watching, home: Home) -> None:
    """Wait until some are made again."""
    service.until(lambda: remade(home) > 10, "the first ones")


def test_what_is_dropped_meanwhile_goes_first(tmp_path: Path) -> None:
    """A fresh file, and a new export of a picture that waits to be made again, are delivered before the rest."""
    home = make_catalogue(tmp_path, MANY)
    stamp = home.root / "state" / "stamps" / "club"
    last = home.drop() / "000" / f"{MANY - 1:06d}.jpg"
    with watching(home) as service:
        service.until_started()
        change(home)
        asked = run(home, "sweep", "--again")
        assert asked.status == 0
        assert f"{MANY} deliveries of {MANY} pictures" in asked.output
        begun(service, home)
        save_jpeg(home.drop() / "fresh.jpg", 90, 60, seed=9)
        save_jpeg(last, 60, 90, seed=9)
        service.until(home.out("club", "fresh.jpg").exists, "the fresh one")
        service.until(lambda: size_of(home.out("club", "000", last.name)) == (60, 90), "the new export")
        assert older_left(home) > MANY / 3
        assert stamp.exists()
        service.until_told("batch done")
        assert service.stop() == 0

    assert older_left(home) == 0
    assert remade(home) == MANY + 1
    counts = delivered_in(service.events())
    assert len(counts) == MANY + 1
    assert set(counts.values()) == {1}


def test_a_sweep_that_is_killed_goes_on_with_what_is_left(tmp_path: Path) -> None:
    """Each of hundreds is made again once, though the sweep was killed twice in the middle."""
    home = make_catalogue(tmp_path, MANY)
    change(home)
    logs = []
    for number in range(2):
        with _Sweeping(home, f"sweep-{number}.log") as sweeping:
            before = remade(home)
            sweeping.until(lambda before=before: remade(home) > before + 20, "some of them")  # type: ignore[misc]
            sweeping.kill()
        logs.append(sweeping.events())
    left = MANY - remade(home)
    assert MANY / 4 < left < MANY

    ran = run(home, "sweep", "--again")

    assert ran.status == 0, ran.errors
    assert len(delivered_in(ran.events)) == left or _one_was_cut_off(ran, left)
    counts = delivered_in(*logs, ran.events)
    assert set(counts.values()) == {1}
    assert remade(home) == MANY
    assert older_left(home) == 0
    assert len(home.delivered()) == MANY
    again = run(home, "sweep", "--again")
    assert not delivered_in(again.events)


def _one_was_cut_off(ran: Ran, left: int) -> bool:
    """Return whether those that are missing were renamed before the kill, and found so at the start."""
    return left - 2 <= len(delivered_in(ran.events)) <= left


class _Sweeping(Watching):
    """A sweep that runs meanwhile."""

    def __init__(self, home: Home, log: str) -> None:
        super().__init__(home, home.root / log, command=("sweep", "--again"))

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        if self.process.poll() is None:
            self.kill()


@pytest.mark.parametrize("moments", [(0.0, 0.05, 0.1), (0.3, 0.8)], ids=["marking", "making"])
def test_a_service_that_was_asked_and_is_killed_goes_on(tmp_path: Path, moments: tuple[float, ...]) -> None:
    """Killed while it finds out what is touched, or while it makes that: each is made again once, unasked."""
    home = make_catalogue(tmp_path, MANY)
    change(home)
    requests = RequestFolder(home.root / "state")
    name = requests.leave(Request(command="sweep", again=True))
    events = []
    for number, moment in enumerate(moments):
        with watching(home, log=f"{number}.log") as service:
            service.until(lambda service=service: service.events(), "the start")  # type: ignore[misc]
            time.sleep(moment)
            service.kill()
        events.append(service.events())
    assert remade(home) < MANY

    with watching(home) as service:
        service.until(lambda: remade(home) == MANY, "all of them")
        service.until(lambda: older_left(home) == 0, "the end")
        assert service.stop() == 0

    assert set(delivered_in(*events, service.events()).values()) == {1}
    assert not [path for path in requests.folder.iterdir() if path.name.startswith(name) and "answer" not in path.name]


def test_how_much_and_how_long_is_said_beforehand_and_meanwhile(tmp_path: Path) -> None:
    """The dry run, the answer of the service and `status` go by the same records and workers."""
    home = make_catalogue(tmp_path, MANY, seconds=60.0)
    dry = run(home, "sweep", "--again", "--dry-run")
    assert "Nothing needs to be remade." in dry.output
    change(home)

    dry = run(home, "sweep", "--again", "--dry-run")
    assert f"Would make {MANY} deliveries of {MANY} pictures." in dry.output
    assert "This would take about 1 hour 40 minutes." in dry.output
    assert older_left(home) == 0
    assert "Older pictures" not in run(home, "status").output

    with watching(home) as service:
        service.until(service.events, "the start")
        asked = run(home, "sweep", "--again")
        assert f"Making {MANY} deliveries of {MANY} pictures." in asked.output
        assert "This takes about 1 hour 40 minutes. What you drop meanwhile goes first." in asked.output
        begun(service, home)
        service.kill()
    left = older_left(home)
    status = " ".join(run(home, "status").output.split())
    found = re.search(r"still to remake: (\d+)\. This takes about (.*?); what you drop", status)
    assert found is not None, status
    assert int(found[1]) == left
    minutes = round(left * 60 / 2 / 60 / 10) * 10
    hours, minutes = divmod(minutes, 60)
    assert found[2] == (f"{hours} hour" + (f" {minutes} minutes" if minutes else "") if hours else f"{minutes} minutes")


def test_limits_hold_over_many(tmp_path: Path) -> None:
    """`--since` and `--only` limit what is said beforehand, marked and made, with a service and without."""
    home = make_catalogue(tmp_path, SOME)
    _age_half(home)
    change(home)
    home.config.write_text(home.config.read_text().replace('otherwise = ["club"]', 'otherwise = ["club", "journal"]'))
    limits = ("--again", "--only", "journal", "--since", "2020-01-01")

    dry = run(home, "sweep", *limits, "--dry-run")
    assert f"Would make {SOME // 2} deliveries of {SOME // 2} pictures." in dry.output
    ran = run(home, "sweep", *limits)
    assert ran.status == 0, ran.errors
    assert Counter(e["destination"] for e in ran.events if e["event"] == "delivered") == {"journal": SOME // 2}
    assert remade(home) == 0
    assert older_left(home) == 0

    with watching(home) as service:
        service.until(service.events, "the start")
        asked = run(home, "sweep", "--again", "--only", "club", "--since", "2020-01-01")
        assert f"Making {SOME // 2} deliveries of {SOME // 2} pictures." in asked.output
        service.until(lambda: remade(home) == SOME // 2, "the newer half")
        service.until(lambda: older_left(home) == 0, "the end")
        assert service.stop() == 0
    assert Counter(e["destination"] for e in service.events() if e["event"] == "delivered") == {"club": SOME // 2}


def test_a_limited_sweep_leaves_older_work_of_an_unlimited_one(tmp_path: Path) -> None:
    """What was marked and not made before stays marked where it is outside, and is made by the next sweep."""
    home = make_catalogue(tmp_path, MANY)
    _age_half(home)
    change(home)
    with _Sweeping(home, "first.log") as sweeping:
        sweeping.until(lambda: older_left(home) == MANY or remade(home) > 0, "the marks")
        sweeping.kill()
    assert run(home, "sweep", "--since", "2020-01-01").status == 0
    with closing(sqlite3.connect(home.root / "state" / "ledger.sqlite")) as connection:
        (newer,) = connection.execute(
            "SELECT count(*) FROM original WHERE older = 1 AND mtime_ns > 1500000000000000000"
        ).fetchone()
    assert newer == 0
    assert older_left(home) > MANY / 4
    assert run(home, "sweep").status == 0
    assert (older_left(home), remade(home)) == (0, MANY)


def _age_half(home: Home) -> None:
    """Let every second original be of the year 2017."""
    long_ago = 1_500_000_000_000_000_000
    with closing(sqlite3.connect(home.root / "state" / "ledger.sqlite")) as connection:
        rows = connection.execute("SELECT id, path FROM original ORDER BY id").fetchall()
        for number, path in rows[::2]:
            os.utime(home.drop() / os.fsdecode(path), ns=(long_ago, long_ago))
            connection.execute("UPDATE original SET mtime_ns = ? WHERE id = ?", (long_ago, number))
        connection.commit()


def test_filed_originals_are_older_work_too(tmp_path: Path) -> None:
    """They are made again from where they are filed away, each once."""
    home = make_catalogue(tmp_path, 40)
    text = home.config.read_text().replace('drop = "drop/ida"', 'drop = "drop/ida"\noriginals = "filed/ida"')
    (home.root / "filed").mkdir()
    home.config.write_text(text)
    assert run(home, "sweep").status == 0
    assert not list(home.drop().rglob("*.jpg"))
    change(home)

    ran = run(home, "sweep", "--again")

    assert ran.status == 0, ran.errors
    assert len(delivered_in(ran.events)) == 40
    assert (older_left(home), remade(home)) == (0, 40)


def test_a_terminal_shows_how_long_it_will_take(tmp_path: Path) -> None:
    """Done of all, the time that has passed, and after a while about how long is left."""
    home = make_catalogue(tmp_path, 900)
    change(home)
    terminal = Terminal(home.root, "--config", str(home.config), "sweep", "--again")
    try:
        terminal.until("/900")
        assert "left" not in terminal.output
        terminal.until("about 1 minute left")
    finally:
        terminal.end()


def test_a_catalogue_that_is_touched_and_the_same_is_no_older_work(tmp_path: Path) -> None:
    """New times without new bytes are looked at as anything that is dropped, and nothing is made."""
    home = make_catalogue(tmp_path, 40)
    content = (home.drop() / "first.jpg").read_bytes()
    for index in range(1, 40):
        (home.drop() / "000" / f"{index:06d}.jpg").write_bytes(numbered(content, index))
    ran = run(home, "sweep")
    assert ran.status == 0
    assert not delivered_in(ran.events)
    assert older_left(home) == 0
