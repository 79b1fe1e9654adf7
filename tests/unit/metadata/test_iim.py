"""IPTC IIM 4.2, data set by data set."""

from __future__ import annotations

import random

import pytest

from lanternslide.metadata.iim import Iim, longest

BYLINE, TITLE, COPYRIGHT = (f"Iptc.Application2.{name}" for name in ("Byline", "ObjectName", "Copyright"))


def data_set(record: int, number: int, data: bytes) -> bytes:
    """Return a data set (1.5)."""
    return bytes((0x1C, record, number)) + len(data).to_bytes(2) + data


SETS = data_set(2, 0, b"\0\4") + data_set(2, 80, b"Ida") + data_set(2, 80, b"Juno") + data_set(2, 5, b"Seal")


def everything(_: str) -> bool:
    """Keep all."""
    return True


def test_fields_are_found_by_their_keys() -> None:
    """Several of one kind are a list; numbers are numbers; what has no name is called by its number."""
    found = Iim.of([SETS + data_set(2, 240, b"x") + data_set(3, 1, b"y")])

    assert found.fields() == {
        "Iptc.Application2.RecordVersion": "4", BYLINE: ["Ida", "Juno"], TITLE: "Seal",
        "Iptc.Application2.0x00f0": "x", "Iptc.0x0003.0x0001": "y",
    }  # fmt: skip
    assert found.fault is None


def test_what_is_written_is_what_was_read_but_for_the_changes() -> None:
    """Dates and times to the octet; the records have their version, and the text says that it is UTF-8."""
    times = data_set(2, 55, b"20260514") + data_set(2, 60, b"135926") + data_set(2, 62, b"00000000")
    found = Iim.of([SETS + times + data_set(2, 63, b"135926.054-0600")])

    written = Iim.of([found.written(everything, {TITLE: "Grey seal", BYLINE: None, COPYRIGHT: "© Ída"})])

    assert dict(written.sets) == {
        (1, 0): b"\0\4", (1, 90): b"\x1b%G", (2, 0): b"\0\4", (2, 5): b"Grey seal", (2, 55): b"20260514",
        (2, 60): b"135926", (2, 62): b"00000000", (2, 63): b"135926.054-0600", (2, 116): "© Ída".encode(),
    }  # fmt: skip
    assert [place for place, _ in written.sets] == sorted(place for place, _ in written.sets)


def test_nothing_is_written_where_nothing_travels() -> None:
    """No empty record."""
    assert Iim.of([SETS]).written(lambda _: False, {}) == b""
    assert Iim.of([SETS]).written(lambda _: False, {TITLE: None}) == b""


def test_of_what_may_stand_once_the_first_is_written() -> None:
    """Two blocks may both have it."""
    found = Iim.of([data_set(2, 5, b"Seal"), data_set(2, 5, b"Rock") + data_set(2, 25, b"sea")])

    assert found.written(everything, {}).count(b"\x02\x05") == 1
    assert b"Seal" in found.written(everything, {})


@pytest.mark.parametrize(
    ("more", "fault"),
    [
        (b"", None),
        (bytes(9), None),
        (b"\x1c\x02\x78\x00\x09abc", "it is cut short"),
        (b"xyz", "something else stands between its fields"),
        (b"xyz" + data_set(2, 120, b"a"), "something else stands between its fields"),
        (data_set(2, 120, b"a\x1c\x02\x50\x00\x01b"), "its fields run into one another"),
        (data_set(2, 0, b"\0\0\0\4"), "its fields run into one another"),
    ],
)
def test_damage_is_named_and_the_rest_is_read(more: bytes, fault: str | None) -> None:
    """What fills a block up is no damage."""
    found = Iim.of([SETS + more])

    assert found.fault == fault
    assert found.fields()[TITLE] == "Seal"


def test_long_data_sets_say_how_long_their_length_is() -> None:
    """Extended data sets (1.5, e)."""
    text = b"a" * 40_000
    found = Iim.of([b"\x1c\x02\x78\x80\x04" + len(text).to_bytes(4) + text])

    assert found.fields() == {"Iptc.Application2.Caption": text.decode()}
    assert Iim.of([found.written(everything, {})]).fields()["Iptc.Application2.Caption"] == text.decode()


def test_any_bytes_are_read() -> None:
    """Without an error; what is written of them is read again as the same."""
    chance = random.Random(7)
    for _ in range(2000):
        block = bytearray(SETS * 3)
        for _ in range(chance.randrange(1, 9)):
            block[chance.randrange(len(block))] = chance.randrange(256)
        found = Iim.of([bytes(block)])
        again = Iim.of([found.written(everything, {})])
        assert again.fault is None
        for key, value in found.fields().items():
            if key.startswith("Iptc.Application2.") and not key.endswith("RecordVersion"):
                first = value if isinstance(value, list) else [value]
                said = again.fields().get(key, [])
                assert (said if isinstance(said, list) else [said]) in (first, first[:1], [])


def test_the_longest_texts_are_those_of_the_standard() -> None:
    """IIM 4.2: 2:80 has 32 octets at most, 2:116 has 128, 2:120 has 2,000; a date is of no matter."""
    assert [longest(key) for key in (BYLINE, COPYRIGHT, "Iptc.Application2.Caption")] == [32, 128, 2000]
    assert longest("Iptc.Application2.DateCreated") is None
