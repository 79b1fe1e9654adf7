# Sourced by demo.sh and tests/run.sh: makes an environment of the project's own and installs into it.
#
#   make_environment FOLDER WHAT     WHAT is what pip installs, "." or ".[test]"; sets $python
#
# A second call takes no time: a stamp remembers what was installed from which files.

find_python() {
    for candidate in "${PYTHON:-}" python3.13 python3.12 python3.11 python3.14 python3 python; do
        [ -n "$candidate" ] || continue
        if "$candidate" -c 'import sys, venv, ensurepip; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
            printf '%s\n' "$candidate"
            return 0
        fi
    done
    echo "lanternslide needs Python 3.11 or newer with its venv module, and found none." >&2
    echo "Install it (on Debian: apt-get install python3 python3-venv), or name it: PYTHON=/path/to/python3" >&2
    return 1
}

make_environment() {
    environment=$1
    what=$2
    if [ -d "$environment/Scripts" ]; then python=$environment/Scripts/python; else python=$environment/bin/python; fi
    stamp=$environment/installed-from
    wanted="$what $(cat pyproject.toml deploy/constraints.txt | cksum) $(pwd)"
    if [ -x "$python" ] && [ "$(cat "$stamp" 2>/dev/null)" = "$wanted" ]; then
        return 0
    fi
    base=$(find_python) || return 1
    echo "Making an environment in $environment ..." >&2
    rm -rf "$environment"
    "$base" -m venv "$environment" || return 1
    if [ -d "$environment/Scripts" ]; then python=$environment/Scripts/python; else python=$environment/bin/python; fi
    # Editable: the code of this checkout is what runs. Versions are those that were tested together.
    "$python" -m pip install --quiet --quiet --disable-pip-version-check --constraint deploy/constraints.txt --editable "$what" || return 1
    printf '%s' "$wanted" > "$stamp"
}
