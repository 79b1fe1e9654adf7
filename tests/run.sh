#!/bin/sh
# Runs the tests: sh tests/run.sh [--all | --long] [what pytest takes]
# Sets everything up by itself; needs Python 3.11 or newer and nothing else.
set -eu
cd "$(dirname "$0")/.."
. deploy/environment.sh

# Independent readers that some tests ask, and what breaks things on purpose. Where they cannot be installed, those
# tests are skipped by name. They are installed while the environment is made.
have() { command -v "$1" >/dev/null 2>&1; }
if [ "$(id -u)" = 0 ] && have apt-get &&
    ! { have exiftool && have strace && have bindfs && have chromedriver && have mmdebstrap && have systemd-nspawn; }; then
    { apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends \
        libimage-exiftool-perl strace bindfs chromium chromium-driver \
        mmdebstrap systemd-container; } >/dev/null 2>&1 || echo "System packages could not be installed." >&2 &
fi

trap wait EXIT
make_environment .venv-test '.[test]'
wait
trap - EXIT

# Tests wait more than they compute: one process more than there are cores, and six at the most.
# A debugger needs the tests in one process: sh tests/run.sh --numprocesses 0 --pdb
count='from lanternslide.config.machine import usable_cores; print(min(usable_cores() + 1, 6))'
processes=$("$python" -c "$count")
exec "$python" -m pytest --numprocesses "$processes" --dist worksteal "$@"
