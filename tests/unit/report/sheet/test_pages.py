"""The pages of a proof sheet, as texts."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date
from html.parser import HTMLParser

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lanternslide.records import About, Record, Sharpening, Shown
from lanternslide.records.record import Clipped, ForecastFigures, Halo, Spread
from lanternslide.records.ring import RingCell, Ringed
from lanternslide.report.sheet import DayContent, DayLine, Entry, HeldItem, IndexContent, day_pages, index_page
from lanternslide.report.sheet.pages import (
    ENTRIES,
    HEAD_LETTERS,
    further_pages,
    is_page_name,
    ring_page,
    signature_in,
)

DAY = date(2026, 11, 26)
SHOWN = Shown(
    pictures="2026-11-26/0123456789abcdef", thumbnail=(320, 213), closeup=(10, 20, 390, 260),
    tones=(0,) * 30 + (5000, 5000) + (0,) * 32, tried=((90, 1000),), has_map=False,
)  # fmt: skip


def entry(name: str = "kelp.jpg", *, doubts: tuple[str, ...] = (), about: About | None = None) -> Entry:
    """Return a delivery."""
    record = Record(
        original=name, photographer="ida", destination="club", density=1, state="delivered", output=f"/out/{name}",
        digest="ab", width=1050, height=700, bytes=231_000, quality=90, quality_by="config", ssim=0.988,
        delta_e=Spread(mean=1.4, p99=6), acutance=1.36, halo=Halo(light=1, dark=1.9), out_of_gamut=0.2,
        clipped=Clipped(shadows=0, highlights=0.021), doubts=doubts, version="0",
    )  # fmt: skip
    return Entry(record=record, shown=SHOWN, about=about or About(), time="12:23")


def content(*entries: Entry, held: tuple[HeldItem, ...] = ()) -> DayContent:
    """Return a day."""
    return DayContent(photographer="ida", day=DAY, entries=entries, held=held)


class Tags(HTMLParser):
    """Collects tags and text."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note a tag."""
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        """Note text."""
        self.text += data


def test_held_and_doubts_stand_before_every_picture() -> None:
    """What did not go out, and what is doubtful, comes first; so does the one thing to do."""
    held = HeldItem(name="torn.jpg", reason="It was cut off. Export it again.", since="26 November 09:00")

    pages = dict(day_pages(content(entry(doubts=("It has no profile.",)), held=(held,))))

    page = pages["index.html"]
    assert list(pages) == ["index.html"]
    first_picture = page.index("<img")
    for said in ("To do next:", "torn.jpg: It was cut off.", "It was cut off. Export it again.", "It has no profile."):
        assert page.index(said) < first_picture


@pytest.mark.parametrize(
    "hostile", ["<script>alert(1)</script>", '"><img src=x onerror=alert(1)>', "{{ 7*7 }}", "&lt;"]
)
def test_any_text_is_data(hostile: str) -> None:
    """Names, titles, reasons and doubts come out as text, whatever they hold."""
    held = HeldItem(name=hostile, reason=hostile, since=None)
    about = About(alt=hostile)
    page = dict(day_pages(content(entry(hostile, doubts=(hostile,), about=about), held=(held,))))["index.html"]

    tags = Tags(page)

    assert {tag for tag, _ in tags.tags} & {"script", "iframe", "object"} == set()
    assert [attributes for _, attributes in tags.tags if any(name.startswith("on") for name in attributes)] == []
    assert tags.text.count(hostile) >= 4
    assert any(attributes.get("alt") == hostile for tag, attributes in tags.tags if tag == "img")
    index = index_page(IndexContent(photographer=hostile, days=(), held=(held,), waiting=0, obstacles=(hostile,)))
    assert Tags(index).text.count(hostile) >= 4


@given(st.text(max_size=40))
def test_a_page_is_whole_for_any_name(name: str) -> None:
    """No name breaks the page's structure."""
    plain = Tags(dict(day_pages(content(entry("x"))))["index.html"]).tags
    odd = Tags(dict(day_pages(content(entry(name))))["index.html"]).tags

    assert [tag for tag, _ in odd] == [tag for tag, _ in plain]


def test_nothing_is_loaded_from_elsewhere() -> None:
    """Every address in the pages is relative, and the policy forbids all others and every script."""
    texts = [*dict(day_pages(content(*[entry(f"{n}.jpg") for n in range(ENTRIES + 3)]))).values()]
    texts.append(
        index_page(
            IndexContent(
                photographer="ida", days=[DayLine(day=DAY, deliveries=3, withdrawn=1, held=1)], held=(), waiting=2,
                obstacles=(),
            )
        )
    )  # fmt: skip
    for text in texts:
        tags = Tags(text).tags
        addresses = [value for _, found in tags for name, value in found.items() if name in ("src", "href")]
        assert addresses
        assert [value for value in addresses if value is None or ":" in value or value.startswith("/")] == []
        policy = next(found["content"] for tag, found in tags if found.get("http-equiv") == "Content-Security-Policy")
        assert policy is not None
        assert policy.startswith("default-src 'none'; img-src 'self' file:; style-src 'sha256-")


def test_a_long_day_is_split() -> None:
    """All deliveries stand on pages in their order, the newest on the front page too; doubts link to their pages."""
    entries = [entry(f"{n}.jpg") for n in range(2 * ENTRIES + 5)]
    entries[3] = entry("3.jpg", doubts=("It has no profile.",))

    pages = dict(day_pages(content(*entries)))

    assert list(pages) == ["page-001.html", "page-002.html", "page-003.html", "index.html"]
    found = [f">{n}.jpg <" in pages[f"page-00{n // ENTRIES + 1}.html"] for n in range(len(entries))]
    assert all(found)
    assert f">{len(entries) - 1}.jpg <" in pages["index.html"]
    assert 'href="page-001.html#d4"' in pages["index.html"]
    assert [name for name, _ in day_pages(content(*entries), only=[2])] == ["page-002.html", "index.html"]


def test_what_was_taken_back_says_so() -> None:
    """It is not counted as gone out."""
    back = entry("back.jpg")
    back = replace(back, record=back.record.model_copy(update={"state": "withdrawn"}))

    page = dict(day_pages(content(entry(), back)))["index.html"]

    assert "1 delivery of 1 picture published." in page
    assert "Withdrawn since" in page


def test_doubts_that_differ_in_figures_are_told_together() -> None:
    """A day on which every picture has a little black is not one long list."""
    entries = [entry(f"{n}.jpg", doubts=(f"{n / 10 + 1} % of the picture is pure black.",)) for n in range(30)]

    page = dict(day_pages(content(*entries)))["index.html"]

    top = page[: page.index("<article")]
    assert top.count("of the picture is pure black.") == 1
    assert "For example: 1.0 % of the picture" in top
    assert "and 22 more" in top


# What a page is known by


@pytest.mark.parametrize(
    ("name", "ours"),
    [
        ("index.html", True),
        ("page-001.html", True),
        ("page-1234.html", True),
        (".index.html.part", True),
        (".page-012.html.part", True),
        ("page-01.html", False),
        ("page-.html", False),
        ("Index.html", False),
        ("index.html.bak", False),
        ("index.html.part", False),
        ("page-001.html\n", False),
        ("notes.html", False),
    ],
)
def test_names_of_pages(name: str, *, ours: bool) -> None:
    """What a page of a day is called, or was while it was written; nothing else in the folder is the service's."""
    assert is_page_name(name) is ours


def test_every_page_that_is_written_has_such_a_name() -> None:
    """However many there are."""
    assert all(is_page_name(name) for name, _ in day_pages(content(*[entry() for _ in range(ENTRIES + 1)]), only=[1]))


def test_the_front_page_says_which_state_of_things_it_shows() -> None:
    """Within its first letters, so that nobody reads it whole; further pages say whose they are and no state."""
    pages = dict(day_pages(content(*[entry() for _ in range(ENTRIES + 1)]), signature="a1-b2"))

    assert signature_in(pages["index.html"][:HEAD_LETTERS]) == "a1-b2"
    assert signature_in(pages["page-001.html"][:HEAD_LETTERS]) == ""
    assert signature_in(dict(day_pages(content()))["index.html"][:HEAD_LETTERS]) == ""


@pytest.mark.parametrize(
    "head",
    ["", "<!doctype html>", '<meta name="generator" content="something else a1">', "lanternslide proof sheet a1"],
)
def test_somebody_elses_page_says_nothing(head: str) -> None:
    """It has not our mark."""
    assert signature_in(head) is None


# Many deliveries


@pytest.mark.parametrize(
    ("number", "sizes"),
    [(0, []), (ENTRIES, []), (ENTRIES + 1, [ENTRIES, 1]), (2 * ENTRIES, [ENTRIES, ENTRIES])],
)
def test_there_are_further_pages_where_one_does_not_hold_all(number: int, sizes: list[int]) -> None:
    """In their order, each full but for the last."""
    pages = further_pages(range(number))

    assert [len(page) for page in pages] == sizes
    assert [item for page in pages for item in page] == (list(range(number)) if sizes else [])


def test_pages_lead_to_each_other() -> None:
    """The first has none before it, the last none after it."""
    entries = [entry(f"{n}.jpg") for n in range(3 * ENTRIES)]

    pages = {name: Tags(text).tags for name, text in day_pages(content(*entries))}

    links = {name: [found.get("href") for tag, found in tags if tag == "a"] for name, tags in pages.items()}
    assert links["page-001.html"] == ["../index.html", "index.html", "page-002.html"]
    assert links["page-002.html"] == ["../index.html", "index.html", "page-001.html", "page-003.html"]
    assert links["page-003.html"] == ["../index.html", "index.html", "page-002.html"]
    assert links["index.html"][-3:] == ["page-001.html", "page-002.html", "page-003.html"]


def test_the_newest_come_first_on_the_front_page() -> None:
    """Where they do not all fit, the oldest stand on the other pages alone."""
    entries = [entry(f"{n}.jpg") for n in range(ENTRIES + 1)]

    front = dict(day_pages(content(*entries)))["index.html"]

    shown = [found["id"] for tag, found in Tags(front).tags if tag == "article"]
    assert shown == [f"d{number}" for number in range(ENTRIES + 1, 1, -1)]


# Figures


def of(record: Record) -> str:
    """Return the text of a day with one delivery, without the breaks of its lines."""
    page = dict(day_pages(content(replace(entry(), record=record))))["index.html"]
    return " ".join(Tags(page).text.split())


@pytest.mark.parametrize(
    ("shadows", "highlights", "says"),
    [
        (0.0, 0.0, "Nothing is pure black or pure white."),
        (0.0009, 0.0, "Hardly anything is pure black or pure white."),
        (0.001, 0.0, "Pure black: 0.1 % of the picture. Pure white: 0 %."),
        (0.0005, 0.021, "Pure black: less than 0.1 % of the picture. Pure white: 2.1 %."),
        (0.0, 0.25, "Pure black: 0 % of the picture. Pure white: 25 %."),
    ],
)
def test_how_much_is_clipped(shadows: float, highlights: float, says: str) -> None:
    """Told as exactly as it matters."""
    record = entry().record.model_copy(update={"clipped": Clipped(shadows=shadows, highlights=highlights)})

    assert says in of(record)


@pytest.mark.parametrize(
    ("by", "says"),
    [
        ("config", "90, as configured"),
        ("ssim", "90, the lowest that keeps the SSIM you asked for"),
        ("bytes", "90, lowered to stay under the size limit"),
        (None, "90, as configured"),
    ],
)
def test_how_the_quality_was_chosen(by: str | None, says: str) -> None:
    """In words."""
    assert says in of(entry().record.model_copy(update={"quality_by": by}))


@pytest.mark.parametrize(
    ("output", "name"),
    [("/out/seal.jpg", "seal.jpg"), ("C:\\out\\seal.jpg", "seal.jpg"), ("/out/caf\\xe9.jpg", "caf\\xe9.jpg")],
)
def test_what_the_delivery_is_called(output: str, name: str) -> None:
    """Without its folders, of any system; bytes that are no text are no folder."""
    assert f"12:23 as {name} " in of(entry().record.model_copy(update={"output": output}))


def test_what_is_not_known_is_not_said() -> None:
    """A delivery of which nothing was measured has no line about it."""
    nothing = {"ssim": None, "delta_e": None, "acutance": None, "halo": None, "out_of_gamut": None, "clipped": None}

    text = of(entry().record.model_copy(update=nothing))

    for word in ("where 1 is", "ΔE00", "Edges", "Out of gamut", "Forecast", "pure black"):
        assert word not in text


def test_what_the_operator_leaves_is_said() -> None:
    """Bytes and likeness after the operator has compressed it again, where the destination has a forecast."""
    forecast = ForecastFigures(ssim=0.9712, bytes=81_000)

    text = of(entry().record.model_copy(update={"forecast": forecast}))

    assert "after the operator compresses it again: 81 kB, SSIM 0.9712" in text


def test_a_delivery_without_small_pictures_says_why() -> None:
    """No picture is shown that is not there."""
    page = dict(day_pages(content(replace(entry(), shown=None))))["index.html"]

    assert "No proofs of this delivery" in page
    assert "<img" not in page


@pytest.mark.parametrize(
    ("about", "alt"),
    [
        (About(alt="A seal", title="Seal", description="On a skerry"), "A seal"),
        (About(title="Seal", description="On a skerry"), "Seal"),
        (About(description="On a skerry"), "On a skerry"),
        (About(), "kelp.jpg, small"),
    ],
)
def test_what_a_picture_shows_for_whoever_cannot_see_it(about: About, alt: str) -> None:
    """The best that its metadata say."""
    tags = Tags(dict(day_pages(content(entry(about=about))))["index.html"]).tags

    assert [found["alt"] for tag, found in tags if found.get("class") == "small"] == [alt]


def test_the_day_in_figures() -> None:
    """By hand, for each destination: deliveries, bytes, the middle and the lowest of quality and likeness, doubts."""
    entries = [
        replace(item, record=item.record.model_copy(update={"quality": quality, "ssim": ssim, "bytes": 100_000}))
        for item, quality, ssim in (
            (entry("a.jpg"), 90, 0.99),
            (entry("b.jpg", doubts=("It has no profile.",)), 80, 0.97),
            (entry("c.jpg"), 85, None),
        )
    ]

    page = dict(day_pages(content(*entries)))["index.html"]

    assert re.findall(r"<th scope=\"row\">(.*?)</th>", page) == ["club"]
    assert re.findall(r"<td>(.*?)</td>", page) == ["3", "300 kB", "85, lowest 80", "0.9800, lowest 0.9700", "1"]


def test_one_doubt_of_many_names_eight() -> None:
    """And says how many more there are; of eight it names all."""

    def top(number: int) -> str:
        entries = [entry(f"{n}.jpg", doubts=("It has no profile.",)) for n in range(number)]
        page = dict(day_pages(content(*entries)))["index.html"]
        return page[: page.index("<article")]

    assert "7.jpg for club" in top(8)
    assert "more" not in top(8)
    assert "and 1 more" in top(9)
    assert "8.jpg for club" not in top(9)


# The index


def test_the_index_lists_days() -> None:
    """What stands of each day, what was taken back and what is held; and what is in the way now."""
    line = DayLine(day=DAY, deliveries=3, withdrawn=1, held=2)
    text = index_page(
        IndexContent(photographer="ida", days=[line], held=(), waiting=2, obstacles=("The share is away.",))
    )

    said = " ".join(Tags(text).text.split())
    assert "26 November 2026 2 deliveries, 1 withdrawn, 2 held" in said
    assert "2 pictures are waiting." in said
    assert "To do next: The share is away." in said
    assert 'href="2026-11-26/index.html"' in text


def test_an_index_without_a_day() -> None:
    """Says so."""
    assert "Nothing was delivered yet." in index_page(
        IndexContent(photographer="ida", days=(), held=(), waiting=0, obstacles=())
    )


# Rings


def ring(*left: RingCell) -> str:
    """Return the text of a ring-around of one way to sharpen, with what an operator leaves."""
    cell = RingCell(
        label="strength 1", is_own=True, box=(0, 0, 30, 20), sharpening=Sharpening(), acutance=None,
        halo=Halo(light=1, dark=2), bytes=1000, quality=90,
    )  # fmt: skip
    ringed = Ringed(
        width=60, height=40, picture=(600, 400), place=(10, 20), rows=((cell,), left) if left else ((cell,),)
    )
    rows = [[(item, "sharpen = 1") for item in row] for row in ringed.rows]
    page = ring_page(ringed, rows, title="seal.jpg", sheet="a b.png", destination="club")
    assert 'href="a%20b.png"' in page
    return " ".join(Tags(page).text.split())


def kept(size: tuple[int, int], ssim: float | None, size_in_bytes: int = 500) -> RingCell:
    """Return what an operator leaves of a delivery."""
    return RingCell(
        label="left", is_own=False, box=(0, 20, 30, 20), sharpening=None, size=size, bytes=1000,
        left=ForecastFigures(ssim=ssim, bytes=size_in_bytes),
    )  # fmt: skip


def test_a_ring_says_what_goes_into_the_config() -> None:
    """For each way; edges of which there are too few are not measured."""
    text = ring()

    assert "30 × 20 pixels from 10, 20, of a delivery of 600 × 400 pixels" in text
    assert "strength 1, as configured too few edges to tell; halos 1.0 light, 2.0 dark; quality 90, 1 kB" in text
    assert "sharpen = 1" in text


@pytest.mark.parametrize(
    ("now", "exact", "says"),
    [
        (kept((60, 40), 0.95), kept((60, 40), 0.97), "would keep more: SSIM 0.9700, not 0.9500."),
        (
            kept((60, 40), 0.97),
            kept((60, 40), 0.95),
            "keeps more than exactly the operator's size would: SSIM 0.9700",
        ),
        (kept((60, 40), 0.95), kept((60, 40), 0.9519), "would look the same."),
        (kept((60, 40), 0.95), kept((60, 40), 0.9521), "would keep more"),
        (
            kept((50, 30), 0.95),
            kept((60, 40), 0.97),
            "is smaller than the operator's size",
        ),
        (kept((60, 40), 0.95), kept((60, 40), 0.95), "has exactly the operator's size."),
    ],
)
def test_whether_the_operators_size_would_leave_more(now: RingCell, exact: RingCell, says: str) -> None:
    """A difference of SSIM under 0.002 is not seen."""
    assert says in ring(now, exact)


def test_nothing_is_advised_without_two_to_compare() -> None:
    """Or where one was not measured."""
    assert "is kept there" not in ring(kept((60, 40), 0.95))
    assert "would keep more" not in ring(kept((60, 40), None), kept((60, 40), 0.9))


def test_notes_are_told_apart_from_doubts() -> None:
    """They stand with their delivery, and not among what is to be looked at."""
    item = entry(doubts=("It is small.",))
    noted = replace(item, record=item.record.model_copy(update={"notes": ("It was grey.",)}))

    page = dict(day_pages(content(noted)))["index.html"]

    assert re.search(r'<p class="doubt"><span class="mark">Doubt:</span> It is small.', page)
    assert re.search(r'<p class="note"><span class="quiet">Note:</span> It was grey.', page)
    assert "It was grey." not in page[page.index("Delivered with doubts") : page.index("The day in figures")]


@pytest.mark.parametrize(
    ("title", "alt"),
    [("A seal\u202egpj.exe", "A seal\\u202egpj.exe"), ("two\nlines \u009b31m", "two lines \\x9b31m")],
)
def test_what_turns_the_direction_of_writing_is_shown(title: str, alt: str) -> None:
    """A title may hold marks that make it read otherwise, or that a terminal obeys."""
    found = Tags(dict(day_pages(content(entry(about=About(title=title)))))["index.html"]).tags

    assert [attributes["alt"] for _, attributes in found if attributes.get("class") == "small"] == [alt]
