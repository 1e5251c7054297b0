"""From the start of the process to the first drawn window, and to the first reading.

Program and bare window take turns, so that both meet the same machine; the figures are
ratios of medians. Drawn is a window once the X server holds its first ink: the window
of the program with all of its first drawing, the bare one with its line of text. Ready
is the program when its window is drawn and it asks the scale for a first weight.
"""

from __future__ import annotations

import time
from statistics import median

from tests.benchmarks.eye import Eye
from tests.benchmarks.figures import Figure
from tests.benchmarks.poured import Poured
from tests.benchmarks.processes import Bench, ended, wait_for


def measure(bench: Bench, turns: int) -> list[Figure]:
    eye = Eye(bench.display)
    size = _choosing(bench, eye)[1]  # for the bare one; and so that the files are in memory
    bare, choosing, mixing, ready = [], [], [], []
    for turn in range(turns + 1):
        bare_s, choosing_s = _bare(bench, eye, size), _choosing(bench, eye)[0]
        mixing_s, ready_s = _mixing(bench, eye)
        if turn:  # the first turn only warms up
            bare.append(bare_s)
            choosing.append(choosing_s)
            mixing.append(mixing_s)
            ready.append(ready_s)
    eye.close()
    base = median(bare)

    def ratio(what: str, of: list[float], limit: float) -> Figure:
        note = f"{median(of) * 1e3:.0f} ms to {base * 1e3:.0f} ms, medians of {turns}"
        return Figure(what, median(of) / base, limit, "times", note)

    return [
        ratio(f"first drawn window ({size}), against a bare one: cupside", choosing, 2.5),
        ratio("the same: cupside mix", mixing, 2.5),
        ratio("ready for a reading, against the bare window drawn", ready, 6),
    ]


def _bare(bench: Bench, eye: Eye, size: str) -> float:
    eye.forget()
    began_ns = time.monotonic_ns()
    with ended(bench.bare(size)):
        drawn_ns, seen = eye.first_drawn()
    assert seen == size, f"the bare window is {seen}, not {size}"
    return (drawn_ns - began_ns) / 1e9


def _choosing(bench: Bench, eye: Eye) -> tuple[float, str]:
    eye.forget()
    began_ns = time.monotonic_ns()
    with ended(bench.choosing()):
        drawn_ns, size = eye.first_drawn()
    return (drawn_ns - began_ns) / 1e9, size


def _mixing(bench: Bench, eye: Eye) -> tuple[float, float]:
    scale = Poured(20)
    try:
        eye.forget()
        began_ns = time.monotonic_ns()
        with ended(bench.mixing(scale.path)) as program:
            drawn_ns, _ = eye.first_drawn()
            wait_for(lambda: bool(scale.asked_ns), program, "the first question to the scale")
    finally:
        scale.close()
    ready_ns = max(drawn_ns, scale.asked_ns[0])
    return (drawn_ns - began_ns) / 1e9, (ready_ns - began_ns) / 1e9
