"""The keeper of the weight trace: when it writes, and that it never stands in the way."""

from __future__ import annotations

from collections.abc import Sequence

from support.shed import HandClock

from devices.readings import Reading
from mixer.app.bench.trace_keeper import AGAIN_S, MOST, TraceKeeper
from mixer.pour.inputs import Weighed
from mixer.pour.observe import observe
from mixer.pour.sight import Sight
from mixer.record.envelope import RecordError
from mixer.record.trace import Sample


class Book:
    """Takes blocks, or says that the disk is full."""

    def __init__(self) -> None:
        self.blocks: list[Sequence[Sample]] = []
        self.full, self.tries = False, 0

    def add_trace(self, batch: int, samples: Sequence[Sample], boot: str) -> None:
        self.tries += 1
        if self.full:
            raise RecordError("The disk is full.")
        self.blocks.append(tuple(samples))


class Kept:
    """A keeper that is fed ten readings a second."""

    def __init__(self) -> None:
        self.book, self.clock, self.sight = Book(), HandClock(), Sight()
        self.keeper = TraceKeeper(self.book, self.clock)
        self.fed = 0

    def feed(self, mass_g: float, *, still: bool) -> None:
        self.clock.pass_s(0.1)
        reading = Reading(
            round(mass_g * 1e6), f"{mass_g} g", "g", 100_000, still, at_s=self.clock.at_s
        )
        self.sight = observe(self.sight, Weighed(reading), following=True)
        self.keeper.keep(reading)
        self.keeper.write_if_due(1, self.sight, self.clock.at_s)
        self.fed += 1

    @property
    def written(self) -> int:
        return sum(map(len, self.book.blocks))


def test_while_the_weight_changes_it_is_never_two_seconds_behind() -> None:
    kept = Kept()
    for i in range(200):
        kept.feed(10 + i, still=False)
        assert kept.fed - kept.written <= 20
    assert len(kept.book.blocks) <= 11


def test_each_new_rest_is_written_at_once_and_then_every_ten_seconds() -> None:
    kept = Kept()
    for _ in range(300):
        kept.feed(50, still=True)
    assert 3 <= len(kept.book.blocks) <= 4
    before = len(kept.book.blocks)
    for _ in range(20):
        kept.feed(60, still=True)
    assert len(kept.book.blocks) <= before + 2  # as it moved, and at the new rest
    assert kept.book.blocks[-1][-1].mass_ug == 60_000_000


def test_a_book_that_takes_nothing_is_asked_seldom_and_nothing_grows() -> None:
    kept = Kept()
    kept.book.full = True
    for i in range(MOST + 500):
        kept.feed(i, still=False)
    assert kept.book.tries <= (MOST + 500) / 10 / AGAIN_S + 1
    kept.book.full = False
    kept.clock.pass_s(AGAIN_S)
    kept.feed(1, still=False)
    assert kept.written == MOST  # the newest
    assert kept.book.blocks[-1][-1].mass_ug == 1_000_000
