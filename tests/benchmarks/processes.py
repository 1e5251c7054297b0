"""Starting the programs that are measured, and asking the system what they use.

They run in a folder of their own: nobody's settings or record are touched.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]
HERE = Path(__file__).parent


class Bench:
    """A screen and an empty folder, and the programs that are started there."""

    def __init__(self, display: str, folder: Path) -> None:
        self.display, self.folder = display, folder
        self._count = 0
        self._run("resin", "confirm", "sample-36", "--ratio", "100:36", "--by", "weight")

    def record(self) -> Path:
        """A record that is not there yet."""
        self._count += 1
        return self.folder / f"{self._count}.cupside"

    def bare(self, size: str) -> subprocess.Popen[str]:
        return self._start(str(HERE / "bare.py"), size)

    def choosing(self) -> subprocess.Popen[str]:
        """``cupside``, nothing else."""
        return self._start("-m", "mixer")

    def mixing(self, port: str) -> subprocess.Popen[str]:
        """``cupside mix`` with its window, hands free."""
        words = ["mix", "--resin", "sample-36", "--size", "500g", "--port", port, "--hands-free"]
        return self._start("-m", "mixer", *words, "--record", str(self.record()))

    def watched(
        self, port: str, *options: str, record: Path | None = None
    ) -> subprocess.Popen[str]:
        at = str(record or self.record())
        return self._start("-m", "tests.benchmarks.watched", at, port, *options)

    def _start(self, *words: str) -> subprocess.Popen[str]:
        pipe = subprocess.PIPE
        return subprocess.Popen(
            [sys.executable, *words], stdin=pipe, stdout=pipe, text=True, env=self._env(), cwd=ROOT
        )

    def _run(self, *words: str) -> None:
        command = [sys.executable, "-m", "mixer", *words]
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL, env=self._env(), cwd=ROOT)

    def _env(self) -> dict[str, str]:
        own = {name: str(self.folder / name.lower())
               for name in ("CUPSIDE_CONFIG", "XDG_CONFIG_HOME", "XDG_DATA_HOME")}  # fmt: skip
        record = {"CUPSIDE_RECORD": str(self.folder / "chosen.cupside")}
        # Compiled files as in an installed program, but not into the checkout.
        compiled = {"PYTHONPYCACHEPREFIX": str(self.folder / "compiled")}
        inherited = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
        return inherited | own | record | compiled | {"DISPLAY": self.display}


@contextmanager
def ended(process: subprocess.Popen[str]) -> Iterator[subprocess.Popen[str]]:
    """The process, ended at the end."""
    try:
        yield process
    finally:
        process.kill()
        process.communicate()


def ask(process: subprocess.Popen[str], word: str) -> dict[str, Any]:
    """Say a word to a watched program and read its answer."""
    assert process.stdin is not None
    assert process.stdout is not None
    say(process, word)
    return json.loads(process.stdout.readline())


def say(process: subprocess.Popen[str], word: str) -> None:
    assert process.stdin is not None
    process.stdin.write(word + "\n")
    process.stdin.flush()


def wait_for(
    true: Callable[[], bool], program: subprocess.Popen[str], what: str, within_s: float = 30.0
) -> None:
    """Wait until that is true of a program that is still there."""
    until_s = time.monotonic() + within_s
    while not true():
        if program.poll() is not None:
            raise RuntimeError(f"{what}: the program has ended with {program.returncode}")
        if time.monotonic() > until_s:
            raise TimeoutError(f"{what}: not within {within_s:g} s")
        time.sleep(0.005)


def family(pid: int) -> list[int]:
    """A process and all that it started."""
    found = [pid]
    for children in Path(f"/proc/{pid}/task").glob("*/children"):
        for child in children.read_text().split():
            found += family(int(child))
    return found


def cpu_s(pid: int) -> float:
    """Processor time used so far, by the program and the system for it.

    Read from the processes' own clocks, whose numbers Linux makes of their ids (see
    clock_getcpuclockid(3)): /proc counts whole ticks of a hundredth of a second, too
    coarse for bursts of a millisecond.
    """
    return sum(time.clock_gettime((~one << 3) | 2) for one in family(pid))


def memory_mb(pid: int) -> tuple[float, float]:
    """``(RSS, PSS)`` in MB: all pages in memory; shared ones counted by their share."""
    totals = {"Rss:": 0, "Pss:": 0}
    for one in family(pid):
        for line in Path(f"/proc/{one}/smaps_rollup").read_text().splitlines():
            words = line.split()
            if words[0] in totals:
                totals[words[0]] += int(words[1])
    return totals["Rss:"] / 1024, totals["Pss:"] / 1024
