"""What comes upon the scale, or goes off it, and is nothing that was poured.

Rules:

1. Until a component has been poured, all that lies on the scale is the cup's: what comes in
   one leap faster than any stream and stays, or what is gone and was never poured, has its
   tare taken anew, and is never content. No scale can tell it from a scoop of resin: where it
   came, the batch is doubted too.
2. Where a stream ran on upon it, or it was less sudden than that but as sudden as the cup
   itself, nobody can tell them apart: the batch is doubted.
3. Once something has been poured, what leaps into the cup and stays is of no jug: the batch
   is doubted. So is what comes while no stream is due, as suddenly as the cup itself did: as a
   jug drips out, or before its stream begins. What is soon gone again is a hand, or a knock.
"""

from __future__ import annotations

from mixer.pour.approach import DISPLAY_S
from mixer.pour.draft import Draft
from mixer.pour.facts import Doubted, Resumed
from mixer.pour.leaps import COME_TO_STAY_S, Leap, Sudden, sudden
from mixer.pour.put_down import delay_s
from mixer.pour.rests import Rest
from mixer.pour.sight import Sight, empty_ug, fall_ug, lightest_cup_ug
from mixer.pour.standing import settled
from mixer.pour.state import Pour, Trouble
from mixer.pour.trust import trouble_now
from mixer.pour.turns import MUCH_UG, tare_anew

RESTED_S = 1.0
LEAPT = "something came into the cup faster than any jug pours: it is nothing that was called"
LAID_IN = "something came all at once, as if laid into the cup: it may be nothing that was called"
AS_IF_PUT = "what came first may have been put upon the scale, and not poured"
MAY_BE_RESIN = "what came first, all at once, was taken for a part of the cup; it may be resin"
AT_ONCE_MS = 300  # a press of a key on the scale is shown so soon
MOST = 1.25  # times what leapt: more than that was poured upon it


def is_fresh(pour: Pour) -> bool:
    """Whether no component was ever poured and settled: the first one is asked for."""
    called = pour.called
    first = called is not None and called.component == 0 and not called.addition
    return first and pour.stage == "pour" and not any(pour.poured)


def is_more(pour: Pour, sight: Sight, now_s: float) -> bool:
    """Whether something has just leapt upon an empty cup, and is not weighed with it yet."""
    leap, called = sight.leap, pour.called
    if leap is None or called is None or not is_fresh(pour) or sight.last is None:
        return False
    if leap.is_stream or leap.laid:
        return False
    base_ug, least_ug = called.base_ug - pour.shift_ug, fall_ug(sight.division_ug)
    was_empty = leap.from_ug - base_ug <= least_ug
    more = sight.last.mass_ug - base_ug > least_ug
    return was_empty and more and now_s - leap.at_s < COME_TO_STAY_S


def notice(draft: Draft) -> bool:
    """What leapt upon the scale; true while nothing may be taken for a stream."""
    pour, sight = draft.pour, draft.sight
    if pour.called is None or pour.parting is not None:
        return False
    rest = settled(pour, sight, draft.at_s) if sight.resting else None
    rested = rest if rest is not None and rest.at_s - rest.since_s >= RESTED_S else None
    if is_more(pour, sight, draft.at_s):
        if rested is None or not _is_all(draft, rested):
            return True
        _take_with_the_cup(draft, rested)
        return False
    leap = None if sight.leap and sight.leap.is_stream else sight.leap
    if leap is not None and leap.laid:
        leap = _laid_in(draft, leap)
    if leap is not None and draft.at_s - leap.at_s >= COME_TO_STAY_S and _is_content(draft):
        _doubt(draft, LAID_IN if leap.laid else LEAPT)
    elif leap is None and rested is not None and is_fresh(pour):
        _look_how_sudden(draft, rested)
    return False


def _laid_in(draft: Draft, leap: Leap) -> Leap | None:
    """This leap, if it counts. How sudden the first was that came upon the empty cup, is looked
    at by itself; and a jug that has begun, or of which a little is asked, may give it in one
    short stream."""
    called = draft.pour.called
    assert called is not None
    away_ug = abs(leap.from_ug + draft.pour.shift_ug - called.base_ug)
    is_first = away_ug <= fall_ug(draft.sight.division_ug)
    if is_first and is_fresh(draft.pour):
        return None
    is_much = not called.addition and called.target_ug - called.before_ug >= MUCH_UG
    return leap if not leap.first or (is_first and is_much) else None


def _is_all(draft: Draft, rest: Rest) -> bool:
    """Whether what rests there is what leapt, and no more."""
    leap, called = draft.sight.leap, draft.pour.called
    assert leap is not None
    assert called is not None
    more_ug = rest.mass_ug + draft.pour.shift_ug - called.base_ug
    step = draft.sight.division_ug
    if fall_ug(step) < more_ug <= MOST * leap.gained_ug + fall_ug(step):
        return True
    how = _how_sudden(draft, called.base_ug - draft.pour.shift_ug, more_ug)
    return how is not None and how.at_once


def _is_content(draft: Draft) -> bool:
    """Whether what leapt is counted with what is in the cup: not with its tare, and not a cup
    that came back."""
    leap, tared = draft.sight.leap, draft.pour.tared
    assert leap is not None
    assert tared is not None
    least_ug = fall_ug(draft.sight.division_ug)
    empty_ug = tared.tare_ug - draft.pour.shift_ug
    was_there = leap.from_ug > empty_ug - least_ug
    return was_there and leap.from_ug + leap.gained_ug > empty_ug + least_ug


def _look_how_sudden(draft: Draft, rest: Rest) -> None:
    """Of the first that came, from the tare to where it rests: a thing that is put down is as
    sudden as the cup was, which a slow display shows no faster than a stream."""
    called = draft.pour.called
    assert called is not None
    from_ug = called.base_ug - draft.pour.shift_ug
    rise_ug = rest.mass_ug - from_ug
    if rise_ug < lightest_cup_ug(draft.sight.division_ug):
        return
    how = _how_sudden(draft, from_ug, rise_ug)
    if how is not None and how.at_once and how.no_stream:
        _take_with_the_cup(draft, rest)
    elif how is not None and how.at_once:
        _doubt(draft, AS_IF_PUT)


def _how_sudden(draft: Draft, from_ug: int, rise_ug: int) -> Sudden | None:
    tared, sight = draft.pour.tared, draft.sight
    assert tared is not None
    step, rests = sight.division_ug, sight.rests
    if len(rests) < 2 or abs(rests[-2].mass_ug - from_ug) > 2 * step:
        return None  # it did not come upon what had been tared
    least_ug = from_ug - fall_ug(step)
    if any(reading.mass_ug < least_ug for reading in sight.recent):
        return None  # the cup was off
    display_s = delay_s(sight.rise, tared.tare_ug) or DISPLAY_S
    return sudden(sight.recent, from_ug, rise_ug, display_s)


def _take_with_the_cup(draft: Draft, rest: Rest) -> None:
    tare_anew(draft, rest)
    _doubt(draft, MAY_BE_RESIN)


def _doubt(draft: Draft, why: str) -> None:
    if why not in draft.pour.doubts:
        draft.add(Doubted(draft.at_ms, why))


def go_on(draft: Draft) -> bool:
    """Whether the pour goes on from a trouble with a cup whose tare is taken anew."""
    trouble, rest = draft.pour.trouble, draft.sight.rest
    if trouble is None or rest is None or not draft.sight.resting:
        return False
    if rest.at_s * 1000 < trouble.at_ms or trouble_now(draft.pour, draft.sight, draft.at_s):
        return False
    if not _is_lighter_cup(draft, trouble, rest):
        return False
    draft.add(Resumed(draft.at_ms, trouble.reason, "tared-anew", 0))
    tare_anew(draft, rest)
    return True


def _is_lighter_cup(draft: Draft, trouble: Trouble, rest: Rest) -> bool:
    """Whether what rests there, less than was tared, is the cup all the same: nothing was
    poured, and something that lay on it was taken off, or it was put back without that."""
    pour, sight, tared = draft.pour, draft.sight, draft.pour.tared
    step, lowest_ug = sight.division_ug, sight.lowest_ug
    if trouble.reason == "untared" and not trouble.missed and not pour.begun:
        nothing_ran = rest.since_s * 1000 <= trouble.at_ms + AT_ONCE_MS
        empty = pour.called is not None and abs(trouble.gross_ug - pour.called.base_ug) <= step
        cup = rest.stands and rest.mass_ug >= lightest_cup_ug(step)
        return is_fresh(pour) and empty and nothing_ran and cup
    heard = trouble.reason == "lifted" and not trouble.missed
    if not heard or pour.begun or not is_fresh(pour) or tared is None or lowest_ug is None:
        return False
    least_ug = lightest_cup_ug(step)
    lighter = least_ug <= rest.mass_ug - (tared.zero_ug or 0)
    if not lighter or rest.mass_ug + pour.shift_ug >= tared.tare_ug or not rest.stands:
        return False
    if lowest_ug >= rest.mass_ug - least_ug / 2:  # it only fell
        return True
    before = sight.rests[-2] if len(sight.rests) > 1 else None
    seen = before is not None and before.at_s * 1000 >= trouble.at_ms
    return (
        before is not None
        and seen
        and before.at_s >= sight.zero_s
        and abs(before.mass_ug - (tared.zero_ug or 0)) <= empty_ug(step)
        and sight.leapt_ug >= 0.8 * (rest.mass_ug - before.mass_ug)
    )
