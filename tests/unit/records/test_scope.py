"""What a sweep is limited to."""

from __future__ import annotations

import pytest

from lanternslide.records import Fingerprint, Scope


@pytest.mark.parametrize(("since", "takes"), [(None, True), (-1, True), (0, True), (20, True), (21, False)])
def test_the_time_itself_is_in_it(since: int | None, *, takes: bool) -> None:
    """Originals changed at that time or later; without one, all, also those from before 1970."""
    assert Scope(since_ns=since).takes_file(Fingerprint(size=1, mtime_ns=20, inode=1)) is takes
    assert Scope().takes_file(Fingerprint(size=1, mtime_ns=-20, inode=1))


@pytest.mark.parametrize(("only", "takes"), [(None, True), ("club", True), ("clubs", False)])
def test_one_destination_alone(only: str | None, *, takes: bool) -> None:
    """Nothing is left out where none is named."""
    assert Scope(only=only).takes_destination("club") is takes


@pytest.mark.parametrize(("scope", "limits"), [(Scope(), False), (Scope(only="club"), True), (Scope(since_ns=0), True)])
def test_whether_it_leaves_anything_out(scope: Scope, *, limits: bool) -> None:
    """A time of 1970 is a limit as any other is."""
    assert bool(scope) is limits
