"""How large one batch may be: what can be used up in time, what stays bearable to the hand.

The times are estimates of :mod:`mixer.science.pot_life`. It is solved for a few masses and
interpolated between them, so that a layup of any length costs a dozen solutions at most, the
fit of its label among them.
Where it was not checked there is no time, but there is a cap: that of the nearest room which
was; of a label that was not see :mod:`mixer.app.sizing.unchecked_label`. This file must never
let a batch pass that the model was not checked for, nor a larger one in a warmer room.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from mixer.plan.batches import UG_PER_G, Cap
from mixer.science.fitting import FEW_CUPS, fit
from mixer.science.heat import Course
from mixer.science.label import LONGEST_S, Guess, Label, System, follow
from mixer.science.pot_life import MASS_G, TEMP_C

#: The part of the estimated working time that a plan may use: the estimate's own range
#: goes down to about so much (our choice).
SHARE = 2 / 3
#: From taking up the resin to the beginning of the stir (common practice, no source).
POUR_MIN = 1.0
#: degC. What gets warmer than this while it is used is no cup to hold: a minute's touch
#: burns from 51 degC on (ISO 13732-1, from memory).
BEARABLE_C = 50.0
#: Where no pot life is known: a usual cup (common practice, no source).
USUAL_UG = 100 * UG_PER_G
#: Of the cup, with those that the fit of its label took.
MOST_SOLUTIONS = 12
CLOSE = 1.01  # a cap that is found to a hundredth will do
_LIMITS = ("working time", "heat")
USUAL_CUP, SPAN = "usual cup", "span of the model"
HALVES_C = 10.0  # a pot life halves for so much warmer (common practice, no source)
_NEAREST = 3
#: Of what is found between two masses, so that the next is within the cap; and the last one.
_INSIDE, _LAST = 0.997, 0.97


@dataclass(slots=True)
class Lives:
    """How long batches of this resin live, in this cup, in this room. ``beyond_c`` is how much
    warmer it is than ``air_c``, the warmest that was checked, and there all goes ``steeper``
    times as fast for each :data:`HALVES_C`; ``faster`` times as fast everywhere, as its label or
    its cups before have it; ``guess`` is of
    what its label does not tell. ``is_checked``: a time may be told. ``spent``: so many cups were
    solved for it before."""

    label: Label
    air_c: float
    cup_ml: float | None
    beyond_c: float = 0.0
    is_checked: bool = True
    steeper: float = 2.0
    faster: float = 1.0
    guess: Guess | None = None
    spent: int = 0
    courses: dict[float, Course] = field(default_factory=dict)

    @classmethod
    def near(cls, label: Label, air_c: float, cup_ml: float | None, faster: float = 1.0) -> Lives:
        """In this room, or in the nearest that was checked; beyond it by the label's own two
        points, where they are steeper than is usual."""
        near_c = min(max(air_c, TEMP_C[0]), TEMP_C[1])
        beyond_c = max(0.0, air_c - near_c)
        steeper = steepness(label) if beyond_c else 2.0
        return cls(label, near_c, cup_ml, beyond_c, near_c == air_c, steeper, faster)

    @property
    def _fit(self) -> System:
        return fit(self.label, self.guess, min(FEW_CUPS, MOST_SOLUTIONS - 1 - self.spent))

    @property
    def most(self) -> int:
        """How many masses may be solved."""
        return MOST_SOLUTIONS - self.spent - self._fit.cups

    @property
    def sooner(self) -> float:
        """How many times as fast all goes as at ``air_c``."""
        return float(self.faster * self.steeper ** (self.beyond_c / HALVES_C))

    def course(self, mass_g: float) -> Course:
        """The cup's course; each mass is solved once."""
        if mass_g not in self.courses:
            self.courses[mass_g] = follow(
                self._fit, self.label, mass_g, self.air_c, self.air_c, self.cup_ml
            )
        return self.courses[mass_g]

    def look(self, mass_g: float) -> None:
        """Solve this one too, if another may be; else the next larger one stands for it."""
        if len(self.courses) < self.most:
            self.course(mass_g)

    def between(self, mass_g: float, until_s: float) -> tuple[float, float]:
        """Working time in s, and how warm it has been by ``until_s``: of a mass between those
        that were solved, or of the least of them where it is less, which lasts no longer."""
        known = sorted(self.courses)
        at = bisect_left(known, mass_g)
        if at == 0 or mass_g == known[at]:
            course = self.courses[known[at]]
            return course.reached_s[0] or math.inf, _warmest_c(course, until_s)
        nearest = sorted(known, key=lambda m: abs(math.log(m / mass_g)))[:_NEAREST]
        nearest = sorted({*nearest, *known[at - 1 : at + 1]})
        lasts = {m: math.log(self.courses[m].reached_s[0] or LONGEST_S) for m in nearest}
        warmest = {m: _warmest_c(self.courses[m], until_s) for m in nearest}
        return math.exp(_along(lasts, mass_g)), _along(warmest, mass_g)

    def look_at(self, masses_g: Sequence[float]) -> None:
        """Solve the least and the most of these, if none was solved beyond them, and then as
        many as may be, each as far as can be from what was solved."""
        checked = sorted({m for m in masses_g if MASS_G[0] <= m <= MASS_G[1]})
        for mass_g in (*checked[:1], *checked[-1:]):
            if self._is_beyond(mass_g):
                self.look(mass_g)
        while checked and len(self.courses) < self.most:
            mass_g, far = max(((m, self._far(m)) for m in checked), key=lambda one: one[1])
            if far < math.log(CLOSE):
                break
            self.course(mass_g)

    def _is_beyond(self, mass_g: float) -> bool:
        return not self.courses or not min(self.courses) <= mass_g <= max(self.courses)

    def _far(self, mass_g: float) -> float:
        return min(abs(math.log(mass_g / known_g)) for known_g in self.courses)

    def working_min(self, mass_g: float) -> float | None:
        """Of a mass between those that were solved, or of the least of them where it is less;
        None where it is more, where the model was not checked, or where it does not end
        within a week."""
        if not self.is_checked or not self.courses:
            return None
        if not MASS_G[0] <= mass_g <= min(MASS_G[1], max(self.courses)):
            return None
        working_s, _ = self.between(mass_g, 0.0)
        return working_s / self.faster / 60 if working_s < math.inf else None


def in_time(lives: Lives, most_g: float, rate_g_min: float, prepare_min: float) -> Cap | None:
    """The cap of time and heat, up to ``most_g``; None where even the least batch that was
    checked cannot be used up in time.

    A batch is stirred, used at this rate, and waits once more while the next is prepared.
    """
    least_g, checked_g = MASS_G
    high_g = max(least_g, min(most_g, checked_g))
    lives.course(high_g)

    def spare(mass_g: float) -> tuple[float, float]:
        return _spare(lives, mass_g, rate_g_min, prepare_min)

    if min(spare(high_g)) >= 0:
        return Cap(round(checked_g * UG_PER_G), SPAN)  # larger ones were not checked
    low_g = 0.0
    # One is for the least of a row, where there are enough of them.
    for left in reversed(range(max(lives.most - 2, min(3, lives.most - 1), 1))):
        # What is good of what lies between those that were solved, or of a less one as if it
        # lived no longer than the least of them: so the first is within the cap, and near it.
        next_g = _last(lambda mass_g: min(spare(mass_g)) >= 0, low_g or least_g, high_g)
        next_g = max(least_g, next_g * (_INSIDE if left else _LAST))
        if next_g < low_g * CLOSE:
            break
        lives.look(next_g)
        if min(spare(next_g)) >= 0:
            low_g = next_g
        elif next_g > least_g:
            high_g = next_g
        else:
            return None
    if low_g == 0:
        lives.look(least_g)
        if min(spare(least_g)) < 0:
            return None
        low_g = least_g
    beyond = spare(min(high_g, low_g * CLOSE))
    return Cap(math.floor(low_g * UG_PER_G), _LIMITS[beyond.index(min(beyond))])


def steepness(label: Label) -> float:
    """How many times as fast all goes for 10 degC more, by its two points; twice at the least
    (common practice, no source).

    >>> from mixer.science.label import Point
    >>> steepness(Label((Point(100, 25, 40), Point(100, 15, 120)), "gel", 1.1))
    3.0
    >>> from mixer.science.label import Point
    >>> steepness(Label((Point(100, 25, 40),), "gel", 1.1))
    2.0
    """
    return max(2.0, told_steepness(label) or 0.0)


def told_steepness(label: Label) -> float | None:
    """How many times as fast for 10 degC more, by its two points as they stand."""
    if len(label.points) < 2:
        return None
    cold, warm = sorted(label.points, key=lambda point: point.temp_c)[:2]
    apart_c = warm.temp_c - cold.temp_c
    return float((cold.minutes / warm.minutes) ** (HALVES_C / apart_c)) if apart_c else None


def _last(good: Callable[[float], bool], low: float, high: float) -> float:
    """The last that is good, where ``high`` is not; ``low`` where none is."""
    for _ in range(24):
        middle = math.sqrt(low * high)
        low, high = (middle, high) if good(middle) else (low, middle)
    return low


def _spare(
    lives: Lives, mass_g: float, rate_g_min: float, prepare_min: float
) -> tuple[float, float]:
    """What is left of each of :data:`_LIMITS`, in parts of it; below zero is too much."""
    used_s = (2 * prepare_min + mass_g / rate_g_min) * 60 * lives.sooner
    working_s, warmest_c = lives.between(mass_g, used_s)
    in_time = 1 - used_s / (SHARE * working_s)
    # Its own heat comes so many times as fast too, upon a room that is warmer.
    rise_c = (warmest_c - lives.air_c) * lives.sooner
    return in_time, 1 - (lives.air_c + lives.beyond_c + rise_c) / BEARABLE_C


def _along(values: Mapping[float, float], mass_g: float) -> float:
    """The curve through all of them, by the logarithm of the mass; between its neighbours."""
    found = sum(
        value
        * math.prod(
            math.log(mass_g / other) / math.log(own / other) for other in values if other != own
        )
        for own, value in values.items()
    )
    below, above = (
        values[max(m for m in values if m < mass_g)],
        values[min(m for m in values if m > mass_g)],
    )
    return min(max(found, min(below, above)), max(below, above))


def _warmest_c(course: Course, until_s: float) -> float:
    """The warmest that it has been by then."""
    temps = course.temp_c[: bisect_right(course.t_s, until_s)]
    return max([*temps, course.temp_at_c(until_s)])
