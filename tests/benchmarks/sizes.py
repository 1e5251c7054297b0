"""What sizing a layup costs, by its plies: `python -m tests.benchmarks.sizes`.

A layup of so many plies, each written out with dimensions of its own, is read and sized;
of the processor's time the part that goes into solving cups is told apart. Takes some seconds.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
import time
from pathlib import Path

from mixer.app.sizing.size import Asked, answer
from mixer.science import fitting, label

PLIES = (100, 200, 300, 400, 500)
RUNS = 7
RESINS = ("sample-36", "sample-28")


def layup(plies: int, shift: int) -> str:
    """Each ply has a length that no other text has, so that nothing is read from a cache."""
    head = 'source = "benchmark"\ncup = "paper-300"\n[[step]]\nname = "skin"\nkind = "plies"\n'
    return head + "".join(
        f'[[step.ply]]\nfabric = "bid-300"\norientation = "45 deg"\nshape = "rectangle"\n'
        f'length = "{200 + i}.{shift} mm"\nwidth = "{100 + i / 7:.4f} mm"\n'
        for i in range(plies)
    )


class Watch:
    """How often cups are solved, and how long that takes."""

    def __init__(self) -> None:
        self.count, self.seconds = 0, 0.0
        self._solve = label.lumped

    def __call__(self, *args: object, **options: object) -> object:
        began = time.process_time()
        found = self._solve(*args, **options)  # type: ignore[arg-type]
        self.seconds += time.process_time() - began
        self.count += 1
        return found


def main() -> int:
    answer(Asked("demo-panel"))  # what is loaded and fitted once
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "layup.toml"
        for resin in RESINS:
            watch = Watch()
            label.lumped = fitting.lumped = watch  # type: ignore[assignment]
            answer(Asked("demo-panel", resin=resin))
            print(f"{resin}, its label and demo-panel: {watch.count} cups solved")
            for plies in PLIES:
                times = []
                watch.count, watch.seconds = 0, 0.0
                for run in range(RUNS):
                    path.write_text(layup(plies, run), "utf-8")
                    began = time.process_time()
                    answer(Asked(str(path), resin=resin, air="21 degC"))
                    times.append(time.process_time() - began)
                each_ms = statistics.median(times) * 1000
                print(
                    f"{resin}, {plies} plies: {each_ms:.0f} ms, {each_ms / plies:.2f} ms a ply; "
                    f"{watch.count / RUNS:.0f} cups solved in {watch.seconds / RUNS * 1000:.0f} ms"
                )
            label.lumped = fitting.lumped = watch._solve
    return 0


if __name__ == "__main__":
    sys.exit(main())
