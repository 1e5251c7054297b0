"""Programs killed in the middle of a pour, and what the record then holds.

``python -m tests.benchmarks.kills [KILLS] [SEED]`` (1000 and 1 unless given) in the
checkout; takes some minutes. The bench is simulated in virtual time here; the program
(the batch, the record, the rules) is another process that is told each reading and tells
what it shows. It gets a SIGKILL at random moments, a few in each pour, and is started
again on the same record after a while in which the bench stood still, ran on, or the
computer was booted anew. Ends with 1 where

- a fact that had been shown is not in the record, or the chain is broken,
- the state after a start is not the one that its facts had come to before,
- a batch that is called in band is truly outside, or one pour has become two batches.
"""

from __future__ import annotations

import json
import random
import re
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from support.programs import ENV, ROOT
from support.virtual import VirtualBench

from devices.readings import Reading
from mixer.pour.facts import from_plain
from mixer.pour.state import fold
from mixer.practice.hands import CAREFUL, CARELESS
from mixer.record.journal import Journal

LIMIT_S = 300  # of bench time for one pour
TOLERANCE = 0.03
EPOCH = datetime(2024, 5, 1, 8, tzinfo=UTC)


# -- the program, in a process of its own ---------------------------------------------------


def program(record: str, boot: str) -> None:
    """Read a line for each moment, write a line for what is shown after it."""
    from mixer.app.batch import Batch
    from mixer.app.clock import Clock
    from mixer.app.request import Request
    from mixer.app.resolve import resolve
    from mixer.pour.inputs import Tick, Weighed
    from mixer.record.journal import Journal

    class Told(Clock):
        """Its time is what the last line said."""

        def __init__(self) -> None:
            super().__init__()
            self.boot, self.at_s, self.utc_s = boot, 0.0, 0.0

        def age_s(self) -> float:
            return self.at_s

        def utc(self) -> str:
            now = EPOCH + timedelta(seconds=self.utc_s)
            return now.isoformat(timespec="milliseconds").replace("+00:00", "Z")

    clock, batch = Told(), None
    order = resolve(Request("sample-36", "60g", "sim:", hands_free=True, stir="5s"))
    for line in sys.stdin:
        told = json.loads(line)
        clock.at_s, clock.utc_s = told["at_s"], told["utc_s"]
        if batch is None:
            journal = Journal.open(record)
            batch = Batch(order, journal, clock, None)
        if (r := told["reading"]) is not None:
            batch.take(Weighed(Reading(**r, at_s=clock.at_s)))
        batch.take(Tick(clock.at_s, 1))
        picture, seq = batch.picture(), journal.head()[0]
        left = None
        if picture.target_ug is not None and picture.net_ug is not None:
            left = (picture.target_ug - picture.net_ug) / 1e6
        shown = {
            "cue": picture.cue, "component": picture.component or "", "left_g": left,
            "facts": seq, "batch": picture.batch, "stage": picture.stage,
            "verdict": picture.verdict, "durable": repr(batch.durable),
        }  # fmt: skip
        print(json.dumps(shown), flush=True)


# -- one pour, and the blows it gets --------------------------------------------------------


@dataclass
class Came:
    """What came of one pour."""

    kills: int = 0
    verdict: str = ""
    wrong: list[str] = field(default_factory=list)


class Program:
    """The process, and what it has shown so far."""

    def __init__(self, record: Path, boot: str) -> None:
        command = [sys.executable, "-m", "tests.benchmarks.kills", "--program", str(record), boot]
        pipe = subprocess.PIPE
        self.process = subprocess.Popen(
            command, env=ENV, cwd=ROOT, stdin=pipe, stdout=pipe, text=True
        )
        self.shown: dict[str, Any] = {}

    def tell(self, at_s: float, utc_s: float, reading: Reading | None) -> None:
        told = None
        if reading is not None:
            told = {
                name: getattr(reading, name)
                for name in ("mass_ug", "text", "unit", "division_ug", "still", "scale_tared")
            }
        assert self.process.stdin is not None
        line = json.dumps({"at_s": at_s, "utc_s": utc_s, "reading": told})
        self.process.stdin.write(line + "\n")
        self.process.stdin.flush()

    def hear(self) -> bool:
        assert self.process.stdout is not None
        line = self.process.stdout.readline()
        if not line.endswith("\n"):
            return False
        self.shown = json.loads(line)
        return True

    def kill(self) -> None:
        """And take in what it had shown before."""
        self.process.send_signal(signal.SIGKILL)
        while self.hear():
            pass
        self.process.wait()
        for pipe in (self.process.stdin, self.process.stdout):
            assert pipe is not None
            with suppress(OSError):
                pipe.close()


def pour(seed: int, kills: int, folder: Path) -> Came:
    rng, came, record = random.Random(seed), Came(), folder / f"record-{seed}"
    hand = CAREFUL if seed % 3 else CARELESS
    bench = VirtualBench(hand, seed=seed, warm=bool(seed % 2))
    blows = sorted(rng.uniform(1, 75) for _ in range(kills))
    boots, behind_s, utc_s = 0, 0.0, 0.0
    running = Program(record, f"boot-{boots}")
    readings = iter(bench.readings(LIMIT_S))
    for said in readings:
        utc_s = said.at_s
        reading = said if isinstance(said, Reading) else None
        try:
            running.tell(said.at_s - behind_s, utc_s, reading)
        except BrokenPipeError:
            came.wrong.append("the program ended by itself")
            return came
        if blows and said.at_s >= blows[0]:
            blows.pop(0)
            came.kills += 1
            time.sleep(rng.choice([0, 0, 0.0005, 0.002, 0.006]))  # while it works on that
            running.kill()
            before = running.shown
            came.wrong += _lost(record, before)
            bench.show("stop", before.get("component", ""), None)  # nobody pours on for long
            for _ in _pass_by(readings, rng.choice([0.0, 1.0, 3.0, 10.0, 40.0])):
                pass
            if rng.random() < 0.25:
                boots, behind_s = boots + 1, bench.t_s - 15
            running = Program(record, f"boot-{boots}")
            came.wrong += _first(running, bench.t_s, behind_s, before, record)
            continue
        if not running.hear():
            came.wrong.append("the program ended by itself")
            return came
        shown = running.shown
        bench.show(shown["cue"], shown["component"], shown["left_g"])
        if shown["stage"] in ("live", "ended"):
            break
    came.verdict = running.shown.get("verdict") or "not ended"
    running.kill()
    came.wrong += _lost(record, running.shown)
    true = bench.in_cup_g("hardener") / max(1e-9, bench.in_cup_g("resin")) / 0.36 - 1
    if came.verdict == "in-band" and abs(true) > TOLERANCE:
        came.wrong.append(f"called in band, and truly {true:+.1%}")
    return came


def _pass_by(readings: Iterator[Any], seconds: float) -> Iterator[Any]:
    began: float | None = None
    if not seconds:
        return
    for said in readings:
        began = said.at_s if began is None else began
        yield said
        if said.at_s - began >= seconds:
            return


def _lost(record: Path, shown: dict[str, Any]) -> list[str]:
    """What was shown, and is not on the disk."""
    if not shown:
        return []
    with Journal.read(record) as reader:
        found = reader.verify()
        tared = sum(e.kind == "tared" for e in reader.entries())
        entries = list(reader.entries())[: shown["facts"]]
    wrong = [] if found.ok else [found.say]
    facts = [from_plain(e.kind, e.at_ms, e.data) for e in entries]
    one_boot = len({e.boot for e in entries}) == 1  # else their times were moved
    come_to = fold(fact for fact in facts if fact is not None)
    weighed = shown["batch"] is not None  # before, it has not looked for what to go on with
    if weighed and one_boot and _plain(repr(come_to)) != _plain(shown["durable"]):
        wrong.append("the facts do not come to the state that was shown")
    if found.facts < shown["facts"]:
        wrong.append(f"{shown['facts']} facts were shown, {found.facts} are there")
    if tared > 1:  # what was cut off before its tare is begun anew
        wrong.append(f"one pour became {tared} batches")
    return wrong


def _plain(told: str) -> str:
    """With 36.0 as 36: in the record they are the same number."""
    return re.sub(r"(?<=[0-9])\.0\b", "", told)


def _first(
    running: Program, t_s: float, behind_s: float, before: dict[str, Any], record: Path
) -> list[str]:
    """Nothing is weighed yet: what is known must be what was known."""
    running.tell(t_s - behind_s, t_s, None)
    if not running.hear():
        return ["the program did not start again"]
    if before.get("batch") and running.shown["facts"] < before["facts"]:
        return ["facts went at a start"]
    with Journal.read(record) as reader:
        return [] if reader.verify().ok else ["the chain is broken at a start"]


def main() -> int:
    if sys.argv[1:2] == ["--program"]:
        program(sys.argv[2], sys.argv[3])
        return 0
    kills = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    first = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    each = 4
    with tempfile.TemporaryDirectory() as name, ThreadPoolExecutor(2) as pool:
        folder = Path(name)
        seeds = range(first, first + -(-kills // each))
        done = dict(zip(seeds, pool.map(lambda s: pour(s, each, folder), seeds), strict=True))
    said = Counter(came.verdict for came in done.values())
    wrong = [f"seed {seed}: {what}" for seed, came in done.items() for what in came.wrong]
    told = ", ".join(f"{n} {name}" for name, n in said.most_common())
    print(f"{sum(c.kills for c in done.values())} kills in {len(done)} pours: {told}.")
    print(
        "\n".join(wrong) or "Nothing that was shown was lost; no ratio was called what it is not."
    )
    return 1 if wrong else 0


if __name__ == "__main__":
    raise SystemExit(main())
