"""Services of single photographers, and one for a user alone, on a server that runs a real systemd."""

from __future__ import annotations

import shutil
from pathlib import Path

from tests.support.booted import CHECKOUT, Guest, Layers, boot
from tests.support.pictures import save_jpeg

LANTERNSLIDE = "/opt/lanternslide/bin/lanternslide"
CONFIG = "/etc/lanternslide/lanternslide.toml"

APART = """
groupadd --system club
for name in ida juno; do
    useradd --user-group --create-home --groups club $name
    install -d -m 750 -o $name -g $name /srv/lanternslide/drop/$name /srv/lanternslide/proofs/$name
done
install -d -m 755 /srv/lanternslide/out
install -d -m 2770 -o root -g club /srv/lanternslide/out/club
install -D -m 644 config/home-server.toml /etc/lanternslide/lanternslide.toml
sed -i 's/settle_seconds = 10/settle_seconds = 0.3/' /etc/lanternslide/lanternslide.toml
"""


def drop(guest: Guest, owner: str, name: str) -> None:
    """Drop a picture as its owner does."""
    path = guest.path(f"/srv/lanternslide/drop/{owner}") / name
    path.parent.mkdir(parents=True, exist_ok=True)
    made = save_jpeg(path.with_name(f".{path.name}.new.jpg"), 2000, 1300)
    account = guest.account(owner)
    shutil.chown(made, account.uid, account.gid)
    made.rename(path)


def test_photographers_services_cannot_see_each_other(guest_with_package: Layers) -> None:
    """Missing folders are named with the commands that make them; then each delivers, and sees its own alone."""
    with boot(guest_with_package) as guest:
        guest.copy_checkout()
        guest.script(APART, cwd=CHECKOUT)
        install = [LANTERNSLIDE, "--config", CONFIG, "install", "--systemd", "--per-photographer"]
        refused = guest.run(*install, check=False)
        assert refused.returncode == 2
        assert not guest.path("/etc/systemd/system/lanternslide@.service").exists()
        commands = refused.stderr.partition("Make them: ")[2].rstrip().rstrip(".")
        guest.script(commands)
        said = guest.run(*install)
        assert "wrong" not in said.stdout
        guest.run("systemctl", "enable", "--now", "lanternslide@ida", "lanternslide@juno")
        drop(guest, "ida", "stack@club@portfolio.jpg")
        out = guest.path("/srv/lanternslide/out")
        guest.until(lambda: (out / "ida/portfolio/stack.jpg").exists() and (out / "club/stack.jpg").exists(), "ida's")
        drop(guest, "juno", "gull.jpg")
        guest.until((out / "juno/journal/gull.jpg").exists, "juno's")

        drop(guest, "ida", "club/trip/one.jpg")
        guest.until((out / "club/trip/one.jpg").exists, "ida's in a folder of the club's")
        drop(guest, "juno", "club/trip/two.jpg")
        guest.until((out / "club/trip/two.jpg").exists, "juno's in the same folder")

        assert seen_by(guest, "ida", "/srv/lanternslide/drop") == {"ida"}
        assert seen_by(guest, "juno", "/srv/lanternslide/out") == {"juno", "club"}
        assert seen_by(guest, "ida", "/var/lib/lanternslide") == {"ida"}
        assert seen_by(guest, "juno", "/home") == set()
        assert (out / "club/stack.jpg").stat().st_uid == guest.account("ida").uid
        for name in ("ida", "juno"):
            assert guest.show(f"lanternslide@{name}", "User") == name
            verified = guest.run("systemd-analyze", "verify", f"lanternslide@{name}.service")
            counted = guest.run("systemd-analyze", "security", "--no-pager", "--threshold=4", f"lanternslide@{name}")
            print(counted.stdout.splitlines()[-1])
            assert verified.stderr == ""

        status = [LANTERNSLIDE, "--config", CONFIG, "status"]
        unnamed = guest.run(*status, check=False)
        assert unnamed.returncode == 2
        assert "one of ida, juno" in unnamed.stderr
        own = guest.run(*status, "--photographer", "ida", user="ida")
        assert "2 delivered" in own.stdout
        other = guest.run(*status, "--photographer", "juno", user="ida", check=False)
        assert "gull" not in other.stdout

        guest.run(LANTERNSLIDE, "uninstall")
        assert guest.show("lanternslide@ida", "ActiveState") == "inactive"
        assert not list(guest.path("/etc/systemd/system").glob("lanternslide@*"))
        assert (out / "juno/journal/gull.jpg").exists()


def seen_by(guest: Guest, name: str, folder: str) -> set[str]:
    """Return what the service of a photographer sees in a folder."""
    process = guest.show(f"lanternslide@{name}", "MainPID")
    return set(guest.run("nsenter", f"--target={process}", "--mount", "ls", folder).stdout.split())


def test_a_persons_own_state_is_not_taken_away(guest_with_package: Layers) -> None:
    """What somebody has begun for themselves is not made the machine's: it is refused, and --user is named."""
    with boot(guest_with_package) as guest:
        guest.run("useradd", "--create-home", "ida")
        guest.run("chmod", "755", "/home/ida")
        guest.run(LANTERNSLIDE, "init", "pictures", "--yes", user="ida")
        config = "/home/ida/pictures/lanternslide.toml"
        for more in ([], ["--dry-run"]):
            done = guest.run(LANTERNSLIDE, "--config", config, "install", "--systemd", *more, check=False)
            assert done.returncode == 2
            assert "--user" in done.stderr
        assert not list(guest.path("/etc/systemd/system").glob("lanternslide*"))
        assert guest.path("/home/ida/pictures/state").stat().st_uid == guest.account("ida").uid


def test_one_service_for_all_and_single_ones_do_not_follow_each_other(guest_with_package: Layers) -> None:
    """What would begin new ledgers, and deliver everything once more, is refused before anything is written."""
    with boot(guest_with_package) as guest:
        guest.copy_checkout()
        guest.script(APART, cwd=CHECKOUT)
        state = guest.path("/var/lib/lanternslide")
        state.mkdir(parents=True)
        (state / "ledger.sqlite").touch()
        each = guest.run(LANTERNSLIDE, "--config", CONFIG, "install", "--systemd", "--per-photographer", check=False)
        (state / "ledger.sqlite").unlink()
        (state / "ida").mkdir()
        (state / "ida" / "ledger.sqlite").touch()
        whole = guest.run(LANTERNSLIDE, "--config", CONFIG, "install", "--systemd", check=False)

        assert (each.returncode, whole.returncode) == (2, 2)
        assert "again, under numbered names" in each.stderr
        assert "again, under numbered names" in whole.stderr
        assert not list(guest.path("/etc/systemd/system").glob("lanternslide*"))


HOME = """
[service]
state = "state"
settle_seconds = 0.3
[photographers.ida]
drop = "drop"
otherwise = ["portfolio"]
[destinations.portfolio]
folder = "out/portfolio"
size = { long_edge = 1050 }
"""


def test_a_user_installs_without_root(guest_with_package: Layers) -> None:
    """The unit is the user's own, delivers from their home, and uninstalling leaves their pictures."""
    with boot(guest_with_package) as guest:
        guest.run("useradd", "--create-home", "--shell", "/bin/bash", "ida")
        guest.run("loginctl", "enable-linger", "ida")
        guest.until(
            lambda: guest.show(f"user@{guest.account('ida').uid}", "ActiveState") == "active", "a user's systemd"
        )
        guest.script(
            "mkdir -p ~/pictures/drop ~/pictures/out; cat > ~/pictures/lanternslide.toml", user="ida", input=HOME
        )
        command = [LANTERNSLIDE, "--config", "pictures/lanternslide.toml"]
        said = guest.run(*command, "install", "--systemd", "--user", user="ida").stdout
        assert "enable-linger" in said
        assert "systemctl --user enable --now lanternslide" in said
        unit = Path("/home/ida/.config/systemd/user/lanternslide.service")
        verified = guest.run("systemd-analyze", "--user", "verify", unit, user="ida")
        assert verified.stderr == ""
        guest.run("systemctl", "--user", "enable", "--now", "lanternslide", user="ida")
        guest.until(lambda: guest.show("lanternslide", "StatusText", "ida").startswith("Watching."), "the status")
        home = guest.path("/home/ida/pictures")
        account = guest.account("ida")
        made = save_jpeg(home / "stack.jpg", 2000, 1300)
        shutil.chown(made, account.uid, account.gid)
        made.rename(home / "drop" / "stack.jpg")
        guest.until((home / "out/portfolio/stack.jpg").exists, "the delivery")
        assert any("delivered" in str(line["MESSAGE"]) for line in guest.journal("lanternslide", "ida"))
        process = guest.path(f"/proc/{guest.show('lanternslide', 'MainPID', 'ida')}/status").read_text()
        assert "NoNewPrivs:\t1" in process
        assert "Seccomp:\t2" in process

        guest.run(*command, "uninstall", "--user", user="ida")
        assert guest.show("lanternslide", "ActiveState", "ida") == "inactive"
        assert not guest.path(unit).exists()
        assert (home / "out/portfolio/stack.jpg").exists()
        assert (home / "state/ledger.sqlite").exists()
        as_root = guest.run(*command, "install", "--systemd", "--user", cwd="/home/ida", check=False)
        assert as_root.returncode == 2
