"""What can be used up: the batch that is asked for beside how long it lasts. Pure.

One sentence before the pour. It never pushes, and never keeps a batch from being poured.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Callable, Mapping
from typing import Any

from mixer.app.cup_life import minutes
from mixer.app.foretelling import Question, answer
from mixer.app.life import RULE
from mixer.science.heat import Course
from mixer.science.pot_life import MASS_G, fit, follow

USEFUL_S = 600  # to work with it, after the stir (our choice)
POUR_S = 60  # from first contact to the stir, as the hardener is poured (our choice)
TRIALS = 5  # halvings from the mass asked for down to the least: a dozen solves for both limits


def before(asked: Question, stir_s: float) -> tuple[str, dict[str, Any]]:
    """What is said of it before the pour, and what was foretold of so much."""
    return lasts(asked, stir_s), answer(asked)


@functools.lru_cache(maxsize=64)
def lasts(asked: Question, stir_s: float) -> str:
    """How long so much should last, and the most that leaves ten minutes after the stir, or
    does not heat itself, where what is asked for is more. As :func:`answer`, it takes time.
    """
    told, mass = answer(asked), f"{asked.mass_ug / 1e6:.0f} g"
    if told["why"] is not None:
        return f"No time can be told for {mass}: {told['why']}. {RULE}"
    least_s = stir_s + POUR_S + USEFUL_S
    # The range is as wide for a smaller mass, by its ratio; it need not be solved anew.
    early = told["low_s"] / told["working_s"]
    said = f"{mass} should last {minutes(told['low_s'], told['high_s'])} from the hardener on"
    if told["low_s"] < least_s:
        said += "; " + _up_to(
            _most_g(asked, lambda course: (course.reached_s[0] or math.inf) * early >= least_s),
            "leaves 10 min after the stir",
            "nor would less in this cup leave 10 min after the stir",
        )
    if told["runaway"]:
        said += "; " + _up_to(
            _most_g(asked, lambda course: not course.runaway),
            "should not run hot",
            "what stays in the cup runs hot",
        )
    return f"{said}.{_assumed(told)}"


def _up_to(most_g: int | None, good: str, none: str) -> str:
    return none if most_g is None else f"up to {most_g} g {good}"


def _assumed(told: Mapping[str, Any]) -> str:
    return f" Nobody said how warm it is: {told['air'][-1][1]:g} degC." if told["assumed"] else ""


def _most_g(asked: Question, holds: Callable[[Course], bool]) -> int | None:
    """The largest mass below the one asked for of which this holds, in whole grams, within a
    seventh; None where it does not hold of the least that the model was checked for."""
    system = fit(asked.label)
    air = asked.air if len(asked.air) > 1 else asked.air[0][1]

    def good(mass_g: float) -> bool:
        cup = (mass_g, air, asked.start_c, asked.cup_ml)
        return holds(follow(system, asked.label, *cup))

    low, high = math.log(MASS_G[0]), math.log(asked.mass_ug / 1e6)
    if not good(MASS_G[0]):
        return None
    for _ in range(TRIALS):
        middle = (low + high) / 2
        low, high = (middle, high) if good(math.exp(middle)) else (low, middle)
    return math.floor(math.exp(low))
