"""What travels with a picture: Exif, IPTC IIM and XMP."""

from lanternslide.imaging.metadata.carry import Carried, Wishes, carry_metadata
from lanternslide.imaging.metadata.keys import Policy

__all__ = ["Carried", "Policy", "Wishes", "carry_metadata"]
