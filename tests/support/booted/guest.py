"""A booted server, driven from outside."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryFile
from typing import IO, Any

from tests.support.booted.base import CHECKOUT, OFFLINE, copy_checkout
from tests.support.booted.stage import Layers, Stage, inside, stage
from tests.support.service import PATIENCE

__all__ = ["Account", "Guest", "Share", "boot"]

ROOT_PATH = "/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin"
USER_PATH = "/usr/local/bin:/usr/bin:/bin"
KILLED = (-signal.SIGKILL, 128 + signal.SIGKILL)


@dataclass(frozen=True)
class Account:
    """A user of the guest."""

    name: str
    uid: int
    gid: int
    home: str
    shell: str


class Guest:
    """A server that runs Debian's systemd; made by `boot`."""

    def __init__(self, held: Stage, log: IO[str]) -> None:
        self._held = held
        self._log = log
        self._container: subprocess.Popen[str] | None = None
        self._leader: int | None = None

    @property
    def leader(self) -> int:
        """The host's number of the guest's first process."""
        assert self._leader is not None, "the guest is off"
        return self._leader

    # Running commands

    def run(
        self,
        *command: str | Path,
        check: bool = True,
        input: str | None = None,  # noqa: A002 - subprocess.run's word
        user: str | None = None,
        environment: Mapping[str, str] | None = None,
        cwd: str | Path | None = None,
        timeout: float = PATIENCE,
    ) -> subprocess.CompletedProcess[str]:
        """Run a command in the guest, as root or as *user*, with a fresh login's environment and *environment*.

        It starts in the home folder, or in *cwd*. Its control group is the test's, not one of the guest's units.

        Raises
        ------
        subprocess.CalledProcessError
            If it fails and *check* is set; with what it said as a note.
        subprocess.TimeoutExpired
            If it takes longer than *timeout* seconds; it is killed then, with its process group.
        """
        began = time.monotonic()
        arguments = self._command(command, timeout=timeout, user=user, environment=environment or {}, cwd=cwd)
        # No time limit here: killing nsenter would leave the command running, and its output open.
        done = subprocess.run(
            arguments, input=input, stdin=subprocess.DEVNULL if input is None else None,
            capture_output=True, text=True, encoding="utf-8", check=False,
        )  # fmt: skip
        if done.returncode in KILLED and time.monotonic() - began >= timeout:
            raise subprocess.TimeoutExpired(list(map(str, command)), timeout, done.stdout, done.stderr)
        if check and done.returncode != 0:
            error = subprocess.CalledProcessError(done.returncode, list(map(str, command)), done.stdout, done.stderr)
            error.add_note(f"{done.stdout}{done.stderr}")
            raise error
        return done

    def script(self, text: str, **options: Any) -> subprocess.CompletedProcess[str]:
        """Run a script by ``bash -eu``; *options* are those of `run`."""
        return self.run("bash", "-euc", text, **options)

    def _command(
        self,
        command: tuple[str | Path, ...],
        *,
        timeout: float,
        user: str | None,
        environment: Mapping[str, str],
        cwd: str | Path | None,
    ) -> list[str]:
        account = self.account(user or "root")
        as_user = [f"--reuid={account.uid}", f"--regid={account.gid}", "--init-groups"]
        settings = {
            "HOME": account.home,
            "USER": account.name,
            "LOGNAME": account.name,
            "SHELL": account.shell,
            "PATH": USER_PATH if account.uid else ROOT_PATH,
            "LANG": "C.UTF-8",
            **OFFLINE,
        }
        if account.uid:  # what pam_systemd sets at a login
            settings["XDG_RUNTIME_DIR"] = f"/run/user/{account.uid}"
            settings["DBUS_SESSION_BUS_ADDRESS"] = f"unix:path=/run/user/{account.uid}/bus"
        settings.update(environment)
        enter = ["nsenter", f"--target={self.leader}", "--mount", "--uts", "--ipc", "--net", "--pid", "--cgroup", "--"]
        as_somebody = ["setpriv", *as_user, "--"] if account.uid else []
        env = ["env", "-i", f"--chdir={cwd or account.home}", *(f"{name}={value}" for name, value in settings.items())]
        return [*enter, *as_somebody, "timeout", "--signal=KILL", str(timeout), *env, *map(str, command)]

    def account(self, name: str) -> Account:
        """Return a user of the guest.

        Raises
        ------
        KeyError
            If there is none of this name.
        """
        for line in self.path("/etc/passwd").read_text("utf-8").splitlines():
            fields = line.split(":")
            if fields[0] == name:
                return Account(name, int(fields[2]), int(fields[3]), fields[5], fields[6])
        raise KeyError(name)

    # Looking and reaching in from outside

    def path(self, inside_guest: str | Path) -> Path:
        """Return where the host reaches a file of the guest, with all that the guest has mounted while it runs.

        Links with an absolute target lead into the host's own files from there; name what they lead to. The path is
        good until the guest is switched off or on.
        """
        root = self._held.root if self._leader is None else Path(f"/proc/{self._leader}/root")
        return root.joinpath(*Path(inside_guest).parts[1:])

    def copy_checkout(self, to: str = CHECKOUT) -> None:
        """Copy this checkout's tracked files into the guest."""
        copy_checkout(self.path(to))

    def host_pid(self, guest_pid: int) -> int:
        """Return the host's number of a process that the guest knows as *guest_pid*, to trace or stop it from outside.

        Raises
        ------
        ProcessLookupError
            If there is none.
        """
        own = inside(self.leader)
        for status in Path("/proc").glob("[0-9]*/status"):
            try:
                numbers = next(line for line in status.read_text().splitlines() if line.startswith("NSpid:")).split()
            except OSError:  # it has ended
                continue
            if numbers[-1] == str(guest_pid) and inside(int(status.parent.name)) == own:
                return int(status.parent.name)
        raise ProcessLookupError(guest_pid)

    def show(self, unit: str, prop: str, user: str | None = None) -> str:
        """Return a property of a unit; with *user*, of that user's own systemd."""
        manager = ["--user"] if user else []
        return self.run("systemctl", *manager, "show", "--value", f"--property={prop}", unit, user=user).stdout.strip()

    def journal(self, unit: str, user: str | None = None) -> list[dict[str, Any]]:
        """Return what the journal holds of a unit, in order; with *user*, of a unit of that user's own systemd."""
        name = unit if "." in unit else f"{unit}.service"
        chosen = [f"--unit={name}"]
        if user:  # root's --user-unit would be of root's own
            by = f"_UID={self.account(user).uid}"
            chosen = [f"_SYSTEMD_USER_UNIT={name}", by, "+", f"USER_UNIT={name}", by]
        said = self.run("journalctl", "--output=json", "--all", "--no-pager", "--quiet", *chosen).stdout
        return [json.loads(line) for line in said.splitlines()]

    def until(self, holds: Callable[[], object], what: str) -> None:
        """Wait until something holds.

        Raises
        ------
        AssertionError
            If it takes too long, or the guest ends.
        """
        end = time.monotonic() + PATIENCE
        while not holds():
            assert self._container is None or self._container.poll() is None, f"the guest ended: {self.console()}"
            assert time.monotonic() < end, f"{what} did not happen"
            time.sleep(0.1)

    def console(self) -> str:
        """Return what was said on the console so far."""
        self._log.flush()
        self._log.seek(0)
        return self._log.read()

    # Power

    def start(self) -> None:
        """Switch it on and wait until all is started.

        Raises
        ------
        AssertionError
            If units failed (they are named), or it takes too long.
        """
        assert self._leader is None, "the guest runs already"
        self._container = self._held.container("--boot", log=self._log)
        self.until(self._is_up, "the boot")

    def _is_up(self) -> bool:
        self._leader = self._held.leader()
        if self._leader is None:
            return False
        state = self.run("systemctl", "is-system-running", check=False).stdout.strip()
        if state == "degraded":
            failed = self.run("systemctl", "list-units", "--failed", "--no-legend", "--plain").stdout
            raise AssertionError(f"units failed while the guest booted:\n{failed}{self.console()}")
        return state == "running"

    def poweroff(self) -> None:
        """Switch it off in order; its files stay, and `start` switches it on again."""
        assert self._container is not None
        self.run("systemctl", "poweroff", check=False)
        self._container.wait(PATIENCE)
        self._leader = self._container = None

    def ended(self) -> None:
        """Note that it was ended from outside: its plug was pulled."""
        if self._container is not None:
            self._container.wait(PATIENCE)
            self._leader = self._container = None

    def reboot(self) -> None:
        """Switch it off in order and on again."""
        self.poweroff()
        self.start()

    # Shares

    @contextmanager
    def share(self, source: str | Path, mountpoint: str | Path) -> Iterator[Share]:
        """Have the guest's folder *source* at its *mountpoint* too meanwhile, as a share that a program serves (FUSE).

        It is of the kind ``fuse``, which counts as remote.
        """
        self.run("bindfs", source, mountpoint)
        (server,) = self.run("pgrep", "--full", "--exact", f"bindfs {source} {mountpoint}").stdout.split()
        share = Share(self.host_pid(int(server)))
        try:
            yield share
        finally:
            share.thaw()
            if self._leader is not None:
                self.run("umount", "--lazy", mountpoint, check=False)


@dataclass(frozen=True)
class Share:
    """A share that can hang."""

    server: int
    """The host's number of the process that serves it."""

    def freeze(self) -> None:
        """Have it answer nothing: what asks for its files hangs."""
        os.kill(self.server, signal.SIGSTOP)

    def thaw(self) -> None:
        """Have it answer again."""
        os.kill(self.server, signal.SIGCONT)


@contextmanager
def boot(base: Layers) -> Iterator[Guest]:
    """Boot a server over *base* meanwhile; what it writes is lost at the end, and nothing of the host is changed."""
    with ExitStack() as stack:
        log = stack.enter_context(TemporaryFile("w+"))
        ending = stack.enter_context(ExitStack())
        guest = Guest(stack.enter_context(stage(base)), log)
        ending.callback(guest.ended)
        guest.start()
        yield guest
