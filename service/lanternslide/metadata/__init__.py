"""What travels with a picture: Exif, IPTC IIM and XMP."""

from lanternslide.metadata.carry import Carried, carry_metadata
from lanternslide.metadata.files.extras import Extra
from lanternslide.metadata.keys import Policy
from lanternslide.metadata.wishes import Wishes

__all__ = ["Carried", "Extra", "Policy", "Wishes", "carry_metadata"]
