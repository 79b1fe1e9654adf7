"""A home server with the service installed, in a booted guest."""

from __future__ import annotations

import json
import shutil
import subprocess
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.support.booted import CHECKOUT, Guest, Layers, boot
from tests.support.pictures import save_jpeg

__all__ = ["CONFIG", "LANTERNSLIDE", "Server", "server_over"]

LANTERNSLIDE = "/opt/lanternslide/bin/lanternslide"
CONFIG = "/etc/lanternslide/lanternslide.toml"
ACCOUNTS = """
useradd --system --user-group --home-dir /var/lib/lanternslide --shell /usr/sbin/nologin lanternslide
useradd --user-group --create-home ida
useradd --user-group --create-home juno
install -d /srv/lanternslide /srv/lanternslide/drop /srv/lanternslide/proofs
install -d -m 2750 -o ida -g lanternslide /srv/lanternslide/drop/ida
install -d -m 2750 -o juno -g lanternslide /srv/lanternslide/drop/juno
install -d -m 2750 -o lanternslide -g lanternslide /srv/lanternslide/out /srv/lanternslide/proofs/ida
install -d -m 2750 -o lanternslide -g lanternslide /srv/lanternslide/proofs/juno
install -D -m 644 config/home-server.toml /etc/lanternslide/lanternslide.toml
sed -i 's/settle_seconds = 10/settle_seconds = 0.3/' /etc/lanternslide/lanternslide.toml
"""
"""A home server as its guide has it, but for a shorter time to settle."""

PATIENT = "[Service]\nWatchdogSec=6s\nRestartSec=1s\n"
"""An owner's own changes, which make a test short."""


class Server:
    """A booted home server with the service installed."""

    def __init__(self, guest: Guest) -> None:
        self.guest = guest

    def lanternslide(self, *arguments: str, check: bool = True) -> subprocess.CompletedProcess[str]:
        """Run a command as root."""
        return self.guest.run(LANTERNSLIDE, "--config", CONFIG, *arguments, check=check)

    def show(self, prop: str, unit: str = "lanternslide") -> str:
        """Return a property of the service's unit."""
        return self.guest.show(unit, prop)

    def events(self, unit: str = "lanternslide") -> list[dict[str, object]]:
        """Return the service's own events, with the journal's priority."""
        return [
            {**json.loads(line["MESSAGE"]), "priority": int(line["PRIORITY"])}
            for line in self.guest.journal(unit)
            if str(line["MESSAGE"]).startswith("{")
        ]

    def drop(self, name: str, *, owner: str = "ida", seed: int = 1, size: tuple[int, int] = (2000, 1300)) -> Path:
        """Drop a picture as its owner does, whole and at once, and return where the test reaches it."""
        path = self.guest.path("/srv/lanternslide/drop") / owner / name
        path.parent.mkdir(exist_ok=True, parents=True)
        made = save_jpeg(path.with_name(f".{path.name}.new.jpg"), *size, seed=seed)
        account = self.guest.account(owner)
        shutil.chown(made, account.uid, self.guest.account("lanternslide").gid)
        made.chmod(0o640)
        made.rename(path)
        return path

    def out(self, *parts: str) -> Path:
        """Return a path below the destinations."""
        return self.guest.path("/srv/lanternslide/out").joinpath(*parts)

    def delivered(self) -> set[str]:
        """Return the names of what stands published."""
        found = self.out().rglob("*")
        return {str(path.relative_to(self.out())) for path in found if path.is_file() and path.name[0] != "."}

    def until(self, holds: Callable[[], object], what: str) -> None:
        """Wait until something holds; a failure shows the journal."""
        try:
            self.guest.until(holds, what)
        except AssertionError as error:
            lines = [str(line["MESSAGE"]) for line in self.guest.journal("lanternslide")]
            error.add_note("\n".join(lines[-40:]))
            raise

    def start(self) -> None:
        """Start the service; systemctl returns once it is ready."""
        self.guest.run("systemctl", "start", "lanternslide")


@contextmanager
def server_over(base: Layers, changes: str = PATIENT) -> Iterator[Server]:
    """Boot a server, install the service for all, and leave it stopped."""
    with boot(base) as guest:
        guest.copy_checkout()
        guest.script(ACCOUNTS, cwd=CHECKOUT)
        server = Server(guest)
        server.lanternslide("install", "--systemd")
        own = guest.path("/etc/systemd/system/lanternslide.service.d")
        own.mkdir()
        (own / "override.conf").write_text(changes)
        guest.run("systemctl", "daemon-reload")
        yield server
