"""Files under the names of a delivery that no delivery is known to stand in."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from lanternslide.delivery.strangers import ANY_DATE, Strangers
from lanternslide.ledger import DeliveryRow, Kept, Ledger, Published
from lanternslide.storage import digest_of
from tests.support.ledgers import CLUB, RECORD, take_in


@pytest.fixture
def ledger(tmp_path: Path) -> Iterator[Ledger]:
    """Return a ledger."""
    with Ledger(tmp_path / "state") as opened:
        yield opened


@pytest.fixture(autouse=True)
def _folders(tmp_path: Path) -> None:
    (tmp_path / "state").mkdir()
    (tmp_path / "out").mkdir()


def files(folder: Path, *names: str) -> list[Path]:
    """Make files, and return their paths."""
    paths = [folder / name for name in names]
    for path in paths:
        path.write_text(path.name)
    return paths


def publish(ledger: Ledger, path: Path) -> DeliveryRow:
    """Note that a delivery stands at a path, and return its row."""
    original = take_in(ledger, f"{path.stem}.tif")
    (row,) = ledger.deliveries.want(original.id, "d1", [CLUB])
    published = Published(path=path, size=path.stat().st_size, digest=digest_of(path))
    ledger.deliveries.intend(row.id, published, made_from="d1", kept=Kept(record=RECORD))
    ledger.deliveries.confirm(row.id, "2026-11-25T12:00:00+00:00")
    (row,) = ledger.deliveries.of_original(original.id)
    return row


def test_only_what_nobody_is_known_to_have_put_there_counts(ledger: Ledger, tmp_path: Path) -> None:
    """Also behind a name that is free; a delivery asks for its first names alone where it is published."""
    out = tmp_path / "out"
    two, _three, five = files(out, "seal-2.jpg", "seal-3.jpg", "seal-5.jpg")
    publish(ledger, out / "seal-3.jpg")
    strangers = Strangers(ledger.deliveries)

    assert strangers.may_be(None, out, ("seal", 1, ".jpg")) == [two, five]
    assert list(strangers.first(out, ("seal", 1, ".jpg"))) == [two]
    assert strangers.may_be(None, out, ("seal", 2, ".jpg")) == []
    assert strangers.may_be(None, tmp_path / "gone", ("seal", 1, ".jpg")) == []


def test_its_own_name_counts_where_the_ledger_knows_another_file(ledger: Ledger, tmp_path: Path) -> None:
    """A ledger that was put back knows what stood there before."""
    out = tmp_path / "out"
    (own,) = files(out, "seal.jpg")
    row = publish(ledger, own)
    strangers = Strangers(ledger.deliveries)

    assert strangers.may_be(row, out, ("seal", 1, ".jpg")) == []
    own.write_text("a later export")
    assert strangers.may_be(row, out, ("seal", 1, ".jpg")) == [own]
    own.unlink()
    assert strangers.may_be(row, out, ("seal", 1, ".jpg")) == []


def test_any_date_may_stand_in_a_name(ledger: Ledger, tmp_path: Path) -> None:
    """Where it is not known yet when a picture was taken: every file that is called so with some day or year."""
    out = tmp_path / "out"
    right = files(out, "2026-05-17-seal.jpg", "2026-05-17-seal-2.jpg", "1999-01-01-seal.jpg")
    files(out, "2026-05-17-seals.jpg", "2026-05-seal.jpg", "seal.jpg", "2026-05-17-seal-2x.jpg")

    found = Strangers(ledger.deliveries).may_be(None, out, (f"{ANY_DATE}-seal", 1, ".jpg"), is_dated=True)

    assert sorted(found) == sorted(right)


@pytest.mark.parametrize("pattern", ["{year}-seal", "seal ({year})", "{year}"])
def test_any_year_may_stand_in_a_name(ledger: Ledger, tmp_path: Path, pattern: str) -> None:
    """Alone or beside other signs."""
    out = tmp_path / "out"
    right = files(out, f"{pattern.format(year=2026)}.jpg")
    files(out, f"{pattern.format(year='year')}.jpg")

    call = pattern.format(year=ANY_DATE[:4]), 1.0, ".jpg"
    assert Strangers(ledger.deliveries).may_be(None, out, call, is_dated=True) == right


def test_a_stem_with_such_digits_is_no_date(ledger: Ledger, tmp_path: Path) -> None:
    """Where the name has none, its digits are its own."""
    out = tmp_path / "out"
    files(out, "DSC_8764.jpg")

    assert Strangers(ledger.deliveries).may_be(None, out, ("DSC_8765", 1, ".jpg")) == []


def test_what_was_left_behind_is_known(ledger: Ledger, tmp_path: Path) -> None:
    """A delivery that stands elsewhere by now is still the owner of what it left."""
    out = tmp_path / "out"
    (first,) = files(out, "seal.jpg")
    row = publish(ledger, first)
    (elsewhere,) = files(tmp_path, "seal.jpg")
    moved = Published(path=elsewhere, size=elsewhere.stat().st_size, digest=digest_of(elsewhere))
    ledger.originals.retry_held(row.original)
    ledger.deliveries.want(row.original, "d2", [replace(CLUB, recipe='{"quality": 1}')])
    ledger.deliveries.intend(row.id, moved, made_from="d2", kept=Kept(record=RECORD))
    ledger.deliveries.confirm(row.id, "2026-11-26T12:00:00+00:00")

    assert Strangers(ledger.deliveries).may_be(None, out, ("seal", 1, ".jpg")) == []
