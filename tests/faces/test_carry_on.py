"""Killed in mid-pour and started again by the same words: one batch, as if nothing had been."""

from __future__ import annotations

import contextlib
import io
import json
import os
import queue
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from support.command import Counter, Line
from support.programs import ENV

from mixer.app.folders import find
from mixer.cli import main
from mixer.record.journal import Journal

WITHIN_S = 20.0


class Program:
    """``cupside mix --jsonl`` as a process of its own, in real time."""

    def __init__(self, folder: Path, counter: Counter, *more: str) -> None:
        command = [sys.executable, "-m", "mixer", "mix", "--jsonl", "--size=50g", "--stir=2s"]
        command += ["--resin", str(folder / "quick.toml"), "--port", str(counter.path)]
        command += ["--record", str(folder / "record.cupside"), *more]
        self.process = subprocess.Popen(
            command, env={**ENV, **os.environ}, stdin=subprocess.PIPE, stdout=subprocess.PIPE,
            text=True,
        )  # fmt: skip
        self._lines: queue.Queue[Line | None] = queue.Queue()
        self.last: Line = {}
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self._lines.put(json.loads(line))
        self._lines.put(None)

    def see(self, true: Callable[[Line], bool]) -> Line:
        """The next line for which this holds."""
        until = time.monotonic() + WITHIN_S
        while True:
            line = self._lines.get(timeout=max(0.1, until - time.monotonic()))
            assert line is not None, f"it has ended; its last line: {self.last}"
            self.last = line
            if true(line):
                return line

    def say(self, word: str) -> None:
        assert self.process.stdin is not None
        self.process.stdin.write(f"{word}\n")
        self.process.stdin.flush()

    def kill(self, by: signal.Signals) -> None:
        self.process.send_signal(by)
        self.end()

    def end(self) -> int:
        status = self.process.wait(WITHIN_S)
        for pipe in (self.process.stdin, self.process.stdout):
            if pipe is not None:
                with contextlib.suppress(OSError):
                    pipe.close()
        return status


@pytest.fixture
def counter(tmp_path: Path) -> Iterator[Counter]:
    quick = tmp_path / "quick.toml"
    profile = find("resins", "sample-36").read_text(encoding="utf-8")
    quick.write_text(profile.replace('drip_time = "8 s"', 'drip_time = "1 s"'), encoding="utf-8")
    with contextlib.redirect_stdout(io.StringIO()):
        words = ["resin", "confirm", str(quick), "--ratio", "100:36", "--by", "weight"]
        assert main(words) == 0
    scale = Counter(tmp_path / "scale")
    scale.every_s = 0.1  # a fortieth of a second in real time
    yield scale
    scale.unplug()


def pour(counter: Counter, to_g: float) -> None:
    """25 g/s, in real time."""
    while counter.grams < to_g:
        time.sleep(0.05)
        counter.grams = min(to_g, counter.grams + 1.25)


def facts(folder: Path) -> list[Any]:
    with Journal.open(folder / "record.cupside") as journal:
        assert journal.verify().ok
        return list(journal.entries())


@pytest.mark.parametrize("by", [signal.SIGKILL, signal.SIGTERM], ids=lambda by: by.name)
def test_killed_in_the_stream_and_poured_to_the_end_it_is_one_batch_in_band(
    tmp_path: Path, counter: Counter, by: signal.Signals
) -> None:
    first = Program(tmp_path, counter)
    first.see(lambda line: line["cue"] == "place")
    counter.grams = 30.0
    first.see(lambda line: line["component"] == "resin")
    pour(counter, to_g=66.8)
    first.see(lambda line: line["cue"] == "next")
    first.say("go")
    first.see(lambda line: line["component"] == "hardener")
    pour(counter, to_g=72.0)
    first.see(lambda line: line["net_g"] > 3)
    first.kill(by)

    second = Program(tmp_path, counter)
    again = second.see(lambda line: "goes on" in line["say"])
    assert (again["held"], again["component"]) == ("restarted", "hardener")
    second.see(lambda line: line["held"] is None and line["net_g"] == 5.2)
    pour(counter, to_g=80.0)
    second.see(lambda line: line["cue"] == "next")
    second.say("go")
    second.see(lambda line: line["stage"] == "live")
    assert second.end() == 0
    entries = facts(tmp_path)
    assert {entry.batch for entry in entries} == {1}
    kinds = [entry.kind for entry in entries]
    assert kinds.count("opened") == kinds.count("tared") == kinds.count("live") == 1
    assert [e.data["how"] for e in entries if e.kind == "resumed"] == ["continuous"]
    (live,) = [entry for entry in entries if entry.kind == "live"]
    assert live.data["verdict"] == "in-band"
