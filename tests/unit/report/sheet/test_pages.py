"""The pages of a proof sheet, as texts."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from html.parser import HTMLParser

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lanternslide.records import About, Record, Shown
from lanternslide.records.record import Clipped, Halo, Spread
from lanternslide.report.sheet import DayContent, DayLine, Entry, HeldItem, IndexContent, day_pages, index_page
from lanternslide.report.sheet.figures import cloud_of, ladder_of, tone_path
from lanternslide.report.sheet.pages import ENTRIES

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

    assert "1 delivery of 1 picture went out." in page
    assert "taken back since" in page


def test_doubts_that_differ_in_figures_are_told_together() -> None:
    """A day on which every picture has a little black is not one long list."""
    entries = [entry(f"{n}.jpg", doubts=(f"{n / 10 + 1} % of the picture is pure black.",)) for n in range(30)]

    page = dict(day_pages(content(*entries)))["index.html"]

    top = page[: page.index("<article")]
    assert top.count("of the picture is pure black.") == 1
    assert "For example: 1.0 % of the picture" in top
    assert "and 22 more" in top


def test_the_curve_of_tones() -> None:
    """By hand: bins of 0, 1 and 4 in a box 24 high are 0, half and full height, since roots are drawn."""
    assert tone_path((0, 1, 4)) == "M0,24 L0,24.0 1,24.0 1,12.0 2,12.0 2,0.0 3,0.0 3,24Z"


def test_plots_have_their_marks_where_the_figures_are() -> None:
    """By hand: of likeness 0.98 to 1 and 0 to 500 kB, 0.99 and 250 kB lie in the middle of 320 by 150."""
    plot = cloud_of([("club", 0.98, 400_000), ("club", 0.99, 250_000), ("feed", 0.995, 100_000)])

    assert plot is not None
    assert [tick.text for tick in plot.across] == ["0.98", "0.99", "1"]
    assert [tick.text for tick in plot.up] == ["0 bytes", "250 kB", "500 kB"]
    assert "M160,75h0" in plot.clouds[0].path
    assert [cloud.name for cloud in plot.clouds] == ["club", "feed"]
    assert cloud_of([("club", 0.98, 4)]) is None
    ladder = ladder_of(((80, 100), (90, 200)), 90)
    assert ladder is not None
    assert ladder_of(((90, 200),), 90) is None
