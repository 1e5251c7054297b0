"""Whether what the scale takes for nothing is still the empty pan: a press of zero, a scale
that was off for a moment, a fall that a stream may fill up again. Pure and volatile.

It only notes what may have been; what follows from it is decided in :mod:`mixer.pour.trust`.
"""

from __future__ import annotations

from typing import Literal

from devices.readings import Reading
from mixer.pour.leaps import FASTEST_UG_S, every_s
from mixer.pour.rests import Rest, frame_of
from mixer.pour.sight import Sight, below_zero, empty_ug, lightest_cup_ug, slack_ug

TOLD_S = 1.5  # so long a stream may run on after the builder was last told to pour
SHORT_GAP_S, MISSING = 0.3, 1.6  # a reading is missing: so many times the usual time
ON_ITS_WAY = 0.2  # of a cup's weight: more than a pan swings by when the cup is off (our choice)


def may_have_restarted(sight: Sight, reading: Reading) -> bool:
    """Whether a reading or more is missing in a stream, and the load so light that it may all
    have come since: a scale that was off for a moment takes for zero what stands on it."""
    last, usual_s = sight.last, every_s(sight.recent)
    if not sight.following or last is None or usual_s is None:
        return False
    told_s = sight.told_to_pour_s
    told = told_s is not None and reading.at_s - told_s < TOLD_S
    late_s = max(SHORT_GAP_S, MISSING * usual_s)
    return told and reading.at_s - last.at_s > late_s and _within_a_stream(sight, reading)


def fell_ug(sight: Sight, reading: Reading) -> int | None:
    """So little is shown at once that zero may have been pressed in the stream: it may soon
    fill up again what the fall took."""
    level, last = sight.level_ug, sight.last
    if not sight.following or level is None or last is None or sight.fell_ug is not None:
        return sight.fell_ug if sight.following and not taken_back(sight, reading) else None
    lower = reading.mass_ug < min(level, last.mass_ug) - slack_ug(reading.division_ug)
    same = frame_of(reading) == frame_of(last)
    return reading.mass_ug if same and lower and _within_a_stream(sight, reading) else None


def taken_back(sight: Sight, reading: Reading) -> bool:
    """Whether a fall of one reading was a wrong frame: back at once, as no stream can be."""
    if sight.last is None or sight.fell_ug is None or not sight.following:
        return True
    rise_ug = reading.mass_ug - sight.last.mass_ug
    most_ug = FASTEST_UG_S * (reading.at_s - sight.last.at_s) + slack_ug(reading.division_ug)
    return rise_ug > most_ug


def may_be_zeroed(sight: Sight, reading: Reading) -> bool:
    """Whether less than nothing is shown, or at once less than half of what was: zero may have
    been pressed upon a cup, also as it comes back. Where it was lifted the pan is seen next."""
    if below_zero(reading):
        return True
    if sight.following or sight.last is None:
        return False
    fell_ug = sight.last.mass_ug - reading.mass_ug
    much_ug = max(500_000, 3 * reading.division_ug)
    return fell_ug > much_ug and 2 * reading.mass_ug < sight.last.mass_ug


def rose(sight: Sight, reading: Reading) -> Literal["", "cup", "zero"]:
    """A cup is seen on its way, even by a slow scale; a press of zero shows zero at once."""
    last, lowest_ug = sight.last, sight.lowest_ug
    if sight.following or below_zero(reading):
        return ""
    if last is None or lowest_ug is None or not below_zero(last):
        return sight.rose
    on_its_way = last.mass_ug > (1 - ON_ITS_WAY) * lowest_ug
    near_zero = abs(reading.mass_ug) <= empty_ug(reading.division_ug)
    return "zero" if near_zero and not on_its_way else "cup"


def see_pan(sight: Sight, still: Rest | None) -> Sight:
    """Remember what the empty pan shows, as long as no cup is being followed. Less than
    nothing is that of a scale which was tared or zeroed with a cup on it, and will be zeroed;
    more than before may be a light cup on its way, until it has stood."""
    least_ug = lightest_cup_ug(sight.division_ug)
    if sight.following or still is None or still.mass_ug >= least_ug:
        return sight
    if still.mass_ug <= -least_ug:
        return sight._replace(pan_zero_ug=None)
    rest, known_ug = sight.all_rests[-1], sight.pan_zero_ug
    if known_ug is not None and rest.mass_ug > known_ug and not rest.stands:
        return sight
    return sight._replace(pan_zero_ug=rest.stood_ug[0])


def _within_a_stream(sight: Sight, reading: Reading) -> bool:
    """Whether so little is shown that a stream may have brought all of it since the reading
    before, upon a cup that the scale took for nothing meanwhile."""
    assert sight.last is not None
    most_ug = FASTEST_UG_S * (reading.at_s - sight.last.at_s) + slack_ug(reading.division_ug)
    return abs(reading.mass_ug) <= most_ug
