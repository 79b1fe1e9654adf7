"""Which metadata travels, key by key."""

from __future__ import annotations

import pytest

from lanternslide.metadata.keys import Policy, is_of_maker, speaks_of_place, travels

PLACES = (
    "Exif.GPSInfo.GPSLatitude", "Exif.Image.GPSTag", "Iptc.Application2.City", "Iptc.Application2.SubLocation",
    "Iptc.Application2.ProvinceState", "Iptc.Application2.CountryCode", "Iptc.Application2.LocationName",
    "Xmp.exif.GPSDestLatitude", "Xmp.photoshop.State", "Xmp.photoshop.Country", "Xmp.Iptc4xmpCore.Location",
    "Xmp.Iptc4xmpCore.CountryCode", "Xmp.Iptc4xmpExt.LocationShown[1]/Iptc4xmpExt:WorldRegion",
    "Xmp.Iptc4xmpExt.LocationCreated[1]/Iptc4xmpExt:ProvinceState", "Xmp.xmpDM.shotLocation", "Xmp.dwc.Locality",
    "Xmp.drone.GpsLongtitude", "Xmp.drone.AbsoluteAltitude", "Xmp.drone.LRFTargetLat", "Xmp.geo.lat",
    "Xmp.x.point/geo:lon", "Xmp.own.gpsposition", "Xmp.own.PlaceName", "Xmp.own.Coordinates",
)  # fmt: skip

NO_PLACES = (
    "Exif.Photo.SubjectLocation", "Xmp.exif.SubjectLocation", "Xmp.Iptc4xmpCore.AltTextAccessibility", "Xmp.dc.title",
    "Xmp.Iptc4xmpCore.CreatorContactInfo/Iptc4xmpCore:CiAdrCity", "Xmp.plus.Licensor[1]/plus:LicensorCountry",
    "Xmp.plus.CopyrightOwner[1]/plus:CopyrightOwnerName", "Xmp.aux.Lens", "Exif.Image.LocalizedCameraModel",
    "Xmp.exif.FlashEnergy", "Xmp.xmp.Rating", "Iptc.Application2.Keywords", "Xmp.mwg-rs.Regions/mwg-rs:RegionList",
    "Xmp.exif.LateralChromaticAberration", "Xmp.exif.FileSource",
)  # fmt: skip


def kind_of(key: str) -> str:
    """Return what kind of metadata a key is of."""
    return key.split(".", maxsplit=1)[0].lower()


@pytest.mark.parametrize("key", PLACES)
def test_places_stay_at_home_unless_asked_for(key: str) -> None:
    """Whatever the standard, and for fields of none by the words of their names."""
    assert speaks_of_place(key)
    for policy in Policy:
        assert not travels(kind_of(key), policy, keep_location=False)(key)
        assert travels(kind_of(key), policy, keep_location=True)(key) == (policy is not Policy.BARE)


@pytest.mark.parametrize("key", NO_PLACES)
def test_what_is_no_place_travels(key: str) -> None:
    """Where in the frame a subject is, where an author can be reached, words that only look like a place."""
    assert not speaks_of_place(key)
    assert travels(kind_of(key), Policy.WHOLE, keep_location=False)(key)


@pytest.mark.parametrize(
    "key",
    [
        "Exif.Image.Thresholding", "Exif.Image.JPEGQTables", "Exif.Image.ColorMatrix1", "Exif.Image.AsShotICCProfile",
        "Exif.Image.StripOffsets", "Exif.Thumbnail.Compression", "Exif.Image.DocumentName", "Exif.Image.DNGPrivateData",
        "Xmp.xmpMM.History[1]/stEvt:changed", "Xmp.xmpDM.projectRef/xmpDM:path", "Xmp.own.OriginalFilename",
        "Xmp.own.OriginalFileName", "Xmp.crs.RawFileName", "Xmp.xmp.BaseURL", "Exif.Image.ImageID",
        "Xmp.xmp.Thumbnails[1]/xmpGImg:image", "Iptc.Application2.Preview", "Xmp.exif.MakerNote",
    ],
)  # fmt: skip
def test_what_was_about_the_file_never_travels(key: str) -> None:
    """Layout, previews, paths, history: under no policy."""
    assert not any(travels(kind_of(key), policy, keep_location=True, keep_serials=True)(key) for policy in Policy)


@pytest.mark.parametrize("key", ["Exif.Photo.MakerNote", "Exif.Canon.OwnerName", "Exif.Nikon3.SerialNumber"])
def test_makers_notes_go_with_location_and_serial_numbers_or_not_at_all(key: str) -> None:
    """They may hold a place or a number, and nothing can be taken out of them without a trace."""
    assert is_of_maker(key)
    assert not travels("exif", Policy.WHOLE, keep_location=False)(key)
    assert not travels("exif", Policy.WHOLE, keep_location=True)(key)
    assert not travels("exif", Policy.WHOLE, keep_location=False, keep_serials=True)(key)
    assert not travels("exif", Policy.RIGHTS, keep_location=True, keep_serials=True)(key)
    assert travels("exif", Policy.WHOLE, keep_location=True, keep_serials=True)(key)
