"""The simulated bench as seen by whoever starts it: a port to open, a hand to lend.

Starts ``python -m devices.sim`` as a process of its own, so that the program under
test talks to it through a real serial port and shares nothing else with it.
"""

from __future__ import annotations

import contextlib
import json
import os
import subprocess
import sys
import threading
from collections.abc import Iterable, Mapping
from dataclasses import asdict
from pathlib import Path
from types import TracebackType

import devices
from devices.sim.stream import Jug


class SimulatedBench:
    """A bench that runs beside this process; safe to use from several threads.

    ``speed`` is bench seconds to a real one; the rest are the settings of
    :class:`devices.sim.indicator.ScaleSettings` and the jugs, each a :class:`Jug` or a
    mapping of its fields. ``url`` is what pyserial's ``serial_for_url`` opens.
    ValueError with a sentence where a setting is wrong.
    """

    def __init__(
        self,
        speed: float = 1.0,
        division_g: float = 0.1,
        readings_per_s: float = 10.0,
        repeatability_g: float | None = None,
        filter_s: float = 0.15,
        capacity_g: float = 2000.0,
        seed: int = 1,
        jugs: Iterable[Jug | Mapping[str, object]] = (),
        zero_tracking: bool = False,
        tcp: bool = False,
    ) -> None:
        command = [sys.executable, "-m", "devices.sim", "--speed", str(speed), "--seed", str(seed)]
        command += ["--division", str(division_g), "--readings-per-s", str(readings_per_s)]
        command += ["--filter", str(filter_s), "--capacity", str(capacity_g)]
        if repeatability_g is not None:
            command += ["--repeatability", str(repeatability_g)]
        if defined := [asdict(jug) if isinstance(jug, Jug) else dict(jug) for jug in jugs]:
            command += ["--jugs", json.dumps(defined)]
        command += ["--zero-tracking"] * zero_tracking + ["--tcp"] * tcp
        # The process finds this very package, from wherever it was imported.
        home = str(Path(devices.__file__).parents[1])
        path = os.pathsep.join(p for p in (home, os.environ.get("PYTHONPATH")) if p)
        self._lock = threading.Lock()
        self._process = subprocess.Popen(
            command,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            encoding="utf-8",
            env={**os.environ, "PYTHONPATH": path},
        )
        assert self._process.stdout is not None
        first = self._process.stdout.readline()
        if not first:
            assert self._process.stderr is not None
            why = self._process.stderr.read().strip()
            self.close()
            raise ValueError(why or "The simulated bench did not start.")
        self.url: str = json.loads(first)["url"]

    def act(self, action: Mapping[str, object]) -> None:
        """Do one thing at the bench (:meth:`devices.sim.plant.Plant.act`)."""
        answer = self._ask(action)
        if "error" in answer:
            raise ValueError(answer["error"])

    def truth(self) -> dict[str, object]:
        """What is really in the cup (:meth:`devices.sim.plant.Plant.truth`)."""
        return self._ask({"do": "truth"})

    def close(self) -> None:
        """End the process; closing it twice does nothing."""
        process = self._process
        if process.stdin is not None and not process.stdin.closed:
            with contextlib.suppress(OSError):  # it has gone already
                process.stdin.close()
        try:
            process.wait(timeout=5)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
        for end in (process.stdout, process.stderr):
            if end is not None:
                end.close()

    def __enter__(self) -> SimulatedBench:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def _ask(self, wish: Mapping[str, object]) -> dict[str, object]:
        stdin, stdout = self._process.stdin, self._process.stdout
        assert stdin is not None
        assert stdout is not None
        with self._lock:
            try:
                stdin.write(json.dumps(dict(wish)) + "\n")
                stdin.flush()
                line = stdout.readline()
            except (OSError, ValueError) as error:
                raise ConnectionError("The simulated bench has ended.") from error
        if not line:
            raise ConnectionError("The simulated bench has ended.")
        answer: dict[str, object] = json.loads(line)
        return answer
