"""What the photographers' exports say about themselves: Exif, IPTC and XMP."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import pyexiv2

if TYPE_CHECKING:
    from pathlib import Path

__all__ = ["Notes", "write_notes"]


@dataclass(frozen=True, kw_only=True)
class Notes:
    """The metadata of one original."""

    author: str
    title: str
    caption: str
    keywords: tuple[str, ...]
    #: Local time of the exposure, as Exif writes it: "2026:05:17 06:41:09"
    taken: str
    #: Degrees, minutes and hundredths of seconds, as Exif writes rationals; north and west
    latitude: str
    longitude: str
    #: How the stored picture is to be turned (Exif 2.32, tag 0112)
    orientation: int = 1

    @property
    def rights(self) -> str:
        """Return the line of rights: the same in all three kinds of metadata."""
        return f"© 2026 {self.author}. All rights reserved."

    def exif(self) -> dict[str, str]:
        """Return the Exif tags."""
        return {
            "Exif.Image.Make": "Skerrow Optical",
            "Exif.Image.Model": "SO-1",
            "Exif.Image.Artist": self.author,
            "Exif.Image.Copyright": self.rights,
            "Exif.Image.ImageDescription": self.caption,
            "Exif.Image.Orientation": str(self.orientation),
            "Exif.Image.DateTime": self.taken,
            "Exif.Photo.DateTimeOriginal": self.taken,
            "Exif.Photo.DateTimeDigitized": self.taken,
            "Exif.Photo.BodySerialNumber": "SO1-000417",
            "Exif.Photo.LensModel": "SO 24-70",
            "Exif.Photo.ExposureTime": "1/160",
            "Exif.Photo.FNumber": "80/10",
            "Exif.Photo.ISOSpeedRatings": "100",
            "Exif.Photo.FocalLength": "35/1",
            "Exif.GPSInfo.GPSVersionID": "2 3 0 0",
            "Exif.GPSInfo.GPSLatitudeRef": "N",
            "Exif.GPSInfo.GPSLatitude": self.latitude,
            "Exif.GPSInfo.GPSLongitudeRef": "W",
            "Exif.GPSInfo.GPSLongitude": self.longitude,
        }

    def iptc(self) -> dict[str, str | list[str]]:
        """Return the IPTC datasets, in UTF-8 as its envelope says."""
        return {
            "Iptc.Envelope.CharacterSet": "\x1b%G",
            "Iptc.Application2.ObjectName": self.title,
            "Iptc.Application2.Caption": self.caption,
            "Iptc.Application2.Byline": [self.author],
            "Iptc.Application2.Copyright": self.rights,
            "Iptc.Application2.Keywords": list(self.keywords),
        }

    def xmp(self) -> dict[str, str | list[str] | dict[str, str]]:
        """Return the XMP properties."""
        return {
            "Xmp.dc.creator": [self.author],
            "Xmp.dc.title": {'lang="x-default"': self.title},
            "Xmp.dc.description": {'lang="x-default"': self.caption},
            "Xmp.dc.rights": {'lang="x-default"': self.rights},
            "Xmp.dc.subject": list(self.keywords),
            "Xmp.xmpRights.Marked": "True",
        }


def write_notes(path: Path, notes: Notes, thumbnail: bytes | None = None) -> None:
    """Write *notes*, and a JPEG *thumbnail* when there is one, into the image file *path*."""
    with pyexiv2.Image(str(path)) as image:
        image.modify_exif(notes.exif())
        image.modify_iptc(notes.iptc())
        image.modify_xmp(notes.xmp())
        if thumbnail is not None:
            image.modify_thumbnail(thumbnail)
