"""What can be used up: the batch that is asked for beside how long it lasts. Pure.

One sentence before the pour. It never pushes, and never keeps a batch from being poured.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from mixer.app.life.cup_life import (
    SPREAD,
    is_large_and_unknown,
    minutes,
    no_later,
    unsaid,
)
from mixer.app.life.foretelling import Question, answer, by_rule, until_filled
from mixer.app.life.life_words import RULE
from mixer.app.life.thickenings import drawn, sooner
from mixer.science.largest import calm_g, lasting_g
from mixer.science.pot_life import MASS_G

USEFUL_S = 600  # to work with it, after the stir (our choice)
POUR_S = 60  # from first contact to the stir, as the hardener is poured (our choice)


@dataclass(frozen=True, slots=True)
class Before:
    """What is known of it before the pour: what is said, what was foretold of so much, and how
    much may be in the cup once a ratio was put right (see :func:`cap_ug`)."""

    say: str = ""
    told: Mapping[str, Any] = field(default_factory=dict)
    cap_ug: int | None = None


def before(asked: Question, stir_s: float, seen: tuple[float, ...] = ()) -> Before:
    """As a whole; it takes time. ``seen`` is when other cups of its resin thickened, as
    :func:`drawn` has it."""
    told = drawn(_warned(asked), seen) if seen else _warned(asked)
    return Before(lasts(asked, stir_s, seen), told, cap_ug(asked, stir_s, seen))


def _warned(asked: Question) -> Mapping[str, Any]:
    """What was foretold of it, and warned of as soon as while it is not filled."""
    told, bare = answer(asked), until_filled(asked)
    if not bare:
        return told
    low = "rule_low_s" if told.get("low_s") is None else "low_s"
    names = {low: "rule_low_s", "warm_s": "warm_s", "hot_s": "hot_s"}
    times = {name: [told.get(name), bare[of]] for name, of in names.items()}
    return told | {
        name: min((at_s for at_s in both if at_s is not None), default=None)
        for name, both in times.items()
    }


def cap_ug(asked: Question, stir_s: float, seen: tuple[float, ...] = ()) -> int | None:
    """The first of these that is not below what is asked for: as much as stays calm, and as much
    as leaves 10 min after the stir, each to be sure of it and by the best estimate. ``None``
    where it is beyond all of them, which was said before the pour, or nothing may be told.

    What is asked for stays what it was foretold to be: an addition makes no calm cup run hot.
    """
    if answer(asked)["why"] is not None:
        return None
    room = (asked.air[0][1], asked.start_c, asked.cup_ml)
    useful_s = (stir_s + POUR_S + USEFUL_S) / sooner(seen)
    caps_ug = [
        math.floor(most_g * 1e6)
        for found in (calm_g(asked.label, *room), lasting_g(asked.label, useful_s / 60, *room))
        for most_g in (found.least, None if found.open else found.most)
        if most_g is not None and most_g < MASS_G[1]  # else only as far as was looked
    ]
    return min((cap_ug for cap_ug in caps_ug if cap_ug >= asked.mass_ug), default=None)


@functools.lru_cache(maxsize=64)
def lasts(asked: Question, stir_s: float, seen: tuple[float, ...] = ()) -> str:
    """How long so much should last; and where that is too little, or it runs hot, the most
    that does not by all that is doubted. As :func:`answer`, it takes time.
    """
    told, mass = answer(asked), f"{asked.mass_ug / 1e6:.0f} g"
    if told["why"] is not None:
        if asked.off:
            return f"No time can be told for this cup: {told['why']}."
        large = f" {SPREAD}" if asked.mass_ug > MASS_G[1] * 1e6 else ""
        return f"No time can be told for {mass}: {told['why']}.{unsaid(told)} {RULE}{large}"
    told, least_s = drawn(told, seen), stir_s + POUR_S + USEFUL_S
    room = (asked.air[0][1], asked.start_c, asked.cup_ml, asked.mass_ug / 1e6)
    said = f"{mass} should last {minutes(told['low_s'], told['high_s'])} from the hardener on"
    if sooner(seen) < 1:
        said += f", as cups of it were said to thicken sooner ({len(seen)} in the record)"
    if told["low_s"] < least_s:
        said += "; " + _up_to(
            lasting_g(asked.label, least_s / sooner(seen) / 60, *room).least,
            "leaves 10 min after the stir",
            "nor would less in this cup leave 10 min after the stir",
        )
    if told["runaway"]:
        said += "; " + _up_to(
            calm_g(asked.label, *room).least, "should not run hot", "what stays in the cup runs hot"
        )
    return f"{said}.{unsaid(told)}"


def untold(why: str, mass_ug: int) -> Before:
    """The same of a batch of which nothing can be asked: what is said where it is more than a
    usual cup, and what it is warned by.

    >>> untold("its resin's profile has no pot life", 60_000_000).say
    ''
    """
    told = {"why": why, "mass_ug": mass_ug}
    if not is_large_and_unknown(told):
        return Before()
    mass = f"{mass_ug / 1e6:.0f} g"
    return Before(f"No time can be told for {mass}: {why}. {RULE} {SPREAD}", told)


def unanswered(asked: Question, why: str, before: Mapping[str, Any] | None = None) -> Before:
    """The same where no answer has come; of a cup off its ratio, of which no time of its own will,
    it warns no later than what was foretold ``before``."""
    told = by_rule(asked, why)
    if asked.off:
        said = f"No time can be told for this cup: {told['why']}."
        return Before(said, no_later(told, before or {}))
    return Before(f"No time can be told for {asked.mass_ug / 1e6:.0f} g: {why}. {RULE}", told)


def _up_to(most_g: float | None, good: str, none: str) -> str:
    return none if most_g is None else f"up to {int(most_g)} g {good}"
