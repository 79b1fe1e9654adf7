"""Which profiles are called those of a display, on profiles that are put together byte by byte."""

from __future__ import annotations

import struct
from collections.abc import Sequence
from pathlib import Path

import colour
import numpy as np
import pytest

from lanternslide.imaging.colour.chromaticity import (
    D50_XYZ,
    D65_WHITE,
    SRGB_PRIMARIES,
    Chromaticity,
    adapt_to_d50,
    colorants,
)
from lanternslide.imaging.colour.icc_read import read_profile
from lanternslide.imaging.colour.primaries import WORKING_SPACES, Primaries
from lanternslide.imaging.colour.srgb import srgb_profile
from tests.support.icc_write import matrix_profile
from tests.support.outside import DATA, needs_data

SCREEN: Primaries = ((0.658, 0.334), (0.268, 0.662), (0.149, 0.061))
"""Primaries of no working space, as a screen has them."""

DEBIANS = Path("/usr/share/color/icc")
EQUAL = 2.2


def tagged(profile: bytes, **changes: bytes | None) -> bytes:
    """Return a profile with other tags; None takes one away."""
    tags = {}
    (count,) = struct.unpack_from(">I", profile, 128)
    for number in range(count):
        name, offset, size = struct.unpack_from(">4sII", profile, 132 + 12 * number)
        tags[name.decode()] = profile[offset : offset + size]
    kept = {name: body for name, body in {**tags, **changes}.items() if body is not None}
    table, bodies, at = b"", b"", 132 + 12 * len(kept)
    for name, body in kept.items():
        table += name.encode() + struct.pack(">II", at + len(bodies), len(body))
        bodies += body + bytes(-len(body) % 4)
    whole = profile[4:128] + struct.pack(">I", len(kept)) + table + bodies
    return struct.pack(">I", len(whole) + 4) + whole


def headed(profile: bytes, *, device: bytes = b"mntr", maker: bytes = bytes(4), model: bytes = bytes(4)) -> bytes:
    """Return a profile with another class, maker and model in its header."""
    return profile[:12] + device + profile[16:48] + maker + model + profile[56:]


def of(
    primaries: Primaries = SCREEN,
    white: Chromaticity = D65_WHITE,
    curves: Sequence[float] = (EQUAL, EQUAL, EQUAL),
    name: str = "x",
) -> bytes:
    """Return a profile with a gamma for each channel."""
    plain = matrix_profile(name, *primaries, white, EQUAL)
    gammas = {
        tag: b"para\0\0\0\0\0\0\0\0" + struct.pack(">i", round(gamma * 65536))
        for tag, gamma in zip(("rTRC", "gTRC", "bTRC"), curves, strict=True)
    }
    return tagged(plain, **gammas)


def is_display(profile: bytes) -> bool:
    """Return what is found."""
    return read_profile(profile).of_display


SIGNS: dict[str, bytes] = {
    "targ": b"text\0\0\0\0CTI3\0",
    "lumi": b"XYZ \0\0\0\0" + struct.pack(">3i", 0, 120 << 16, 0),
    "tech": b"sig \0\0\0\0AMD ",
}
TABLES = {"A2B0": b"mft2" + bytes(60), "B2A0": b"mft2" + bytes(60)}
NAMED = {"maker": b"SEAL", "model": b"27-A"}
EDID = "EDID_model".encode("utf-16-be")


# Each alone


@pytest.mark.parametrize("tag", ["vcgt", "vcgp", "ndin", "MHC2"])
@pytest.mark.parametrize("profile", [srgb_profile(), of(), of(name="Holiday RGB")])
def test_what_calibrating_leaves_is_a_sign(tag: str, profile: bytes) -> None:
    """Whatever the primaries and the name."""
    assert not is_display(profile)
    assert is_display(tagged(profile, **{tag: tag.encode() + bytes(14)}))


def test_what_a_monitor_says_of_itself_is_a_sign() -> None:
    """Other texts about the file are none."""
    assert is_display(tagged(srgb_profile(), meta=b"dict\0\0\0\0" + EDID))
    assert not is_display(tagged(srgb_profile(), meta=b"dict\0\0\0\0" + "DATA_source".encode("utf-16-be")))


@pytest.mark.parametrize("curves", [(2.18, 2.20, 2.22), (2.2, 2.2, 2.17), (1.0, 2.2, 2.2)])
def test_curves_that_differ_are_a_sign(curves: Sequence[float]) -> None:
    """Also with the primaries of sRGB."""
    assert is_display(of(curves=curves))
    assert is_display(of(SRGB_PRIMARIES, curves=curves))


def test_curves_that_were_measured_as_tables_are_a_sign() -> None:
    """Each with its own steps."""
    code = np.linspace(0, 1, 256)
    random = np.random.default_rng(1)
    tables = {}
    for tag in ("rTRC", "gTRC", "bTRC"):
        light = np.clip(np.maximum.accumulate(code**2.2 + random.normal(0, 0.004, 256)), 0, 1)
        values = [int(value) for value in np.rint(light * 65535)]
        tables[tag] = b"curv\0\0\0\0" + struct.pack(">I", 256) + struct.pack(">256H", *values)

    assert is_display(tagged(of(SRGB_PRIMARIES), **tables))


def test_one_curve_in_two_writings_is_no_sign() -> None:
    """As a table and as a number, rounded."""
    values = [round((code / 4095) ** EQUAL * 65535) for code in range(4096)]
    table = b"curv\0\0\0\0" + struct.pack(">I", 4096) + struct.pack(">4096H", *values)

    assert not is_display(tagged(of(), rTRC=table))


# Together with primaries of no working space


@pytest.mark.parametrize("sign", SIGNS)
def test_primaries_of_a_screen_and_a_sign_are_a_display(sign: str) -> None:
    """Neither alone is."""
    assert not is_display(of())
    assert not is_display(tagged(of(SRGB_PRIMARIES), **{sign: SIGNS[sign]}))
    assert is_display(tagged(of(), **{sign: SIGNS[sign]}))


def test_primaries_of_a_screen_with_its_maker_and_model_are_a_display() -> None:
    """Both of them; some programs write their own name there, and no model."""
    assert is_display(headed(of(), **NAMED))
    for other in ({"maker": b"SEAL"}, {"model": b"27-A"}, {"maker": b"none", "model": b"none"}):
        assert not is_display(headed(of(), **other))
    assert not is_display(headed(of(SRGB_PRIMARIES), **NAMED))


@pytest.mark.parametrize("name", ["Color LCD", "Bildschirm", "Monitor 2", "Display", "Seal 27 OLED"])
def test_primaries_of_a_screen_with_its_name_are_a_display(name: str) -> None:
    """A name alone is no sign."""
    profile = tagged(of(), desc=b"desc\0\0\0\0" + struct.pack(">I", len(name) + 1) + name.encode() + bytes(79))

    assert is_display(profile)
    assert not is_display(of(SRGB_PRIMARIES, name=name))


@pytest.mark.parametrize(
    "name", ["Holiday RGB", "Cinema Gamut", "My working space", "Rec. 1886", "Camera P3", "BT.1886", "Holiday Linear"]
)
def test_a_name_of_a_working_space_counts_more(name: str) -> None:
    """Whoever made it has written himself into the header."""
    assert not is_display(tagged(headed(of(name=name), **NAMED), **SIGNS))


def test_primaries_that_no_screen_has_are_no_display() -> None:
    """A sensor's, or a camera's log space, beyond BT.2020."""
    wide: Primaries = ((0.73, 0.28), (0.14, 0.855), (0.1, -0.05))

    assert not is_display(tagged(headed(of(wide), **NAMED), **SIGNS))


def test_a_display_by_tables_is_told_by_what_was_measured() -> None:
    """With a matrix beside its tables or without."""
    with_matrix = tagged(of(), **TABLES)
    without = tagged(with_matrix, **dict.fromkeys(("rXYZ", "gXYZ", "bXYZ", "rTRC", "gTRC", "bTRC")))
    for profile in (with_matrix, without):
        assert not is_display(profile)
        assert is_display(tagged(profile, targ=SIGNS["targ"]))
    assert is_display(headed(with_matrix, **NAMED))
    assert not is_display(headed(without, **NAMED))


def test_a_damaged_matrix_beside_tables_is_no_reason_to_fail() -> None:
    """It is not used."""
    assert not is_display(tagged(of(), **TABLES, rXYZ=b"nonsense", targ=None))


@pytest.mark.parametrize("device", [b"scnr", b"prtr", b"spac"])
def test_another_class_is_no_display(device: bytes) -> None:
    """A scanner's curves differ, too, and it has measured colours."""
    profile = headed(tagged(of(curves=(2.0, 2.2, 2.4)), **SIGNS, vcgt=b"vcgt" + bytes(14)), device=device, **NAMED)

    assert not is_display(profile)


# No false alarm


@pytest.mark.parametrize("number", range(len(WORKING_SPACES)))
@pytest.mark.parametrize("name", ["x", "Color LCD"])
def test_no_working_space_is_a_display(number: int, name: str) -> None:
    """Whatever else stands in the profile but calibration."""
    primaries, white = WORKING_SPACES[number]

    assert not is_display(tagged(headed(of(primaries, white, name=name), **NAMED), **SIGNS))


def test_make_and_model_are_no_sign() -> None:
    """A well-known profile of ROMM RGB has the private tag, and names its maker."""
    primaries, white = WORKING_SPACES[4]
    kind = {"mmod": b"mmod" + bytes(36), "dmnd": b"desc" + bytes(90), "dmdd": b"desc" + bytes(90)}
    profile = headed(tagged(of(primaries, white, (1.8, 1.8, 1.8), "ROMM"), **kind), maker=b"SEAL", model=b"ROMM")

    assert not is_display(profile)
    assert not is_display(tagged(of(), mmod=b"mmod" + bytes(36)))


PUBLISHED = [
    "sRGB", "Adobe RGB (1998)", "Display P3", "DCI-P3", "ITU-R BT.2020", "ROMM RGB", "ProPhoto RGB", "RIMM RGB",
    "Adobe Wide Gamut RGB", "Apple RGB", "ColorMatch RGB", "Best RGB", "Beta RGB", "Don RGB 4", "ECI RGB v2",
    "Ekta Space PS 5", "CIE RGB", "NTSC (1953)", "NTSC (1987)", "Pal/Secam", "SMPTE C", "SMPTE 240M",
    "EBU Tech. 3213-E", "ITU-T H.273 - Generic Film", "ITU-T H.273 - 22 Unspecified", "ACES2065-1", "ACEScg",
]  # fmt: skip


@pytest.mark.parametrize("name", PUBLISHED)
@pytest.mark.parametrize("adapted", [True, False])
def test_the_working_spaces_of_colour_science_are_no_displays(name: str, *, adapted: bool) -> None:
    """Its primaries are its own, and so is its arithmetic; some old profiles leave them under their own white."""
    space = colour.RGB_COLOURSPACES[name]
    matrix = np.asarray(space.matrix_RGB_to_XYZ)
    if adapted:
        white = colour.xy_to_XYZ(space.whitepoint)
        matrix = colour.adaptation.matrix_chromatic_adaptation_VonKries(white, np.array(D50_XYZ), "Bradford") @ matrix
    tags = {
        tag: b"XYZ \0\0\0\0" + struct.pack(">3i", *(round(float(value) * 65536) for value in column))
        for tag, column in zip(("rXYZ", "gXYZ", "bXYZ"), matrix.T, strict=True)
    }

    assert not is_display(tagged(headed(of(), **NAMED), **SIGNS, **tags))


def test_our_own_profile_is_no_display() -> None:
    """Every delivery carries it."""
    assert not is_display(srgb_profile())


@needs_data("icc")
def test_profiles_of_others_are_no_displays() -> None:
    """Working spaces in few bytes, with a maker and a model in each header."""
    found = [path.name for path in (DATA / "icc").glob("*.icc") if is_display(path.read_bytes())]

    assert found == []


@pytest.mark.skipif(not DEBIANS.is_dir(), reason="needs Debian's colord-data or icc-profiles-free")
def test_profiles_of_a_distribution_are_no_displays() -> None:
    """But for those with curves for the graphics card, which are made to be shown with."""
    paths = [path for path in DEBIANS.rglob("*.icc") if b"vcgt" not in path.read_bytes()[:1000]]

    assert [path.name for path in paths if is_display(path.read_bytes())] == []


def test_adaptation_is_the_writers_own() -> None:
    """The table of primaries and the profiles of these tests use one arithmetic; colour-science above uses its own."""
    assert np.allclose(colorants(*SRGB_PRIMARIES, D65_WHITE).sum(axis=1), D50_XYZ, atol=1e-4)
    assert np.allclose(adapt_to_d50((0.3457, 0.3585)), np.eye(3), atol=1e-3)
