"""The last of a component whose band is narrow, poured by the figure.

Pure, and volatile: losing it costs a top-up. A gentle stream of 0.5 to 1.5 g/s that is stopped
by a hand whose reaction varies by 0.05 s, upon a display that is late, scatters by 0.1 g and
more: where the band leaves no more than 0.28 g either side, too many miss it. A hand that goes
by the figure slows down as little is left, to less than any gentle stream, so that what a short
cue brings is small and nearly the same each time. So the gentle stream is stopped well short of
the band, and the rest is asked for by ``trickle``, for a time, from one rest to the next:

    brought = drips + flow * (time - OPENING_S)

What each of them brought tells the drips of this jug for the next. Those of a cold jug are wider
than the band: then two cues are left room for, of which the first is as short as it can be sure
to be followed, and tells what will drip upon the second.
"""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

from mixer.pour.approach import NOT_SO_GENTLE_UG_S, OPENING_S, PULSE_LEAST_S, Habits

#: From limit to limit: so wide that a gentle stream lands there in 99 of 100, and that a short
#: one does that ends before it is shown (as the project's closed loop found them).
NARROW_UG, ROOMY_UG = 550_000, 900_000
MOST_LEFT_UG = 2_500_000  # what is more is no little (our choice)
SURE_S = 0.4  # a cue of this length is seen, and acted on, before it is over
#: A hand that goes by the figure, on the project's bench table: to so much of what is left a
#: second, not under the next.
SLOWS_PER_S, SLOWEST_UG_S = 0.45, 350_000
#: What `stop` leaves beside it, as it scatters (our choice): of one cue, and of two.
BESIDE_ONE_UG, BESIDE_TWO_UG = 250_000, 350_000


class Little(NamedTuple):
    """How the last is going: whether it is asked for by the figure now; from which net and at
    which figure left the newest cue began, and how long it stood; and what drips upon a cue, as
    far as they told."""

    on: bool = False
    from_ug: int = 0
    left_ug: int = 0
    lasted_s: float = 0.0
    drip_ug: int | None = None


def is_narrow(band_ug: int) -> bool:
    """Whether a gentle stream would miss a band of this width too often.

    >>> is_narrow(280_000), is_narrow(560_000)
    (True, False)
    """
    return band_ug < NARROW_UG


def is_little(left_ug: int, band_ug: int) -> bool:
    """Whether so much that is left is to be poured by the figure.

    >>> is_little(1_700_000, 640_000), is_little(1_700_000, 900_000), is_little(2_600_000, 280_000)
    (True, False, False)
    """
    return left_ug <= MOST_LEFT_UG and band_ug < ROOMY_UG


def is_wet(habits: Habits, band_ug: int) -> bool:
    """Whether what drips upon a cue takes most of the band: each is then waited for to the end.

    >>> is_wet(Habits(drip_ug=100_000), 280_000), is_wet(Habits(drip_ug=600_000), 280_000)
    (False, True)
    """
    return 5 * _least_ug(habits) > 4 * band_ug


def to_leave_ug(habits: Habits, band_ug: int) -> int:
    """What `stop` of the gentle stream is to leave for it: one cue, or two where the drips of one
    are more than the band is wide and two are not too much to be poured so.

    >>> to_leave_ug(Habits(drip_ug=100_000), 280_000), to_leave_ug(Habits(drip_ug=600_000), 280_000)
    (444500, 1739000)
    """
    least_ug = _least_ug(habits)
    two_ug = 2 * least_ug + BESIDE_TWO_UG
    if least_ug > band_ug and two_ug < MOST_LEFT_UG:
        return round(two_ug)
    return round(least_ug + BESIDE_ONE_UG)


def begun(little: Little, habits: Habits, net_ug: int, left_ug: int, division_ug: int) -> Little:
    """One more cue, from this net; what the one before brought tells what drips upon one."""
    came_ug, drip_ug = net_ug - little.from_ug, little.drip_ug
    if little.lasted_s and came_ug > max(3 * division_ug, habits.drip_ug / 2):
        streamed_ug = _flow_ug_s(little.left_ug) * max(0.0, little.lasted_s - OPENING_S)
        drip_ug = max(0, round(came_ug - streamed_ug))
    return Little(True, net_ug, left_ug, 0.0, drip_ug)


def cue_s(little: Little, habits: Habits, low_ug: int, high_ug: int) -> float:
    """For how long `trickle` is to stand that is to bring ``little.left_ug``, and may bring what is
    between the two limits (less than what lay there).

    Where nothing was told yet of a jug that drips little, it is no longer than a hand may pour
    that pours gently and no more; what is then short is for the next.

    >>> warm, cold = Habits(drip_ug=100_000), Habits(drip_ug=600_000)
    >>> cue = Little(True, 0, 450_000)
    >>> round(cue_s(cue, warm, 310_000, 590_000), 2)
    0.46
    >>> cue = Little(True, 0, 1_700_000)
    >>> cue_s(cue, cold, 1_560_000, 1_840_000)
    0.4
    """
    dripped = little.drip_ug is not None
    if little.drip_ug is not None:
        habits = replace(habits, drip_ug=(habits.drip_ug + little.drip_ug) // 2)
    least_ug, wide = _least_ug(habits), high_ug - low_ug
    if least_ug > wide and little.left_ug > 2 * least_ug:
        return SURE_S
    flow = _flow_ug_s(little.left_ug)
    time_s = (little.left_ug - habits.drip_ug) / flow
    if not dripped and least_ug <= wide:
        time_s = min(time_s, (high_ug - habits.drip_ug) / max(NOT_SO_GENTLE_UG_S, flow))
    return max(PULSE_LEAST_S, time_s + OPENING_S)


def _flow_ug_s(left_ug: float) -> float:
    return max(SLOWEST_UG_S, SLOWS_PER_S * left_ug)


def _least_ug(habits: Habits) -> float:
    """What a cue brings that is as short as it can be sure to be followed."""
    return habits.drip_ug + SLOWEST_UG_S * (SURE_S - OPENING_S)
