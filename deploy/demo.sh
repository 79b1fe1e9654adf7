#!/bin/sh
# Runs the main job on the demo inbox: sh deploy/demo.sh
# Sets everything up by itself; needs Python 3.11 or newer and nothing else.
set -eu
cd "$(dirname "$0")/.."
. deploy/environment.sh

make_environment .venv .

# A fresh start each time: what an earlier demo delivered would otherwise be left alone.
rm -rf demo_out
mkdir demo_out

status=0
"$python" -m lanternslide --config config/demo.toml sweep 2> demo_out/log.jsonl || status=$?

# Exactly one file of the demo inbox cannot be read. It is held, and everything else is delivered.
if [ "$status" -eq 1 ] && [ "$(grep -c '"event": "held"' demo_out/log.jsonl)" -eq 1 ] \
    && grep '"event": "held"' demo_out/log.jsonl | grep -q 'juno: torn-transfer.jpg'; then
    echo
    echo "As expected, one file is held: torn-transfer.jpg was cut off on purpose."
    echo "The deliveries lie in $(pwd)/demo_out, the log in demo_out/log.jsonl."
    echo "The proof sheets, for a browser: demo_out/ida-proofs/index.html, demo_out/juno-proofs/index.html."
    exit 0
fi
echo "The demo did not go as expected (exit status $status); the log says more:" >&2
cat demo_out/log.jsonl >&2
exit 1
