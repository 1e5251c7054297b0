"""What the program uses while it runs: processor and memory, window and all.

The processor time is that of the program and of what it starts, not of the X server.
"""

from __future__ import annotations

import time

from tests.benchmarks.eye import Eye
from tests.benchmarks.figures import Figure
from tests.benchmarks.poured import Poured
from tests.benchmarks.processes import Bench, ask, cpu_s, ended, family, memory_mb, wait_for

RATE_HZ = 10


def measure(bench: Bench, size: str, seconds: float) -> list[Figure]:
    scale, bare = Poured(RATE_HZ), bare_mb(bench, size)
    try:
        with ended(bench.mixing(scale.path)) as program:
            wait_for(lambda: scale.pouring, program, "the pour")
            wait_for(lambda: len(family(program.pid)) == 1, program, "the process that foretells")
            time.sleep(1)
            said = len(scale.said)
            pouring, took_s = _share(program.pid, seconds)
            rate = (len(scale.said) - said) / took_s
            pouring_mb = memory_mb(program.pid)
            scale.resting = True
            time.sleep(3)
            resting, _ = _share(program.pid, seconds / 2)
    finally:
        scale.close()
    with_pandas_mb = _with_pandas_mb(bench)
    note = f"over {seconds:g} s at {rate:.1f}/s; weight at rest {resting:.2f} %"
    return [
        Figure("processor while pouring, 10 readings a second", pouring, 3, "% of a core", note),
        memory("memory (RSS) while pouring, against the bare window", pouring_mb, bare, 4),
        memory("the same once pandas is in", with_pandas_mb, bare, 9),
    ]


def memory(
    what: str, ours_mb: tuple[float, float], bare_mb: tuple[float, float], limit: float
) -> Figure:
    """Both as :func:`memory_mb`."""
    (rss, pss), (bare_rss, bare_pss) = ours_mb, bare_mb
    note = (f"{rss:.0f} MB to {bare_rss:.0f} MB; as PSS {pss:.0f} to {bare_pss:.0f}, "
            f"{pss / bare_pss:.2f} times")  # fmt: skip
    return Figure(what, rss / bare_rss, limit, "times", note)


def _share(pid: int, seconds: float) -> tuple[float, float]:
    """Percent of one core, and how long that was watched, in seconds."""
    used_s, began_s = cpu_s(pid), time.monotonic()
    time.sleep(seconds)
    used_s, took_s = cpu_s(pid) - used_s, time.monotonic() - began_s
    return 100 * used_s / took_s, took_s


def bare_mb(bench: Bench, size: str) -> tuple[float, float]:
    """What the bare window takes, as :func:`memory_mb`."""
    eye = Eye(bench.display)
    with ended(bench.bare(size)) as bare:
        eye.first_drawn()
        time.sleep(1)
        eye.close()
        return memory_mb(bare.pid)


def _with_pandas_mb(bench: Bench) -> tuple[float, float]:
    """In mid-pour, once the record has been written as CSV by the same process."""
    scale = Poured(RATE_HZ)
    try:
        with ended(bench.watched(scale.path)) as program:
            wait_for(lambda: len(scale.said) > 2 * RATE_HZ, program, "the pour")
            assert ask(program, "export")["pandas"], "the export did not load pandas"
            time.sleep(1)
            return memory_mb(program.pid)
    finally:
        scale.close()
