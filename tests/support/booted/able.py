"""Whether this machine can boot a container, and what is missing if it cannot."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from functools import cache

__all__ = ["python", "why_not"]

TOOLS = ("mmdebstrap", "systemd-nspawn", "unshare", "nsenter", "setpriv")
"""Programs without which nothing is booted; on Debian: mmdebstrap, systemd-container, util-linux."""

PYTHON = (3, 11)
"""The container's Python; only the same one downloads what fits it."""

GROUPS = "/sys/fs/cgroup"

PROBE = """
mount --make-rprivate / && mount -t tmpfs tmpfs /run && mkdir /run/l /run/u /run/w /run/m &&
mount -t overlay -o lowerdir=/run/l,upperdir=/run/u,workdir=/run/w,xino=on overlay /run/m
"""


def python() -> str | None:
    """Return this machine's Python of the container's version, if there is one."""
    return sys.executable if sys.version_info[:2] == PYTHON else shutil.which("python{}.{}".format(*PYTHON))


@cache
def why_not() -> str | None:
    """Return why this machine cannot boot a container, or None if it can."""
    if sys.platform != "linux":
        return "only Linux boots systemd"
    if os.geteuid() != 0:
        return "only root may boot a container"
    lacking = [tool for tool in TOOLS if shutil.which(tool) is None]
    if python() is None:
        lacking.append("Python {}.{}".format(*PYTHON))
    if not os.access("/dev/fuse", os.R_OK | os.W_OK):
        lacking.append("/dev/fuse")
    if not os.path.ismount(GROUPS) or not os.access(GROUPS, os.W_OK):
        lacking.append("control groups that can be made")
    if lacking:
        return f"not there: {', '.join(lacking)}"
    command = ["unshare", "--mount", "--pid", "--fork", "sh", "-c", PROBE]
    probe = subprocess.run(command, capture_output=True, text=True, check=False)
    return None if probe.returncode == 0 else f"namespaces or overlays are not allowed: {probe.stderr.strip()}"
