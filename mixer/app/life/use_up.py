"""What can be used up: the batch that is asked for beside how long it lasts. Pure.

One sentence before the pour. It never pushes, and never keeps a batch from being poured.
"""

from __future__ import annotations

import functools
from collections.abc import Mapping
from typing import Any

from mixer.app.life.cup_life import SPREAD, is_large_and_unknown, minutes
from mixer.app.life.foretelling import Question, answer
from mixer.app.life.life_words import RULE
from mixer.science.largest import calm_g, lasting_g
from mixer.science.pot_life import MASS_G

USEFUL_S = 600  # to work with it, after the stir (our choice)
POUR_S = 60  # from first contact to the stir, as the hardener is poured (our choice)


def before(asked: Question, stir_s: float) -> tuple[str, dict[str, Any]]:
    """What is said of it before the pour, and what was foretold of so much."""
    return lasts(asked, stir_s), answer(asked)


@functools.lru_cache(maxsize=64)
def lasts(asked: Question, stir_s: float) -> str:
    """How long so much should last; and where that is too little, or it runs hot, the most
    that does not by all that is doubted. As :func:`answer`, it takes time.
    """
    told, mass = answer(asked), f"{asked.mass_ug / 1e6:.0f} g"
    if told["why"] is not None:
        large = f" {SPREAD}" if asked.mass_ug > MASS_G[1] * 1e6 else ""
        return f"No time can be told for {mass}: {told['why']}. {RULE}{large}"
    least_s = stir_s + POUR_S + USEFUL_S
    room = (asked.air[0][1], asked.start_c, asked.cup_ml, asked.mass_ug / 1e6)
    said = f"{mass} should last {minutes(told['low_s'], told['high_s'])} from the hardener on"
    if told["low_s"] < least_s:
        said += "; " + _up_to(
            lasting_g(asked.label, least_s / 60, *room).least,
            "leaves 10 min after the stir",
            "nor would less in this cup leave 10 min after the stir",
        )
    if told["runaway"]:
        said += "; " + _up_to(
            calm_g(asked.label, *room).least, "should not run hot", "what stays in the cup runs hot"
        )
    return f"{said}.{_assumed(told)}"


def untold(why: str, mass_ug: int) -> tuple[str, dict[str, Any]]:
    """The same of a batch of which nothing can be asked: what is said where it is more than a
    usual cup, and what it is warned by.

    >>> untold("its resin's profile has no pot life", 60_000_000)[0]
    ''
    """
    told = {"why": why, "mass_ug": mass_ug}
    if not is_large_and_unknown(told):
        return "", {}
    mass = f"{mass_ug / 1e6:.0f} g"
    return f"No time can be told for {mass}: {why}. {RULE} {SPREAD}", told


def _up_to(most_g: float | None, good: str, none: str) -> str:
    return none if most_g is None else f"up to {int(most_g)} g {good}"


def _assumed(told: Mapping[str, Any]) -> str:
    return f" Nobody said how warm it is: {told['air'][-1][1]:g} degC." if told["assumed"] else ""
