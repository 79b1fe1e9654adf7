#!/bin/sh
# Checks form, structure and types, and runs no test: sh tests/lint.sh
# Sets everything up by itself, in the same environment as tests/run.sh.
set -eu
cd "$(dirname "$0")/.."
. deploy/environment.sh

make_environment .venv-test '.[test]'
bin=$(dirname "$python")

# The service's types are checked for Windows, too. The two runs of mypy take longest, and go side by side.
windows=$(mktemp)
trap 'rm -f "$windows"' EXIT
"$bin/mypy" --platform win32 --no-warn-unreachable --cache-dir .mypy_cache/windows service > "$windows" 2>&1 &
checked=$!

status=0
"$bin/ruff" format --check . || status=1
"$bin/ruff" check . || status=1
"$bin/lint-imports" --no-logo || status=1
"$bin/mypy" || status=1
wait "$checked" || status=1
echo "For Windows: $(cat "$windows")"
exit "$status"
