"""A process of its own for what takes long: ``python -m mixer.app.life.elsewhere``.

Beside the bench in one process it would take turns with the thread that reads the scale, and
while a library is loaded nothing else gets a turn; here it can hold up nothing. It is started
when there is something to think about, and ended when there was nothing for a while: the
memory that its libraries take is free again. Calls go to it, and results come back, as
pickles through its own pipes.
"""

from __future__ import annotations

import contextlib
import os
import pickle
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import mixer

END_S = 2.0  # for a process that was told to end
NICE = 10  # it is in no hurry, and a bench may have one core


class Elsewhere:
    """One process at most; used by one thread at a time."""

    def __init__(self) -> None:
        self._process: subprocess.Popen[bytes] | None = None

    def think(self, call: Callable[[], Any]) -> Any:
        """What this call, which can be pickled, returns or raises. OSError or EOFError where
        no process can be had, or it went."""
        if self._process is None:
            self._process = _started()
        process = self._process
        assert process.stdin is not None
        assert process.stdout is not None
        try:
            pickle.dump(call, process.stdin)
            process.stdin.flush()
            raised, result = pickle.load(process.stdout)
        except (OSError, EOFError, pickle.UnpicklingError):
            self.rest()
            raise
        if raised:
            raise result
        return result

    def rest(self) -> None:
        """End the process; the next call starts another."""
        process, self._process = self._process, None
        if process is None:
            return
        for end in (process.stdin, process.stdout):
            if end is not None:
                with contextlib.suppress(OSError):
                    end.close()
        try:
            process.wait(END_S)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()


def _started() -> subprocess.Popen[bytes]:
    # The process finds this very package, from wherever it was imported.
    home = str(Path(mixer.__file__).parents[1])
    path = os.pathsep.join(p for p in (home, os.environ.get("PYTHONPATH")) if p)
    return subprocess.Popen(
        [sys.executable, "-P", "-m", "mixer.app.life.elsewhere"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        env={**os.environ, "PYTHONPATH": path},
        creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
    )


def main() -> int:
    """Answer calls until nobody asks any more."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # meant for the program that asks
    with contextlib.suppress(OSError, AttributeError):  # not every system has them
        os.sched_setscheduler(0, os.SCHED_BATCH, os.sched_param(0))  # however urgent the bench
        os.nice(NICE)
    asked, told = sys.stdin.buffer, os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())  # nothing that prints comes between
    while True:
        try:
            call = pickle.load(asked)
        except EOFError:
            return 0
        try:
            answer = (False, call())
        except Exception as error:
            answer = (True, error)
        try:
            pickle.dump(answer, told)
            told.flush()
        except OSError:
            return 0


if __name__ == "__main__":
    sys.exit(main())
