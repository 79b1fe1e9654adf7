"""Writing Exif, IPTC IIM and XMP into a delivery: what the policy chooses, changed to fit the delivery."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import pyexiv2

from lanternslide.metadata.files.resources import LONGEST_IIM, with_iim
from lanternslide.metadata.geometry import focal_plane, said_size, subject, turn_regions
from lanternslide.metadata.iim import longest
from lanternslide.metadata.keys import CALLED, Policy, holds_picture, is_of_maker, names_owner, travels
from lanternslide.metadata.mandatory import mandatory
from lanternslide.metadata.reading import POINTERS
from lanternslide.metadata.source import BROKEN, Source, first_line
from lanternslide.metadata.whose.claims import NAMES, texts_of
from lanternslide.metadata.whose.names import names_another, says_somebody
from lanternslide.metadata.whose.rights import CREATORS
from lanternslide.metadata.wishes import Wishes
from lanternslide.metadata.xmp.packets import with_xmp
from lanternslide.records import Rights

__all__ = ["WRITERS", "Lost", "choice"]

INTEROPERABILITY = "Exif.Iop.InteroperabilityIndex"
"""Which colour space a picture without profile is in (DCF 2.0, JEITA CP-3461A)."""

PROVENANCE, PROSE = "Xmp.dcterms.provenance", re.compile(r"\S+(?:\s+[^\W\d_]\S*){2}")
"""Where XMP points to Content Credentials, which hold for the original's bytes alone (C2PA 2.x, 11.5), or tells of the
work's former owners in words (DCMI Metadata Terms)."""

PLACE_GROUP = "Exif.GPSInfo."

PARTS = ("exif", "iptc", "xmp", "comment", "icc", "thumbnail")
"""All that the library can copy from file to file."""

Keep = Callable[[str], bool]


@dataclass(slots=True)
class Lost:
    """What could not be written, for a person."""

    too_large: list[str] = field(default_factory=list)
    left: list[str] = field(default_factory=list)  #: What could not be written for another reason.
    regions: bool = False  #: Whether regions in the picture are of another one.


def choice(kind: str, source: Source, wishes: Wishes) -> Callable[[str], bool]:
    """Return which keys of a *kind* travel."""
    own = wishes.rights
    authors = [text for key, label in CREATORS for text in texts_of(source.fields[key].get(label, ""))]
    author = Rights(creator=own.creator if own.override and own.creator else "; ".join(authors) or own.creator)
    owners = [text for fields in source.fields.values() for key in fields if names_owner(key)
              for text in texts_of(fields[key])]  # fmt: skip
    chosen = travels(
        kind, wishes.policy, keep_location=wishes.keep_location, keep_serials=wishes.keep_serials,
        keep_owner=bool(owners) and all(says_somebody(owner) and not names_another(owner, author) for owner in owners),
    )  # fmt: skip
    return lambda key: chosen(key) and key not in source.paths


def _in_frame(kind: str, source: Source, wishes: Wishes) -> dict[str, Any]:
    """Return what speaks of places in the frame, for the delivery; None for what is of another frame."""
    fields, frame, said = source.fields[kind], wishes.frame, said_size(source.fields["exif"])
    prefix = "Exif.Photo" if kind == "exif" else "Xmp.exif"
    changes: dict[str, Any] = {}
    for name in ("SubjectArea", "SubjectLocation"):
        for key in (f"{prefix}.{name}", f"Exif.Image.{name}"):
            if key in fields:
                found = subject(" ".join(texts_of(fields[key])).split(), frame, said)
                numbers = None if found is None else [str(number) for number in found]
                changes[key] = numbers if numbers is None or kind == "xmp" else " ".join(numbers)
    for group in (prefix, "Exif.Image"):  # the second is where TIFF/EP has it (ISO 12234-2)
        plane = [f"{group}.FocalPlane{axis}Resolution" for axis in "XY"]
        if any(key in fields for key in plane):
            scaled = focal_plane(*(str(fields.get(key, "")) for key in plane), frame=frame, said=said)
            changes |= dict(zip(plane, scaled or (None, None), strict=True))
            if scaled is None and f"{group}.FocalPlaneResolutionUnit" in fields:
                changes[f"{group}.FocalPlaneResolutionUnit"] = None
    return changes


def with_exif(source: Source, jpeg: bytes, wishes: Wishes, own: Mapping[str, Any], lost: Lost) -> bytes:
    """Return *jpeg* with the Exif that travels, and the photographer's *own*."""
    chosen = choice("exif", source, wishes)

    # Nothing can be taken out of a maker's note without a trace.
    has_pictures = any(
        (is_of_maker(key) and key in source.pictures) or holds_picture(key) for key in source.fields["exif"]
    )

    def keep(key: str) -> bool:
        is_none = key in source.damaged | source.pictures | source.empty
        return chosen(key) and not is_none and not (has_pictures and is_of_maker(key))

    if not own and not any(keep(key) for key in source.fields["exif"]):
        return jpeg
    try:
        return _write_exif(source, jpeg, wishes, own, keep, lost)
    except RuntimeError as error:
        # What a camera's maker has put there can be too large; the rest must not be lost for it.
        written = _write_exif(source, jpeg, wishes, own, lambda key: keep(key) and not is_of_maker(key), lost)
        lost.too_large.append(f"{CALLED['exif']}: the maker note ({first_line(error)})")
        return written


def _write_exif(source: Source, jpeg: bytes, wishes: Wishes, own: Mapping[str, Any], keep: Keep, lost: Lost) -> bytes:
    with pyexiv2.ImageData(jpeg) as target:
        if source.fields["exif"]:
            source.image.copy_to_another_image(target, **{part: part == "exif" for part in PARTS})
        carried = target.read_exif(encoding="latin-1")
        changes: dict[str, Any] = {key: None for key in carried if not keep(key)}
        changes |= {key: text for key, text in source.anew.items() if keep(key)}
        changes |= {key: value for key, value in _in_frame("exif", source, wishes).items() if keep(key)}
        changes |= _about_the_delivery(carried, wishes)
        kept = {key: value for key, value in carried.items() if keep(key)}
        typed = mandatory(kept, wishes.density, has_place=any(key.startswith(PLACE_GROUP) for key in kept))
        # The library keeps a field's type, so what has a wrong one goes first.
        target.modify_exif(changes | dict(own) | dict.fromkeys(typed))
        target.modify_exif(typed)
        target.clear_thumbnail()
        mine = {key for key, value in (changes | dict(own) | typed).items() if value}
        if still := [key for key in target.read_exif(encoding="latin-1") if not keep(key) and key not in mine]:
            raise ValueError(f"{still[0]} could not be taken out")
        wanted = {**source.fields["exif"], **own}
        gone = {key for key, value in changes.items() if value is None}
        expected = {key for key, value in wanted.items() if value is not None and (key in own or keep(key))} - gone
        written = bytes(target.get_bytes())
    lost.too_large.extend(_missing(written, expected))
    return written


def _missing(jpeg: bytes, expected: set[str]) -> list[str]:
    """Return what the library has left out of a JPEG's Exif without a word: large fields, so that it fits in 64 KB."""
    with pyexiv2.ImageData(jpeg) as delivered:
        there = delivered.read_exif_detail(encoding="latin-1")
    missing = sorted(key.rsplit(".", 1)[-1] for key in expected - set(there) if not _is_no_field(key))
    return [f"{CALLED['exif']}: {', '.join(missing)}"] if missing else []


def _is_no_field(key: str) -> bool:
    """Return whether a key is part of a maker note, or only says where other fields stand."""
    return is_of_maker(key) or key.startswith("Exif.MakerNote.") or key in POINTERS


def _about_the_delivery(carried: Mapping[str, Any], wishes: Wishes) -> dict[str, str]:
    """Return the Exif tags that speak of the file (Exif 3.0: orientation, pixel dimensions, colour space)."""
    changes = {
        "Exif.Image.Orientation": "1",
        "Exif.Photo.ColorSpace": "1",
        "Exif.Photo.PixelXDimension": str(wishes.width),
        "Exif.Photo.PixelYDimension": str(wishes.height),
    }
    if INTEROPERABILITY in carried:
        changes[INTEROPERABILITY] = "R98"  # sRGB (DCF 2.0)
    return changes


def with_iptc(source: Source, jpeg: bytes, wishes: Wishes, own: Mapping[str, Any], lost: Lost) -> bytes:
    """Return *jpeg* with the IPTC IIM that travels, where the original has any, and the photographer's *own*."""
    keep = choice("iptc", source, wishes)
    there = source.fields["iptc"]
    # A text that is too long stays where it stood already; elsewhere it is in Exif and XMP alone.
    new = {key: value for key, value in own.items() if texts_of(value or "") != texts_of(there.get(key, ""))}
    fitting = {key: value for key, value in new.items() if value is None or _fits(key, value)}
    changes = {**dict.fromkeys(new), **fitting}
    rights = choice("iptc", source, replace(wishes, policy=Policy.RIGHTS))
    for least, what in ((keep, ""), (rights, "all but rights"), (NAMES["iptc"].__contains__, "all but names")):
        trimmed = {key: texts for key, texts in source.trimmed.items() if keep(key) and least(key)}
        iim = source.iim.written(lambda key, least=least: keep(key) and least(key), trimmed | changes)  # type: ignore[misc]
        if len(iim) <= LONGEST_IIM:
            lost.too_large += [f"{CALLED['iptc']}: {what}"] if what else []
            return with_iim(jpeg, iim) if iim else jpeg
    raise ValueError("its fields are too long for a JPEG")


def _fits(key: str, value: Any) -> bool:
    """Return whether a value is short enough for IIM; a longer one stands in Exif and XMP alone."""
    most = longest(key)
    return most is None or all(len(text.encode()) <= most for text in texts_of(value))


def with_xmp_of(source: Source, jpeg: bytes, wishes: Wishes, own: Mapping[str, Any], lost: Lost) -> bytes:
    """Return *jpeg* with the XMP that travels, and the photographer's *own*; where that is too much, rights alone."""
    about_the_file = {
        "Xmp.tiff.Orientation": "1",
        "Xmp.exif.PixelXDimension": str(wishes.width),
        "Xmp.exif.PixelYDimension": str(wishes.height),
        "Xmp.exif.ColorSpace": "1",
        "Xmp.dc.format": "image/jpeg",
    }

    def written(policy: Policy) -> bytes:
        keep = choice("xmp", source, replace(wishes, policy=policy))
        kept = source.xmp.kept(keep)
        lost.regions = not turn_regions(kept, wishes.frame)
        there = source.fields["xmp"]
        kept.change({key: value for key, value in about_the_file.items() if key in there and keep(key)})
        kept.change({key: value for key, value in _in_frame("xmp", source, wishes).items() if keep(key)})
        if not all(PROSE.match(text) for text in texts_of(there.get(PROVENANCE, ""))):
            kept.change({PROVENANCE: None})
        kept.change(own)
        return with_xmp(jpeg, kept) if kept.properties else jpeg

    try:
        return written(wishes.policy)
    except BROKEN as error:
        lost.left.append(f"{CALLED['xmp']}: all but rights ({first_line(error)})")
        return written(Policy.RIGHTS)


WRITERS = (("exif", with_exif), ("iptc", with_iptc), ("xmp", with_xmp_of))
"""What writes each kind of metadata, in the order in which they are written."""
