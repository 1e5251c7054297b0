"""A quiet bench whose program is killed in the middle, and started again.

The bench goes on as it was: what is in the cup stays in the cup. What the program had in
memory is gone; it is given its facts again, up to some place, and the trace.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from mixer.pour.afresh import Shown, first_sight, level, take_up
from mixer.pour.facts import Fact
from mixer.pour.inputs import Input, Weighed
from mixer.pour.recipe import Recipe, Terms
from mixer.pour.state import fold
from support.pouring import Guide
from support.quiet import QuietBench


@dataclass(frozen=True)
class Blow:
    """Killed once there are so many facts, with only these left, or at this reading of the
    pour; started again after a while, in which so much more may have run into the cup.
    ``boot``: it is another one, whose clock begins anew; ``trace_s``: how much of the newest
    weights the record lacks (``None``: it has none); ``wake``: the scale had no power
    either, and takes what it wakes up under for zero."""

    facts: int = 10**9
    reading: int = 10**9
    gap_s: float = 10.0
    ran_on_ug: int = 0
    boot: bool = False
    trace_s: float | None = 0.0
    wake: bool = False


class CutGuide(Guide):
    """Knows when it is killed, and what the trace then holds."""

    blow: Blow | None = None
    shown: tuple[Shown, ...] = ()
    readings = 0  # since the tare

    @property
    def struck(self) -> bool:
        blow = self.blow
        if blow is None or self.pour.tared is None or self.pour.result is not None:
            return False
        return len(self.facts) >= blow.facts or self.readings >= blow.reading

    def take(self, happened: Input) -> None:
        if self.struck:
            return  # it is dead
        if isinstance(happened, Weighed):
            reading = happened.reading
            seen = Shown(round(reading.at_s * 1000), reading.mass_ug, reading.still)
            self.shown = (*self.shown[-40:], seen)
            self.readings += self.pour.tared is not None
        super().take(happened)

    def start_again(self, at_s: float, facts: Sequence[Fact], shown: Sequence[Shown]) -> None:
        same_boot = self.blow is not None and not self.blow.boot
        self.blow, self.facts, self.shown = None, list(facts), ()
        seen = level(shown)
        self.sight = first_sight(facts, seen if same_boot else None)
        self.coach = type(self.coach)()
        for fact in take_up(facts, at_s, seen):
            self.facts.append(fact)
        pour = fold(self.facts)
        assert pour is not None
        self.pour = pour


class CutBench(QuietBench):
    """One batch of 60 g, cut off once."""

    def __init__(self, recipe: Recipe, hands_free: bool, blow: Blow | None = None) -> None:
        self.poured_by: str | None = None
        self.contact_ms: int | None = None  # when hardener truly came to the resin
        self._blow = blow
        super().__init__(recipe, hands_free)

    def make_guide(self, what: Terms) -> Guide:
        guide = CutGuide(what)
        guide.blow = self._blow
        return guide

    def stream(self, name: str, mass_ug: int, rate_g_s: float) -> None:
        self.poured_by = name
        hardener = name != self.guide.pour.terms.recipe.components[0].name
        if hardener and self.contact_ms is None:
            self.contact_ms = round(self.now_s * 1000)
        super().stream(name, mass_ug, rate_g_s)
        self.poured_by = None

    def look(self) -> None:
        guide, blow = self.guide, self._blow
        if isinstance(guide, CutGuide) and guide.struck and blow is not None:
            self._blow = None
            self._start_again(guide, blow)
            return  # nothing has been shown yet
        super().look()

    def _start_again(self, guide: CutGuide, blow: Blow) -> None:
        if self.poured_by is not None:
            self.truth_ug[self.poured_by] += blow.ran_on_ug
        self.now_s += blow.gap_s
        cut_ms = guide.shown[-1].at_ms if guide.shown else 0
        lost_ms = float("inf") if blow.trace_s is None else blow.trace_s * 1000
        shown = tuple(one for one in guide.shown if one.at_ms <= cut_ms - lost_ms)
        facts = guide.facts[: blow.facts]
        if blow.boot:
            lag_ms = round((self.now_s - 20) * 1000)
            self.now_s = 20.0
            self.contact_ms = None if self.contact_ms is None else self.contact_ms - lag_ms
            facts = [replace(fact, at_ms=fact.at_ms - lag_ms) for fact in facts]
            shown = tuple(replace(one, at_ms=one.at_ms - lag_ms) for one in shown)
        if blow.wake:
            self.offset_ug, self.tared = self.on_pan_ug, False
        guide.start_again(self.now_s, facts, shown)
