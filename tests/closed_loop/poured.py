"""One pour from the empty pan to the stir, and what it came to."""

from __future__ import annotations

from dataclasses import dataclass

from support.pouring import TWO, Guide
from support.virtual import VirtualBench

from closed_loop.settings import Setting
from devices.readings import Fault, Reading
from mixer.pour.inputs import Failed, Input, Tick, Weighed
from mixer.pour.taught import Lesson, Taught

LIMIT_S = 600.0


@dataclass(frozen=True, slots=True)
class Poured:
    """``called`` is the verdict, or ``not ended``; ``deviation`` that of the true ratio,
    relative; ``seconds`` from the first cue to the stir; ``over`` whether the hardener ever
    lay above its band; ``additions`` how often one more pour was asked for."""

    setting: Setting
    guided: bool
    called: str
    deviation: float
    seconds: float
    over: bool
    additions: int
    lessons: tuple[Lesson, ...] = ()

    @property
    def at_once(self) -> bool:
        """In band, and nothing had to be added."""
        return self.called == "in-band" and not self.additions

    @property
    def false(self) -> bool:
        """Called in band, and truly outside."""
        return self.called == "in-band" and abs(self.deviation) > TWO.ratio_tolerance


def happened(said: Reading | Fault | None, now_s: float) -> Input:
    """What a moment of the bench is to the pour."""
    if said is None:
        return Tick(now_s)
    return Failed(said) if isinstance(said, Fault) else Weighed(said)


def pour(setting: Setting, guided: bool, taught: Taught | None = None) -> Poured:
    """By a hand that follows the cues, or by one that goes by the display."""
    bench = VirtualBench(
        setting.person, warm=setting.warm, guided=guided, seed=setting.seed, scale=setting.scale
    )
    guide = Guide(setting.terms, taught)
    over, stirs_at_s = False, LIMIT_S
    for said in bench.moments(LIMIT_S):
        guide.take(happened(said, bench.t_s))
        over = over or (guide.cue == "over" and guide.component == "hardener")
        if guide.pour.stage == "stir":
            stirs_at_s = min(stirs_at_s, bench.t_s)
        if guide.pour.stage in ("live", "ended"):
            break
        bench.show(guide.cue, guide.component, guide.left_g)
    result = guide.pour.result
    resin, hardener = bench.in_cup_g("resin"), bench.in_cup_g("hardener")
    return Poured(
        setting,
        guided,
        result.verdict if result else "not ended",
        hardener / resin / TWO.ratio - 1 if resin else 0.0,
        stirs_at_s,
        over,
        sum(bool(getattr(fact, "addition", False)) for fact in guide.facts),
        guide.coach.learning.lessons,
    )
