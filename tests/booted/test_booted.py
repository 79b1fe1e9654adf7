"""A real systemd in a container: a fresh server installs lanternslide, and does what tests rely on."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from lanternslide import __version__
from tests.support.booted import CHECKOUT, INSTALL, Guest, Layers, boot
from tests.support.service import PATIENCE

REPOSITORY = Path(__file__).resolve().parents[2]


def add_user(guest: Guest, name: str) -> None:
    """Add somebody who logs in by themselves, and whose programs run without them."""
    guest.run("useradd", "--create-home", "--shell", "/bin/bash", name)
    guest.run("loginctl", "enable-linger", name)
    unit = f"user@{guest.account(name).uid}.service"
    guest.until(lambda: guest.show(unit, "ActiveState") == "active", f"the start of {unit}")


def add_unit(guest: Guest, name: str, command: str) -> None:
    """Add a service that starts with the server."""
    text = f"[Service]\nType=oneshot\nRemainAfterExit=yes\nExecStart={command}\n[Install]\nWantedBy=multi-user.target\n"
    guest.path(f"/etc/systemd/system/{name}").write_text(text)
    guest.run("systemctl", "enable", name)


def test_a_fresh_server_installs_the_checkout(guest_base: Layers) -> None:
    """With Debian's own Python and no compiler, two commands install the checkout; it runs for an ordinary user."""
    with boot(guest_base) as guest:
        guest.run("useradd", "--create-home", "ida")
        guest.copy_checkout()
        guest.script(INSTALL, cwd=CHECKOUT)
        said = guest.run("/opt/lanternslide/bin/lanternslide", "--version", user="ida").stdout

    assert said.split() == ["lanternslide", __version__]


def test_a_server_that_was_switched_off_keeps_its_files(guest_with_package: Layers) -> None:
    """What is enabled starts when it is switched on again; another server over the same base knows nothing of it."""
    with boot(guest_with_package) as guest:
        add_unit(guest, "tide.service", "/bin/sh -c 'echo ebb >> /srv/tide'")
        guest.run("systemctl", "start", "tide")
        before = guest.run("cat", "/proc/sys/kernel/random/boot_id").stdout
        guest.reboot()
        assert guest.run("cat", "/proc/sys/kernel/random/boot_id").stdout != before
        assert guest.show("tide", "ActiveState") == "active"
        guest.poweroff()
        assert guest.path("/srv/tide").read_text() == "ebb\nebb\n"
    with boot(guest_with_package) as another:
        assert not another.path("/srv/tide").exists()
        assert another.run("/opt/lanternslide/bin/lanternslide", "--version").stdout.split()[1] == __version__


def test_a_unit_that_fails_at_the_boot_is_named(guest_base: Layers) -> None:
    """A server whose units failed is no server to test with."""
    with boot(guest_base) as guest:
        add_unit(guest, "reef.service", "/bin/false")
        with pytest.raises(AssertionError, match=r"reef\.service"):
            guest.reboot()


def test_a_user_has_a_systemd_of_their_own(guest_base: Layers) -> None:
    """An ordinary user starts a unit, and its process and journal are found from outside."""
    with boot(guest_base) as guest:
        add_user(guest, "ida")
        command = ["sh", "-c", "echo I am $(id --user --name); exec sleep 600"]
        guest.run("systemd-run", "--user", "--unit=gull", *command, user="ida")
        guest.until(lambda: any(entry["MESSAGE"] == "I am ida" for entry in guest.journal("gull", "ida")), "the line")
        outside = guest.host_pid(int(guest.show("gull", "MainPID", "ida")))
        guest.until(lambda: Path(f"/proc/{outside}/comm").read_text() == "sleep\n", "the sleep")
        assert guest.journal("gull") == []
        assert guest.run("printenv", "HOME", user="ida").stdout == "/home/ida\n"


def test_a_share_hangs_and_answers_again(guest_with_package: Layers) -> None:
    """A share is seen by the server's units, counts as remote, hangs when frozen, and goes on when thawed."""
    remote = "from lanternslide.storage.mounts import *; from pathlib import Path; print(is_remote(Path('/srv/nas')))"
    with boot(guest_with_package) as guest:
        guest.script("mkdir /srv/behind /srv/nas; echo seal > /srv/behind/seal; chmod 755 /srv/behind")
        with guest.share("/srv/behind", "/srv/nas") as share:
            cat = ["systemd-run", "--pipe", "--wait", "--quiet", "--property=ProtectSystem=strict", "-pUser=nobody"]
            assert guest.run(*cat, "cat", "/srv/nas/seal").stdout == "seal\n"
            assert guest.run("/opt/lanternslide/bin/python", "-c", remote).stdout == "True\n"
            share.freeze()
            with pytest.raises(subprocess.TimeoutExpired):
                guest.run("ls", "/srv/nas", timeout=1)
            share.thaw()
            assert guest.run("ls", "/srv/nas").stdout == "seal\n"
        assert guest.run("ls", "/srv/nas").stdout == ""


KILLED = """
import os, signal
from tests.support.booted import boot, make_base
with boot(make_base()) as guest:
    guest.run("mount", "-t", "tmpfs", "none", "/srv")
    print(guest.leader, flush=True)
    os.kill(os.getpid(), signal.SIGKILL)
"""


def left(process: int) -> list[str]:
    """Return what the servers of a test's process have left on this machine."""
    mounts = [line for line in Path("/proc/self/mounts").read_text().splitlines() if "lanternslide-tests" in line]
    groups = [str(path) for path in Path("/sys/fs/cgroup").glob(f"**/lanternslide-test-{process}-*")]
    return [*mounts, *groups, *map(str, Path("/run").glob("systemd/nspawn/**/harbour*"))]


def test_a_server_leaves_nothing_behind(guest_base: Layers) -> None:
    """Neither one that ended in order nor one whose test was killed."""
    with boot(guest_base) as guest:
        running = guest.leader
        assert guest.run("cat", "/proc/1/comm").stdout == "systemd\n"
        assert left(os.getpid())  # its control groups
    assert not Path(f"/proc/{running}").exists()
    assert left(os.getpid()) == []

    environment = {**os.environ, "PYTHONPATH": f"{REPOSITORY}:{REPOSITORY / 'service'}"}
    with subprocess.Popen([sys.executable, "-c", KILLED], env=environment, stdout=subprocess.PIPE, text=True) as killed:
        leader = Path("/proc", killed.communicate()[0].strip())
    assert killed.returncode == -signal.SIGKILL
    end = time.monotonic() + PATIENCE
    while leader.exists():
        assert time.monotonic() < end
        time.sleep(0.05)
    with boot(guest_base):  # tidies up
        assert left(killed.pid) == []
