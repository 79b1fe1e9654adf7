"""Which of the files that stand is a delivery."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from lanternslide.imaging.encode import encode_jpeg
from lanternslide.imaging.types import Bytes8
from lanternslide.worker.recognise import MOST_LOOKED_AT, recognised
from tests.support.pictures import landscape

CODES: Bytes8 = np.asarray(landscape(90, 60, seed=1).convert("RGB"))


def jpeg(codes: Bytes8 = CODES, quality: int = 90) -> bytes:
    """Return a JPEG."""
    return encode_jpeg(codes, quality=quality, chroma="4:4:4", progressive=False, density=None)


def test_equal_bytes_win(tmp_path: Path) -> None:
    """Also over what looks the same and comes first."""
    alike, same = tmp_path / "a.jpg", tmp_path / "b.jpg"
    alike.write_bytes(jpeg(quality=91))
    same.write_bytes(jpeg())

    found = recognised([alike, same], jpeg())

    assert found is not None
    assert (found.path, found.likeness, found.data) == (same, None, jpeg())


def test_of_several_that_look_alike_the_most_alike_is_taken(tmp_path: Path) -> None:
    """By SSIM to what is made now, which has a quality of 90."""
    files = {quality: tmp_path / f"{quality}.jpg" for quality in (88, 97, 92)}
    for quality, file in files.items():
        file.write_bytes(jpeg(quality=quality))

    found = recognised(list(files.values()), jpeg())

    assert found is not None
    assert found.path == files[92]
    assert found.likeness is not None
    assert 0.98 <= found.likeness < 1


@pytest.mark.parametrize(
    "what",
    [
        "another maker",
        "a part painted over",
        "in grey",
        "another picture",
        "another size",
        "low quality",
        "text",
        "gone",
        "a link",
        "a folder",
    ],
)
def test_what_is_not_it(tmp_path: Path, what: str) -> None:
    """Nothing is taken for a delivery that does not look like it; nothing that is odd stops the search."""
    file, other = tmp_path / "x.jpg", tmp_path / "y.jpg"
    other.write_bytes(jpeg())
    match what:
        case "another picture":
            file.write_bytes(jpeg(np.asarray(landscape(90, 60, seed=2).convert("RGB"))))
        case "another maker":
            Image.fromarray(CODES).save(file, quality=95, subsampling=0)
        case "a part painted over":
            changed = CODES.copy()
            changed[20:40, 30:50] = changed[20:40, 30:50].mean(axis=(0, 1))
            file.write_bytes(jpeg(changed))
        case "in grey":
            file.write_bytes(jpeg(np.repeat(CODES.mean(axis=2, keepdims=True).astype(np.uint8), 3, axis=2)))
        case "another size":
            file.write_bytes(jpeg(np.ascontiguousarray(CODES[:-1])))
        case "low quality":
            file.write_bytes(jpeg(quality=10))
        case "text":
            file.write_text("no picture")
        case "a link":
            file.symlink_to(other)
        case "a folder":
            file.mkdir()
        case _:
            pass

    assert recognised([file], jpeg()) is None
    found = recognised([file, other], jpeg())
    assert found is not None
    assert found.path == other


def test_a_pipe_is_not_waited_for(tmp_path: Path) -> None:
    """It is no file."""
    os.mkfifo(tmp_path / "x.jpg")

    assert recognised([tmp_path / "x.jpg"], jpeg()) is None


def test_a_picture_that_is_cut_short_is_not_it(tmp_path: Path) -> None:
    """Its header alone does not count."""
    (tmp_path / "x.jpg").write_bytes(jpeg()[:700])

    assert recognised([tmp_path / "x.jpg"], jpeg()) is None


def test_only_so_many_are_decoded(tmp_path: Path) -> None:
    """Behind them, equal bytes still count, which cost little."""
    other = jpeg(np.asarray(landscape(90, 60, seed=2).convert("RGB")))
    files = [tmp_path / f"{number}.jpg" for number in range(MOST_LOOKED_AT + 2)]
    for file in files:
        file.write_bytes(other)
    files[-2].write_bytes(jpeg(quality=95))

    assert recognised(files, jpeg()) is None
    files[-1].write_bytes(jpeg())
    found = recognised(files, jpeg())
    assert found is not None
    assert found.path == files[-1]
