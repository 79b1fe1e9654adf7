"""Whole lives on a server that runs a real systemd: pictures, folders with odd names, and an upgrade."""

from __future__ import annotations

import shutil
import sqlite3
from contextlib import ExitStack, closing
from pathlib import Path

from tests.support.booted import Guest, Layers
from tests.support.home_server import CONFIG, LANTERNSLIDE, Server, server_over
from tests.support.pictures import save_jpeg, size_of

FORMER = Path(__file__).resolve().parents[1] / "unit" / "ledger"


def put(guest: Guest, path: Path, *, seed: int = 1, size: tuple[int, int] = (2000, 1300)) -> None:
    """Write a picture of Ida's at *path*, whole and at once."""
    made = save_jpeg(path.with_name(f".{path.name}.new.jpg"), *size, seed=seed)
    shutil.chown(made, guest.account("ida").uid, guest.account("lanternslide").gid)
    made.chmod(0o640)
    made.rename(path)


def on_a_share(server: Server) -> None:
    """Have Ida drop over a share, which is looked through every second."""
    config = server.guest.path(CONFIG)
    text = config.read_text().replace("/srv/lanternslide/drop/ida", "/srv/nas/ida")
    config.write_text(text.replace("settle_seconds = 0.3", "settle_seconds = 0.3\nscan_seconds = 1"))
    server.lanternslide("install", "--systemd")


def test_a_pictures_whole_life(guest_with_package: Layers) -> None:
    """Dropped over a share that freezes, wrongly tagged, renamed, exported again, withdrawn: each time as promised."""
    with server_over(guest_with_package) as server, ExitStack() as stack:
        guest = server.guest
        guest.script("install -d -m 2750 -o ida -g lanternslide /srv/behind/ida; install -d /srv/nas")
        share = stack.enter_context(guest.share("/srv/behind", "/srv/nas"))
        on_a_share(server)
        server.start()
        main = server.show("MainPID")
        behind = guest.path("/srv/behind/ida")
        journal, portfolio = server.out("ida/journal/stack.jpg"), server.out("ida/portfolio/stack.jpg")

        # Dropped while the share hangs: nobody else waits, and nothing is lost.
        share.freeze()
        put(guest, behind / "stack@jurnal.jpg")
        server.drop("gull.jpg", owner="juno")
        server.until(server.out("juno/journal/gull.jpg").exists, "the other's delivery")
        assert server.show("MainPID") == main
        assert server.show("ActiveState") == "active"
        share.thaw()

        # Wrongly tagged: held, with the near miss, where its owner looks.
        note = guest.path("/srv/lanternslide/proofs/ida/HELD.txt")
        server.until(note.exists, "the note of what is held")
        assert "stack@jurnal.jpg" in note.read_text("utf-8")
        assert "journal" in note.read_text("utf-8")
        assert not journal.exists()
        assert not portfolio.exists()

        # Renamed: delivered, and the note is gone.
        (behind / "stack@jurnal.jpg").rename(behind / "stack@journal.jpg")
        server.until(journal.exists, "the delivery")
        server.until(lambda: not note.exists(), "the end of the note")
        first = journal.read_bytes()
        assert not portfolio.exists()

        # Exported again under the same name: replaced.
        put(guest, behind / "stack@journal.jpg", seed=2, size=(2400, 1600))
        server.until(lambda: journal.read_bytes() != first, "the new delivery")
        assert size_of(journal) == (1600, 1067)
        assert server.delivered() == {"ida/journal/stack.jpg", "juno/journal/gull.jpg"}

        # Withdrawn: gone, and it stays away, also after a restart and a freeze.
        server.until(lambda: server.show("StatusText").endswith(": 0."), "rest")
        withdraw = [LANTERNSLIDE, "--config", CONFIG, "withdraw", "/srv/nas/ida/stack@journal.jpg"]
        guest.run("sudo", "-u", "lanternslide", *withdraw)
        assert not journal.exists()
        guest.run("systemctl", "restart", "lanternslide")
        share.freeze()
        guest.run("sleep", "3")
        share.thaw()
        server.drop("tern.jpg", owner="juno")
        server.until(server.out("juno/journal/tern.jpg").exists, "a later delivery")
        assert not journal.exists()
        assert (behind / "stack@journal.jpg").exists()


def test_folders_with_odd_names(guest_with_package: Layers) -> None:
    """Spaces, colons, quotes, backslashes and percent signs in folders reach the service as they are."""
    odd = 'Skerrow "Isles": 100% \\ ünd'
    with server_over(guest_with_package) as server:
        guest = server.guest
        guest.run("install", "-d", "-m", "2750", "-o", "lanternslide", "-g", "lanternslide", f"/srv/{odd}/out")
        config = guest.path(CONFIG)
        config.write_text(config.read_text().replace('"/srv/lanternslide/out/club"', f"'/srv/{odd}/out/club'"))
        server.lanternslide("install", "--systemd")
        assert guest.run("systemd-analyze", "verify", "lanternslide.service").stderr == ""
        server.start()
        server.drop("stack@club.jpg")
        server.until(guest.path(f"/srv/{odd}/out/club/stack.jpg").exists, "the delivery")


def test_a_missing_folder_in_a_home_stops_nobody_else(guest_with_package: Layers) -> None:
    """The service starts without it, says so, and does what others drop; uninstalled after a failure, nothing stays."""
    with server_over(guest_with_package) as server:
        guest = server.guest
        config = guest.path(CONFIG)
        config.write_text(config.read_text().replace("/srv/lanternslide/drop/ida", "/home/ida/finished"))
        guest.run("install", "-d", "-o", "ida", "-m", "755", "/home/ida/finished")
        guest.run("chmod", "755", "/home/ida")
        server.lanternslide("install", "--systemd")
        guest.run("mv", "/home/ida/finished", "/home/ida/elsewhere")
        server.start()
        server.drop("gull.jpg", owner="juno")
        server.until(lambda: "juno/journal/gull.jpg" in server.delivered(), "the other's delivery")
        assert [event["what"] for event in server.events() if event["event"] == "waits"] == ["ida: drop folder"]

        config.write_text("nonsense")
        guest.run("systemctl", "restart", "lanternslide", check=False)
        server.lanternslide("uninstall")
        assert guest.run("systemctl", "list-units", "--failed", "--no-legend", "--plain").stdout == ""


def test_an_upgrade_brings_the_ledger_forward(guest_with_package: Layers, tmp_path: Path) -> None:
    """A former ledger is migrated at the start, with a copy kept; one of a newer version is refused, and stays."""
    with server_over(guest_with_package) as server:
        guest = server.guest
        former = min(FORMER.glob("format-*.sql"))
        number = int(former.stem.removeprefix("format-"))
        ledger = guest.path("/var/lib/lanternslide/ledger.sqlite")
        with closing(sqlite3.connect(tmp_path / "former")) as connection:
            connection.executescript(former.read_text("utf-8"))
            connection.execute("INSERT INTO ledger (only, name) VALUES (1, 'abc')")
            connection.execute(f"PRAGMA user_version = {number}")
            connection.commit()
        shutil.copy(tmp_path / "former", ledger)
        guest.run("chown", "lanternslide:lanternslide", "/var/lib/lanternslide/ledger.sqlite")
        server.start()
        server.drop("stack.jpg")
        server.until(lambda: "ida/portfolio/stack.jpg" in server.delivered(), "the delivery")
        assert ledger.with_name(f"ledger.sqlite.format-{number}").exists()
        guest.run("systemctl", "stop", "lanternslide")

        shutil.copy(ledger, tmp_path / "newer")
        with closing(sqlite3.connect(tmp_path / "newer")) as connection:
            connection.execute("PRAGMA user_version = 999")
        ledger.write_bytes((tmp_path / "newer").read_bytes())
        before = ledger.read_bytes()
        refused = guest.run("systemctl", "start", "lanternslide", check=False)
        assert refused.returncode != 0
        assert server.show("ExecMainStatus") == "4"
        lines = [line for line in guest.journal("lanternslide") if "Install the newer version" in str(line["MESSAGE"])]
        assert lines[0]["PRIORITY"] == "3"
        assert ledger.read_bytes() == before


def test_a_move_to_another_machine_delivers_nothing_again(guest_with_package: Layers, tmp_path: Path) -> None:
    """Config, state and pictures are copied with owners and times; the service there goes on where this one stopped."""
    folders = ["etc/lanternslide", "var/lib/lanternslide", "srv/lanternslide"]
    with server_over(guest_with_package) as old:
        old.start()
        old.drop("stack.jpg")
        old.until(lambda: "ida/portfolio/stack.jpg" in old.delivered(), "the delivery")
        old.guest.run("systemctl", "stop", "lanternslide")
        old.guest.run("tar", "--create", "--file=/root/move.tar", "--directory=/", *folders)
        shutil.copy(old.guest.path("/root/move.tar"), tmp_path / "move.tar")
        before = old.delivered()
    with server_over(guest_with_package) as new:
        shutil.copy(tmp_path / "move.tar", new.guest.path("/root/move.tar"))
        new.guest.run("tar", "--extract", "--preserve-permissions", "--file=/root/move.tar", "--directory=/")
        new.start()
        new.until(lambda: new.show("StatusText").endswith(": 0."), "rest")
        new.drop("gull.jpg", seed=2)
        new.until(lambda: "ida/portfolio/gull.jpg" in new.delivered(), "a new delivery")

        assert new.delivered() == before | {"ida/portfolio/gull.jpg"}
        made = [event["original"] for event in new.events() if event["event"] == "delivered"]
        assert made == ["ida: gull.jpg"]
