"""A new ledger in place of a damaged one, cut off between any two of its steps."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from lanternslide.ledger import UNSURE_NOTE, Ledger
from lanternslide.ledger.state_folder.session import has_log, is_foreign, log_of, word_beside
from lanternslide.repair import diagnosis_of, renew
from tests.support.ledgers import take_in

MANY = 4000
KEPT = MANY - MANY // 3 + len(range(3, MANY, 400))


class Killed(BaseException):
    """The process ends here; nothing of it runs any more."""


@pytest.fixture
def state(tmp_path: Path) -> Path:
    """Return a state folder whose ledger lacks an index, and has rows that its log alone has."""
    folder = tmp_path / "state"
    folder.mkdir()
    with Ledger(folder) as ledger:
        ledger._connection.execute(
            "INSERT INTO original (photographer, picture, path, size, mtime_ns, inode) WITH RECURSIVE n (i) AS "
            "(SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < ?) "
            "SELECT 'ida', CAST(i AS BLOB), CAST(i AS BLOB), 1, 1, 1 FROM n",
            (MANY,),
        )
        # The new ledger has its rows on other pages than this one.
        ledger._connection.execute("DELETE FROM original WHERE id % 3 = 0")
    with Ledger(folder) as ledger:
        for number in range(3, MANY, 400):
            take_in(ledger, f"later-{number}.jpg")
        ledger._connection.execute("DROP INDEX delivery_output")
        shutil.copytree(folder, tmp_path / "copy")
    shutil.rmtree(folder)
    (tmp_path / "copy").rename(folder)
    (folder / "ledger.sqlite-shm").unlink(missing_ok=True)
    return folder


def killed_at(monkeypatch: pytest.MonkeyPatch, number: int) -> None:
    """Have the process end before its *number*-th change of a name in the state folder."""
    left = iter(range(number))

    def before(call: Callable[..., Any]) -> Callable[..., Any]:
        def wrapped(*arguments: Any, **named: Any) -> Any:
            if next(left, None) is None:
                raise Killed
            return call(*arguments, **named)

        return wrapped

    monkeypatch.setattr(os, "link", before(os.link))
    monkeypatch.setattr(Path, "replace", before(Path.replace))
    monkeypatch.setattr(Path, "unlink", before(Path.unlink))
    monkeypatch.setattr(Path, "mkdir", before(Path.mkdir))


@pytest.mark.parametrize("has_words", [True, False], ids=["", "of a former version"])
def test_whenever_it_is_cut_off_the_next_one_loses_nothing(state: Path, tmp_path: Path, *, has_words: bool) -> None:
    """All rows are there afterwards, the ledger is sound, and what may be forgotten is still in doubt."""
    if not has_words:
        word_beside(state / "ledger.sqlite").unlink()
    assert log_of(state / "ledger.sqlite").stat().st_size
    number, is_over = 0, False
    while not is_over:
        tried = tmp_path / f"tried-{number}"
        shutil.copytree(state, tried)
        with pytest.MonkeyPatch.context() as patched:
            killed_at(patched, number)
            try:
                renew(tried, diagnosis_of(tried))
                is_over = True
            except Killed:
                file = tried / "ledger.sqlite"
                if file.read_bytes() != (state / "ledger.sqlite").read_bytes() and has_log(file):
                    assert is_foreign(file), "the new ledger beside the old one's log"
        found = diagnosis_of(tried)
        if not found.is_sound:
            renew(tried, found)
        found = diagnosis_of(tried)
        assert found.is_sound, number
        assert found.is_unsure, number
        with Ledger(tried) as ledger:
            assert len(ledger.originals.known_of("ida")) == KEPT, number
            assert ledger.notes.get(UNSURE_NOTE) is not None
        number += 1

    assert number > 10
