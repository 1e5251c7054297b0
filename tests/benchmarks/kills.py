"""Programs killed in the middle of a pour, and what the record then holds.

``python -m tests.benchmarks.kills [KILLS] [SEED]`` (1000 and 1 unless given) in the
checkout; takes some minutes. The bench is simulated in virtual time here; the program
(the batch, the record, the rules) is another process that is told each reading and tells
what it shows. It gets a SIGKILL at random moments, a few in each pour, and is started
again on the same record after a while in which the bench stood still or ran on, or the
computer was booted anew. Then, by chance,

- the same is asked for, and the cup stands as it stood, or is lifted and put back so that
  the scale can be believed again, or an empty cup stands in its place;
- another size or another resin is asked for, and a new cup is put down for it.

The empty cup is of the same weight as the old one was, or lighter, or heavier, but surely
lighter than the last weight that the record knows. One that weighs just that, or what a
stream may have made of it meanwhile, no scale can tell from the old cup: it is not tried.

Ends with 1 where

- a fact that had been shown is not in the record as it was, or verify finds anything,
- what the program holds for durable, after each start and before each kill, is not what
  the facts of its batch come to. Across boots too: the times of older boots must lie where
  they truly were on the bench, within the milliseconds to which UTC is told,
- anything is stored at a start before a weight is seen, but for a stir, which needs none,
- a batch stays open when a next one was begun, or was ended by a program that was asked
  for the same and could carry it on,
- a batch that is called in band, live or not, is truly outside. What becomes of its cup
  once it is stirred does not count: nothing is weighed then.
"""

from __future__ import annotations

import json
import random
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from dataclasses import asdict, dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from support.programs import ENV, ROOT
from support.virtual import VirtualBench

from devices.readings import Reading
from mixer.pour.plain import from_plain
from mixer.pour.state import fold
from mixer.practice.hands import CAREFUL, CARELESS, Person
from mixer.record.envelope import Entry, RecordError
from mixer.record.journal import Journal
from tests.benchmarks.killed import Order, Truth

EACH = 4  # kills in one pour
LIMIT_S = 300  # of bench time for one pour
EPOCH = datetime(2024, 5, 1, 8, tzinfo=UTC)
NOT_TRACED_G = 30  # more than what comes in the two seconds that a trace may lack
ROUNDED_MS = 2  # what the times of a boot may be off by in the next
ORDERS: tuple[Order, ...] = (("sample-36", "60g"), ("sample-36", "45g"), ("sample-28", "60g"))
MEDDLING = {"as it was": 5, "same cup lifted": 3, "empty cup": 1, "other order": 2}


# -- the program, in a process of its own ---------------------------------------------------


def program(record: str, boot: str, resin: str, size: str) -> None:
    """Read a line for each moment, write a line for what is shown after it."""
    from mixer.app.bench.batch import Batch
    from mixer.app.clock import Clock
    from mixer.app.request import Request
    from mixer.app.resolve import resolve
    from mixer.pour.inputs import Tick, Weighed

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
    order = resolve(Request(resin, size, "sim:", hands_free=True, stir="5s"))
    for line in sys.stdin:
        told = json.loads(line)
        clock.at_s, clock.utc_s = told["at_s"], told["utc_s"]
        if batch is None:
            journal = Journal.open(record)
            batch = Batch(order, journal, clock, None)
        if (r := told["reading"]) is not None:
            batch.take(Weighed(Reading(**r, at_s=clock.at_s)))
        batch.take(Tick(clock.at_s, 1))
        picture, (facts, head) = batch.picture(), journal.head()
        left = None
        if picture.target_ug is not None and picture.net_ug is not None:
            left = (picture.target_ug - picture.net_ug) / 1e6
        shown = {
            "cue": picture.cue, "component": picture.component or "", "left_g": left,
            "facts": facts, "head": head.hex(), "boot": boot, "batch": picture.batch,
            "stage": picture.stage, "verdict": picture.verdict, "durable": asdict(batch.durable),
        }  # fmt: skip
        print(json.dumps(shown), flush=True)


class Program:
    """The process; ``shown`` is the last line that came from it."""

    def __init__(self, *words: str) -> None:
        command = [sys.executable, "-m", "tests.benchmarks.kills", "--program", *words]
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
        with suppress(BrokenPipeError):  # it will not be heard either
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


# -- one pour, and the blows it gets --------------------------------------------------------


@dataclass
class Came:
    """What came of one pour; ``did`` counts what was found at the starts."""

    kills: int = 0
    batches: int = 0
    verdict: str = ""
    did: Counter[str] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)


class Trial:
    """A bench, a record, and the programs that are killed there one after another."""

    def __init__(self, seed: int, kills: int, folder: Path) -> None:
        self.rng, self.came = random.Random(seed), Came()
        self.record = folder / f"record-{seed}"
        self.hand, self.warm = CAREFUL if seed % 3 else CARELESS, bool(seed % 2)
        self.bench = VirtualBench(self.hand, seed=seed, warm=self.warm)
        self.readings = self.bench.readings(LIMIT_S)
        self.blows = sorted(self.rng.uniform(1, 90) for _ in range(kills))
        self.booted_s = [0.0]  # when, by the bench, each boot began
        self.order = ORDERS[0]
        self.later: list[tuple[float, str]] = []  # what a hand will do besides, and when
        self.shown: dict[str, Any] = {}  # by any of the programs, the newest
        self.facts = 0  # in the record when it was last looked at
        self.true = Truth()
        self.program = self._start()

    def run(self) -> Came:
        looked = True
        for said in self.readings:
            while self.later and said.at_s >= self.later[0][0]:
                self.bench.act({"do": self.later.pop(0)[1]})
            self._tell(said.at_s, said if isinstance(said, Reading) else None)
            if self.blows and said.at_s >= self.blows[0]:
                del self.blows[0]
                self._strike()
                looked = False
                continue
            if not self._hear():
                break
            shown = self.shown
            self.bench.show(shown["cue"], shown["component"], shown["left_g"])
            if not looked and shown["batch"] is not None:
                self._look()
                looked = True
            if shown["stage"] in ("live", "ended"):
                break
        self._kill()
        self.came.verdict = self.program.shown.get("verdict") or "not ended"
        self.came.batches = max(self.true.ratio, default=0)
        return self.came

    # -- what befalls it -----------------------------------------------------------------

    def _start(self) -> Program:
        return Program(str(self.record), f"boot-{len(self.booted_s) - 1}", *self.order)

    def _tell(self, at_s: float, reading: Reading | None) -> None:
        self.program.tell(at_s - self.booted_s[-1], at_s, reading)

    def _hear(self) -> bool:
        if not self.program.hear():
            self.came.wrong.append("the program ended by itself")
            return False
        self.shown = self.program.shown
        return True

    def _kill(self) -> None:
        self.program.kill()
        self.shown = self.program.shown or self.shown
        self._look()

    def _strike(self) -> None:
        """Kill it at what it was just told, and start it again."""
        time.sleep(self.rng.choice([0, 0, 0.0005, 0.002, 0.006]))  # while it works on that
        self._kill()
        self.came.kills += 1
        self.bench.show("stop", self.shown.get("component", ""), None)  # nobody pours for long
        gap_s = self.rng.choice([0.0, 1.0, 3.0, 10.0, 40.0])
        self._pass_by(gap_s)
        (what,) = self.rng.choices([*MEDDLING], [*MEDDLING.values()])
        self.came.did[self._meddle(what)] += 1
        if gap_s and self.rng.random() < 0.4:
            self.booted_s.append(self.bench.t_s - self.rng.uniform(0.2, 0.9) * gap_s)
            self.came.did["another boot"] += 1
        self.program = self._start()
        self._tell(self.bench.t_s, None)
        if not self._hear() or self.shown["stage"] in ("stir", "live"):
            return
        if self.shown["batch"] is not None or self.shown["facts"] != self.facts:
            self.came.wrong.append("something was stored at a start before any weight")

    def _pass_by(self, seconds: float) -> None:
        until_s = self.bench.t_s + seconds
        while self.bench.t_s < until_s and next(self.readings, None) is not None:
            pass

    def _meddle(self, what: str) -> str:
        """Do this at the bench while no program runs; what was really done."""
        plant, truth = self.bench.plant, self.bench.plant.truth()
        if what == "other order":
            self._clear()
            self.order = self.rng.choice([order for order in ORDERS if order != self.order])
            return what
        if not truth["on_pan"]:
            return "no cup there"
        if what == "same cup lifted":
            now_s = self.bench.t_s
            self.later = [(now_s + 3, "lift"), (now_s + 6, "return")]
        elif what == "empty cup":
            cup_g = float(str(truth["cup_g"]))
            gross_g = cup_g + self.bench.in_cup_g("resin") + self.bench.in_cup_g("hardener")
            plant.act({"do": "lift"})
            self.true.other_cup()
            other_g = self.rng.uniform(3, max(cup_g, gross_g - NOT_TRACED_G))
            plant.act({"do": "cup", "mass_g": self.rng.choice([cup_g, other_g])})
            self.later = []
        return what

    def _clear(self) -> None:
        """The cup is taken away, the jugs are shut and drip out, and somebody else comes."""
        plant = self.bench.plant
        if plant.truth()["on_pan"]:
            plant.act({"do": "lift"})
        self.true.other_cup()
        for jug in ("resin", "hardener"):
            plant.act({"do": "pour", "jug": jug, "rate_g_s": 0})
        cup_g, seed = self.rng.uniform(5, 25), self.rng.randrange(10**6)
        self.bench.person = Person(self.hand, seed, cup_g, warm=self.warm)
        self.later = []
        self._pass_by(12)

    # -- what must be true ---------------------------------------------------------------

    def _look(self) -> None:
        """Whatever befell the program, it must be true of its record."""
        wrong, shown = self.came.wrong, self.shown
        try:
            with Journal.read(self.record) as reader:
                found = reader.verify(bytes.fromhex(shown["head"]) if shown else None)
                misled, entries = reader.misled(), list(reader.entries())
        except RecordError as error:
            wrong += [error.say] if shown else []  # else it may have been killed too early
            return
        wrong += [] if found.ok else [found.say]
        wrong += [misled] if misled else []
        self.facts = len(entries)
        if shown and shown["batch"] is not None:
            wrong += self._strays(entries[: shown["facts"]])
        resin_g = max(1e-9, self.bench.in_cup_g("resin"))
        wrong += self.true.untrue(entries, self.order, self.bench.in_cup_g("hardener") / resin_g)

    def _strays(self, entries: list[Entry]) -> Iterator[str]:
        """Where the facts of the batch do not come to the state that was shown."""
        shown, facts, boots = self.shown, [], set()
        now_s = self._booted_s(shown["boot"])
        for entry in entries:
            if entry.batch == shown["batch"]:
                moved_ms = round((self._booted_s(entry.boot) - now_s) * 1000)
                facts.append(from_plain(entry.kind, entry.at_ms + moved_ms, entry.data))
                boots.add(entry.boot)
        come_to = fold(fact for fact in facts if fact is not None)
        assert come_to is not None
        within_ms = ROUNDED_MS * len(boots - {shown["boot"]})
        told = json.loads(json.dumps(asdict(come_to)))
        for where in differ(told, shown["durable"], within_ms):
            yield f"the facts do not come to the state that was shown: {where}"

    def _booted_s(self, boot: str) -> float:
        return self.booted_s[int(boot.removeprefix("boot-"))]


def differ(one: Any, other: Any, within_ms: int, where: str = "") -> Iterator[str]:
    """Where two plain values are not alike; milliseconds may be off by so many."""
    if isinstance(one, dict) and isinstance(other, dict) and one.keys() == other.keys():
        for key in one:
            yield from differ(one[key], other[key], within_ms, f"{where}.{key}")
    elif isinstance(one, list) and isinstance(other, list) and len(one) == len(other):
        for n, (mine, its) in enumerate(zip(one, other, strict=True)):
            yield from differ(mine, its, within_ms, f"{where}[{n}]")
    elif where.endswith("_ms") and isinstance(one, int) and isinstance(other, int):
        if abs(one - other) > within_ms:
            yield f"{where} is {other}, not {one}"
    elif one != other:
        yield f"{where} is {other}, not {one}"


def main() -> int:
    if sys.argv[1:2] == ["--program"]:
        program(*sys.argv[2:])
        return 0
    kills = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    first = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    with tempfile.TemporaryDirectory() as name, ThreadPoolExecutor(2) as pool:
        folder = Path(name)
        seeds = range(first, first + -(-kills // EACH))
        done = dict(
            zip(seeds, pool.map(lambda s: Trial(s, EACH, folder).run(), seeds), strict=True)
        )
    did = sum((came.did for came in done.values()), Counter())
    said = Counter(came.verdict for came in done.values())
    wrong = [f"seed {seed}: {what}" for seed, came in done.items() for what in came.wrong]
    print(
        f"{sum(c.kills for c in done.values())} kills in {len(done)} pours of "
        f"{sum(c.batches for c in done.values())} batches: {_told(said)}.\n"
        f"At the starts: {_told(did)}."
    )
    print(
        "\n".join(wrong) or "Nothing that was shown was lost; no ratio was called what it is not."
    )
    return 1 if wrong else 0


def _told(counted: Counter[str]) -> str:
    return ", ".join(f"{n} {name}" for name, n in counted.most_common())


if __name__ == "__main__":
    raise SystemExit(main())
