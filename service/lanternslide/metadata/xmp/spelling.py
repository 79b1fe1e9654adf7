"""How the properties of XMP are spelt whose capitals a program has got wrong: ``dc:Rights`` means ``dc:rights``.

Names in XMP differ by their capitals (XMP specification part 1, ISO 16684-1, 6.2). What is meant is known of the fields
that are read or kept here, and no two of them differ by that alone.
"""

from __future__ import annotations

from collections.abc import Iterator

from lanternslide.metadata.keys import ARTWORK, CLOSED, NEVER_XMP, PLACE_KEYS, RIGHTS_XMP
from lanternslide.metadata.whose.claims import (
    ADDRESS_FAMILIES,
    ADDRESSES,
    LICENCES,
    MARKED,
    NAME_FAMILIES,
    NAMES,
    STATUS,
    TERMS,
)
from lanternslide.metadata.xmp.namespaces import tag_of

__all__ = ["spelt"]

MORE = ("Xmp.Iptc4xmpExt.LocationCreated", "Xmp.Iptc4xmpExt.LocationShown", "Xmp.dc.date", "Xmp.dc.source")
"""Further properties (IPTC Photo Metadata Standard 2025.1), those of places among them."""


def _known() -> Iterator[str]:
    """Yield the key of each property whose spelling is known."""
    for fields in (NAMES, ADDRESSES, TERMS, LICENCES):
        yield from fields["xmp"]
    for families in (NAME_FAMILIES, ADDRESS_FAMILIES, RIGHTS_XMP, NEVER_XMP, (MARKED, STATUS, ARTWORK), MORE):
        yield from families
    yield from (key for key in PLACE_KEYS if key.startswith("Xmp."))
    for group, names in CLOSED.items():
        yield from (f"{group}{name}" for name in names)


TAGS = {tag.casefold(): tag for key in _known() for tag in [tag_of(key.removeprefix("Xmp.").replace(".", ":", 1))]}
"""Each known tag by itself without capitals; addresses of namespaces differ by more than those, too."""


def spelt(tag: str) -> str:
    """Return a *tag* as ElementTree spells it, ``{address}name``, with the capitals that its name should have."""
    return TAGS.get(tag.casefold(), tag)
