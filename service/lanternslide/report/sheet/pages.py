"""Writing the pages of a proof sheet: static, complete in themselves, safe with any name or title."""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cache
from importlib.resources import files
from statistics import median
from typing import TypeVar

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from lanternslide.records import shown_text
from lanternslide.records.ring import RingCell, Ringed
from lanternslide.records.shown import AFTER, BEFORE, MAP, SMALL
from lanternslide.report.alike import by_kind
from lanternslide.report.sheet.content import DayContent, Entry, IndexContent, next_step
from lanternslide.report.sheet.figures import HEIGHT, WIDTH, cloud_of, ladder_of, tone_path
from lanternslide.words import counted, readable_bytes

__all__ = [
    "FRONT",
    "HEAD_LETTERS",
    "day_pages",
    "further_pages",
    "index_page",
    "is_page_name",
    "ring_page",
    "signature_in",
]

FRONT = "index.html"
T = TypeVar("T")

PAGE = "page-{:03d}.html"
PAGE_NAME = re.compile(r"index\.html|page-[0-9]{3,}\.html|\.(?:index|page-[0-9]{3,})\.html\.part")
MADE_BY = "lanternslide proof sheet"
MARK = re.compile(f'<meta name="generator" content="{MADE_BY} ([0-9a-z-]*)">')
"""What tells a page of the service's own from others, and which state of things it shows."""

HEAD_LETTERS = 400
"""The mark stands within so many letters from a page's beginning."""

ENTRIES = 40
"""Deliveries on one page: few enough for a phone."""

LEAST_SHARE = 0.001
LEAST_GAIN = 0.002
"""A difference of SSIM that is not seen (a choice)."""

MOST_NAMED = 8
"""Deliveries that are named with one doubt."""


def is_page_name(name: str) -> bool:
    """Return whether a page of a day may have this name, or had it while it was written."""
    return PAGE_NAME.fullmatch(name) is not None


def signature_in(head: str) -> str | None:
    """Return what a page of ours, of which *head* is the beginning, says that it shows; None if it is not ours."""
    found = MARK.search(head)
    return None if found is None else found[1]


@dataclass(frozen=True, kw_only=True, slots=True)
class _Numbered:
    """An entry with its place in the day."""

    number: int
    entry: Entry
    page: str  #: The page that it stands on for good; empty where there is but one.


@dataclass(frozen=True, kw_only=True, slots=True)
class _Place:
    """The figures of one destination on one day."""

    name: str
    deliveries: int
    bytes: int
    quality: str
    likeness: str
    doubts: int


def day_pages(content: DayContent, only: Iterable[int] | None = None, signature: str = "") -> Iterator[tuple[str, str]]:
    """Yield the pages of a day: name and text. Of many deliveries the front page has the newest, others have all.

    *only* says which of these further pages are wanted, by number from 1; None: all. The front page comes last and
    bears the *signature* of what it shows.
    """
    names = [PAGE.format(number) for number, _ in enumerate(further_pages(content.entries), 1)]
    numbered = [
        _Numbered(number=n, entry=entry, page=names[(n - 1) // ENTRIES] if names else "")
        for n, entry in enumerate(content.entries, 1)
    ]
    blocks = further_pages(numbered)
    title = _title(content.photographer, content.day)
    wanted = range(1, len(blocks) + 1) if only is None else only
    for number in wanted:
        before, after = names[number - 2] if number > 1 else None, names[number] if number < len(names) else None
        values = {"items": blocks[number - 1], "number": number, "before": before, "after": after}
        yield names[number - 1], _render("page.html", content=content, made_by=f"{MADE_BY} ", title=title, **values)
    standing = [item for item in numbered if not item.entry.is_withdrawn]
    doubts = _doubts(standing)
    doubtful = sum(bool(item.entry.record.doubts) for item in standing)
    yield (
        FRONT,
        _render(
            "day.html",
            content=content,
            made_by=f"{MADE_BY} {signature}",
            pages=names,
            title=title,
            items=list(reversed(numbered[-ENTRIES:])),
            hidden=max(len(numbered) - ENTRIES, 0),
            doubts=doubts,
            places=_places(item.entry for item in standing),
            plot=cloud_of(
                [
                    (item.entry.record.destination or "", item.entry.record.ssim, item.entry.record.bytes or 0)
                    for item in standing
                    if item.entry.record.ssim is not None
                ]
            ),
            pictures=len({item.entry.record.original for item in standing}),
            standing=len(standing),
            next=next_step(content.held, (), doubtful, content.waiting),
        ),
    )


def further_pages(entries: Sequence[T]) -> list[Sequence[T]]:
    """Return a day's entries page by page, in order; none where the front page has them all."""
    if len(entries) <= ENTRIES:
        return []
    return [entries[at : at + ENTRIES] for at in range(0, len(entries), ENTRIES)]


def index_page(content: IndexContent) -> str:
    """Return the page that lists a photographer's days, with what is held now above them."""
    title = f"{content.photographer}: proof sheets"
    following = next_step(content.held, content.obstacles, 0, content.waiting)
    return _render("index.html", content=content, made_by=f"{MADE_BY} ", title=title, next=following)


def ring_page(
    ringed: Ringed, rows: Sequence[Sequence[tuple[RingCell, str]]], *, title: str, sheet: str, destination: str
) -> str:
    """Return the page of a ring-around: its details are parts of the PNG called *sheet* beside it."""
    advice = _advice([cell for row in ringed.rows for cell in row if cell.left is not None])
    return _render(
        "ring.html",
        made_by="lanternslide ring-around",
        ringed=ringed,
        rows=rows,
        title=title,
        sheet=sheet,
        destination=destination,
        advice=advice,
    )


def _advice(left: Sequence[RingCell]) -> str | None:
    """Return whether sending exactly the operator's size would leave more of the picture."""
    if len(left) != 2:
        return None
    now, exact = left
    if now.size != exact.size:
        return "Today's delivery is smaller than the operator's size, so it stays as it is."
    if now.left == exact.left:
        return "Today's delivery has exactly the operator's size."
    before, after = (cell.left.ssim if cell.left else None for cell in left)
    return None if before is None or after is None else _compared(before, after)


def _compared(before: float, after: float) -> str:
    if abs(after - before) < LEAST_GAIN:
        return "A delivery of exactly the operator's size would look the same."
    if after > before:
        return f"A delivery of exactly the operator's size would keep more: SSIM {after:.4f}, not {before:.4f}."
    return f"Today's delivery keeps more than exactly the operator's size would: SSIM {before:.4f}, not {after:.4f}."


def _title(photographer: str, day: date) -> str:
    return f"{photographer}: {_long_date(day)}"


def _long_date(day: date) -> str:
    return f"{day.day} {day:%B %Y}"


def _doubts(items: Sequence[_Numbered]) -> list[tuple[str, list[_Numbered], int]]:
    """Return each kind of doubt, with the deliveries that have it, and how many more there are."""
    said = by_kind((at, doubt) for at, item in enumerate(items) for doubt in item.entry.record.doubts)
    return [(text, [items[at] for at in those[:MOST_NAMED]], max(len(those) - MOST_NAMED, 0)) for text, those in said]


def _places(entries: Iterable[Entry]) -> list[_Place]:
    found: dict[str, list[Entry]] = {}
    for entry in entries:
        found.setdefault(entry.record.destination or "", []).append(entry)
    return [
        _Place(
            name=name,
            deliveries=len(those),
            bytes=sum(entry.record.bytes or 0 for entry in those),
            quality=_spread([entry.record.quality for entry in those if entry.record.quality is not None], "{:g}"),
            likeness=_spread([entry.record.ssim for entry in those if entry.record.ssim is not None], "{:.4f}"),
            doubts=sum(bool(entry.record.doubts) for entry in those),
        )
        for name, those in found.items()
    ]


def _spread(values: Sequence[float], how: str) -> str:
    """Return the median, and the lowest where it differs."""
    if not values:
        return "–"
    usual, worst = how.format(median(values)), how.format(min(values))
    return usual if usual == worst else f"{usual}, lowest {worst}"


def _per_cent(share: float | None) -> str:
    if not share:
        return "0 %"
    if share < LEAST_SHARE:
        return "less than 0.1 %"
    return f"{share * 100:.2g} %" if share < 0.1 else f"{share * 100:.0f} %"


def _how_chosen(by: str | None) -> str:
    chosen = {
        "ssim": "the lowest that keeps the SSIM you asked for",
        "bytes": "lowered to stay under the size limit",
    }
    return chosen.get(by or "", "as configured")


def _clipping(entry: Entry) -> str:
    clipped = entry.record.clipped
    assert clipped is not None
    if not (clipped.shadows or clipped.highlights):
        return "Nothing is pure black or pure white."
    if max(clipped.shadows, clipped.highlights) < LEAST_SHARE:
        return "Hardly anything is pure black or pure white."
    return f"Pure black: {_per_cent(clipped.shadows)} of the picture. Pure white: {_per_cent(clipped.highlights)}."


def _file_name(output: str | None) -> str:
    return re.split(r"[/\\](?!x[0-9a-f]{2})", output or "")[-1]


def _alt(entry: Entry) -> str:
    told = entry.about.alt or entry.about.title or entry.about.description
    # Lines are run together, as a browser does; what turns the direction of writing is shown, not done.
    return shown_text(" ".join(told.split())) if told else f"{entry.record.original}, small"


@cache
def _environment() -> Environment:
    environment = Environment(
        loader=PackageLoader("lanternslide.report.sheet"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters |= {
        "bytes": readable_bytes,
        "counted": counted,
        "long_date": _long_date,
        "per_cent": _per_cent,
        "how_chosen": _how_chosen,
        "clipping": _clipping,
        "alt": _alt,
        "file_name": _file_name,
        "tone_path": tone_path,
        "ladder": ladder_of,
    }
    style = files("lanternslide.report.sheet").joinpath("templates/style.css").read_text("utf-8").strip()
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    environment.globals |= {
        "style": Markup(style),  # noqa: S704 - the package's own file
        # Nothing is loaded from elsewhere, run or sent; the one style is known by its digest (CSP Level 3).
        "policy": f"default-src 'none'; img-src 'self' file:; style-src 'sha256-{digest}'; base-uri 'none'; "
        "form-action 'none'",
        "endings": {"small": SMALL, "before": BEFORE, "after": AFTER, "map": MAP},
        "plot_width": WIDTH,
        "plot_height": HEIGHT,
    }
    return environment


def _render(template: str, **values: object) -> str:
    return _environment().get_template(template).render(values)
