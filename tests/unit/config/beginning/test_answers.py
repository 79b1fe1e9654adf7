"""What a photographer answers before there is a config: taken, or refused with the reason."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from lanternslide.config.beginning.answers import (
    cannot_be_made,
    in_the_way_of,
    name_like,
    read_destination,
    read_edge,
    read_folder,
    read_words,
)
from lanternslide.words import Beginning, Said

WHAT_WINDOWS_DRAWS = 'C:\\Users\\Zoë\\Bilder für\'s "Web"'


def reason(answer: object) -> str:
    """Return why an answer was refused."""
    assert isinstance(answer, Said)
    return answer.key


@pytest.mark.parametrize(
    ("drop", "why"),
    [
        ("out", "not-apart"),
        ("out/ida/portfolio", "not-apart"),
        ("proofs/me/deep", "not-apart"),
        ("state", "not-apart"),
        (".", "not-apart"),
        ("..", "not-apart"),
        ("x/../out", "not-apart"),
        ("linked", "not-apart"),
        ("file", "file-in-the-way"),
        ("file/deeper", "file-in-the-way"),
        ("", "empty-answer"),
        ("'  '", "empty-answer"),
        ("''", "empty-answer"),
        ('""', "empty-answer"),
        ("drop\x07", "unseen"),
        ("~nobody-of-this-name/drop", "no-home"),
    ],
)
def test_drop_folders_that_cannot_be_are_refused(tmp_path: Path, drop: str, why: str) -> None:
    """Inside or around what the service writes, by a link too; where a file is; not to be told."""
    (tmp_path / "out").mkdir()
    (tmp_path / "linked").symlink_to(tmp_path / "out")
    (tmp_path / "file").touch()

    assert reason(read_folder(drop, tmp_path)) == why


@pytest.mark.parametrize(
    ("typed", "drop"),
    [
        ("  drop/ida ", "drop/ida"),
        ("drop/ida//", "drop/ida"),
        ("'/srv/My Pictures'", "/srv/My Pictures"),
        ('"/srv/My Pictures"', "/srv/My Pictures"),
        ("outside", "outside"),
        ("~/drop", "/home/of/ida/drop"),
        ("~", "/home/of/ida"),
        ("'", "'"),
    ],
)
def test_drop_folders_stand_as_they_were_typed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, typed: str, drop: str
) -> None:
    """Without the quotation marks that a terminal puts around what is dragged onto it; a home is written out."""
    monkeypatch.setenv("HOME", "/home/of/ida")

    assert read_folder(typed, tmp_path) == drop


@pytest.mark.parametrize("typed", [WHAT_WINDOWS_DRAWS, "D:/Drop", "\\\\nas\\photos"])
def test_a_folder_of_another_system_is_refused(tmp_path: Path, typed: str) -> None:
    """Elsewhere than on Windows it would become a folder of that odd name."""
    found = read_folder(typed, tmp_path)

    assert isinstance(found, Said)
    assert found.key == Beginning.FROM_WINDOWS.value


def test_what_is_in_the_way_is_the_file_itself(tmp_path: Path) -> None:
    """The nearest thing that is there and no folder, a link that leads nowhere too; nothing where a folder can be."""
    (tmp_path / "link").symlink_to("nowhere")

    assert in_the_way_of(tmp_path / "link" / "a" / "b") == tmp_path / "link"
    assert in_the_way_of(tmp_path / "a" / "b") is None


@pytest.mark.parametrize(
    ("typed", "edge"), [("1050", 1050), ("100000", 100_000), (" 16 ", 16), ("1600px", 1600), ("1600 Pixels", 1600)]
)
def test_sizes_are_whole_numbers_of_pixels(typed: str, edge: int) -> None:
    """With or without their unit."""
    assert read_edge(typed) == edge


@pytest.mark.parametrize("typed", ["", "0", "-5", "100001", "10.5", "1e3", "large", "١٠٥٠", "1050 cm", "9" * 5000])
def test_other_sizes_are_refused(typed: str) -> None:
    """What a config would not take is not taken here."""
    assert reason(read_edge(typed)) == "no-edge"


@pytest.mark.parametrize(
    ("typed", "why"),
    [
        ("my site", "no-name"),
        ("-club", "no-name"),
        ("clüb", "no-name"),
        ("", "no-name"),
        ("club\n", None),
        ("a" * 65, "no-name"),
        ("../out", "no-name"),
        ("NUL", "reserved-name"),
        ("Portfolio", "same-name"),
        ("portfolio-2", None),
    ],
)
def test_destinations_have_names_that_a_config_takes(typed: str, why: str | None) -> None:
    """Each once, without regard to case."""
    answer = read_destination(typed, ["portfolio"])

    assert answer == typed.strip() if why is None else reason(answer) == why


@pytest.mark.parametrize(
    ("typed", "like"),
    [
        ("My Website", "my-website"),
        ("  The Skerrow Camera-Club! ", "the-skerrow-camera-club"),
        ("clüb", "club"),
        ("-club-", "club"),
        ("Portfolio 2", "portfolio-2"),
        ("a" * 70, "a" * 64),
        ("Portfolio!", ""),  # that one is on the list
        ("NUL ", ""),  # no folder has this name on Windows
        ("!?", ""),
        ("", ""),
    ],
)
def test_the_nearest_name_is_offered(typed: str, like: str) -> None:
    """In lower case, with hyphens; only what would be taken."""
    assert name_like(typed, ["portfolio"]) == like


def test_what_cannot_be_made_is_known_before(tmp_path: Path) -> None:
    """A name that is too long; what is there, or can be made, is well."""
    assert cannot_be_made(tmp_path) is None
    assert cannot_be_made(tmp_path / "a" / "b") is None
    assert cannot_be_made(tmp_path / ("x" * 300)) == "File name too long"
    assert reason(read_folder("x" * 300, tmp_path)) == "cannot-be-made"


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="the administrator may write everywhere")
def test_where_one_may_not_write_nothing_can_be_made(tmp_path: Path) -> None:
    """What is there already need only be read."""
    tmp_path.chmod(0o555)
    try:
        assert cannot_be_made(tmp_path) is None
        assert cannot_be_made(tmp_path / "a" / "b") == "Permission denied"
    finally:
        tmp_path.chmod(0o755)


def test_names_are_texts_that_can_be_seen() -> None:
    """Spaces of all kinds become plain ones; characters that cannot be seen are refused."""
    assert read_words(" 山田\u3000太郎\xa0 ") == "山田 太郎"
    assert read_words("  ") == ""
    assert reason(read_words("Ida\u202eMarrow")) == "unseen"
