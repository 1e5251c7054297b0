"""Batches at one record in virtual time: the scale's word, the clock and the kill are data."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

from devices.readings import Reading
from mixer.app.bench.batch import Batch
from mixer.app.clock import Clock
from mixer.app.request import Request
from mixer.app.resolve import resolve
from mixer.pour.inputs import Key, Tick, Weighed
from mixer.record.envelope import Entry
from mixer.record.journal import Journal

ASKED = Request("sample-36", "60g", "sim:", stir="20 s")
UTC_0 = datetime(2024, 5, 1, 8, tzinfo=UTC)


class HandClock(Clock):
    """Stands still until it is moved."""

    def __init__(self) -> None:
        self.speed, self.boot = 1.0, "boot-1"
        self.at_s, self.utc_at = 5000.0, UTC_0

    def age_s(self) -> float:
        return self.at_s

    def utc(self) -> str:
        return self.utc_at.isoformat(timespec="milliseconds").replace("+00:00", "Z")

    def pass_s(self, seconds: float, utc_s: float | None = None) -> None:
        """So much time, and by UTC so much."""
        self.at_s += seconds
        self.utc_at += timedelta(seconds=seconds if utc_s is None else utc_s)

    def reboot(self, off_s: float, up_s: float = 30.0, utc_s: float | None = None) -> None:
        """Switched off for so long; up again for a while; by UTC so much has passed."""
        self.utc_at += timedelta(seconds=off_s + up_s if utc_s is None else utc_s)
        self.at_s, self.boot = up_s, f"{self.boot}x"


class Shed:
    """One record and one scale. Whatever batch is on hears what the scale says."""

    def __init__(self, folder: Path, asked: Request = ASKED) -> None:
        self.record = folder / "record.cupside"
        self.journal = Journal.open(self.record)
        self.clock = HandClock()
        self.start(asked)

    def start(self, asked: Request = ASKED) -> Batch:
        """The program starts, and this is asked for. Of what it did before it knows nothing."""
        self.batch = Batch(resolve(asked), self.journal, self.clock, 60.0)
        return self.batch

    def rest(self, mass_g: float, for_s: float) -> None:
        """At rest, ten readings a second."""
        for _ in range(round(for_s * 10)):
            self.weigh(mass_g)

    def pour(self, from_g: float, to_g: float, rate_g_s: float = 5.0) -> None:
        mass_g = from_g
        while mass_g < to_g:
            mass_g = min(to_g, mass_g + rate_g_s / 10)
            self.weigh(mass_g, still=False)

    def weigh(self, mass_g: float, *, still: bool = True) -> None:
        self.clock.pass_s(0.1)
        mass_ug = round(mass_g * 10) * 100_000
        text = f"{mass_ug / 1e6:.1f} g"
        reading = Reading(mass_ug, text, "g", 100_000, still, at_s=self.clock.at_s)
        self.batch.take(Weighed(reading))
        self.tick()

    def tick(self) -> None:
        if self.batch.status is None:
            self.batch.take(Tick(self.clock.at_s))
            self.said = self.batch.picture().say

    def go(self) -> None:
        self.clock.pass_s(0.8)
        self.batch.take(Key(self.clock.at_s, "go"))

    def resin_is_in(self) -> None:
        """A cup of 40 g, 44.1 g of resin, and the hardener called: 84.1 g on the scale."""
        self.rest(0, 1)
        self.rest(40, 3)
        self.pour(40, 84.1)
        self.rest(84.1, 9)
        self.go()
        assert self.batch.picture().component == "hardener"

    def all_is_in(self) -> None:
        """Hardener too, and the stir has begun: 100.0 g on the scale."""
        self.resin_is_in()
        self.pour(84.1, 100)
        self.rest(100, 9)
        self.go()
        assert self.batch.picture().stage == "stir"

    def facts(self, batch: int = 1) -> list[Entry]:
        return list(self.journal.entries(batch))

    def kinds(self, batch: int = 1) -> list[str]:
        return [entry.kind for entry in self.facts(batch)]
