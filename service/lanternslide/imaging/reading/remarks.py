"""What JPEG decoders say of a file that they decode all the same: whether pixels are wrong, or only may be."""

from __future__ import annotations

import logging
import re
from collections.abc import Iterator
from contextlib import contextmanager

from lanternslide.imaging.reading.damage import cut_short, overwritten

__all__ = ["overheard", "weigh"]

CUT_SHORT = "premature end of jpeg"
FAULT = "corrupt jpeg data"
DAMAGE = re.compile(
    r"premature end of data segment|bad huffman code|bad arithmetic code|before marker 0xd[0-7]|error in tile",
    re.IGNORECASE,
)
"""What libjpeg says where pixels are certainly wrong (it fills in the rest and goes on): data that end too early, codes
that do not exist, and bytes left over before a restart marker. Libvips says the last, and leaves the tile black."""


def weigh(remark: str, remarks: list[str]) -> None:
    """Add a decoder's *remark* to *remarks* where it matters at all.

    Raises
    ------
    OriginalHeldError
        If it means that pixels are wrong or missing.
    """
    if CUT_SHORT in remark.lower():
        raise cut_short()
    if DAMAGE.search(remark):
        raise overwritten()
    if FAULT in remark.lower() and "icc" not in remark.lower():
        remarks.append(remark)


@contextmanager
def overheard(logger: str) -> Iterator[list[str]]:
    """Collect what a library says in the log of the name *logger* meanwhile."""
    said: list[str] = []
    listener = _Listener(said)
    log = logging.getLogger(logger)
    log.addHandler(listener)
    try:
        yield said
    finally:
        log.removeHandler(listener)


class _Listener(logging.Handler):
    def __init__(self, said: list[str]) -> None:
        super().__init__(logging.WARNING)
        self._said = said

    def emit(self, record: logging.LogRecord) -> None:
        """Keep the message."""
        self._said.append(record.getMessage())
