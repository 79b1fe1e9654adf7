"""The figures of a batch."""

from __future__ import annotations

from lanternslide.records import OriginalFile
from lanternslide.records.events import Delivered, Event, Finished, Found, HeldBack, Idle, Waits
from lanternslide.report import Batch, Range
from lanternslide.words import Held, Passing, say
from tests.support.happenings import file_of, record


def test_a_batch_adds_up() -> None:
    """Pictures, deliveries, bytes, doubts and what is held are counted by destination."""
    batch = Batch()
    events: list[Event] = [
        Delivered(record=record("club", 100)),
        Delivered(record=record("journal", 200, "Small.")),
        Delivered(record=record("journal", 300)),
        Finished(file=file_of(), changed=True),
        HeldBack(file=file_of("y.jpg"), said=say(Held.EMPTY)),
        Finished(file=file_of("y.jpg"), changed=False),
        Finished(file=file_of("z.jpg"), changed=False),
        Waits(what="ida: w.jpg", said=say(Passing.READ_ONLY, folder="out")),
    ]
    for event in events:
        batch(event)

    assert (batch.pictures, batch.unchanged, batch.deliveries) == (1, 1, 3)
    assert (batch.bytes_in, batch.bytes_out) == (500, 600)
    assert batch.destinations["journal"].doubts == 1
    assert batch.destinations["journal"].quality == Range(90, 90)
    assert batch.doubts == [("ida: x.jpg", "journal", "Small.")]
    assert list(batch.held) == ["ida: y.jpg"]
    assert list(batch.waits) == ["ida: w.jpg"]


def test_a_batch_of_nothing_is_nothing() -> None:
    """What was merely looked at, waits, or is none of its business makes no batch; a delivery or a held one does."""
    batch = Batch()
    for event in (Found(file=file_of()), Finished(file=file_of(), changed=False), Idle()):
        batch(event)
    batch(Waits(what="ida: w.jpg", said=say(Passing.READ_ONLY, folder="out")))
    assert not batch
    assert (batch.pictures, batch.deliveries, batch.doubtful, batch.bytes_in, batch.bytes_out) == (0, 0, 0, 0, 0)

    batch(HeldBack(file=file_of(), said=say(Held.EMPTY)))
    assert batch


def test_an_original_counts_once() -> None:
    """However many destinations it goes to, and however often it was delivered; two of one name are two people's."""
    batch = Batch()
    for made in (record("club", 1), record("journal", 1), record("club", 1)):
        batch(Delivered(record=made))
    batch(Delivered(record=record("club", 1).model_copy(update={"photographer": "juno"})))

    assert (batch.pictures, batch.deliveries, batch.bytes_in) == (2, 4, 1000)


def test_what_is_not_known_adds_nothing() -> None:
    """Neither to sums nor to medians."""
    batch = Batch()
    made = record("club", 1).model_copy(
        update={"bytes": None, "quality": None, "ssim": None, "original_file": OriginalFile()}
    )
    batch(Delivered(record=made))
    assert (batch.bytes_in, batch.bytes_out) == (0, 0)
    assert batch.destinations["club"].quality is batch.destinations["club"].ssim is None

    batch(Delivered(record=made.model_copy(update={"original_file": None, "ssim": 0.9})))
    assert batch.destinations["club"].ssim == Range(0.9, 0.9)


def test_the_middle_and_the_worst() -> None:
    """By hand: of 80, 90 and 100 the middle is 90; of an even number it lies between; the worst is the lowest."""
    assert Range.of([100, 80, 90]) == Range(90, 80)
    assert Range.of([0.9, 0.8]) == Range((0.9 + 0.8) / 2, 0.8)
    assert Range.of([]) is None


def test_doubts_are_of_deliveries() -> None:
    """Two doubts of one delivery make one doubtful delivery; each is kept with whose it is."""
    batch = Batch()
    for event in (record("club", 1, "Small.", "Dark."), record("journal", 1, "Small."), record("notes", 1)):
        batch(Delivered(record=event))

    assert batch.doubtful == 2
    assert batch.doubts == [
        ("ida: x.jpg", "club", "Small."), ("ida: x.jpg", "club", "Dark."), ("ida: x.jpg", "journal", "Small."),
    ]  # fmt: skip


def test_the_last_reason_counts() -> None:
    """For what is held, and for what is in the way."""
    batch = Batch()
    first, second = (say(Passing.READ_ONLY, folder=folder) for folder in ("out", "proofs"))
    for said in (first, second):
        batch(HeldBack(file=file_of(), said=said))
        batch(Waits(what="club", said=said))

    assert (batch.held, batch.waits) == ({"ida: x.jpg": second.text}, {"club": second.text})
