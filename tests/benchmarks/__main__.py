"""Prints the table of all figures; ends with 1 where one of them does not hold, and with
2 where one could not be measured.

``python -m tests.benchmarks`` in the checkout, installed with its test extra; takes
some three minutes, on a screen of its own (Xvfb). ``--quick`` looks only whether every
part still runs, and ends with 0 if so: its figures rest on too little to be quoted.
"""

from __future__ import annotations

import argparse
import shutil
import sys
import tempfile
from pathlib import Path

from tests.benchmarks import latency, opening, running, slow_disk, warmer
from tests.benchmarks.figures import Figure, load, machine, table
from tests.benchmarks.processes import Bench
from tests.support.screen import own_screen

BARE = "1024x600"


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks", description=__doc__)
    parser.add_argument("--quick", action="store_true")
    quick = parser.parse_args().quick
    if shutil.which("Xvfb") is None:
        print("The figures are measured under Xvfb, which is not installed.", file=sys.stderr)
        return 2
    loads = [load()]
    figures: list[Figure] = []
    troubles: list[str] = []
    screen = own_screen()
    with tempfile.TemporaryDirectory() as folder:
        bench = Bench(next(screen), Path(folder))
        for measure in (
            lambda: latency.measure(bench, 3 if quick else 60),
            lambda: opening.measure(bench, 1 if quick else 10),
            lambda: running.measure(bench, BARE, 2 if quick else 20),
            lambda: slow_disk.measure(bench, 3 if quick else 20),
            lambda: warmer.measure(bench, BARE, 3 if quick else 20),
        ):
            try:
                figures += measure()
            except (AssertionError, RuntimeError, TimeoutError, ValueError) as error:
                troubles.append(f"NOT MEASURED: {error or type(error).__name__}")
            loads.append(load())
        screen.close()
    print("\n".join([table(figures), *troubles]))
    print(f"\n{machine()}; load before, between and after: {', '.join(loads)}.")
    if troubles:
        return 2
    return 0 if quick or all(figure.held for figure in figures) else 1


if __name__ == "__main__":
    raise SystemExit(main())
