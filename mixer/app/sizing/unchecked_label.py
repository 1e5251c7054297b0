"""How large a batch may be of a label that the model was not checked for.

No time is told there, but there is a cap: what the label itself allows, and no more than the
nearest label that was checked would. This file must never let a batch pass that the nearest
would not, nor one in a room that is warmer than a hand bears.
"""

from __future__ import annotations

import math
from dataclasses import replace

from mixer.app.sizing.caps import (
    BEARABLE_C,
    HALVES_C,
    SHARE,
    Lives,
    in_time,
    steepness,
    told_steepness,
)
from mixer.plan.batches import UG_PER_G, Cap
from mixer.science.cure import GAS_J_MOL_K, ZERO_C_K
from mixer.science.fitting import FEW_CUPS, fit
from mixer.science.label import Contradiction, Guess, Label, Point
from mixer.science.pot_life import FASTER, LABEL_MINUTES, MASS_G, TEMP_C, unchecked

LABEL = "label"
#: Of a label's time to gel, what can be worked with (our choice; the model's is 0.93 and more).
BEFORE_GEL = 0.9


def caps(
    label: Label,
    air_c: float,
    cup_ml: float | None,
    most_g: float,
    rate_g_min: float,
    prepare_min: float,
    faster: float = 1.0,
) -> list[Cap]:
    """What the label itself allows, and what the nearest that was checked does, up to ``most_g``;
    none where either allows nothing; both ``faster``, as its cups before were. As
    :func:`mixer.app.sizing.caps.in_time`."""
    own = by_label(label, air_c, rate_g_min, prepare_min, faster)
    if own is None:
        return []
    try:
        near_it = nearest(label, air_c, cup_ml)
        lives = replace(near_it, spent=_spent(label), faster=near_it.faster * faster)
        near = in_time(lives, most_g, rate_g_min, prepare_min)
    except Contradiction:  # not found in what is left of the cups: what is least is the mildest
        return [Cap(min(own.most_ug, round(MASS_G[0] * UG_PER_G)), LABEL)]
    return [own, near] if near is not None else []


def by_label(
    label: Label, air_c: float, rate_g_min: float, prepare_min: float, faster: float = 1.0
) -> Cap | None:
    """No more than its mass, used up within its time, which is as many times shorter for each
    10 degC that the room is warmer as its steepness says, and is no longer in a cooler one.
    None where that is less than the least batch, or the room is not to be borne."""
    if air_c > BEARABLE_C:
        return None
    most_g = math.inf
    for point in label.points:
        sooner = steepness(label) ** (max(0.0, air_c - point.temp_c) / HALVES_C)
        works_min = point.minutes * (BEFORE_GEL if label.ends == "gel" else 1.0) / sooner / faster
        used_g = (SHARE * works_min - 2 * prepare_min) * rate_g_min
        if used_g < min(MASS_G[0], point.mass_g):
            return None
        most_g = min(most_g, used_g, point.mass_g)
    return Cap(math.floor(most_g * UG_PER_G), LABEL)


def nearest(label: Label, air_c: float, cup_ml: float | None) -> Lives:
    """The lives of the nearest label that was checked: of its point that is nearest to the room,
    held to what was checked, and never slower than the label is by its own points."""
    point = min(label.points, key=lambda point: abs(point.temp_c - air_c))
    near = Point(
        _within(point.mass_g, MASS_G),
        _within(point.temp_c, TEMP_C),
        _within(point.minutes, LABEL_MINUTES),
    )
    steeper = steepness(label)
    # The more it gains from warmth the sooner it goes in a warmer room than the point's, and the
    # less the sooner in a cooler one.
    checked = usual = Guess()
    told, beyond = told_steepness(label), 1.0
    if told is not None:
        checked = replace(usual, energy_j_mol=_energy_j_mol(_within(told, FASTER)))
        is_warmer = air_c > near.temp_c
        if (checked.energy_j_mol > usual.energy_j_mol) != is_warmer:
            checked = usual
        elif told != _within(told, FASTER):
            room_c = _within(air_c, TEMP_C)
            beyond = (told / _within(told, FASTER)) ** ((room_c - near.temp_c) / HALVES_C)
    # A label that is faster than any that was checked, or in a colder room.
    short = near.minutes / point.minutes
    cold = steeper ** ((near.temp_c - point.temp_c) / HALVES_C)
    one = replace(label, points=(near,), peak_c=None)
    lives = Lives.near(one, air_c, cup_ml)
    return replace(
        lives,
        is_checked=False,
        steeper=steeper,
        faster=max(1.0, beyond) * max(1.0, short) * max(1.0, cold),
        guess=None if checked == usual else checked,
    )


def _spent(label: Label) -> int:
    """How many cups its own fit took, where it was asked for: of one point without a peak, or of
    points that were not checked, it was not."""
    bare = [replace(label, points=(point,), peak_c=None) for point in label.points]
    cold = (MASS_G[0], TEMP_C[0], TEMP_C[0])
    is_outside = any(unchecked(one, *cold) is not None for one in bare)
    if label.peak_c is None and (len(bare) < 2 or is_outside):
        return 0
    try:
        return fit(label, None, FEW_CUPS).cups
    except Contradiction as error:
        return error.cups


def _energy_j_mol(times: float) -> float:
    """Of what goes so many times as fast at 35 as at 25 degC."""
    return math.log(times) * GAS_J_MOL_K / (1 / (25 + ZERO_C_K) - 1 / (35 + ZERO_C_K))


def _within(value: float, span: tuple[float, float]) -> float:
    return min(max(value, span[0]), span[1])
