"""``lanternslide sweep``, run as its owner runs it."""

from __future__ import annotations

import hashlib
import shutil
import signal
import subprocess
from pathlib import Path

import pytest

from tests.support.pictures import save_jpeg, size_of
from tests.support.service import PLAIN, Home, make_home, run, sweep, watching


@pytest.fixture
def home(tmp_path: Path) -> Home:
    """Return a photographer's folders, with three destinations."""
    return make_home(tmp_path)


def digests(folder: Path) -> dict[str, tuple[str, int]]:
    """Return the content and time of every file below *folder*."""
    return {
        str(path): (hashlib.sha256(path.read_bytes()).hexdigest(), path.stat().st_mtime_ns)
        for path in folder.rglob("*")
        if path.is_file()
    }


def test_delivers_to_every_destination_and_ends(home: Home) -> None:
    """What lies in the drop folder goes where tag, subfolder or `otherwise` say, deeper folders kept."""
    save_jpeg(home.drop() / "north-stack.jpg", 2400, 1600)
    save_jpeg(home.drop() / "grey-seal@club@journal.jpg", 1600, 2400)
    (home.drop() / "Journal" / "islands").mkdir(parents=True)
    save_jpeg(home.drop() / "Journal" / "islands" / "kelp.jpg", 2000, 2000)

    ran = sweep(home)

    assert ran.status == 0, ran.errors
    sizes = {str(p.relative_to(home.out())): size_of(p) for p in home.out().rglob("*.jpg")}
    assert sizes == {
        "ida/portfolio/north-stack.jpg": (1050, 700),
        "ida/journal/north-stack.jpg": (1600, 1067),
        "ida/journal/grey-seal.jpg": (1067, 1600),
        "club/grey-seal.jpg": (720, 1080),
        "ida/journal/islands/kelp.jpg": (1600, 1600),
    }
    delivered = [event for event in ran.events if event["event"] == "delivered"]
    assert len(delivered) == 5
    assert all({"width", "height", "bytes", "quality", "doubts"} <= event.keys() for event in delivered)
    (summary,) = (event for event in ran.events if event["event"] == "batch done")
    assert (summary["pictures"], summary["deliveries"], summary["held"]) == (3, 5, 0)
    assert "5 deliveries" in ran.output


def test_a_second_sweep_does_nothing(home: Home) -> None:
    """The same bytes again are not delivered again; neither folder nor original is touched."""
    save_jpeg(home.drop() / "north-stack.jpg", 390, 270)
    assert sweep(home).status == 0
    before = digests(home.out()) | digests(home.drop())

    ran = sweep(home)

    assert ran.status == 0
    assert [event for event in ran.events if event["event"] == "delivered"] == []
    assert digests(home.out()) | digests(home.drop()) == before
    assert "Nothing new was delivered." in ran.output


def test_touching_an_original_does_nothing(home: Home) -> None:
    """A new time without new bytes is looked at and not delivered again."""
    original = save_jpeg(home.drop() / "north-stack.jpg", 390, 270)
    assert sweep(home).status == 0
    before = digests(home.out())
    original.touch()

    assert sweep(home).status == 0
    assert digests(home.out()) == before


def test_a_new_export_replaces_its_deliveries(home: Home) -> None:
    """A picture exported again under the same name replaces what was delivered of it."""
    save_jpeg(home.drop() / "north-stack.jpg", 390, 270, seed=1)
    assert sweep(home).status == 0
    before = home.delivered()
    save_jpeg(home.drop() / "north-stack.jpg", 390, 270, seed=2)

    assert sweep(home).status == 0
    after = home.delivered()
    assert after.keys() == before.keys()
    assert all(after[name] != before[name] for name in before)


def test_a_foreign_file_is_never_written_over(home: Home) -> None:
    """A file that is not ours keeps its name and bytes; the delivery gets a number and a doubt."""
    save_jpeg(home.drop() / "north-stack@club.jpg", 390, 270)
    home.out("club").mkdir()
    home.out("club", "north-stack.jpg").write_bytes(b"somebody else's")

    ran = sweep(home)

    assert ran.status == 0
    assert home.out("club", "north-stack.jpg").read_bytes() == b"somebody else's"
    assert size_of(home.out("club", "north-stack-2.jpg")) == (390, 270)
    (event,) = (event for event in ran.events if event["event"] == "delivered")
    assert any("already had the name “north-stack.jpg”" in doubt for doubt in event["doubts"])


def test_what_an_owner_deleted_is_not_remade(home: Home) -> None:
    """A delivery that its owner deleted stays away."""
    save_jpeg(home.drop() / "north-stack@club.jpg", 390, 270)
    assert sweep(home).status == 0
    home.out("club", "north-stack.jpg").unlink()

    assert sweep(home).status == 0
    assert home.delivered() == {}


def test_a_wrong_tag_or_folder_publishes_nothing(home: Home) -> None:
    """`x@jornal.jpg` and `jornal/x.jpg` are held, with the near miss named."""
    save_jpeg(home.drop() / "x@jornal.jpg", 390, 270)
    (home.drop() / "jornal").mkdir()
    save_jpeg(home.drop() / "jornal" / "x.jpg", 390, 270)

    ran = sweep(home)

    assert ran.status == 1
    assert home.delivered() == {}
    held = ran.held()
    assert held.keys() == {"ida: x@jornal.jpg", "ida: jornal/x.jpg"}
    assert all("journal" in reason for reason in held.values())


def test_a_corrected_name_is_delivered(home: Home) -> None:
    """Renaming a held original as its reason says is enough."""
    original = save_jpeg(home.drop() / "x@jornal.jpg", 390, 270)
    assert sweep(home).status == 1
    original.rename(home.drop() / "x@journal.jpg")

    assert sweep(home).status == 0
    assert home.delivered().keys() == {"ida/journal/x.jpg"}


def test_bad_input_is_held_with_its_reason_and_the_rest_is_delivered(home: Home) -> None:
    """Each kind of bad file gets a message of its own that says what to do, and stops nobody else's."""
    drop = home.drop()
    (drop / "notes.jpg").write_text("not a picture\n")
    whole = save_jpeg(drop / "whole@club.jpg", 390, 270)
    (drop / "torn.jpg").write_bytes(whole.read_bytes()[: whole.stat().st_size // 2])
    (drop / "nothing.tif").touch()
    (drop / "folder.jpg").mkdir()
    save_jpeg(drop / "folder.jpg" / "inside.jpg", 390, 270)

    ran = sweep(home)

    assert ran.status == 1
    assert home.delivered().keys() == {"club/whole.jpg"}
    held = ran.held()
    assert held.keys() == {"ida: notes.jpg", "ida: torn.jpg", "ida: nothing.tif", "ida: folder.jpg"}
    assert "looks like text" in held["ida: notes.jpg"]
    assert "ends before the picture does" in held["ida: torn.jpg"]
    assert "empty" in held["ida: nothing.tif"]
    assert "folder" in held["ida: folder.jpg"]
    assert all(name.removeprefix("ida: ") in ran.output for name in held)


def test_a_config_with_six_faults_names_them_all(home: Home) -> None:
    """Every fault of a config is reported at once, each with its key, and nothing is done."""
    home.config.write_text("""
[service]
workers = 0
setle_seconds = 1

[photographers.ida]
drop = "drop/ida"
otherwise = ["portfolo"]

[destinations.portfolio]
folder = "drop/ida/out"
size = { long_edge = 1050, width = 700 }
quality = "best"
""")
    save_jpeg(home.drop() / "x.jpg", 800, 600)

    ran = sweep(home)

    assert ran.status == 2
    lines = ran.errors.splitlines()
    assert [line.split(": ")[1] for line in lines] == [
        "destinations.portfolio.quality",
        "destinations.portfolio.size",
        "photographers.ida.otherwise",
        "service.setle_seconds",
        "service.workers",
    ]
    home.config.write_text(home.config.read_text().replace(", width = 700", "").replace('"best"', "90"))
    assert "destinations.portfolio.folder" in sweep(home).errors
    assert not (home.root / "state").exists()


def test_a_destination_that_is_away_waits_and_stops_nobody(home: Home) -> None:
    """A destination folder that was used and is gone is a fault that may pass: status 3, the others delivered."""
    save_jpeg(home.drop() / "one.jpg", 390, 270)
    assert sweep(home).status == 0
    shutil.move(home.out("ida", "journal"), home.root / "unplugged")
    save_jpeg(home.drop() / "two.jpg", 390, 270, seed=2)

    ran = sweep(home)

    assert ran.status == 3
    assert not home.out("ida", "journal").exists()
    assert home.out("ida", "portfolio", "two.jpg").exists()
    assert "is not there" in ran.said

    shutil.move(home.root / "unplugged", home.out("ida", "journal"))
    before = home.out("ida", "portfolio", "two.jpg").stat().st_mtime_ns
    assert sweep(home).status == 0
    assert home.out("ida", "journal", "two.jpg").exists()
    assert home.out("ida", "portfolio", "two.jpg").stat().st_mtime_ns == before


def test_a_missing_drop_folder_waits(home: Home) -> None:
    """A drop folder that is away is said and may pass; it is never made."""
    home.drop().rmdir()

    ran = sweep(home)

    assert ran.status == 3
    assert "drop folder" in ran.output
    assert not home.drop().exists()


def test_only_one_service_for_a_state_folder(home: Home) -> None:
    """A second service is refused, with the holder named; a sweep asks the running one instead."""
    save_jpeg(home.drop() / "one.jpg", 390, 270)
    with watching(home) as service:
        service.until(lambda: home.out("ida", "journal", "one.jpg").exists(), "the delivery")
        second = run(home, "watch")
        asked = sweep(home)

    assert second.status == 4
    assert f"lanternslide watch, process {service.process.pid}" in second.errors
    assert asked.status == 0
    assert "looking through the drop folders now" in asked.output


def test_after_a_kill_everything_is_delivered_once(home: Home) -> None:
    """Killed in the middle and started again, it ends as if nothing had happened: nothing twice, no temps."""
    for number in range(20):
        save_jpeg(home.drop() / f"picture-{number}.jpg", 600, 400, seed=number)
    with watching(home) as service:
        service.until(lambda: list(home.out().rglob("*.jpg")), "a first delivery")
        service.kill()
    assert len(home.delivered()) < 40

    assert sweep(home).status == 0
    names = sorted(home.delivered())
    assert names == sorted(f"ida/{place}/picture-{n}.jpg" for place in ("journal", "portfolio") for n in range(20))


def test_links_are_not_followed(home: Home, tmp_path: Path) -> None:
    """A link in a drop folder leads nowhere, and is left alone."""
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    save_jpeg(elsewhere / "private.jpg", 390, 270)
    (home.drop() / "linked").symlink_to(elsewhere)
    (home.drop() / "private.jpg").symlink_to(elsewhere / "private.jpg")

    assert sweep(home).status == 0
    assert home.delivered() == {}


def test_an_interrupt_ends_the_service_in_order(home: Home) -> None:
    """Ctrl-C while a file settles lets go of what is unfinished; the next sweep does it."""
    home.config.write_text(PLAIN.replace("settle_seconds = 0.1", "settle_seconds = 60"))
    save_jpeg(home.drop() / "one.jpg", 390, 270)
    with watching(home) as service:
        service.until_started()
        service.process.send_signal(signal.SIGINT)
        assert service.process.wait(30) == 0
    home.config.write_text(PLAIN)

    assert sweep(home).status == 0
    assert len(home.delivered()) == 2


def test_what_may_not_be_read_or_written_waits(home: Home) -> None:
    """An original, a folder and a destination without permission are each said in words of their own, and may pass."""
    powerless = ("unshare", "--user")
    if subprocess.run([*powerless, "true"], capture_output=True, check=False).returncode != 0:
        pytest.skip("this machine does not let us give up root's rights with unshare --user")
    (home.drop() / "shut").mkdir()
    save_jpeg(home.drop() / "shut" / "inside@club.jpg", 800, 600)
    save_jpeg(home.drop() / "secret@club.jpg", 800, 600)
    save_jpeg(home.drop() / "open@club@journal.jpg", 800, 600)
    home.out("club").mkdir()
    closed = {home.drop() / "shut": 0o000, home.drop() / "secret@club.jpg": 0o000, home.out("club"): 0o555}
    for path, mode in closed.items():
        path.chmod(mode)

    ran = sweep(home, *powerless)

    assert ran.status == 3
    waits = {event["what"]: event["key"] for event in ran.events if event["event"] == "waits"}
    assert waits == {
        "ida: shut": "folder-trouble",
        "ida: secret@club.jpg": "original-not-permitted",
        "ida: open@club@journal.jpg": "destination-not-permitted",
    }
    assert home.delivered().keys() == {"ida/journal/open.jpg"}

    for path in closed:
        path.chmod(0o755)
    assert sweep(home, *powerless).status == 0
    delivered = {"ida/journal/open.jpg", "club/open.jpg", "club/secret.jpg", "club/shut/inside.jpg"}
    assert home.delivered().keys() == delivered


def test_the_same_bytes_for_every_number_of_workers(tmp_path: Path) -> None:
    """One worker or three, whatever runs beside it: the same original and config give the same bytes."""
    delivered = []
    for workers in (1, 3):
        (tmp_path / str(workers)).mkdir()
        home = make_home(tmp_path / str(workers), PLAIN.replace("workers = 2", f"workers = {workers}"))
        for seed in range(4):
            save_jpeg(home.drop() / f"stack-{seed}.jpg", 900, 600, seed=seed)
        ran = sweep(home)
        assert ran.status == 0, ran.errors
        delivered.append(home.delivered())

    assert len(delivered[0]) == 8
    assert delivered[0] == delivered[1]
