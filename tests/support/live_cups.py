"""A bench with live cups, on a clock that the test moves."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path
from typing import Any

from mixer.app.bench.bench import Bench
from mixer.app.bench.board import Board
from mixer.app.picture import LiveCup, Picture
from mixer.app.request import Request
from mixer.app.resolve import resolve
from mixer.pour.inputs import Key
from mixer.record.envelope import Entry
from mixer.record.export import rows
from mixer.record.journal import Journal
from support.command import TestClock, one_sentence
from support.facts import OPENED, START, fact, live

ABOUT = resolve(Request("sample-36", "60g", "sim:", cup="paper-150")).about


class At:
    """A bench at a record, on a clock that the test moves."""

    def __init__(self, record: Path, clock: Still | None = None) -> None:
        self.record, self.clock, self.board = record, clock or Still(), Board(Picture())
        self.start()

    def start(self) -> None:
        """The program, begun anew."""
        self.bench = Bench(self.record, self.clock, self.board, lambda said: None, None, None)
        self.bench.look_for_record()
        self.tick()

    def tick(self) -> None:
        self.clock.skip(2)
        self.bench.tick(self.clock.age_s())

    def say(self, word: str, text: str = "") -> str:
        self.bench.handle(Key(self.clock.age_s(), word, text))
        said = self.board.newest.say
        assert one_sentence(f"{said}\n")
        self.tick()
        return said

    def age(self, cup: int, age_s: float) -> None:
        """Until this cup is so old."""
        self.clock.skip(age_s - self.cup(cup).age_s - 2)
        self.tick()

    def cup(self, number: int) -> LiveCup:
        return next(cup for cup in self.board.newest.live_cups if cup.cup == number)

    def facts(self, kind: str) -> list[Entry]:
        with Journal.read(self.record) as reader:
            return [entry for entry in reader.entries() if entry.kind == kind]

    def row(self, batch: int = 1) -> dict[str, Any]:
        with Journal.read(self.record) as reader:
            return rows(reader.entries(batch))[0]


class Still(TestClock):
    """Moves when it is told to, and not by itself."""

    def __init__(self) -> None:
        super().__init__()
        self.speed, self.boot = 1.0, "boot-1"

    def age_s(self) -> float:
        return self._skipped_s + 40.0

    def utc(self) -> str:
        when = START + timedelta(seconds=self.age_s())
        return when.isoformat(timespec="milliseconds").replace("+00:00", "Z")


def cup(batch: int, *, at_ms: int = 30_000, **about: Any) -> list[Entry]:
    """A batch of 60 g, up to live; hardener met resin at this time."""
    told = {**OPENED, **ABOUT, "air_c": 24, "resin_c": None, **about}
    return [
        fact("opened", batch, **told),
        fact("accepted", batch, 20_000, component=0, net_ug=44_100_000),
        fact("begun", batch, at_ms, component=1),
        fact("accepted", batch, at_ms, component=1, net_ug=15_900_000),
        live(batch, cup=batch, at_ms=at_ms + 1),
    ]
