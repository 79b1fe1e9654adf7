"""What travels with a picture: Exif, IPTC IIM and XMP."""

from lanternslide.imaging.metadata.carry import Carried, carry_metadata
from lanternslide.imaging.metadata.extras import Extra
from lanternslide.imaging.metadata.keys import Policy
from lanternslide.imaging.metadata.wishes import Wishes

__all__ = ["Carried", "Extra", "Policy", "Wishes", "carry_metadata"]
