"""When a cup is to be warned of where no figure may be given for it.

A number may be withheld; a warning may not. Where the model was not checked it may still be
the first to tell, and beside it stands the plain rule of the trade: warmer by 10 degC, or a
much larger mass, halves it. Whichever is sooner warns. This file must never be read as a time
that a cup lasts.
"""

from __future__ import annotations

import contextlib
from dataclasses import dataclass

from mixer.science.heat import Air
from mixer.science.label import Contradiction, Label, Left
from mixer.science.pot_life import LABEL_OFF, estimate
from mixer.science.shapes import Shape

#: By so many degC warmer, and from so many times the mass on, it halves (common practice).
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


def caution(
    label: Label,
    mass_g: float,
    air_c: Air,
    start_c: float,
    cup: Shape | float | None = None,
    left: Left = (),
) -> Caution:
    """The soonest of the plain rule and of the model, where that can be solved at all; as
    :func:`mixer.science.pot_life.estimate`.

    >>> from mixer.science.pot_life import Point
    >>> fast = caution(Label((Point(100, 25, 6),), "gel", 1.1), 100, 25, 25)
    >>> [round(at_s / 60, 1) for at_s in (fast.warm_s, fast.hot_s, fast.low_s)]
    [2.6, 3.6, 4.2]
    """
    airs = [air_c] if isinstance(air_c, int | float) else [one_c for _, one_c in air_c]
    low_s = rule_s(label, mass_g, max(*airs, start_c))
    life = None
    with contextlib.suppress(Contradiction, ArithmeticError, ValueError):
        life = estimate(label, mass_g, air_c, start_c, cup, left)
    if life is None or life.range_s is None:
        return Caution(low_s, WARM * low_s, HOT * low_s)
    sooner = min(1.0, low_s / life.range_s[0])  # its heat as well
    warm_s, hot_s = (None if at_s is None else at_s * sooner for at_s in (life.warm_s, life.hot_s))
    return Caution(min(low_s, life.range_s[0]), warm_s, hot_s)
