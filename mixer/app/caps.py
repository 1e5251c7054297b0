"""How large one batch may be: what can be used up in time, what stays bearable to the hand.

The times are estimates of :mod:`mixer.science.pot_life`. It is solved for a few masses and
interpolated between them, so that a layup of any length costs a dozen solutions at most.
Where it was not checked there is no time, but there is a cap: that of the nearest room which
was, or what the label itself allows. This file must never let a batch pass that the model was
not checked for, nor a larger one in a warmer room.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import partial

from mixer.plan.batches import UG_PER_G, Cap
from mixer.science.heat import Course
from mixer.science.pot_life import MASS_G, TEMP_C, Label, fit, follow

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
MOST_SOLUTIONS = 12  # of the cup, beside the fit of its label, which is kept
CLOSE = 1.01  # a cap that is found to a hundredth will do
_LIMITS = ("working time", "heat")
USUAL_CUP, SPAN, LABEL = "usual cup", "span of the model", "label"
HALVES_C = 10.0  # a pot life halves for so much warmer (common practice, no source)
#: Of a label's time to gel, what can be worked with (our choice; the model's is 0.93 and more).
BEFORE_GEL = 0.9
_TRIES, _HALVED = 8, 4


@dataclass(slots=True)
class Lives:
    """How long batches of this resin live, in this cup, in this room. ``beyond_c`` is how much
    warmer it is than ``air_c``, the warmest that was checked; ``is_checked``: a time may be
    told."""

    label: Label
    air_c: float
    cup_ml: float | None
    beyond_c: float = 0.0
    is_checked: bool = True
    courses: dict[float, Course] = field(default_factory=dict)

    @classmethod
    def near(cls, label: Label, air_c: float, cup_ml: float | None) -> Lives:
        """In this room, or in the nearest that was checked."""
        near_c = min(max(air_c, TEMP_C[0]), TEMP_C[1])
        return cls(label, near_c, cup_ml, max(0.0, air_c - near_c), near_c == air_c)

    @property
    def sooner(self) -> float:
        """How many times as fast all goes as at ``air_c``."""
        return float(2 ** (self.beyond_c / HALVES_C))

    def course(self, mass_g: float) -> Course:
        """The cup's course; each mass is solved once."""
        if mass_g not in self.courses:
            self.courses[mass_g] = follow(
                fit(self.label), self.label, mass_g, self.air_c, self.air_c, self.cup_ml
            )
        return self.courses[mass_g]

    def look_at(self, masses_g: Sequence[float]) -> None:
        """Solve the least and the most of these, and of those between as many as may be."""
        known = {m for m in masses_g if MASS_G[0] <= m <= MASS_G[1]} - set(self.courses)
        left, checked = max(2, MOST_SOLUTIONS - len(self.courses)), sorted(known)
        step = max(1.0, (len(checked) - 1) / (left - 1))
        for i in range(min(left, len(checked))):
            self.course(checked[round(i * step)])

    def working_min(self, mass_g: float) -> float | None:
        """Of a mass between those that were solved, or of the least of them where it is less;
        None where it is more, where the model was not checked, or where it does not end
        within a week."""
        if not self.is_checked:
            return None
        known = sorted((m, c.reached_s[0] or math.inf) for m, c in self.courses.items())
        at = bisect_left([m for m, _ in known], mass_g)
        if at == len(known) or not MASS_G[0] <= mass_g <= MASS_G[1]:
            return None
        found_s = known[at][1]
        if at > 0:
            (m0, s0), (m1, s1) = known[at - 1], known[at]
            part = math.log(mass_g / m0) / math.log(m1 / m0)
            found_s = s0 ** (1 - part) * s1**part if part < 1 else s1
        return found_s / 60 if found_s < math.inf else None


def in_time(lives: Lives, most_g: float, rate_g_min: float, prepare_min: float) -> Cap | None:
    """The cap of time and heat, up to ``most_g``; None where even the least batch that was
    checked cannot be used up in time.

    A batch is stirred, used at this rate, and waits once more while the next is prepared.
    """
    low_g, checked_g = MASS_G
    high_g = max(low_g, min(most_g, checked_g))
    spare = partial(_spare, lives, rate_g_min=rate_g_min, prepare_min=prepare_min)
    high = spare(high_g)
    if min(high) >= 0:
        return Cap(round(checked_g * UG_PER_G), SPAN)  # larger ones were not checked
    low = spare(low_g)
    if min(low) < 0:
        return None
    for i in range(_TRIES):
        # Halved at first; then where a straight line says that nothing is spare.
        part = 0.5 if i < _HALVED else min(low) / (min(low) - min(high))
        middle_g = low_g * (high_g / low_g) ** min(max(part, 0.1), 0.9)
        middle = spare(middle_g)
        if min(middle) >= 0:
            low_g, low = middle_g, middle
        else:
            high_g, high = middle_g, middle
        if high_g < low_g * CLOSE:
            break
    return Cap(math.floor(low_g * UG_PER_G), _LIMITS[high.index(min(high))])


def by_label(label: Label, air_c: float, rate_g_min: float, prepare_min: float) -> Cap | None:
    """The cap of a label that the model was not checked for: no more than its mass, used up
    within its time, which halves for each 10 degC that the room is warmer and is no longer in a
    cooler one. None where that is less than the least batch."""
    most_g = math.inf
    for point in label.points:
        sooner = 2 ** (max(0.0, air_c - point.temp_c) / HALVES_C)
        works_min = point.minutes * (BEFORE_GEL if label.ends == "gel" else 1.0) / sooner
        used_g = (SHARE * works_min - 2 * prepare_min) * rate_g_min
        if used_g < min(MASS_G[0], point.mass_g):
            return None
        most_g = min(most_g, used_g, point.mass_g)
    return Cap(math.floor(most_g * UG_PER_G), LABEL)


def _spare(
    lives: Lives, mass_g: float, rate_g_min: float, prepare_min: float
) -> tuple[float, float]:
    """What is left of each of :data:`_LIMITS`, in parts of it; below zero is too much."""
    course = lives.course(mass_g)
    used_s = (2 * prepare_min + mass_g / rate_g_min) * 60 * lives.sooner
    working_s = course.reached_s[0] or math.inf
    in_time = 1 - used_s / (SHARE * working_s)
    # Its own heat comes so many times as fast too, upon a room that is warmer.
    rise_c = (_warmest_c(course, used_s) - lives.air_c) * lives.sooner
    return in_time, 1 - (lives.air_c + lives.beyond_c + rise_c) / BEARABLE_C


def _warmest_c(course: Course, until_s: float) -> float:
    """The warmest that it has been by then."""
    temps = [temp for t, temp in zip(course.t_s, course.temp_c, strict=True) if t <= until_s]
    at = bisect_left(course.t_s, until_s)
    if 0 < at < len(course.t_s):
        (t0, t1), (c0, c1) = course.t_s[at - 1 : at + 1], course.temp_c[at - 1 : at + 1]
        temps.append(c0 + (c1 - c0) * (until_s - t0) / (t1 - t0))
    return max(temps)
