"""The proof sheet: static pages that show a photographer what was delivered and held."""

from lanternslide.report.sheet.content import DayContent, DayLine, Entry, HeldItem, IndexContent
from lanternslide.report.sheet.pages import (
    FRONT,
    HEAD_LETTERS,
    day_pages,
    further_pages,
    index_page,
    is_page_name,
    ring_page,
    signature_in,
)

__all__ = [
    "FRONT",
    "HEAD_LETTERS",
    "DayContent",
    "DayLine",
    "Entry",
    "HeldItem",
    "IndexContent",
    "day_pages",
    "further_pages",
    "index_page",
    "is_page_name",
    "ring_page",
    "signature_in",
]
