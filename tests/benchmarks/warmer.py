"""The window while the room gets warmer: its loop must turn on, and the clock be a new one.

A live cup stands beside a pour; a temperature is said, again and again, and each makes the
clock of the cup another. What is looked for is the longest pause of the window's loop in all
that time, the start of the process that reckons it (and loads scipy) among it.
"""

from __future__ import annotations

import time
from dataclasses import replace

from mixer.app.clock import Clock
from mixer.app.request import Request
from mixer.app.resolve import resolve
from mixer.record.journal import Journal
from tests.benchmarks.figures import Figure
from tests.benchmarks.poured import Poured
from tests.benchmarks.processes import Bench, ask, ended, family, memory_mb, say, wait_for
from tests.benchmarks.running import bare_mb as bare_window_mb
from tests.benchmarks.running import memory
from tests.support.facts import OPENED, fact, live

LIMIT_MS = 50
LIMIT_TIMES = 9
RATE_HZ = 10


def measure(bench: Bench, size: str, temperatures: int) -> list[Figure]:
    record = bench.record()
    _live_cup(record)
    scale, bare_mb = Poured(RATE_HZ), bare_window_mb(bench, size)
    try:
        with ended(bench.watched(scale.path, "--heart", record=record)) as program:
            wait_for(lambda: len(scale.said) > RATE_HZ, program, "the pour")
            wait_for(lambda: len(family(program.pid)) == 1, program, "a rest from reckoning")
            ask(program, "log")  # what was until now does not count
            first_s = _new_clock(program, 30.0)  # of a process that is started for it
            others_s = sorted(_new_clock(program, 30.5 + i % 9) for i in range(temperatures))
            both_mb = memory_mb(program.pid)
            assert len(family(program.pid)) == 2, "nothing reckons beside the window"
            gaps_ms = ask(program, "log")["gaps_ms"]
    finally:
        scale.close()
    middle = others_s[len(others_s) // 2]
    clock = (
        f"new clock after {first_s:.1f} s, then {middle * 1000:.0f} ms (median of {temperatures})"
    )
    return [
        Figure("a new temperature: longest pause of the window's loop", max(gaps_ms), LIMIT_MS,
               "ms", clock),
        memory("memory (RSS) while a clock is reckoned, against the bare window", both_mb, bare_mb,
               LIMIT_TIMES),
    ]  # fmt: skip


def _new_clock(program, air_c: float) -> float:
    """Say that the air is so warm; how long until the window has another clock, in seconds."""
    before = ask(program, "clock")["low_s"]
    said_s = time.monotonic()
    say(program, f"air {air_c} degC")
    while ask(program, "clock")["low_s"] == before:
        if time.monotonic() - said_s > 20:
            raise TimeoutError(f"no new clock at {air_c} degC")
        time.sleep(0.01)
    return time.monotonic() - said_s


def _live_cup(record) -> None:
    """Of 60 g, five minutes old."""
    about = {**OPENED, **resolve(Request("sample-36", "60g", "sim:")).about, "air_c": 24}
    clock = Clock()
    now = clock.now()
    told = [
        fact("opened", **about),
        fact("accepted", component=0, net_ug=44_100_000),
        fact("begun", component=1),
        fact("accepted", component=1, net_ug=15_900_000),
        live(at_ms=0),
    ]
    with Journal.open(record) as journal:
        since = {"at_ms": now.at_ms - 300_000, "boot": now.boot, "utc": now.utc}
        journal.append([replace(one, **since) for one in told])
