"""What ``check`` finds out about folders, machine and ledger; it writes nothing."""

from __future__ import annotations

import os
import re
import shutil
import sqlite3
import sys
from contextlib import closing
from pathlib import Path

import pytest

from lanternslide.config import Settings, load_settings
from lanternslide.ledger import LEDGER_FILE, Ledger, StateLock
from lanternslide.preview import check as surroundings
from lanternslide.preview.check import Finding, Verdict, look_around
from lanternslide.words import SENTENCES, Check
from tests.support.household import CONFIG
from tests.support.service import make_home

POSIX = pytest.mark.skipif(os.name != "posix", reason="Windows has no modes")
NOT_ROOT = pytest.mark.skipif(
    sys.platform == "win32" or os.geteuid() == 0, reason="the administrator may write everywhere"
)


@pytest.fixture
def root(tmp_path: Path) -> Path:
    """Return a home whose state folder is closed to others."""
    make_home(tmp_path, CONFIG)
    (tmp_path / "state").mkdir(mode=0o700)
    return tmp_path


def settings_of(root: Path, config: str = CONFIG) -> Settings:
    """Return the settings of a config."""
    (root / "lanternslide.toml").write_text(config, "utf-8")
    return load_settings(root / "lanternslide.toml")


def findings(root: Path, config: str = CONFIG) -> list[Finding]:
    """Return all that is found."""
    return list(look_around(settings_of(root, config), root / "state"))


def about(found: list[Finding], what: str) -> list[tuple[Verdict, Check]]:
    """Return how each finding about a key counts, and which sentence it is."""
    return [(finding.verdict, check_of(finding.text)) for finding in found if finding.what == what]


def check_of(text: str) -> Check:
    """Return which sentence of the list a text is."""
    patterns = {word: re.sub(r"\\\{\w+\\\}", ".+", re.escape(SENTENCES[word])) for word in Check if word in SENTENCES}
    # The most special one: others may be nothing but places.
    fitting = [word for word, pattern in patterns.items() if re.fullmatch(pattern, text)]
    return max(fitting, key=lambda word: len(SENTENCES[word]))


def test_verdicts_are_exit_statuses() -> None:
    """2: the config is wrong, 3: it may pass, 4: the state cannot be used (design, section 4)."""
    assert (Verdict.FINE, Verdict.CONFIG, Verdict.MAY_PASS, Verdict.STATE) == (0, 2, 3, 4)
    assert max(Verdict.REMARK, Verdict.FINE) == Verdict.FINE  # a remark is no fault


def test_where_all_is_well_every_key_has_one_finding(root: Path) -> None:
    """In the order of a config; a folder that several share is looked at once, each photographer's own for each."""
    found = findings(root)

    assert [(finding.what, finding.verdict) for finding in found] == [
        ("state", Verdict.FINE),
        ("ledger", Verdict.FINE),
        ("machine", Verdict.FINE),
        ("photographers.ida.drop", Verdict.FINE),
        ("photographers.juno.drop", Verdict.FINE),
        ("destinations.portfolio.folder", Verdict.FINE),
        ("destinations.journal.folder", Verdict.FINE),
        ("destinations.club.folder", Verdict.FINE),
    ]
    assert not (root / "out" / "club").exists()
    assert not (root / "state" / LEDGER_FILE).exists()


# State


def test_a_state_folder_without_a_ledger_is_no_fault(root: Path) -> None:
    """The first start makes it."""
    assert about(findings(root), "ledger") == [(Verdict.FINE, Check.NO_LEDGER)]


def test_a_sound_ledger_is_told(root: Path) -> None:
    """It is read as it lies there."""
    with Ledger(root / "state"):
        pass

    assert about(findings(root), "ledger") == [(Verdict.FINE, Check.LEDGER_FINE)]


@pytest.mark.parametrize("where", ["in front", "inside"])
def test_a_damaged_ledger_is_told(root: Path, where: str) -> None:
    """Whether it cannot be opened, or opens and does not hold together."""
    with Ledger(root / "state"):
        pass
    file = root / "state" / LEDGER_FILE
    with closing(sqlite3.connect(file)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        (page,) = connection.execute("SELECT rootpage FROM sqlite_master WHERE name = 'delivery'").fetchone()
        (size,) = connection.execute("PRAGMA page_size").fetchone()
    with file.open("r+b") as stream:
        stream.seek(0 if where == "in front" else (page - 1) * size)
        stream.write(b"\xff" * 200)

    verdicts = [finding.verdict for finding in findings(root) if finding.what == "ledger"]

    assert verdicts == [Verdict.STATE]


@pytest.mark.parametrize("runs", [True, False])
def test_a_service_that_runs_is_told(root: Path, *, runs: bool) -> None:
    """Nothing waits for it."""
    settings = settings_of(root)
    if runs:
        with StateLock(root / "state", "watch"):
            found = list(look_around(settings, root / "state"))
    else:
        found = list(look_around(settings, root / "state"))

    assert about(found, "state") == [(Verdict.FINE, Check.RUNNING if runs else Check.NOT_RUNNING)]


@POSIX
@pytest.mark.parametrize(("mode", "told"), [(0o700, False), (0o750, True), (0o701, True), (0o704, True)])
def test_a_state_folder_that_others_can_look_into_gets_a_remark(root: Path, mode: int, *, told: bool) -> None:
    """It knows the names of all pictures."""
    (root / "state").chmod(mode)

    assert ((Verdict.REMARK, Check.STATE_OPEN) in about(findings(root), "state")) == told


# Drop folders


def test_pictures_in_a_drop_folder_are_counted(root: Path) -> None:
    """Below all its folders, and nothing but pictures."""
    (root / "drop" / "ida" / "islands").mkdir()
    for name in ("seal.jpg", "islands/kelp.tif", "islands/notes.txt"):
        (root / "drop" / "ida" / name).write_bytes(b"x")

    texts = {finding.what: finding.text for finding in findings(root)}

    assert texts["photographers.ida.drop"].endswith("drop/ida: 2 pictures.")
    assert texts["photographers.juno.drop"].endswith("drop/juno: 0 pictures.")


def test_a_drop_folder_that_is_away_may_come_back(root: Path) -> None:
    """Others are looked at all the same."""
    (root / "drop" / "ida").rmdir()

    found = findings(root)

    assert about(found, "photographers.ida.drop") == [(Verdict.MAY_PASS, Check.DROP_MISSING)]
    assert about(found, "photographers.juno.drop") == [(Verdict.FINE, Check.DROP_FINE)]


def test_what_is_no_folder_cannot_be_looked_through(root: Path) -> None:
    """A file of that name, for one."""
    (root / "drop" / "ida").rmdir()
    (root / "drop" / "ida").write_bytes(b"")

    assert about(findings(root), "photographers.ida.drop") == [(Verdict.MAY_PASS, Check.NOT_LISTED)]


@NOT_ROOT
def test_a_folder_in_a_drop_folder_that_cannot_be_looked_into_is_named(root: Path) -> None:
    """What lies in it is never seen."""
    closed = root / "drop" / "ida" / "closed"
    closed.mkdir(mode=0o000)

    found = [finding for finding in findings(root) if finding.what == "photographers.ida.drop"]
    closed.chmod(0o700)

    assert [(finding.verdict, check_of(finding.text)) for finding in found] == [
        (Verdict.FINE, Check.DROP_FINE),
        (Verdict.MAY_PASS, Check.NOT_LISTED),
    ]
    assert str(closed) in found[1].text


@pytest.mark.parametrize(("limit", "told"), [("8\n", False), ("7\n", True), ("no number", False), (None, False)])
def test_more_folders_than_half_the_limit_of_watches_get_a_remark(
    root: Path, monkeypatch: pytest.MonkeyPatch, limit: str | None, *, told: bool
) -> None:
    """Other programs of the user may need the other half. Four folders: the drop folder and three in it."""
    for name in ("islands", "islands/north", "harbour"):
        (root / "drop" / "ida" / name).mkdir()
    monkeypatch.setattr(surroundings, "WATCH_LIMIT", root / "limit")
    if limit is not None:
        (root / "limit").write_text(limit)

    found = findings(root)

    assert ((Verdict.REMARK, Check.WATCHES) in about(found, "photographers.ida.drop")) == told
    assert (Verdict.REMARK, Check.WATCHES) not in about(found, "photographers.juno.drop")


# Destinations and proofs


@pytest.mark.parametrize(
    ("there", "expected"),
    [
        (["out/club"], (Verdict.FINE, Check.FOLDER_FINE)),
        (["out"], (Verdict.FINE, Check.FOLDER_TO_COME)),
        ([], (Verdict.MAY_PASS, Check.FOLDER_MISSING)),
    ],
)
def test_a_destination_is_there_or_can_be_made(root: Path, there: list[str], expected: tuple[Verdict, Check]) -> None:
    """It is made once, if the folder above it is there; else that may be a share that is away."""
    shutil.rmtree(root / "out")
    for name in there:
        (root / name).mkdir(parents=True)

    assert about(findings(root), "destinations.club.folder") == [expected]


@pytest.mark.parametrize(
    ("there", "expected"),
    [
        ("out/ida/portfolio", (Verdict.FINE, Check.FOLDER_FINE)),
        # What a photographer's name begins is made with it; what is fixed before it is not.
        ("out", (Verdict.FINE, Check.FOLDER_TO_COME)),
        (".", (Verdict.MAY_PASS, Check.FOLDER_MISSING)),
    ],
)
def test_a_folder_of_each_photographer_may_be_made_below_what_is_fixed(
    root: Path, there: str, expected: tuple[Verdict, Check]
) -> None:
    """Only as far as the config names it for all."""
    shutil.rmtree(root / "out")
    (root / there).mkdir(parents=True, exist_ok=True)

    assert about(findings(root), "destinations.portfolio.folder") == [expected]


def test_only_what_somebody_uses_is_looked_at(root: Path) -> None:
    """And each photographer's own folder of a destination that both use."""
    both = CONFIG.replace('destinations = ["club"]', 'destinations = ["journal"]')
    nobodys = CONFIG.replace('drop = "drop/ida"', 'drop = "drop/ida"\ndestinations = ["portfolio"]')

    assert len(about(findings(root, both), "destinations.journal.folder")) == 2
    assert about(findings(root, nobodys), "destinations.journal.folder") == []


@NOT_ROOT
def test_a_destination_that_cannot_be_written_into_is_told(root: Path) -> None:
    """Or the folder that it would be made in."""
    (root / "out").chmod(0o500)
    found = findings(root)
    (root / "out").chmod(0o700)

    assert about(found, "destinations.club.folder") == [(Verdict.MAY_PASS, Check.NOT_WRITABLE)]


def test_little_room_gets_a_remark(root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The folder and what is free are told; it is no fault."""
    free = shutil.disk_usage(root).free
    assert (Verdict.REMARK, Check.LITTLE_ROOM) not in about(findings(root), "destinations.club.folder")
    monkeypatch.setattr(surroundings, "LITTLE_ROOM", free * 2 + 1)

    assert about(findings(root), "destinations.club.folder") == [(Verdict.REMARK, Check.LITTLE_ROOM)]


@pytest.mark.parametrize(
    ("above", "expected"),
    [(True, (Verdict.FINE, Check.FOLDER_TO_COME)), (False, (Verdict.MAY_PASS, Check.FOLDER_MISSING))],
)
def test_a_proof_folder_is_made_in_the_folder_above_it(
    root: Path, expected: tuple[Verdict, Check], *, above: bool
) -> None:
    """No further: what is missing there may be a share."""
    config = CONFIG.replace('drop = "drop/ida"', 'drop = "drop/ida"\nproofs = "proofs/ida"')
    if above:
        (root / "proofs").mkdir()

    assert about(findings(root, config), "photographers.ida.proofs") == [expected]


# Filing


FILING = CONFIG.replace('drop = "drop/ida"', 'drop = "drop/ida"\noriginals = "filed/ida"')


@pytest.mark.parametrize(
    ("there", "expected"),
    [
        ("filed/ida", (Verdict.FINE, Check.FILING_FINE)),
        ("filed", (Verdict.FINE, Check.FILING_FINE)),
        (".", (Verdict.MAY_PASS, Check.FOLDER_MISSING)),
    ],
)
def test_a_filing_folder_is_there_or_can_be_made(root: Path, there: str, expected: tuple[Verdict, Check]) -> None:
    """In the folder above it."""
    (root / there).mkdir(parents=True, exist_ok=True)

    assert about(findings(root, FILING), "photographers.ida.originals") == [expected]


SHM = Path("/dev/shm")  # noqa: S108 - another file system than that of temporary files, where there is one


def test_filing_onto_another_disk_is_a_fault_of_the_config(root: Path) -> None:
    """Originals are renamed, never copied."""
    if not SHM.is_dir() or SHM.stat().st_dev == root.stat().st_dev:
        pytest.skip("there is no second file system to write to")
    other = SHM / root.name
    other.mkdir()
    try:
        found = findings(root, FILING.replace("filed/ida", str(other)))
    finally:
        other.rmdir()

    assert about(found, "photographers.ida.originals") == [(Verdict.CONFIG, Check.OTHER_DISK)]


def test_while_a_drop_folder_is_away_its_disk_is_not_judged(root: Path) -> None:
    """It is named as what is missing, and that is enough."""
    (root / "drop" / "ida").rmdir()
    (root / "filed").mkdir()

    assert about(findings(root, FILING), "photographers.ida.originals") == [(Verdict.FINE, Check.FILING_FINE)]
