"""Other programs that the tests start: with this checkout's code, and with the tests' own."""

from __future__ import annotations

import contextlib
import json
import os
import queue
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import mixer

ROOT = Path(mixer.__file__).parent.parent
ENV = {**os.environ, "PYTHONPATH": os.pathsep.join([str(ROOT), str(ROOT / "tests")])}
WITHIN_S = 60.0  # real seconds after which nothing more is expected, on a busy machine too

Line = dict[str, Any]


class Program:
    """``cupside mix --jsonl`` as a process of its own, in real time: what it says, and words
    to it. Standard error is in ``err`` once it has ended."""

    def __init__(self, *words: str) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-m", "mixer", "mix", "--jsonl", *words],
            env={**ENV, **os.environ}, stdin=subprocess.PIPE, stdout=subprocess.PIPE,
            stderr=subprocess.PIPE, text=True,
        )  # fmt: skip
        self.lines: list[Line] = []
        self.err = ""
        self._lines: queue.Queue[Line | None] = queue.Queue()
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self._lines.put(json.loads(line))
        self._lines.put(None)

    def see(self, true: Callable[[Line], object]) -> Line:
        """The next line for which this holds."""
        until = time.monotonic() + WITHIN_S
        while True:
            line = self._lines.get(timeout=max(0.1, until - time.monotonic()))
            assert line is not None, f"it has ended; its last line: {self.lines[-1:]}"
            self.lines.append(line)
            if true(line):
                return line

    def say(self, *words: str) -> None:
        assert self.process.stdin is not None
        for word in words:
            self.process.stdin.write(f"{word}\n")
        self.process.stdin.flush()

    def kill(self, by: signal.Signals) -> None:
        self.process.send_signal(by)
        self.end()

    def end(self) -> int:
        """Wait for it, and take what it said last; its status."""
        status = self.process.wait(WITHIN_S)
        while (line := self._lines.get(timeout=WITHIN_S)) is not None:
            self.lines.append(line)
        assert self.process.stderr is not None
        self.err = self.process.stderr.read()
        for pipe in (self.process.stdin, self.process.stdout, self.process.stderr):
            if pipe is not None:
                with contextlib.suppress(OSError):
                    pipe.close()
        return status
