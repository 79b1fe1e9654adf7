"""A fresh server's root, the wheels to install from without a network, and the checkout that is installed."""

from __future__ import annotations

import os
import platform
import shutil
import subprocess
import sys
import tarfile
import tomllib
from contextlib import suppress
from pathlib import Path
from tempfile import TemporaryFile

from tests.support.booted.able import python
from tests.support.booted.cache import kept, key_of
from tests.support.booted.stage import Layers, stage

__all__ = ["CHECKOUT", "INSTALL", "OFFLINE", "copy_checkout", "make_base", "with_package"]

SUITE = "bookworm"
"""Debian's release of 2023; its Python is `able.PYTHON`."""

PACKAGES = (
    "acl", "bindfs", "dbus", "dbus-user-session", "fuse3", "libpam-systemd", "procps", "python3", "python3-pip",
    "python3-venv", "rsync", "sudo", "systemd", "systemd-sysv",
)  # fmt: skip
"""What a server has, and bindfs for a share; a user's own systemd needs libpam-systemd and dbus-user-session."""

MASKED = (
    "apt-daily-upgrade.timer", "apt-daily.timer", "console-getty.service", "dpkg-db-backup.timer", "e2scrub_all.timer",
    "e2scrub_reap.service", "fstrim.timer", "motd-news.timer", "systemd-firstboot.service", "systemd-resolved.service",
    "systemd-timesyncd.service",
)  # fmt: skip
"""Units that only cost time."""

CHECKOUT = "/root/lanternslide"
OFFLINE = {"PIP_NO_INDEX": "1", "PIP_FIND_LINKS": "/wheels"}
"""All that tells a container without a network from a server with one."""

INSTALL = """
python3 -m venv /opt/lanternslide
/opt/lanternslide/bin/pip install --constraint deploy/constraints.txt .
"""

INSTALLED_FROM = ("LICENSE", "README.md", "deploy/constraints.txt", "pyproject.toml")
"""What decides about an installation beside the code."""

REPOSITORY = Path(__file__).resolve().parents[3]


def make_base() -> Layers:
    """Return a fresh server's root and the wheels; the first call on a machine takes about a minute."""
    root = kept("root", key_of(SUITE, platform.machine(), *PACKAGES, "", *MASKED, "2"), _make_root)
    asked = [(REPOSITORY / name).read_bytes() for name in ("pyproject.toml", "deploy/constraints.txt")]
    return Layers((root,), kept("wheels", key_of(SUITE, platform.machine(), *asked), _download))


def _make_root(root: Path) -> None:
    command = ["mmdebstrap", "--mode=root", "--variant=minbase", f"--include={','.join(PACKAGES)}", SUITE, str(root)]
    _run(command)
    _run(["systemctl", f"--root={root}", "mask", *MASKED])
    # A first boot would ask its questions; a server has had its own.
    (root / "etc/machine-id").unlink(missing_ok=True)
    _run(["systemd-machine-id-setup", f"--root={root}"])
    (root / "etc/hostname").write_text("harbour\n")
    (root / "etc/resolv.conf").write_text("")  # this machine's own was copied


def _download(wheels: Path) -> None:
    """Download what the project needs at run time and to be built, in the versions that were tested together.

    What is published as source alone is built on the server, as a photographer's would; so what builds it comes too.
    """
    project = tomllib.loads((REPOSITORY / "pyproject.toml").read_text("utf-8"))
    needed = [*project["project"]["dependencies"], *project["build-system"]["requires"]]
    pip = [python() or sys.executable, "-m", "pip", "download", "--quiet", "--dest", str(wheels)]
    sources: set[Path] = set()
    while needed:
        _run([*pip, "--constraint", str(REPOSITORY / "deploy/constraints.txt"), *needed])
        found = set(wheels.glob("*.tar.gz")) - sources
        needed = [name for source in sorted(found) for name in _build_requirements(source)]
        sources |= found


def _build_requirements(source: Path) -> list[str]:
    with tarfile.open(source) as archive, suppress(KeyError):
        declared = archive.extractfile(f"{source.name.removesuffix('.tar.gz')}/pyproject.toml")
        assert declared is not None
        requires: list[str] = tomllib.loads(declared.read().decode())["build-system"]["requires"]
        return requires
    return ["setuptools", "wheel"]  # PEP 518


def _run(command: list[str]) -> None:
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, f"{command[0]} failed:\n{done.stdout[-2000:]}{done.stderr[-4000:]}"


def checkout_files() -> list[str]:
    """Return the checkout's tracked files; without git, all that lie in no folder with a dot before its name."""
    command = ["git", "-c", "safe.directory=*", "-C", str(REPOSITORY), "ls-files", "-z"]
    with suppress(OSError, subprocess.CalledProcessError):
        listed = subprocess.run(command, capture_output=True, check=True).stdout
        return sorted(name for name in os.fsdecode(listed).split("\0") if name and (REPOSITORY / name).is_file())
    files: list[str] = []
    for folder, below, names in os.walk(REPOSITORY):
        below[:] = [name for name in below if not name.startswith(".")]
        files += [os.path.relpath(Path(folder, name), REPOSITORY) for name in names]
    return sorted(files)


def copy_checkout(to: Path) -> None:
    """Copy the checkout, as somebody who has fetched it would have it."""
    for name in checkout_files():
        (to / name).parent.mkdir(parents=True, exist_ok=True)
        shutil.copy2(REPOSITORY / name, to / name)


def with_package(base: Layers) -> Layers:
    """Return *base* with this checkout installed into /opt/lanternslide, and nowhere else; kept for the same code."""
    code = [name for name in checkout_files() if name.startswith("service/") or name in INSTALLED_FROM]
    contents = [part for name in code for part in (name, (REPOSITORY / name).read_bytes())]
    key = key_of(*map(str, base.folders), str(base.wheels), INSTALL, *contents)

    def make(layer: Path) -> None:
        work = layer.with_name(f"{layer.name}.work")
        shutil.rmtree(work, ignore_errors=True)
        work.mkdir()
        try:
            _install(base, layer, work)
        finally:
            shutil.rmtree(work, ignore_errors=True)

    return Layers((kept("package", key, make), *base.folders), base.wheels)


def _install(base: Layers, layer: Path, work: Path) -> None:
    settings = [f"--setenv={name}={value}" for name, value in OFFLINE.items()]
    with stage(base, layer, work) as held, TemporaryFile("w+") as log:
        copy_checkout(Path(f"{held.root}{CHECKOUT}"))
        status = held.container(*settings, f"--chdir={CHECKOUT}", "--", "sh", "-euc", INSTALL, log=log).wait()
        log.seek(0)
        assert status == 0, f"the installation failed:\n{log.read()[-4000:]}"
        # Files that no key speaks of would grow stale there.
        shutil.rmtree(f"{held.root}{CHECKOUT}")
