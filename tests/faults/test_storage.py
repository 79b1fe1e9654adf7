"""Storage that fills up, turns read-only, goes away, hangs or is locked: real mounts, where the tests may make them."""

from __future__ import annotations

import contextlib
import os
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest

from lanternslide.storage.probe import FRESH_SECONDS
from tests.support.pictures import save_jpeg
from tests.support.service import PLAIN, Home, Watching, make_home, run, sweep, watching

QUICK = PLAIN.replace("settle_seconds = 0.1", "settle_seconds = 0.1\nscan_seconds = 1")


def _can_mount() -> bool:
    if sys.platform != "linux" or os.geteuid() != 0:
        return False
    command = ["unshare", "--mount", "mount", "-t", "tmpfs", "none", "/mnt"]
    return subprocess.run(command, capture_output=True, check=False).returncode == 0


needs_mounts = pytest.mark.skipif(not _can_mount(), reason="mounting is not allowed here")
needs_fuse = pytest.mark.skipif(
    shutil.which("bindfs") is None or not os.access("/dev/fuse", os.R_OK | os.W_OK),
    reason="bindfs or FUSE is not there",
)


@pytest.fixture
def home(tmp_path: Path) -> Home:
    """Return a home with one photographer, three destinations and quick scans."""
    return make_home(tmp_path, QUICK)


@contextmanager
def mounted(folder: Path, *options: str) -> Iterator[None]:
    """Mount a small file system in memory at *folder* meanwhile."""
    subprocess.run(["mount", "-t", "tmpfs", *options, "none", folder], check=True)
    try:
        yield
    finally:
        unmount(folder)


@contextmanager
def bound(disk: Path, folder: Path) -> Iterator[None]:
    """Have what lies on a mounted *disk* at *folder* too meanwhile."""
    subprocess.run(["mount", "--bind", disk, folder], check=True)
    try:
        yield
    finally:
        unmount(folder)


def unmount(folder: Path) -> None:
    """Take a mount away, whoever still looks at it."""
    subprocess.run(["umount", "--lazy", folder], check=True)


def waits(service: Watching) -> list[str]:
    """Return the keys of what was told to wait, in order."""
    return [event["key"] for event in service.events() if event["event"] == "waits"]


def has(service: Watching, event: str) -> Callable[[], bool]:
    """Return a question whether *event* was told."""
    return lambda: any(found["event"] == event for found in service.events())


def left_alone(folder: Path) -> bool:
    """Return whether nothing but the filler lies in a folder."""
    return [path.name for path in folder.iterdir()] == ["filler"]


@needs_mounts
def test_a_full_disk_is_waited_for(home: Home) -> None:
    """Nothing half is left, the others go on, one line is written, and with room again it is delivered."""
    home.out("club").mkdir()
    with mounted(home.out("club"), "-o", "size=64k"), watching(home) as service:
        filler = home.out("club", "filler")
        filler.write_bytes(bytes(60 * 1024))
        service.until_started()
        save_jpeg(home.drop() / "north-stack@club@journal.jpg", 1300, 900)
        service.until(lambda: "disk-full" in waits(service), "the full disk")
        service.until(home.out("ida", "journal", "north-stack.jpg").exists, "the other destination")
        # A third try begins only after the second was answered.
        for number in ("a second", "a third"):
            service.until(lambda: left_alone(home.out("club")), "the end of the last try")
            tried = home.out("club").stat().st_mtime_ns
            service.until(lambda tried=tried: home.out("club").stat().st_mtime_ns != tried, f"{number} try", 0.01)  # type: ignore[misc]
        assert waits(service) == ["disk-full"]
        filler.unlink()
        subprocess.run(["mount", "-o", "remount,size=4m", home.out("club")], check=True)
        service.until(home.out("club", "north-stack.jpg").exists, "the delivery")
        service.until(has(service, "goes on"), "the all-clear")
        assert not [event for event in service.events() if event["event"] in ("held", "attempt failed")]
        assert [path.name for path in home.out("club").iterdir()] == ["north-stack.jpg"]
        assert service.stop() == 0


@needs_mounts
def test_a_folder_that_turns_read_only_is_waited_for(home: Home) -> None:
    """A disk with an error is mounted read-only by the system; once it is mended the delivery is made."""
    home.out("club").mkdir()
    with mounted(home.out("club")), watching(home) as service:
        service.until_started()
        save_jpeg(home.drop() / "a@club.jpg", 600, 400)
        service.until(home.out("club", "a.jpg").exists, "the first")
        subprocess.run(["mount", "-o", "remount,ro", home.out("club")], check=True)
        save_jpeg(home.drop() / "b@club.jpg", 600, 400, seed=2)
        service.until(lambda: "read-only" in waits(service), "the obstacle")
        subprocess.run(["mount", "-o", "remount,rw", home.out("club")], check=True)
        service.until(home.out("club", "b.jpg").exists, "the second")
        assert service.stop() == 0


@needs_mounts
def test_a_destination_that_is_unmounted_is_not_made_anew(home: Home) -> None:
    """The empty folder under a share that went away is not written into."""
    share = home.out("share")
    share.mkdir()
    home.config.write_text(QUICK.replace('"out/club"', '"out/share/club"'))
    with watching(home) as service:
        with mounted(share):
            service.until_started()
            save_jpeg(home.drop() / "a@club.jpg", 600, 400)
            service.until((share / "club" / "a.jpg").exists, "the first")
        save_jpeg(home.drop() / "b@club.jpg", 600, 400, seed=2)
        service.until(lambda: "destination-away" in waits(service), "the obstacle")
        assert list(share.iterdir()) == []
        with mounted(share):
            (share / "club").mkdir()
            service.until((share / "club" / "b.jpg").exists, "the second")
            assert [path.name for path in (share / "club").iterdir()] == ["b.jpg"]
            assert service.stop() == 0


@needs_mounts
def test_a_destination_that_is_itself_a_mount_point(home: Home) -> None:
    """The empty folder that an unmounted share leaves is not taken for the destination.

    Nothing is put there, made again, or taken for deleted; once it is mounted all goes on. A folder that holds anything
    is its owner's choice.
    """
    share, kept = home.out("club"), home.root / "kept"
    share.mkdir()
    kept.mkdir()
    subprocess.run(["mount", "-t", "tmpfs", "none", kept], check=True)  # a disk that outlives being unmounted
    try:
        with watching(home) as service:
            service.until_started()
            with bound(kept, share):
                first = save_jpeg(home.drop() / "a@club.jpg", 600, 400)
                service.until((share / "a.jpg").exists, "the first")
            save_jpeg(home.drop() / "b@club.jpg", 600, 400, seed=2)
            service.until(lambda: "destination-unmounted" in waits(service), "the obstacle")
            assert "Nothing needs to be remade" in run(home, "sweep", "--missing").output
            ran = run(home, "withdraw", first)
            assert ran.status == 3
            assert "Connect that disk" in ran.said
            assert list(share.iterdir()) == []
            with bound(kept, share):
                service.until((share / "b.jpg").exists, "the second")
                service.until(lambda: not (share / "a.jpg").exists(), "what was taken back")
                assert [path.name for path in share.iterdir()] == ["b.jpg"]
            (share / "here").touch()
            save_jpeg(home.drop() / "c@club.jpg", 600, 400, seed=3)
            service.until((share / "c.jpg").exists, "the third, where its owner wants it")
            assert service.stop() == 0
    finally:
        unmount(kept)


@needs_mounts
def test_a_folder_of_the_same_disk_that_is_mounted_as_a_destination(home: Home) -> None:
    """It is a mount like any other: while it is not there, nothing is published into the empty folder."""
    club, kept = home.out("club"), home.root / "kept"
    club.mkdir()
    kept.mkdir()
    with bound(kept, club):
        save_jpeg(home.drop() / "a@club.jpg", 600, 400)
        assert sweep(home).status == 0
    save_jpeg(home.drop() / "b@club.jpg", 600, 400, seed=2)
    assert sweep(home).status == 3
    assert list(club.iterdir()) == []
    with bound(kept, club):
        assert sweep(home).status == 0
    assert sorted(path.name for path in kept.iterdir()) == ["a.jpg", "b.jpg"]


@needs_mounts
def test_a_disk_that_is_mounted_below_a_destination(home: Home) -> None:
    """A subfolder whose disk is away is not written into either; what goes elsewhere in the destination goes on."""
    isles, kept = home.out("club", "isles"), home.root / "kept"
    isles.mkdir(parents=True)
    kept.mkdir()
    (home.drop() / "isles").mkdir()
    with mounted(kept):
        with bound(kept, isles):
            save_jpeg(home.drop() / "isles" / "a@club.jpg", 600, 400)
            assert sweep(home).status == 0
        save_jpeg(home.drop() / "isles" / "b@club.jpg", 600, 400, seed=2)
        save_jpeg(home.drop() / "c@club.jpg", 600, 400, seed=3)
        ran = sweep(home)
        assert ran.status == 3
        assert "Connect that disk" in " ".join(event.get("reason", "") for event in ran.events)
        assert set(home.delivered()) == {"club/c.jpg"}
        with bound(kept, isles):
            assert sweep(home).status == 0
            assert sorted(path.name for path in isles.iterdir()) == ["a.jpg", "b.jpg"]


@needs_mounts
def test_a_withdrawal_while_a_marked_disk_is_away_is_kept(home: Home) -> None:
    """A file that says "not mounted" in the empty folder proves nothing: what stood there is taken back later.

    Neither is anything taken for missing there.
    """
    club, kept = home.out("club"), home.root / "kept"
    club.mkdir()
    kept.mkdir()
    (club / "NOT MOUNTED.txt").write_text("connect the disk")
    with mounted(kept):
        with bound(kept, club):
            original = save_jpeg(home.drop() / "a@club.jpg", 600, 400)
            assert sweep(home).status == 0
        assert run(home, "sweep", "--missing", "--dry-run").output.startswith("0 pictures")
        ran = run(home, "withdraw", original)
        assert (ran.status, "Connect that disk" in ran.said) == (3, True)
        with bound(kept, club):
            assert sweep(home).status == 0
            assert list(club.iterdir()) == []


@needs_mounts
def test_a_drop_folder_that_comes_and_goes(home: Home) -> None:
    """Missing at the start, then a share that comes, goes and comes back: no restart, nothing lost or held."""
    home.drop().rmdir()
    with watching(home) as service:
        service.until(lambda: "drop-folder-away" in waits(service), "the missing folder")
        home.drop().mkdir()
        save_jpeg(home.drop() / "a@club.jpg", 600, 400)
        service.until(home.out("club", "a.jpg").exists, "the first")
        with mounted(home.drop()):
            save_jpeg(home.drop() / "b@club.jpg", 600, 400, seed=2)
            service.until(home.out("club", "b.jpg").exists, "the second")
        save_jpeg(home.drop() / "c@club.jpg", 600, 400, seed=3)
        service.until(home.out("club", "c.jpg").exists, "the third")
        assert len(home.delivered()) == 3
        assert not [event for event in service.events() if event["event"] == "held"]
        assert service.stop() == 0


def test_a_drop_folder_that_is_deleted_while_it_is_watched(tmp_path: Path) -> None:
    """The service goes on, says that it is away, and takes up what is dropped once it is there again."""
    home = make_home(tmp_path)
    with watching(home) as service:
        service.until_started()
        home.drop().rmdir()
        service.until(lambda: "drop-folder-away" in waits(service), "the obstacle")
        home.drop().mkdir()
        save_jpeg(home.drop() / "a@club.jpg", 600, 400)
        service.until(home.out("club", "a.jpg").exists, "the delivery")
        assert service.stop() == 0


def test_a_drop_folder_that_is_made_anew_is_watched_again(tmp_path: Path) -> None:
    """Another folder under the same name: what is dropped there is noticed within seconds, not at the next scan."""
    home = make_home(tmp_path)
    with watching(home) as service:
        service.until_started()
        home.drop().rename(home.drop().with_name("old"))
        home.drop().mkdir()
        save_jpeg(home.drop() / "a@club.jpg", 600, 400)
        service.until(home.out("club", "a.jpg").exists, "the first")
        save_jpeg(home.drop() / "b@club.jpg", 600, 400, seed=2)
        service.until(home.out("club", "b.jpg").exists, "the second")
        assert service.stop() == 0


@pytest.fixture
def share(home: Home) -> Iterator[Path]:
    """Mount a folder through a program (bindfs), as a share is; its server can be stopped and killed."""
    behind, share = home.root / "behind", home.drop()
    behind.mkdir()
    subprocess.run(["bindfs", behind, share], check=True)
    yield behind
    subprocess.run(["pkill", "-KILL", "-f", f"bindfs {behind}"], check=False)
    subprocess.run(["umount", "--lazy", share], check=False)


@needs_fuse
def test_a_share_is_polled(home: Home, share: Path) -> None:
    """What happens behind a share sends no events; it is found by looking."""
    with watching(home) as service:
        service.until_started()
        save_jpeg(share / "a@club.jpg", 600, 400)
        service.until(home.out("club", "a.jpg").exists, "the delivery")
        assert service.stop() == 0


def rest(service: Watching) -> None:
    """Wait until a service has nothing in hand, and takes no folder's last answer for news any more."""
    service.until_told("batch done")
    time.sleep(2 * FRESH_SECONDS)


@needs_fuse
def test_a_share_whose_server_hangs_stops_nobody_else(home: Home, share: Path) -> None:
    """Ida's share hangs; Juno's pictures are delivered meanwhile, and Ida's when the server answers again."""
    home.config.write_text(QUICK + '\n[photographers.juno]\ndrop = "drop/juno"\n')
    (server,) = (int(line) for line in subprocess.check_output(["pgrep", "-f", f"bindfs {share}"], text=True).split())
    with watching(home) as service:
        service.until_started()
        save_jpeg(share / "a@club.jpg", 600, 400)
        service.until(home.out("club", "a.jpg").exists, "the first")
        rest(service)
        os.kill(server, signal.SIGSTOP)
        try:
            service.until(lambda: "drop-folder-silent" in waits(service), "the silence")
            save_jpeg(home.drop("juno") / "b@club.jpg", 600, 400, seed=2)
            service.until(home.out("club", "b.jpg").exists, "somebody else's")
        finally:
            os.kill(server, signal.SIGCONT)
        save_jpeg(share / "c@club.jpg", 600, 400, seed=3)
        service.until(home.out("club", "c.jpg").exists, "the third")
        assert service.stop() == 0


@needs_fuse
def test_a_share_that_hangs_while_files_settle(home: Home, share: Path) -> None:
    """Neither what settles there, nor what is taken back, nor what a file manager asks for stops the others."""
    config = QUICK.replace("settle_seconds = 0.1", "settle_seconds = 4")
    home.config.write_text(config + '\n[photographers.juno]\ndrop = "drop/juno"\n')
    (server,) = (int(line) for line in subprocess.check_output(["pgrep", "-f", f"bindfs {share}"], text=True).split())
    with watching(home) as service:
        service.until_started()
        save_jpeg(share / "a@club.jpg", 600, 400)
        time.sleep(2)  # it is found, and has not settled
        assert home.delivered() == {}
        os.kill(server, signal.SIGSTOP)
        try:
            save_jpeg(home.drop("juno") / "b@club.jpg", 600, 400, seed=2)
            service.until(home.out("club", "b.jpg").exists, "somebody else's")
            assert run(home, "withdraw", home.drop("juno") / "b@club.jpg").status == 0
            assert run(home, "withdraw", home.drop() / "a@club.jpg").status == 2  # nothing is known of it
            assert run(home, "sweep", "--missing").status == 0
            assert home.delivered() == {}
        finally:
            os.kill(server, signal.SIGCONT)
        service.until(home.out("club", "a.jpg").exists, "the first")
        assert service.stop() == 0


@needs_fuse
def test_a_destination_that_hangs_while_something_is_taken_back(home: Home, tmp_path: Path) -> None:
    """Ida's destination hangs while her picture is withdrawn and another is made: Juno's work goes on."""
    home.config.write_text(QUICK + '\n[photographers.juno]\ndrop = "drop/juno"\n')
    behind, share = tmp_path / "behind", home.out("club")
    behind.mkdir()
    share.mkdir()
    subprocess.run(["bindfs", behind, share], check=True)
    (server,) = (int(line) for line in subprocess.check_output(["pgrep", "-f", f"bindfs {behind}"], text=True).split())
    try:
        with watching(home) as service:
            service.until_started()
            first = save_jpeg(home.drop() / "a@club.jpg", 600, 400)
            service.until_told("delivered")
            rest(service)
            os.kill(server, signal.SIGSTOP)
            try:
                ran = run(home, "withdraw", first)
                assert ran.status == 3, ran.output
                assert "does not answer" in ran.said
                save_jpeg(home.drop() / "b@club.jpg", 600, 400, seed=2)
                service.until(lambda: "destination-silent" in waits(service), "the silence")
                save_jpeg(home.drop("juno") / "c@journal.jpg", 600, 400, seed=3)
                service.until(home.out("juno", "journal", "c.jpg").exists, "somebody else's")
            finally:
                os.kill(server, signal.SIGCONT)
            service.until((share / "b.jpg").exists, "the second")
            service.until(lambda: not (share / "a.jpg").exists(), "what was taken back")
            assert service.stop() == 0
    finally:
        subprocess.run(["pkill", "-KILL", "-f", f"bindfs {behind}"], check=False)
        subprocess.run(["umount", "--lazy", share], check=False)


@contextmanager
def served(behind: Path, share: Path) -> Iterator[subprocess.Popen[bytes]]:
    """Mount a folder through a program meanwhile, which can be stopped; it is ended at the end."""
    with subprocess.Popen(["bindfs", "-f", behind, share]) as server:
        try:
            end = time.monotonic() + 10
            while not share.is_mount():
                assert time.monotonic() < end
                time.sleep(0.05)
            yield server
        finally:
            server.kill()
            server.wait()
            unmount(share)


@needs_fuse
def test_a_destination_that_hangs_is_waited_for_once_not_for_each_folder(home: Home) -> None:
    """Taking back from many subfolders of a share that hangs takes seconds in all."""
    behind, share = home.root / "behind", home.out("club")
    behind.mkdir()
    share.mkdir()
    for number in range(12):
        (home.drop() / str(number)).mkdir()
        save_jpeg(home.drop() / str(number) / "x@club.jpg", 90, 60, seed=number)
    with served(behind, share) as server:
        assert sweep(home).status == 0
        assert len(home.delivered()) == 12
        os.kill(server.pid, signal.SIGSTOP)
        began = time.monotonic()
        ran = run(home, "withdraw", home.drop())
        took = time.monotonic() - began
        os.kill(server.pid, signal.SIGCONT)
        assert (ran.status, ran.output.count("does not answer")) == (3, 12)
        assert took < 15  # 36 seconds, if each were asked
        assert sweep(home).status == 0
        assert not [path for path in behind.rglob("*") if path.is_file()]


@needs_fuse
def test_a_share_that_is_watched_and_hangs_stops_nobody_else(home: Home) -> None:
    """With `watch = "events"` a drop folder on a share is asked from a thread as well."""
    config = QUICK.replace("scan_seconds = 1", 'watch = "events"')
    home.config.write_text(config + '\n[photographers.juno]\ndrop = "drop/juno"\n')
    behind = home.root / "behind"
    behind.mkdir()
    with served(behind, home.drop()) as server, watching(home) as service:
        service.until_started()
        save_jpeg(home.drop("juno") / "a@club.jpg", 90, 60)
        service.until(home.out("club", "a.jpg").exists, "the first")
        os.kill(server.pid, signal.SIGSTOP)
        try:
            service.until(lambda: "drop-folder-silent" in waits(service), "the silence")
            save_jpeg(home.drop("juno") / "b@club.jpg", 90, 60, seed=2)
            service.until(home.out("club", "b.jpg").exists, "somebody else's")
        finally:
            os.kill(server.pid, signal.SIGCONT)
        save_jpeg(home.drop() / "c@club.jpg", 90, 60, seed=3)
        service.until(home.out("club", "c.jpg").exists, "the third")
        assert service.stop() == 0


@needs_fuse
def test_a_share_whose_server_dies_is_waited_for(home: Home, share: Path) -> None:
    """A share that is no longer connected answers with errors; after it is connected again all goes on."""
    with watching(home) as service:
        service.until_started()
        save_jpeg(share / "a@club.jpg", 600, 400)
        service.until(home.out("club", "a.jpg").exists, "the first")
        subprocess.run(["pkill", "-KILL", "-f", f"bindfs {share}"], check=True)
        service.until(lambda: waits(service), "the obstacle")
        subprocess.run(["umount", "--lazy", home.drop()], check=True)
        subprocess.run(["bindfs", share, home.drop()], check=True)
        save_jpeg(share / "b@club.jpg", 600, 400, seed=2)
        service.until(home.out("club", "b.jpg").exists, "the second")
        assert sorted(path.name for path in share.iterdir()) == ["a@club.jpg", "b@club.jpg"]
        assert service.stop() == 0


def test_a_worker_that_is_stopped_costs_an_attempt(home: Home) -> None:
    """A worker that hangs is ended after its time, and the picture is made by another."""
    home.config.write_text(QUICK.replace("workers = 2", "workers = 1\njob_timeout_seconds = 10"))
    with watching(home) as service:
        service.until_started()
        save_jpeg(home.drop() / "a@club.jpg", 6000, 4000)

        def worker() -> int | None:
            command = ["pgrep", "-P", str(service.process.pid), "-f", "spawn_main"]
            found = subprocess.run(command, capture_output=True, text=True, check=False).stdout.split()
            return int(found[0]) if found else None

        service.until(worker, "a worker")
        process = worker()
        assert process is not None
        with contextlib.suppress(ProcessLookupError):
            os.kill(process, signal.SIGSTOP)
        service.until(home.out("club", "a.jpg").exists, "the delivery")
        assert [path.name for path in home.out("club").iterdir()] == ["a.jpg"]
        assert service.stop() == 0


def test_a_ledger_that_another_program_locks_stops_the_service_loudly(home: Home) -> None:
    """Without its ledger the service promises nothing: it ends with status 4; afterwards nothing was lost."""
    save_jpeg(home.drop() / "a@club.jpg", 600, 400)
    assert sweep(home).status == 0
    with closing(sqlite3.connect(home.root / "state" / "ledger.sqlite", isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        save_jpeg(home.drop() / "b@club.jpg", 600, 400, seed=2)
        ran = sweep(home)
        assert ran.status == 4
        assert "another program holds it" in ran.errors
        other.execute("ROLLBACK")
    assert sweep(home).status == 0
    assert len(home.delivered()) == 2


@needs_mounts
def test_a_full_state_folder_stops_the_service_loudly(home: Home) -> None:
    """The ledger has no room left: that is said, with status 4; with room again everything is done once."""
    (home.root / "state").mkdir(mode=0o700)
    with mounted(home.root / "state", "-o", "size=256k,mode=0700"):
        for number in range(20):
            save_jpeg(home.drop() / f"{number}@club.jpg", 300, 200, seed=number)
        filler = home.root / "state" / "filler"
        ran = sweep(home)
        if ran.status == 0:  # it all fitted: fill what is left
            filler.write_bytes(bytes(shutil.disk_usage(home.root / "state").free))
            save_jpeg(home.drop() / "last@club.jpg", 300, 200, seed=99)
            ran = sweep(home)
        assert ran.status == 4
        assert "full" in ran.errors
        filler.unlink(missing_ok=True)
        subprocess.run(["mount", "-o", "remount,size=16m", home.root / "state"], check=True)
        assert sweep(home).status == 0
        assert len(home.delivered()) == len(list(home.drop().iterdir()))
        assert not list(home.out().rglob(".*"))


def test_too_few_file_handles_are_no_fault_of_a_picture(home: Home) -> None:
    """With hardly any file handles left nothing is held or lost; with enough, everything is done."""
    for number in range(4):
        save_jpeg(home.drop() / f"{number}@club.jpg", 300, 200, seed=number)
    ran = run(home, "sweep", before=("prlimit", "--nofile=24:24"))
    assert not ran.held()
    assert not list(home.out().rglob(".*"))
    assert sweep(home).status == 0
    assert len(home.delivered()) == 4


LIMITS = Path("/proc/sys/fs/inotify")


@contextmanager
def limited(name: str, value: int) -> Iterator[None]:
    """Lower one of the system's limits meanwhile."""
    file = LIMITS / name
    before = file.read_text()
    try:
        file.write_text(str(value))
    except OSError as error:
        pytest.skip(f"{file} cannot be changed here ({error.strerror})")
    try:
        yield
    finally:
        file.write_text(before)


@pytest.mark.alone
@pytest.mark.skipif(not LIMITS.is_dir(), reason="inotify is Linux's")
@pytest.mark.parametrize(("name", "value"), [("max_user_watches", 3), ("max_user_instances", 0)])
def test_a_limit_of_watches_is_named_and_nothing_is_missed(home: Home, name: str, value: int) -> None:
    """More folders than the system watches, or none: that is said with the setting, and they are looked through."""
    for number in range(8):
        (home.drop() / str(number)).mkdir()
    with limited(name, value), watching(home) as service:
        service.until(lambda: {"watch-limit", "instance-limit"} & set(waits(service)), "the limit")
        said = [event["reason"] for event in service.events() if event["event"] == "waits"]
        assert f"fs.inotify.{name}" in said[0]
        for number in range(8):
            save_jpeg(home.drop() / str(number) / f"{number}@club.jpg", 300, 200, seed=number)
        service.until(lambda: len(home.delivered()) == 8, "all deliveries")
        assert service.stop() == 0


@pytest.mark.alone
@pytest.mark.skipif(not LIMITS.is_dir(), reason="inotify is Linux's")
def test_lost_events_lose_no_picture(tmp_path: Path) -> None:
    """The system's queue of events overflows while the service does not read it: everything is found all the same."""
    home = make_home(tmp_path)
    with limited("max_queued_events", 16), watching(home) as service:
        service.until_started()
        service.process.send_signal(signal.SIGSTOP)
        for number in range(60):
            save_jpeg(home.drop() / f"{number}@club.jpg", 90, 60, seed=number)
        service.process.send_signal(signal.SIGCONT)
        service.until(lambda: len(home.delivered()) == 60, "all deliveries")
        assert service.stop() == 0
