"""Every module of the service where a system has nothing of POSIX alone."""

from __future__ import annotations

import subprocess
import sys

SCRIPT = """
import importlib, os, pkgutil, signal, sys
import lanternslide

def modules():
    found = pkgutil.walk_packages(lanternslide.__path__, "lanternslide.")
    return sorted(module.name for module in found if "__main__" not in module.name)

for name in modules():  # with all that it needs of others, which is theirs to answer for
    importlib.import_module(name)
names = modules()
for name in [name for name in sys.modules if name.partition(".")[0] == "lanternslide"]:
    del sys.modules[name]
for name in ("fcntl", "resource", "pwd", "grp", "termios", "tty", "pty", "syslog"):
    sys.modules[name] = None
for module, gone in (
    (os, "fork geteuid getuid getgid statvfs sched_getaffinity mkfifo chown O_NOFOLLOW O_DIRECTORY O_NONBLOCK"),
    (signal, "SIGHUP SIGKILL SIGALRM SIGCHLD SIGUSR1 SIGUSR2 SIGIO SIGPIPE SIGSTOP SIGCONT setitimer"),
):
    for name in gone.split():
        delattr(module, name)
for name in names:
    importlib.import_module(name)
print(len(names))
"""


def test_every_module_can_be_imported_on_windows() -> None:
    """No module asks for something that Windows does not have before it is needed."""
    done = subprocess.run([sys.executable, "-c", SCRIPT], capture_output=True, text=True, check=False)

    assert done.stderr == ""
    assert int(done.stdout) > 150
