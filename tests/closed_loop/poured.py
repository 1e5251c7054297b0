"""One pour from the empty pan to the stir, and what it came to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from support.pouring import Guide
from support.virtual import VirtualBench

from closed_loop.settings import Setting
from devices.readings import Fault, Reading
from mixer.pour.inputs import Failed, Input, Tick, Weighed
from mixer.pour.recipe import Recipe
from mixer.pour.taught import Lesson, Taught

LIMIT_S = 600.0


@dataclass(frozen=True, slots=True)
class Poured:
    """``called`` is the verdict, or ``not ended``; ``deviation`` that of the true ratio,
    relative; ``furthest`` how far the true masses are off in the worst of all bands, of its
    tolerance; ``seconds`` from the first cue to the stir; ``over`` whether what comes after the
    resin ever lay above its band; ``additions`` how often one more pour was asked for."""

    setting: Setting
    guided: bool
    called: str
    deviation: float
    furthest: float
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
        return self.called == "in-band" and self.furthest > 1


def deviations(recipe: Recipe, in_cup_g: Sequence[float]) -> list[tuple[float, float]]:
    """By how much the true masses are off, relative, and the tolerance of that: the sum of the
    hardeners first, then each additive and each of several hardeners by itself.

    >>> from closed_loop.settings import BLEND, TINTED
    >>> [(round(off, 2), most) for off, most in deviations(BLEND, (100, 30, 6))]
    [(0.0, 0.03), (0.25, 0.15), (-0.5, 0.15)]
    >>> [(round(off, 2), most) for off, most in deviations(TINTED, (100, 5, 36))]
    [(0.0, 0.03), (0.25, 0.2)]
    """
    resin, *others = zip(recipe.components, in_cup_g, strict=True)
    hardeners = [(c, mass_g) for c, mass_g in others if c.role == "hardener"]
    wanted = sum(c.parts for c, _ in hardeners) / resin[0].parts
    told = [
        (sum(mass_g for _, mass_g in hardeners) / resin[1] / wanted - 1, recipe.ratio_tolerance)
    ]
    for c, mass_g in others:
        if c.role == "additive" or len(hardeners) > 1:
            most = c.tolerance if c.role == "additive" else recipe.split_tolerance
            told.append((mass_g / resin[1] / (c.parts / resin[0].parts) - 1, most or 0.0))
    return told


def happened(said: Reading | Fault | None, now_s: float) -> Input:
    """What a moment of the bench is to the pour."""
    if said is None:
        return Tick(now_s)
    return Failed(said) if isinstance(said, Fault) else Weighed(said)


def pour(setting: Setting, guided: bool, taught: Taught | None = None) -> Poured:
    """By a hand that follows the cues, or by one that goes by the display."""
    bench = VirtualBench(
        setting.person, warm=setting.warm, guided=guided, seed=setting.seed, scale=setting.scale,
        jugs=[c.name for c in setting.recipe.components], asked_every_s=setting.asked_every_s,
    )  # fmt: skip
    guide = Guide(setting.terms, taught)
    over, stirs_at_s = False, LIMIT_S
    for said in bench.moments(LIMIT_S):
        guide.take(happened(said, bench.t_s))
        over = over or (guide.cue == "over" and guide.component != "resin")
        if guide.pour.stage == "stir":
            stirs_at_s = min(stirs_at_s, bench.t_s)
        if guide.pour.stage in ("live", "ended"):
            break
        bench.show(guide.cue, guide.component, guide.left_g)
    result = guide.pour.result
    in_cup_g = [bench.in_cup_g(c.name) for c in setting.recipe.components]
    off = deviations(setting.recipe, in_cup_g) if in_cup_g[0] else [(0.0, 1.0)]
    return Poured(
        setting,
        guided,
        result.verdict if result else "not ended",
        off[0][0],
        max(abs(how_far) / most for how_far, most in off),
        stirs_at_s,
        over,
        sum(bool(getattr(fact, "addition", False)) for fact in guide.facts),
        guide.coach.learning.lessons,
    )
