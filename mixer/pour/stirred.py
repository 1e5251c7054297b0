"""What comes into the cup while it is stirred where it stands. Nothing is weighed then.

A stick, a hand and a second cup may weigh anything, and cast no doubt. What rises from the
settled weight without a fall, for longer than a thing that is put down, and then rests, was
poured: the batch is doubted. What rests there too much otherwise is only said; but where the
program was gone meanwhile, and it is still there at the end, it may have been poured then.
"""

from __future__ import annotations

from mixer.pour import losses
from mixer.pour.approach import DISPLAY_S
from mixer.pour.draft import Draft
from mixer.pour.facts import Doubted
from mixer.pour.put_down import delay_s
from mixer.pour.sight import Sight
from mixer.pour.state import Pour
from mixer.pour.trust import LATE_DRIPS_UG
from mixer.pour.words import more_in_stir

CAME_IN = "something was poured into the cup while it was stirred"
UNSEEN = "more rested in the cup than was weighed into it, after the program was gone in the stir"
RESTED_S = 1.0
PUT_IN_S = 1.0  # to put a thing into the cup (our choice)
SETTLES = 4  # times the display's delay, until what was put down is shown to a division


def watch(draft: Draft) -> None:
    """What was poured in, by the rest that stands now."""
    pour, sight = draft.pour, draft.sight
    if CAME_IN in pour.doubts or more_ug(pour, sight) <= 0 or len(sight.rests) < 2:
        return
    before, rest = sight.rests[-2:]
    assert pour.tared is not None
    known = before.at_s >= max(sight.sank_s, sight.zero_s)  # and no reading was missing since
    little_ug = losses.little_ug(pour, sight.division_ug)
    was_settled = -little_ug <= before.mass_ug - _settled_ug(pour) <= LATE_DRIPS_UG + little_ug
    display_s = delay_s(sight.rise, pour.tared.tare_ug) or DISPLAY_S
    if known and was_settled and rest.since_s - before.at_s > SETTLES * display_s + PUT_IN_S:
        draft.add(Doubted(draft.at_ms, CAME_IN))


def end(draft: Draft) -> None:
    """The stir is over: a doubt where it was cut off, and more rests there that none saw come."""
    pour, sight = draft.pour, draft.sight
    if _cut_off(pour, sight) and _rested_more_ug(pour, sight) > 0 and CAME_IN not in pour.doubts:
        draft.add(Doubted(draft.at_ms, UNSEEN))


def more_ug(pour: Pour, sight: Sight) -> int:
    """How much more than was weighed into it, drips and all, rests there; 0: nothing, or it
    does not rest. It may be a second cup that is heavier."""
    return _rested_more_ug(pour, sight) if sight.resting else 0


def _rested_more_ug(pour: Pour, sight: Sight) -> int:
    """The same when it rested last."""
    rest = sight.rest
    if rest is None or pour.tared is None or pour.moved or pour.weighing is not None:
        return 0
    more = rest.mass_ug - _settled_ug(pour)
    much = more > LATE_DRIPS_UG + losses.little_ug(pour, sight.division_ug)
    return more if much and rest.at_s - rest.since_s >= RESTED_S else 0


def told(pour: Pour, sight: Sight) -> str:
    """What is said of it; empty where nothing is."""
    more = more_ug(pour, sight)
    return f" {more_in_stir(more, sight.division_ug, _cut_off(pour, sight))}" if more > 0 else ""


def _cut_off(pour: Pour, sight: Sight) -> bool:
    """Whether the program was gone meanwhile."""
    assert pour.stir_from_ms is not None
    return sight.since_s is not None and sight.since_s * 1000 > pour.stir_from_ms


def _settled_ug(pour: Pour) -> int:
    """What the scale shows of the cup with all that was weighed into it."""
    assert pour.tared is not None
    return pour.tared.tare_ug + sum(pour.amounts_ug) - pour.shift_ug
