"""What there is to be done about a weight that is not followed: the cue and its sentence.

Pure. A cue is what the builder is to do now: the cup is asked for once the empty pan has shown
what makes it believed (:func:`mixer.pour.trust.rests_at_zero`), and not before.
"""

from __future__ import annotations

from mixer.pour.sight import Sight, below_zero, empty_ug, lightest_cup_ug
from mixer.pour.standing import RESTLESS_S
from mixer.pour.state import Pour
from mixer.pour.trust import rests_at_zero, told_s, trouble_now
from mixer.pour.words import (
    CUP_IS_OFF,
    CUP_OFF,
    CUT_OFF_CUP,
    GOES_ON,
    HELD,
    KEEP_OFF,
    LESS_THAN_NOTHING,
    NOT_THE_SAME,
    ON_TRUST_SOON,
    PAN_NOT_ZERO,
    PAN_RESTLESS,
    UNSETTLED,
    pan_otherwise,
)

LIFT_FIRST_S = 5.0  # by then who was told to lift a cup that is there has done so (our choice)
ZERO_FIRST_S = 30.0  # who has not zeroed the scale by then puts the cup back all the same (ours)


def told(pour: Pour, sight: Sight, now_s: float) -> tuple[str, str]:
    """The cue once no jug is open, and the sentence; of a batch that was cut off it is said
    until it goes on."""
    cue, say = _told(pour, sight, now_s)
    if pour.trouble is not None and pour.trouble.restarted and say != CUT_OFF_CUP:
        say = f"{GOES_ON} {say}"
    return cue, say


def _told(pour: Pour, sight: Sight, now_s: float) -> tuple[str, str]:
    reason = trouble_now(pour, sight, now_s)
    if reason is not None:
        return "wait", HELD[reason]
    if sight.last is not None and below_zero(sight.last):
        assert pour.trouble is not None
        waited_s = now_s - told_s(pour.trouble, sight)
        return ("clear" if waited_s < ZERO_FIRST_S else "place"), LESS_THAN_NOTHING
    if sight.rose == "cup" and pour.terms.hands_free:
        return "wait", ON_TRUST_SOON
    if sight.rose != "cup" and is_empty(pour, sight):
        return _pan_is_empty(pour, sight, now_s)
    if sight.recent_rest(now_s):
        return "lift", NOT_THE_SAME
    return "wait", UNSETTLED


def _pan_is_empty(pour: Pour, sight: Sight, now_s: float) -> tuple[str, str]:
    """The cup is asked for once the pan shows what makes it believed. A zero that came unseen
    may be of a scale that woke up with the cup on it: so whatever is there is lifted first."""
    trouble = pour.trouble
    assert trouble is not None
    at_zero = rests_at_zero(pour, sight)
    cup_off = CUP_IS_OFF if is_off(pour, sight) else CUP_OFF
    cup_off = CUT_OFF_CUP if trouble.restarted else cup_off
    heard_s = max(sight.zero_s, sight.since_s or 0.0)
    if not _came_down(pour, sight) and now_s - heard_s < LIFT_FIRST_S:
        say = cup_off if trouble.restarted else NOT_THE_SAME
        return ("lift", say) if sight.recent_rest(now_s) else ("wait", UNSETTLED)
    if at_zero:
        return "place", cup_off
    if sight.resting:
        return "clear", _not_its_zero(pour, sight)
    rested_s = max(told_s(trouble, sight), sight.zero_s, sight.rest.at_s if sight.rest else 0.0)
    return ("place", PAN_RESTLESS) if now_s - rested_s > RESTLESS_S else ("wait", KEEP_OFF)


def _not_its_zero(pour: Pour, sight: Sight) -> str:
    zero_ug = pour.tared.zero_ug if pour.tared is not None else None
    if zero_ug is not None and abs(zero_ug) > empty_ug(sight.division_ug):
        return pan_otherwise(zero_ug, sight.division_ug)
    return PAN_NOT_ZERO


def _came_down(pour: Pour, sight: Sight) -> bool:
    """Whether the cup was seen to go, or zero to be pressed upon it."""
    if sight.rose == "zero" or sight.most_ug is None or pour.tared is None:
        return True
    return sight.most_ug - (pour.tared.zero_ug or 0) >= lightest_cup_ug(sight.division_ug)


def is_off(pour: Pour, sight: Sight) -> bool:
    """Whether the empty pan is taken for what it shows: no reading was missing since the cup was
    there. Else the scale may have woken up with the cup on it."""
    trouble = pour.trouble
    heard = trouble is not None and trouble.reason == "lifted" and not trouble.missed
    return heard and is_empty(pour, sight)


def is_empty(pour: Pour, sight: Sight) -> bool:
    """Whether the pan shows what it did before the cup stood there."""
    if sight.last is None or pour.tared is None:
        return False
    shown_ug = sight.last.mass_ug - (pour.tared.zero_ug or 0)
    return abs(shown_ug) < lightest_cup_ug(sight.division_ug)
