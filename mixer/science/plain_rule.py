"""When a cup is to be warned of where no figure may be given for it.

A number may be withheld; a warning may not. Where the model was not checked it may still be
the first to tell. Beside it stands what it says of the nearest cup that was checked, and from
there the plain rule of the trade: warmer by 10 degC, or a much larger mass, halves it. So there
is no leap where the checking ends. Of a label that was not checked the rule begins at that.
Whichever is sooner warns. This file must never be read as a time that a cup lasts.
"""

from __future__ import annotations

import contextlib
import math
from dataclasses import dataclass

from mixer.science.heat import Air
from mixer.science.label import Contradiction, Label, Left
from mixer.science.pot_life import APART_C, CUP_ML, LABEL_OFF, MASS_G, TEMP_C, estimate, unchecked
from mixer.science.shapes import Shape

#: By so many degC warmer, and from so many times the mass on, it halves (common practice);
#: beyond the largest that was checked with each so many times, and in between by as much.
HALVES_C = 10.0
MUCH_LARGER = 2.0
#: What is left of a gel time for work (our choice; of the model's cups it is four fifths or more).
BEFORE_GEL = 0.8
#: When it may heat itself and be hot, of the time, where the model can tell nothing (our choice:
#: of fast systems the model has it after three fifths and three quarters).
WARM, HOT = 0.5, 0.7


@dataclass(frozen=True, slots=True)
class Caution:
    """By when its time may be over, it may heat itself, and be hot; s from the first contact
    of hardener. The heat is None where the model expects none."""

    low_s: float
    warm_s: float | None
    hot_s: float | None

    def after(self, part: float) -> Caution:
        """The same after this part of the time."""
        warm_s, hot_s = (
            None if at_s is None else at_s * part for at_s in (self.warm_s, self.hot_s)
        )
        return Caution(self.low_s * part, warm_s, hot_s)


def rule_s(label: Label, mass_g: float, warmest_c: float) -> float:
    """The label's time by the plain rule alone, less what a label may be off; of two points the
    sooner. What is colder lasts longer, what is less in mass does not.

    >>> from mixer.science.pot_life import Point
    >>> label = Label((Point(100, 25, 23),), "usable", 1.1)
    >>> [round(rule_s(label, *cup) / 60, 1) for cup in ((100, 25), (50, 35), (300, 45))]
    [20.0, 10.0, 2.5]
    """
    return min(
        point.minutes
        * 60
        / (1 + LABEL_OFF)
        * (BEFORE_GEL if label.ends == "gel" else 1.0)
        * 2 ** ((point.temp_c - warmest_c) / HALVES_C)
        / (2 if mass_g > MUCH_LARGER * point.mass_g else 1)
        for point in label.points
    )


def plain(label: Label, mass_g: float, warmest_c: float) -> Caution:
    """By the plain rule alone, of which nothing has to be solved; beyond the largest that was
    checked it is sooner with each so many times the mass.

    >>> from mixer.science.pot_life import Point
    >>> label = Label((Point(100, 25, 23),), "usable", 1.1)
    >>> [round(plain(label, mass_g, 25).low_s / 60, 1) for mass_g in (100, 500, 1000)]
    [20.0, 10.0, 5.0]
    """
    low_s = rule_s(label, mass_g, warmest_c) / _larger(mass_g)
    return Caution(low_s, WARM * low_s, HOT * low_s)


def caution(
    label: Label,
    mass_g: float,
    air_c: Air,
    start_c: float,
    cup: Shape | float | None = None,
    left: Left = (),
    richer: float = 1.0,
) -> Caution:
    """The soonest of the plain rule and of the model, where that can be solved at all; as
    :func:`mixer.science.pot_life.estimate`. At the edge of what was checked it is what that has.
    To the plain rule a ``richer`` cup is as much larger.

    >>> from mixer.science.pot_life import Point
    >>> fast = caution(Label((Point(100, 25, 6),), "gel", 1.1), 100, 25, 25)
    >>> [round(at_s / 60, 1) for at_s in (fast.warm_s, fast.hot_s, fast.low_s)]
    [2.6, 3.6, 4.2]
    """
    own = _by_model(label, mass_g, air_c, start_c, cup, left, richer)
    found = [own] if own is not None else []
    if _is_checked(label):
        near_g, airs, near_c, less, sooner = _nearest(mass_g, air_c, start_c, left)
        at_edge = _by_model(label, near_g, airs, near_c, _near(cup), less, richer)
        found += [at_edge.after(1 / sooner)] if at_edge is not None else []
    if not _is_checked(label) or not found:
        warmest_c = max(start_c, *(one_c for _, one_c in _steps(air_c)))
        usual = plain(label, mass_g * richer, warmest_c)
        found.append(usual if own is None else own.after(min(1.0, usual.low_s / own.low_s)))
    warm_s, hot_s = (
        min((at_s for at_s in times if at_s is not None), default=None)
        for times in zip(*((one.warm_s, one.hot_s) for one in found), strict=True)
    )
    return Caution(min(one.low_s for one in found), warm_s, hot_s)


def _by_model(
    label: Label,
    mass_g: float,
    air_c: Air,
    start_c: float,
    cup: Shape | float | None,
    left: Left,
    richer: float,
) -> Caution | None:
    with contextlib.suppress(Contradiction, ArithmeticError, ValueError):
        life = estimate(label, mass_g, air_c, start_c, cup, left, richer)
        if life.range_s is not None:
            return Caution(life.range_s[0], life.warm_s, life.hot_s)
    return None


def _is_checked(label: Label) -> bool:
    """Whether the model was checked for what stands on it, whatever is asked."""
    with contextlib.suppress(Contradiction):
        return unchecked(label, MASS_G[0], TEMP_C[0], TEMP_C[0]) is None
    return False


def _nearest(
    mass_g: float, air_c: Air, start_c: float, left: Left
) -> tuple[float, Air, float, Left, float]:
    """The nearest to it that was checked, and how many times as soon it is by the rule: no less
    of it, no colder, but for what is more and warmer than any that was."""
    warmest_c = max(start_c, *(one_c for _, one_c in _steps(air_c)))
    sooner = 2 ** (max(0.0, warmest_c - TEMP_C[1]) / HALVES_C)
    sooner *= _larger(mass_g)
    start_c = _within(start_c, TEMP_C)
    airs = [(from_s, _within(one_c, TEMP_C)) for from_s, one_c in _steps(air_c)]
    airs[0] = (airs[0][0], max(airs[0][1], start_c - APART_C))
    start_c = max(start_c, airs[0][1] - APART_C)
    less = [(from_s, _within(its_g, MASS_G), _near(its)) for from_s, its_g, its in left]
    return _within(mass_g, MASS_G), airs, start_c, less, sooner


def _near(cup: Shape | float | None) -> Shape | float | None:
    return _within(cup, CUP_ML) if isinstance(cup, int | float) else cup


def _larger(mass_g: float) -> float:
    """How many times as soon, for what is more than the largest that was checked."""
    return float(2 ** math.log(max(1.0, mass_g / MASS_G[1]), MUCH_LARGER))


def _steps(air_c: Air) -> list[tuple[float, float]]:
    return [(0.0, air_c)] if isinstance(air_c, int | float) else list(air_c)


def _within(value: float, span: tuple[float, float]) -> float:
    return min(max(value, span[0]), span[1])
