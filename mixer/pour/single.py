"""The band of one component by itself: an additive, or one of several hardeners.

Each is bound to the resin by its own share. Its acceptance limits are its tolerance drawn in
by a guard band, as those of the ratio are (:mod:`mixer.pour.bands`); where that leaves less
than a division either side they are those of the tolerance, and prove nothing. Masses are
integer micrograms. Must never take a component for in band that is so only on the display.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from mixer.pour.recipe import Recipe
from mixer.science import weighing
from mixer.science.weighing import Errors


@dataclass(frozen=True, slots=True)
class Band:
    """Target and acceptance limits. ``margin_ug`` is what another component that is poured
    before leaves of either side, so that this one can still be hit."""

    target_ug: int
    low_ug: int
    high_ug: int
    provable: bool
    margin_ug: int = 0


def bound(recipe: Recipe) -> tuple[int, ...]:
    """Which components have a band of their own: the additives, and of several hardeners each.

    >>> from mixer.pour.recipe import Component
    >>> two = (Component("resin", "resin", 100, 8), Component("hardener", "hardener", 36, 8))
    >>> bound(Recipe(two, 0.03)), bound(Recipe((*two, Component("slow", "hardener", 9, 8)), 0.03))
    ((), (1, 2))
    """
    hardeners = recipe.hardeners if len(recipe.hardeners) > 1 else ()
    return tuple(sorted((*hardeners, *recipe.additives)))


def tolerance(recipe: Recipe, index: int) -> float:
    """How far this component may be from its share of the resin, relative."""
    component = recipe.components[index]
    if component.tolerance is not None:
        return component.tolerance
    return recipe.split_tolerance if component.role == "hardener" else 0.0


@dataclass(frozen=True, slots=True)
class Runs:
    """How often resin was poured and this component, each time anew after another, and how often
    all of it was weighed once more since."""

    resin: int = 1
    own: int = 1
    anew: int = 0


def guard(recipe: Recipe, index: int, errors: Errors, runs: Runs) -> float:
    """The guard band on A - s R of this component.

    A run is the difference of two weights, and counts -s times if it is of resin, once if of
    this component, and not at all if of another. Each of its two weights brings the square of
    that, and one that stands between resin and this component (1 + s)^2, which is 2 s more;
    there are at most so many of these as runs less one, or twice those of the rarer of both.
    Weighed anew it is reckoned as two more of these weights.
    """
    share = recipe.of_resin(index)
    resin, own = max(1, runs.resin), max(1, runs.own)
    between = min(resin + own - 1, 2 * min(resin, own))
    squares = 2 * share**2 * resin + 2 * own + 2 * share * between
    squares += 2 * runs.anew * (1 + share) ** 2
    return weighing.coverage(recipe.ratios) * errors.weight_u * math.sqrt(squares)


def limits(
    recipe: Recipe, index: int, resin_ug: int, errors: Errors, runs: Runs,
    strayed_ug: tuple[int, int] = (0, 0),
) -> Band:  # fmt: skip
    """With so much resin. ``strayed_ug`` is by how much resin and this component may be more
    or less than was booked to them: the band holds either way."""
    share, spread = recipe.of_resin(index), tolerance(recipe, index)
    off_resin, off_own = strayed_ug
    inward = guard(recipe, index, errors, runs) + off_own
    low = math.ceil((resin_ug + off_resin) * share * (1 - spread) + inward)
    high = math.floor((resin_ug - off_resin) * share * (1 + spread) - inward)
    target = round(resin_ug * share)
    if high - low >= 2 * errors.division:
        margin = min(round(errors.division), (high - low) // 4)
        return Band(target, low, high, True, margin)
    ideal = resin_ug * share
    return Band(target, math.ceil(ideal * (1 - spread)), math.floor(ideal * (1 + spread)), False)


def resin_limits(
    recipe: Recipe, index: int, own_ug: int, errors: Errors, runs: Runs,
    strayed_ug: tuple[int, int] = (0, 0),
) -> Band:  # fmt: skip
    """The same band seen from the other side: how much resin so much of it needs."""
    share, spread = recipe.of_resin(index), tolerance(recipe, index)
    off_resin, off_own = strayed_ug
    inward = guard(recipe, index, errors, runs) + off_own
    low = math.ceil((own_ug + inward) / (share * (1 + spread)) + off_resin)
    high = math.floor((own_ug - inward) / (share * (1 - spread)) - off_resin)
    target = round(own_ug / share)
    if (high - low) * share >= 2 * errors.division:
        return Band(target, low, high, True)
    ideal = own_ug / share
    return Band(target, math.ceil(ideal / (1 + spread)), math.floor(ideal / (1 - spread)), False)


def smallest_provable(recipe: Recipe, errors: Errors) -> float:
    """The least resin of which a scale can prove each of these bands; 0 where there is none."""
    return max(
        (
            weighing.smallest_provable(errors, recipe.of_resin(index), spread, ratios=recipe.ratios)
            for index in bound(recipe)
            if (spread := tolerance(recipe, index)) > 0
        ),
        default=0.0,
    )
