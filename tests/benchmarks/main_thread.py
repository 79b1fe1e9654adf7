"""What the main thread takes for each picture, in processor time: small pictures, the real service, one worker.

Run it with ``python -m tests.benchmarks.main_thread``, in turns with another revision to compare the two: the machine's
speed is uneven. It prints the medians of `simulation.measure_service`, in milliseconds.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

from tests.benchmarks.simulated.replay import PHASES
from tests.benchmarks.simulation import measure_service


def main() -> None:
    """Print what a picture takes: outside the ledger, with its two orders, and in it."""
    found = measure_service(Path(tempfile.gettempdir()))
    phases = found["phases"]
    outside = sum(phases[phase]["busy"] for phase in PHASES) + 2 * found["begin"]
    ledger = sum(phases[phase]["ledger"] for phase in PHASES)
    print(f"a picture: {(outside + ledger) * 1e3:.2f} ms, {ledger * 1e3:.2f} of it in the ledger")
    for phase in PHASES:
        print(f"  {phase}: {phases[phase]['busy'] * 1e3:.2f} ms, and {phases[phase]['ledger'] * 1e3:.2f} in the ledger")


if __name__ == "__main__":
    main()
