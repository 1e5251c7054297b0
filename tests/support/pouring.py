"""One guided batch in virtual time: plant, person and pour, with no thread and no clock."""

from __future__ import annotations

from dataclasses import replace

from devices.readings import Fault, Reading
from mixer.pour.coach import Coach, advise
from mixer.pour.decide import decide
from mixer.pour.facts import Fact, Opened
from mixer.pour.inputs import Failed, Input, Key, Tick, Weighed
from mixer.pour.observe import is_double_press, observe, shown
from mixer.pour.parting import is_followed
from mixer.pour.recipe import Component, Recipe, Terms
from mixer.pour.sight import Sight
from mixer.pour.state import Pour, begin, evolve
from mixer.pour.taught import Learning, Taught
from support.virtual import VirtualBench

RESIN = Component("resin", "resin", 100, 8)
HARDENER = Component("hardener", "hardener", 36, 8)
TWO = Recipe((RESIN, HARDENER), ratio_tolerance=0.03)


def terms(
    size_g: float = 60, *, recipe: Recipe = TWO, hands_free: bool = True,
    repeatability_ug: int | None = None,
) -> Terms:  # fmt: skip
    size_ug = round(size_g * 1e6)
    return Terms(recipe, size_ug, None, 2_000_000_000, 5_000, hands_free, repeatability_ug)


class Guide:
    """The pure core as the bench thread drives it: observe, decide, evolve, advise."""

    def __init__(self, what: Terms, taught: Taught | None = None) -> None:
        opened = Opened(0, what)
        self.facts: list[Fact] = [opened]
        self.pour: Pour = begin(opened)
        self.sight, self.coach = Sight(), Coach(learning=Learning(taught or Taught()))
        self.cue, self.say, self.refusal = "place", "", ""
        self.notice, self.alarm = "", False

    def take(self, happened: Input) -> None:
        double = isinstance(happened, Key) and is_double_press(self.sight, happened)
        following = is_followed(self.pour, self.sight)
        self.sight = observe(self.sight, happened, following=following)
        decision = decide(self.pour, self.sight, happened, double)
        self.refusal, self.notice, self.alarm = decision.refusal, decision.notice, decision.alarm
        for fact in decision.facts:
            assert isinstance(fact.at_ms, int)
            self.facts.append(fact)
            self.pour = evolve(self.pour, fact)
        self.coach, advice = advise(self.pour, self.sight, self.coach, happened.at_s)
        self.sight = shown(self.sight, advice.cue, happened.at_s)
        self.cue, self.say = advice.cue, advice.say

    @property
    def component(self) -> str:
        called = self.pour.called
        return self.pour.terms.recipe.components[called.component].name if called else ""

    @property
    def left_g(self) -> float | None:
        if self.pour.called is None or self.sight.last is None:
            return None
        net = self.pour.net_ug(self.sight.last.mass_ug + self.pour.shift_ug)
        return (self.pour.called.target_ug - net) / 1e6


def run(bench: VirtualBench, guide: Guide, limit_s: float = 240) -> Guide:
    """Until the batch is live or ended, or the time is over."""
    for said in bench.readings(limit_s):
        guide.take(Failed(said) if isinstance(said, Fault) else Weighed(said))
        guide.take(Tick(said.at_s))
        for _ in range(bench.take_presses()):
            guide.take(Key(said.at_s, "go"))
        bench.show(guide.cue, guide.component, guide.left_g)
        if guide.pour.stage in ("live", "ended"):
            break
    return guide


def weighed(mass_g: float, at_s: float, *, still: bool = True) -> Weighed:
    mass = round(mass_g * 10) * 100_000
    return Weighed(Reading(mass, f"{mass / 1e6:.1f} g", "g", 100_000, still, at_s=at_s))


def hold_at(guide: Guide, mass_g: float, from_s: float, for_s: float) -> float:
    """Readings at rest, ten a second; the time after the last."""
    for i in range(round(for_s * 10)):
        guide.take(weighed(mass_g, from_s + i / 10))
        guide.take(Tick(from_s + i / 10))
    return from_s + for_s


def ramp(guide: Guide, from_g: float, to_g: float, from_s: float, for_s: float) -> float:
    """Readings in motion, ten a second, along a straight line; the time after the last."""
    steps = max(1, round(for_s * 10))
    for i in range(1, steps + 1):
        guide.take(weighed(from_g + (to_g - from_g) * i / steps, from_s + i / 10, still=False))
    return from_s + steps / 10 + 0.1


def tared_and_resin(hands_free: bool) -> tuple[Guide, float]:
    """A cup of 12 g, and 44.1 g of resin in it, at rest and with keys dripped out; the pour
    and the time."""
    guide = Guide(terms(60, hands_free=hands_free))
    now = hold_at(guide, 0, 0, 2)
    now = hold_at(guide, 12, now, 3)
    for i in range(44):
        guide.take(weighed(12 + i, now, still=False))
        now += 0.1
    return guide, hold_at(guide, 56.1, now, 4 if hands_free else 9)


def begins_to_run(guide: Guide, now: float, shown_g: float = 56.2) -> float:
    """A stream that has only just begun, as a gap comes; the time."""
    guide.take(weighed(shown_g, now, still=False))
    return now + 0.1


def press(guide: Guide, at_s: float, word: str) -> list[Fact]:
    """A word of the builder's, and the facts that it makes."""
    before = len(guide.facts)
    guide.take(Key(at_s, word))
    return guide.facts[before:]


def over(most_g: float = 66, hardener_g: float = 20.0) -> tuple[Guide, float]:
    """Upon 44.1 g of resin so much hardener, in a cup of 12 g that holds ``most_g``."""
    guide = Guide(replace(terms(60, hands_free=False), cup_most_ug=round(most_g * 1e6)))
    now = hold_at(guide, 12, hold_at(guide, 0, 0, 2), 3)
    now = hold_at(guide, 56.1, ramp(guide, 12, 56.1, now, 5), 9)
    press(guide, now, "go")
    to_g = 56.1 + hardener_g
    return guide, hold_at(guide, to_g, ramp(guide, 56.1, to_g, now + 1, 5), 10)
