"""The owner's commands: with a running service and without one."""

from __future__ import annotations

import json
import os
import shutil
import signal
import stat
import subprocess
from pathlib import Path

import pytest
from PIL import Image

from tests.support.pictures import save_jpeg, size_of
from tests.support.service import FILING, PLAIN, Home, make_home, run, sweep, watching

CLUB = PLAIN.replace('otherwise = ["portfolio", "journal"]', 'otherwise = ["portfolio", "journal", "club"]')


@pytest.fixture
def home(tmp_path: Path) -> Home:
    """Return a home with one photographer and three destinations."""
    return make_home(tmp_path)


# Withdraw


def test_anything_published_can_be_taken_back_with_one_command(home: Home) -> None:
    """Every delivery goes, the original stays, and a sweep does not bring them back until the original changes."""
    original = save_jpeg(home.drop() / "north-stack.jpg", 390, 270)
    save_jpeg(home.drop() / "other.jpg", 390, 270, seed=2)
    assert sweep(home).status == 0
    assert len(home.delivered()) == 4

    ran = run(home, "withdraw", original)
    assert (ran.status, ran.output.count("was deleted")) == (0, 2)
    assert set(home.delivered()) == {"ida/journal/other.jpg", "ida/portfolio/other.jpg"}
    assert original.is_file()
    os.utime(original)
    assert sweep(home).status == 0
    assert len(home.delivered()) == 2

    save_jpeg(original, 390, 270, seed=3)
    assert sweep(home).status == 0
    assert len(home.delivered()) == 4


def test_one_destination_is_withdrawn_alone(home: Home) -> None:
    """The others stay; `retry` brings the one back."""
    original = save_jpeg(home.drop() / "north-stack.jpg", 390, 270)
    assert sweep(home).status == 0
    before = home.delivered()

    assert run(home, "withdraw", original, "--destination", "journal").status == 0
    assert set(home.delivered()) == {"ida/portfolio/north-stack.jpg"}
    assert sweep(home).status == 0
    assert set(home.delivered()) == {"ida/portfolio/north-stack.jpg"}
    assert run(home, "retry", original).status == 0
    assert sweep(home).status == 0
    assert home.delivered() == before


def test_a_folder_is_withdrawn_with_all_that_lies_in_it(home: Home) -> None:
    """A path may be a folder, and its originals may be gone already."""
    (home.drop() / "isles").mkdir()
    for number in range(3):
        save_jpeg(home.drop() / "isles" / f"{number}.jpg", 360, 240, seed=number)
    save_jpeg(home.drop() / "isles2.jpg", 360, 240)
    assert sweep(home).status == 0
    (home.drop() / "isles" / "1.jpg").unlink()

    assert run(home, "withdraw", home.drop() / "isles").status == 0
    assert set(home.delivered()) == {"ida/journal/isles2.jpg", "ida/portfolio/isles2.jpg"}


def test_what_somebody_changed_is_not_deleted(home: Home) -> None:
    """Only what was delivered is taken back; a delivery that was edited stays, and that is said."""
    original = save_jpeg(home.drop() / "north-stack@club.jpg", 390, 270)
    assert sweep(home).status == 0
    home.out("club", "north-stack.jpg").write_bytes(b"edited")

    ran = run(home, "withdraw", original)
    assert "because somebody changed it" in ran.said
    assert home.delivered() == {"club/north-stack.jpg": b"edited"}


def test_a_withdrawal_waits_for_a_folder_that_is_away(home: Home) -> None:
    """What cannot be deleted now is deleted as soon as its folder is back."""
    original = save_jpeg(home.drop() / "north-stack@club.jpg", 390, 270)
    assert sweep(home).status == 0
    away = home.out("club").rename(home.root / "away")

    ran = run(home, "withdraw", original)
    assert ran.status == 3
    assert "as soon as that is possible" in ran.said
    away.rename(home.out("club"))
    assert sweep(home).status == 0
    assert home.delivered() == {}


def test_a_path_that_nobody_knows(home: Home) -> None:
    """It is named, the exit status says so, and nothing happens."""
    save_jpeg(home.drop() / "north-stack.jpg", 390, 270)
    assert sweep(home).status == 0

    for command in ("withdraw", "retry"):
        ran = run(home, command, home.drop() / "south-stack.jpg")
        assert ran.status == 2
        assert "south-stack.jpg: no original is known there" in ran.said
    ran = run(home, "withdraw", home.drop() / "north-stack.jpg", "--destination", "jornal")
    assert ran.status == 2
    assert "no destination “jornal”" in ran.output
    assert len(home.delivered()) == 2


def test_commands_work_while_the_service_runs(home: Home) -> None:
    """Withdrawn at once, tried again at once, made again at once, without a restart."""
    original = save_jpeg(home.drop() / "north-stack@club.jpg", 390, 270)
    torn = home.drop() / "torn@club.jpg"
    torn.write_bytes(original.read_bytes()[:5000])
    with watching(home) as service:
        service.until(lambda: home.delivered() and [e for e in service.events() if e["event"] == "held"], "both")

        ran = run(home, "withdraw", original)
        assert (ran.status, ran.output.count("was deleted")) == (0, 1)
        assert home.delivered() == {}
        assert [event["output"] for event in service.events() if event["event"] == "withdrawn"]

        assert run(home, "retry", original).status == 0
        service.until(home.delivered, "the delivery that was asked back")

        ran = run(home, "retry")
        assert ran.output.strip() == "1 original will be tried again."
        service.until(lambda: sum(e["event"] == "held" for e in service.events()) == 2, "a second look")

        home.out("club", "north-stack.jpg").unlink()
        assert run(home, "sweep", "--missing").status == 1  # something is held
        service.until(home.delivered, "the missing delivery")
        assert service.stop() == 0
    assert not list((home.root / "state" / "requests").iterdir())


def test_a_withdrawal_reaches_what_is_being_made(home: Home) -> None:
    """A picture withdrawn while it is in work is not published afterwards."""
    original = save_jpeg(home.drop() / "north-stack@club.jpg", 900, 600)
    assert sweep(home).status == 0
    home.config.write_text(PLAIN.replace("workers = 2", "workers = 1"))
    with watching(home) as service:
        save_jpeg(home.drop() / "other@journal.jpg", 300, 200)
        service.until_told("delivered")
        (worker,) = service.workers()
        save_jpeg(original, 6000, 4000, seed=2)
        service.until(home.is_working, "the work", pause=0.01)
        os.kill(worker, signal.SIGSTOP)
        assert run(home, "withdraw", original).status == 0
        os.kill(worker, signal.SIGCONT)
        service.until(lambda: not home.is_working(), "the end of the work")
        assert run(home, "withdraw", original).status == 0, "withdrawn again, it is no fault"
        assert service.stop() == 0
        assert [event["original"] for event in service.told("delivered")] == ["ida: other@journal.jpg"]
    assert home.delivered().keys() == {"ida/journal/other.jpg"}


@pytest.mark.parametrize("known", [True, False])
def test_a_withdrawal_holds_for_the_file_as_it_lies(home: Home, *, known: bool) -> None:
    """An export that is still settling when it is withdrawn is not published; the next export is."""
    slow = PLAIN.replace("settle_seconds = 0.1", "settle_seconds = 3").replace("workers = 2", "workers = 1")
    home.config.write_text(slow)
    original = home.drop() / "north-stack@club.jpg"
    if known:
        save_jpeg(original, 390, 270)
        assert sweep(home).status == 0
    with watching(home) as service:
        service.until_started()
        save_jpeg(original, 360, 270, seed=2)
        assert run(home, "withdraw", original).status == 0
        # What is dropped later has settled later, and is delivered after what settled before.
        save_jpeg(home.drop() / "later@journal.jpg", 360, 270)
        service.until(home.out("ida", "journal", "later.jpg").exists, "what was dropped later")
        service.until_told("batch done")
        assert [event["original"] for event in service.told("delivered")] == ["ida: later@journal.jpg"]
        save_jpeg(original, 330, 270, seed=3)
        service.until(home.out("club", "north-stack.jpg").exists, "the next export")
        assert service.stop() == 0
    assert size_of(home.out("club", "north-stack.jpg")) == (330, 270)


def test_what_was_withdrawn_stays_away_in_other_densities(home: Home) -> None:
    """A density added later does not bring a destination back that the picture was taken out of."""
    original = save_jpeg(home.drop() / "north-stack@journal@club.jpg", 3200, 2400)
    assert sweep(home).status == 0
    assert run(home, "withdraw", original, "--destination", "journal").status == 0
    home.config.write_text(
        PLAIN.replace("size = { long_edge = 1600 }", "size = { long_edge = 1600 }\ndensities = [1, 2]")
    )
    assert run(home, "sweep", "--again").status == 0
    os.utime(original)
    assert sweep(home).status == 0
    assert set(home.delivered()) == {"club/north-stack.jpg"}


def test_everything_can_be_taken_back_whatever_the_config_says_now(home: Home) -> None:
    """A folder that changed, a destination and a photographer that are no longer there: one command each."""
    original = save_jpeg(home.drop() / "north-stack@club@journal.jpg", 390, 270)
    assert sweep(home).status == 0
    home.config.write_text(PLAIN.replace("out/club", "out/club2"))
    save_jpeg(original, 360, 270, seed=2)
    assert sweep(home).status == 0
    assert set(home.delivered()) == {
        "club/north-stack.jpg", "club2/north-stack.jpg", "ida/journal/north-stack.jpg",
    }  # fmt: skip
    home.config.write_text(PLAIN[: PLAIN.index("[destinations.club]")])
    assert run(home, "withdraw", original, "--destination", "club").status == 0
    assert set(home.delivered()) == {"ida/journal/north-stack.jpg"}
    home.config.write_text(PLAIN.replace("photographers.ida", "photographers.juno").replace("drop/ida", "drop/juno"))
    assert run(home, "withdraw", original).status == 0
    assert home.delivered() == {}


def test_a_folder_that_goes_to_and_fro_holds_each_delivery_once(home: Home) -> None:
    """A destination's folder is changed and changed back: what still stands there is replaced, not doubled."""
    original = save_jpeg(home.drop() / "north-stack@club.jpg", 390, 270)
    assert sweep(home).status == 0
    for seed, folder in ((2, "out/club2"), (3, "out/club")):
        home.config.write_text(PLAIN.replace("out/club", folder))
        save_jpeg(original, 1300 - seed, 900, seed=seed)
        assert sweep(home).status == 0
    assert {name: size_of(home.out(name)) for name in home.delivered()} == {
        "club/north-stack.jpg": (1297, 900), "club2/north-stack.jpg": (1298, 900),
    }  # fmt: skip
    away = home.out("club2").rename(home.root / "away")
    assert run(home, "withdraw", original).status == 3
    assert home.delivered() == {}
    away.rename(home.out("club2"))
    assert sweep(home).status == 0
    assert home.delivered() == {}


def test_a_withdrawal_reaches_what_is_queued(home: Home) -> None:
    """New exports that were taken in and wait for their turn are not published once they are withdrawn."""
    for number in range(12):
        save_jpeg(home.drop() / f"{number}@club.jpg", 300, 200, seed=number)
    assert sweep(home).status == 0
    home.config.write_text(PLAIN.replace("workers = 2", "workers = 1"))
    with watching(home) as service:
        service.until_started()
        for number in range(12):
            save_jpeg(home.drop() / f"{number}@club.jpg", 2000, 1400, seed=number)
        service.until_told("delivered")
        assert run(home, "withdraw", home.drop()).status == 0
        assert len(service.told("delivered")) < 12, "nothing was queued any more"
        # One may still be on its way, under its temporary name.
        assert [path for path in home.delivered() if not Path(path).name.startswith(".")] == []
        # What is dropped later is made after what waited before, if that is made at all.
        save_jpeg(home.drop() / "later@journal.jpg", 300, 200)
        service.until(home.out("ida", "journal", "later.jpg").exists, "what was dropped later")
        service.until(lambda: len(home.delivered()) == 1, "the end of what was on its way")
        assert service.stop() == 0


def test_a_delivery_in_a_folder_that_was_deleted_is_away(home: Home) -> None:
    """A subfolder that its owner has deleted from a destination is no share that may come back."""
    (home.drop() / "isles").mkdir()
    original = save_jpeg(home.drop() / "isles" / "north-stack@club.jpg", 390, 270)
    assert sweep(home).status == 0
    home.out("club", "isles", "north-stack.jpg").unlink()
    home.out("club", "isles").rmdir()
    ran = run(home, "withdraw", original)
    assert ran.status == 0
    assert "was gone already" in ran.said


def test_a_withdrawal_where_nothing_may_be_looked_at_waits(home: Home) -> None:
    """A destination that may not be entered is no reason to stop; it is taken back once it may."""
    powerless = ("unshare", "--user")
    if subprocess.run([*powerless, "true"], capture_output=True, check=False).returncode != 0:
        pytest.skip("this machine does not let us give up root's rights with unshare --user")
    original = save_jpeg(home.drop() / "north-stack@club.jpg", 390, 270)
    assert sweep(home).status == 0
    home.out().chmod(0o000)
    try:
        assert run(home, "withdraw", original, before=powerless).status == 3
        assert sweep(home, *powerless).status == 0
    finally:
        home.out().chmod(0o755)
    assert sweep(home, *powerless).status == 0
    assert home.delivered() == {}


# Retry and what is held


def test_what_is_held_is_tried_again_when_asked(home: Home) -> None:
    """After three failures an original is held; `retry` gives it three attempts more."""
    original = save_jpeg(home.drop() / "north-stack@jornal.jpg", 390, 270)
    assert sweep(home).status == 1
    home.config.write_text(PLAIN + 'tags = ["club", "jornal"]\n')

    ran = run(home, "retry", original)
    assert ran.output.startswith("ida: north-stack@jornal.jpg will be tried again.")
    assert sweep(home).status == 0
    assert set(home.delivered()) == {"club/north-stack.jpg"}
    assert "nothing there is held" in run(home, "retry", original).output


def test_held_notes_come_and_go(home: Home) -> None:
    """HELD.txt names what is held and why, and is gone once nothing is."""
    (home.root / "proofs").mkdir()
    home.config.write_text(PLAIN.replace('drop = "drop/ida"', 'drop = "drop/ida"\nproofs = "proofs/ida"'))
    note = home.root / "proofs" / "ida" / "HELD.txt"
    original = save_jpeg(home.drop() / "north-stack@jornal.jpg", 390, 270)
    assert sweep(home).status == 1
    text = note.read_text("utf-8")
    assert "north-stack@jornal.jpg" in text
    assert "did you mean “@journal”" in " ".join(text.split())
    assert max(map(len, text.splitlines())) <= 80
    before = note.stat()
    assert sweep(home).status == 1
    assert note.stat().st_mtime_ns == before.st_mtime_ns

    original.rename(home.drop() / "north-stack@journal.jpg")
    assert sweep(home).status == 0
    assert not note.exists()

    with watching(home) as service:
        service.until_started()
        held = save_jpeg(home.drop() / "south-stack@jornal.jpg", 390, 270)
        service.until(note.exists, "the note")
        held.unlink()
        service.until(lambda: not note.exists(), "the end of the note")
        assert service.stop() == 0
    note.write_text("somebody else's")
    assert sweep(home).status == 0
    save_jpeg(home.drop() / "south-stack@jornal.jpg", 390, 270)
    assert sweep(home).status == 3
    assert note.read_text() == "somebody else's"


# Sweep


def test_a_changed_config_touches_nothing_until_asked(home: Home) -> None:
    """`--again` makes again what the change touches, and nothing else."""
    save_jpeg(home.drop() / "north-stack.jpg", 3000, 2000)
    assert sweep(home).status == 0
    before = home.delivered()
    home.config.write_text(PLAIN.replace("long_edge = 1050", "long_edge = 900"))
    assert sweep(home).status == 0
    assert home.delivered() == before

    ran = run(home, "sweep", "--again", "--dry-run")
    assert "ida: north-stack.jpg (to remake): portfolio" in ran.output
    assert home.delivered() == before
    ran = run(home, "sweep", "--again")
    assert ran.status == 0
    after = home.delivered()
    assert size_of(home.out("ida", "portfolio", "north-stack.jpg")) == (900, 600)
    assert after["ida/journal/north-stack.jpg"] == before["ida/journal/north-stack.jpg"]
    assert [event["destination"] for event in ran.events if event["event"] == "delivered"] == ["portfolio"]
    assert not [e for e in run(home, "sweep", "--again").events if e["event"] == "delivered"]


def test_a_new_destination_is_filled_only_when_asked(home: Home) -> None:
    """Pictures that were done before go to a destination added later with `--again`."""
    save_jpeg(home.drop() / "north-stack.jpg", 3000, 2000)
    assert sweep(home).status == 0
    home.config.write_text(CLUB)
    assert sweep(home).status == 0
    assert len(home.delivered()) == 2
    assert run(home, "sweep", "--again", "--only", "club").status == 0
    assert set(home.delivered()) == {
        "club/north-stack.jpg", "ida/journal/north-stack.jpg", "ida/portfolio/north-stack.jpg",
    }  # fmt: skip


def test_what_was_deleted_comes_back_only_when_asked(home: Home) -> None:
    """`--missing` makes what its owner deleted, and `--again` leaves that alone."""
    save_jpeg(home.drop() / "north-stack.jpg", 390, 270)
    assert sweep(home).status == 0
    before = home.delivered()
    home.out("ida", "journal", "north-stack.jpg").unlink()
    assert run(home, "sweep", "--again").status == 0
    assert len(home.delivered()) == 1
    assert run(home, "sweep", "--missing", "--only", "portfolio").status == 0
    assert len(home.delivered()) == 1
    assert run(home, "sweep", "--missing").status == 0
    assert home.delivered() == before


def test_a_sweep_for_one_destination_leaves_the_rest_to_do(home: Home) -> None:
    """`--only` delivers there alone; what else is asked for follows later, and nothing is made twice."""
    save_jpeg(home.drop() / "north-stack.jpg", 390, 270)
    ran = run(home, "sweep", "--only", "journal")
    assert ran.status == 0
    assert set(home.delivered()) == {"ida/journal/north-stack.jpg"}
    ran = sweep(home)
    assert [event["destination"] for event in ran.events if event["event"] == "delivered"] == ["portfolio"]
    ran = run(home, "sweep", "--only", "jornal")
    assert ran.status == 2
    assert "no destination “jornal”" in ran.errors.replace("\n", " ")


def test_a_sweep_since_a_day_leaves_older_originals(home: Home) -> None:
    """Originals from before that day wait for another sweep."""
    old = save_jpeg(home.drop() / "old@club.jpg", 390, 270)
    os.utime(old, (1_600_000_000, 1_600_000_000))
    save_jpeg(home.drop() / "new@club.jpg", 360, 270)
    assert run(home, "sweep", "--since", "2024-01-01").status == 0
    assert set(home.delivered()) == {"club/new.jpg"}
    assert sweep(home).status == 0
    assert set(home.delivered()) == {"club/new.jpg", "club/old.jpg"}


def tree(folder: Path) -> dict[str, tuple[int, int]]:
    """Return size and time of every file below *folder*."""
    return {
        str(path.relative_to(folder)): (path.stat().st_size, path.stat().st_mtime_ns)
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def test_a_dry_run_says_what_would_be_done_and_writes_nothing(home: Home) -> None:
    """New, held and unknown are told apart, before there is a ledger and after."""
    save_jpeg(home.drop() / "north-stack.jpg", 390, 270)
    save_jpeg(home.drop() / "south-stack@jornal.jpg", 390, 270)
    before = tree(home.root)
    ran = run(home, "sweep", "--dry-run")
    assert ran.status == 1
    assert "ida: north-stack.jpg (new): portfolio, journal" in ran.output
    assert "ida: south-stack@jornal.jpg: would be held" in ran.output
    assert tree(home.root) == before
    assert sweep(home).status == 1
    save_jpeg(home.drop() / "other@club.jpg", 360, 240)
    before = tree(home.root)
    ran = run(home, "sweep", "--dry-run")
    assert "other@club.jpg (new): club" in ran.output
    assert "north-stack" not in ran.output
    assert tree(home.root) == before
    with watching(home) as service:
        service.until_told("batch done")
        assert len(home.delivered()) == 3
        assert "0 pictures" in run(home, "sweep", "--dry-run").output


# Filing


def test_finished_originals_are_filed_away_where_asked(home: Home) -> None:
    """They are moved, with their folders, once everything stands; what is held or unfinished stays."""
    (home.root / "filed").mkdir()
    home.config.write_text(FILING)
    (home.drop() / "isles").mkdir()
    original = save_jpeg(home.drop() / "isles" / "north-stack@club.jpg", 390, 270)
    held = save_jpeg(home.drop() / "south-stack@jornal.jpg", 390, 270)
    content, inode = original.read_bytes(), original.stat().st_ino

    assert sweep(home).status == 1
    filed = home.root / "filed" / "ida" / "isles" / "north-stack@club.jpg"
    assert (filed.read_bytes(), filed.stat().st_ino) == (content, inode)
    assert not original.exists()
    assert held.is_file()
    assert set(home.delivered()) == {"club/isles/north-stack.jpg"}

    # The same name again: a new export, which replaces its delivery and is filed beside the first.
    save_jpeg(original, 360, 270, seed=2)
    assert sweep(home).status == 1
    assert size_of(home.out("club", "isles", "north-stack.jpg")) == (360, 270)
    assert filed.read_bytes() == content
    assert size_of(filed.with_name("north-stack-2@club.jpg")) == (360, 270)
    assert run(home, "withdraw", filed.with_name("north-stack-2@club.jpg")).status == 0
    assert home.delivered() == {}


def test_filing_waits_for_its_folder(home: Home) -> None:
    """Without the folder above, originals stay; they are filed when it is there. Those done before are filed too."""
    save_jpeg(home.drop() / "before@club.jpg", 390, 270)
    assert sweep(home).status == 0
    home.config.write_text(FILING)
    save_jpeg(home.drop() / "north-stack@club.jpg", 390, 270, seed=2)
    ran = sweep(home)
    assert ran.status == 3
    assert (home.drop() / "north-stack@club.jpg").is_file()
    (home.root / "filed").mkdir()
    assert sweep(home).status == 0
    assert sorted(path.name for path in (home.root / "filed" / "ida").iterdir()) == [
        "before@club.jpg", "north-stack@club.jpg",
    ]  # fmt: skip
    assert not list(home.drop().iterdir())


def test_the_newer_of_two_wins_though_it_was_filed_away(home: Home) -> None:
    """An older export that differs only in its tags does not replace one that is done and filed."""
    (home.root / "filed").mkdir()
    home.config.write_text(FILING)
    old = save_jpeg(home.drop() / "x@club@journal.jpg", 390, 270)
    os.utime(old, (1_600_000_000, 1_600_000_000))
    new = save_jpeg(home.drop() / "x@club.jpg", 360, 270, seed=2)
    os.utime(new, (1_700_000_000, 1_700_000_000))
    for _ in range(3):
        assert sweep(home).status == 0
    assert size_of(home.out("club", "x.jpg")) == (360, 270)
    assert set(home.delivered()) == {"club/x.jpg"}


def test_the_longest_names_are_filed_twice(home: Home) -> None:
    """A numbered name that would be too long is cut."""
    (home.root / "filed").mkdir()
    home.config.write_text(FILING)
    name = "s" * (255 - len("@club.jpg")) + "@club.jpg"
    for seed in (1, 2):
        shutil.move(save_jpeg(home.drop() / ".x.jpg", 390, 270, seed=seed), home.drop() / name)
        assert sweep(home).status == 0
    assert len(list((home.root / "filed" / "ida").iterdir())) == 2
    before = home.delivered()
    assert run(home, "withdraw", home.drop() / name).status == 0
    assert home.delivered() == {}
    assert run(home, "retry", home.drop() / name).status == 0
    assert sweep(home).status == 0
    assert home.delivered() == before


def test_filed_originals_are_made_again_from_where_they_lie(home: Home) -> None:
    """A changed destination, or what was deleted from one, is made again when asked, and nothing is moved for it."""
    (home.root / "filed").mkdir()
    home.config.write_text(FILING)
    (home.drop() / "isles").mkdir()
    save_jpeg(home.drop() / "isles" / "north-stack@club.jpg", 390, 270)
    save_jpeg(home.drop() / "altered@club.jpg", 390, 270, seed=2)
    assert sweep(home).status == 0
    filed = home.root / "filed" / "ida" / "isles" / "north-stack@club.jpg"
    content = filed.read_bytes()

    home.config.write_text(FILING.replace("box = [1920, 1080]", "long_edge = 300"))
    # What its owner has changed since it was filed is another picture, which nobody asked to publish.
    save_jpeg(home.root / "filed" / "ida" / "altered@club.jpg", 390, 270, seed=3)
    assert sweep(home).status == 0
    assert size_of(home.out("club", "isles", "north-stack.jpg")) == (390, 270)
    assert "1 picture" in run(home, "sweep", "--again", "--dry-run").output
    assert size_of(home.out("club", "isles", "north-stack.jpg")) == (390, 270)
    assert run(home, "sweep", "--again").status == 0
    assert size_of(home.out("club", "isles", "north-stack.jpg")) == (300, 208)
    assert size_of(home.out("club", "altered.jpg")) == (390, 270)

    home.out("club", "isles", "north-stack.jpg").unlink()
    assert sweep(home).status == 0
    assert set(home.delivered()) == {"club/altered.jpg"}
    with watching(home) as service:
        service.until_started()
        assert run(home, "sweep", "--missing").status == 0
        service.until(home.out("club", "isles", "north-stack.jpg").exists, "the delivery")
        assert service.stop() == 0
    assert filed.read_bytes() == content
    assert not [path for path in home.drop().rglob("*") if path.is_file()]

    # A new export of the same name comes first, and is filed beside it.
    save_jpeg(home.drop() / "isles" / "north-stack@club.jpg", 360, 270, seed=4)
    assert run(home, "sweep", "--again").status == 0
    assert size_of(home.out("club", "isles", "north-stack.jpg")) == (300, 225)
    assert filed.read_bytes() == content
    assert (filed.with_name("north-stack-2@club.jpg")).is_file()


# Marks for others


def test_a_destination_is_stamped_when_its_queue_is_empty(home: Home) -> None:
    """A sync job can watch one file for each destination; what delivered nothing is not touched."""
    for number in range(3):
        save_jpeg(home.drop() / f"{number}@club.jpg", 360, 240, seed=number)
    assert sweep(home).status == 0
    stamps = home.root / "state" / "stamps"
    assert [path.name for path in stamps.iterdir()] == ["club"]
    before = (stamps / "club").stat().st_mtime_ns
    assert before >= max(path.stat().st_mtime_ns for path in home.out("club").iterdir())
    assert sweep(home).status == 0
    assert (stamps / "club").stat().st_mtime_ns == before
    save_jpeg(home.drop() / "3@club@journal.jpg", 360, 240, seed=3)
    assert sweep(home).status == 0
    assert (stamps / "club").stat().st_mtime_ns > before
    assert {path.name for path in stamps.iterdir()} == {"club", "journal"}
    assert stat.S_IMODE((home.root / "state").stat().st_mode) == 0o700


def test_a_service_makes_again_what_the_config_says_now(home: Home) -> None:
    """`sweep --again` with a running service goes by the config as it stands in the file."""
    save_jpeg(home.drop() / "north-stack@club.jpg", 3000, 2000)
    with watching(home) as service:
        service.until(home.delivered, "the first")
        home.config.write_text(PLAIN.replace("box = [1920, 1080]", "long_edge = 300"))
        assert run(home, "sweep", "--again").status == 0
        service.until(lambda: size_of(home.out("club", "north-stack.jpg")) == (300, 200), "the second")
        assert service.stop() == 0


# Reading the config again


GALLERY = 'destinations.gallery]\ntags = ["club"]\nfolder = "out/gallery"\nsize = { long_edge = 400 }'
REROUTED = f'box = [1920, 1080] }}\ntags = ["guild"]\n[{GALLERY}'


@pytest.mark.parametrize(
    ("before", "after", "output", "size"),
    [
        ("box = [1920, 1080]", "long_edge = 300", "club/b.jpg", (300, 225)),
        ('"out/club"', '"out/elsewhere"', "elsewhere/b.jpg", (1440, 1080)),
        ("box = [1920, 1080] }", REROUTED, "gallery/b.jpg", (400, 300)),
    ],
    ids=["size", "folder", "routing"],
)
def test_what_is_being_made_when_the_config_changes_is_made_by_the_new_one(
    home: Home, before: str, after: str, output: str, size: tuple[int, int]
) -> None:
    """Nothing is published by a config that no longer counts, nor to a place that it no longer names."""
    home.config.write_text(PLAIN.replace("workers = 2", "workers = 1"))
    save_jpeg(home.drop() / "a@journal.jpg", 300, 200)
    with watching(home) as service:
        service.until(home.delivered, "the first")
        (worker,) = service.workers()
        save_jpeg(home.drop() / "b@club.jpg", 4000, 3000)
        service.until(home.is_working, "the work", pause=0.01)
        os.kill(worker, signal.SIGSTOP)
        assert len(home.delivered()) == 1
        home.config.write_text(home.config.read_text().replace(before, after))
        service.process.send_signal(signal.SIGHUP)
        service.until_told("config read again")
        os.kill(worker, signal.SIGCONT)
        service.until(lambda: sum(e["event"] == "delivered" for e in service.events()) > 1, "the delivery")
        assert service.stop() == 0
    assert size_of(home.out(output)) == size
    assert sum(event["event"] == "delivered" for event in service.events()) == 2


def test_the_config_is_read_again_on_a_signal(home: Home) -> None:
    """A valid one counts from then on; an invalid one is refused with its faults, and the old one stays."""
    save_jpeg(home.drop() / "a@club.jpg", 3000, 2000)
    with watching(home) as service:

        def reload(event: str) -> None:
            before = sum(e["event"] == event for e in service.events())
            service.process.send_signal(signal.SIGHUP)
            service.until(lambda: sum(e["event"] == event for e in service.events()) > before, event)

        service.until(home.out("club", "a.jpg").exists, "the first")
        home.config.write_text(PLAIN.replace("box = [1920, 1080]", "long_edge = 300"))
        reload("config read again")
        save_jpeg(home.drop() / "b@club.jpg", 3000, 2000)
        service.until(home.out("club", "b.jpg").exists, "the second")
        home.config.write_text(PLAIN.replace("long_edge = 1050", "long_edg = 1050"))
        reload("config refused")
        save_jpeg(home.drop() / "c@club.jpg", 3000, 2000)
        service.until(home.out("club", "c.jpg").exists, "the third")
        home.config.write_text(PLAIN.replace('state = "state"', 'state = "another"'))
        reload("config refused")
        # A photographer who is new has a drop folder from then on.
        home.config.write_text(PLAIN + '\n[photographers.juno]\ndrop = "drop/juno"\n')
        reload("config read again")
        save_jpeg(home.drop("juno") / "d@club.jpg", 3000, 2000)
        service.until(home.out("club", "d.jpg").exists, "another photographer's")
        refused = [event["detail"] for event in service.events() if event["event"] == "config refused"]
        assert service.stop() == 0
    assert size_of(home.out("club", "a.jpg")) == (1620, 1080)
    assert size_of(home.out("club", "b.jpg")) == size_of(home.out("club", "c.jpg")) == (300, 200)
    assert "did you mean “long_edge”" in refused[0]
    assert "Restart the service" in refused[1]


def test_a_request_that_cannot_be_understood_is_answered(home: Home) -> None:
    """A damaged request stops nothing and is not left lying."""
    requests = home.root / "state" / "requests"
    with watching(home) as service:
        service.until_started()
        requests.mkdir(exist_ok=True)
        (requests / "1-1.request").write_text("{")
        (requests / "2-1.request").write_text(json.dumps({"command": "delete", "paths": ["/"]}))
        service.until(lambda: len(list(requests.glob("*.answer"))) == 2, "both answers")
        assert service.stop() == 0
    assert not list(requests.glob("*.request"))


# Names


def test_names_follow_their_pattern_and_a_changed_one_leaves_nothing_behind(home: Home) -> None:
    """Sizes are in the name for each density; with another pattern, or other sizes, the former files are replaced."""
    named = PLAIN.replace("box = [1920, 1080] }", 'long_edge = 300 }\nname = "{stem} {width}.jpg"\ndensities = [1, 2]')
    home.config.write_text(named)
    original = save_jpeg(home.drop() / "Skerry: dawn #1@club.jpg", 780, 540)
    save_jpeg(home.drop() / "Skerry- dawn -1@club.jpg", 720, 540, seed=2)
    foreign = home.out("club", "skerry-dawn-1-300-208.jpg")
    foreign.parent.mkdir()
    foreign.write_bytes(b"somebody else's")

    assert sweep(home).status == 0
    assert set(home.delivered()) == {
        "club/Skerry- dawn -1 300.jpg", "club/Skerry- dawn -1 600-2x.jpg",
        "club/Skerry- dawn -1 300-2.jpg", "club/Skerry- dawn -1 600-2-2x.jpg", "club/skerry-dawn-1-300-208.jpg",
    }  # fmt: skip

    home.config.write_text(named.replace('"{stem} {width}.jpg"', '"{stem}-{width}-{height}.jpg"\nslug = true'))
    assert sweep(home).status == 0
    assert len(home.delivered()) == 5
    assert run(home, "sweep", "--again").status == 0
    assert set(home.delivered()) == {
        "club/skerry-dawn-1-300-208.jpg", "club/skerry-dawn-1-300-208-2.jpg", "club/skerry-dawn-1-600-415-2x.jpg",
        "club/skerry-dawn-1-300-225.jpg", "club/skerry-dawn-1-600-450-2x.jpg",
    }  # fmt: skip
    assert foreign.read_bytes() == b"somebody else's"

    # Exported again in another shape: the name that tells its height changes, and the former one goes.
    save_jpeg(original, 900, 900, seed=3)
    assert sweep(home).status == 0
    assert "club/skerry-dawn-1-300-300.jpg" in home.delivered()
    assert len(home.delivered()) == 5
    assert run(home, "withdraw", original).status == 0
    assert len(home.delivered()) == 3


def test_a_name_with_a_date_that_is_not_known_says_so(home: Home) -> None:
    """The date of the file stands in for that of capture, with a note."""
    home.config.write_text(PLAIN.replace("box = [1920, 1080] }", 'long_edge = 300 }\nname = "{date}-{stem}.jpg"'))
    original = save_jpeg(home.drop() / "seal@club.jpg", 600, 400)
    os.utime(original, (1_600_000_000, 1_600_000_000))
    ran = sweep(home)
    assert set(home.delivered()) == {"club/2020-09-13-seal.jpg"}
    assert any(
        "its name has the date of its file (2020-09-13)" in note
        for event in ran.events
        for note in event.get("notes", [])
    )


# A mark in the picture


def test_nothing_is_delivered_without_its_mark(home: Home) -> None:
    """While the mark's file is away the picture waits for that destination alone; then it is delivered with it."""
    marked = PLAIN.replace("box = [1920, 1080] }", 'long_edge = 300 }\nwatermark = { image = "mark.png" }')
    home.config.write_text(marked)
    save_jpeg(home.drop() / "seal@club@journal.jpg", 390, 270)
    ran = sweep(home)
    assert ran.status == 3
    assert "mark.png cannot be used" in " ".join(event.get("reason", "") for event in ran.events)
    assert set(home.delivered()) == {"ida/journal/seal.jpg"}

    Image.new("RGBA", (50, 50), (255, 0, 0, 255)).save(home.root / "mark.png")
    assert sweep(home).status == 0
    with Image.open(home.out("club", "seal.jpg")) as picture:
        red, green, blue = picture.convert("RGB").getpixel((290 - 3, 208 - 8))  # type: ignore[misc]
    assert red > max(green, blue) + 60
