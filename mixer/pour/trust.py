"""Whether the weight can be followed, and when a pour that is held may go on.

Rules:

1. Trouble is a fault of the scale, silence, another unit, a tare pressed on it, or a
   fall below what is in the cup. It holds the pour at the last weight that was known.
   A frame that arrived damaged is none, as long as whole ones come too.
2. The pour goes on when the weight is continuous with that one: the same but for drips,
   or after a short silence what the running stream had made of it; or when the empty pan
   has shown zero since and the cup came back faster than any stream, or is the same.
   A cup that is then heavier than any stream can have made it is unproven from there.
   Continuous is also what rested before a rise that is gone again: a hand that leant on the cup
   for a moment looks like a stream, and what it pressed was never in it.
   A weight that has fallen meanwhile is continuous only if it came back in one piece,
   and after a gap in a stream only if it is more than that stream can have brought:
   a stream into a cup that was taken for zero may end where the weight once was. From less
   than nothing it never is: without the cup the scale has shown that it took it for zero.
3. Otherwise it waits: for ``go``, or hands free for a while, but never upon a pan that
   the cup is seen to be off. Then it goes on, and the batch is unproven. It must never be
   called anything better after that.
"""

from __future__ import annotations

from dataclasses import replace

from mixer.pour.draft import Draft
from mixer.pour.facts import Doubted, Held, Resumed
from mixer.pour.leaps import FASTEST_UG_S
from mixer.pour.rests import Rest
from mixer.pour.sight import (
    DRIP_UG_S,
    SILENT_AFTER_S,
    Sight,
    display_late_s,
    empty_ug,
    fall_ug,
    lightest_cup_ug,
)
from mixer.pour.state import Pour, Trouble
from mixer.pour.words import FAULT_REASON, HELD

LATE_DRIPS_UG = 600_000  # 0.6 g in 8 s from a cold jug (bench table of the project)
SHORT_GAP_S = 4.0  # a stream that is let run on for so long is still that stream
SPILLED = "the weight fell in the stream, and came back no faster than it: some may be gone"
RUN_ON_S = 1.5  # how long a stream may run on after it was said to stop
ONE_PIECE = 0.8  # of the way at once is all of it: filters are slow at both ends (our choice)
DUE = 0.9  # of what a display is late by, as a cup that was put down told (our choice)
ANOTHER = "the cup was lifted out of the first stream: what came back may be another, heavier one"
ANOTHER_MEANWHILE = (
    "the cup was lifted after the program was cut off in the first stream: what came back may be "
    "another, heavier one"
)
OTHER_CUP_UG = 10_000_000  # by so much two cups of a shelf may differ (our choice)
ANY_CUP_UG = 30_000_000  # and any two, where nobody looked for a while (our choice)
ON_TRUST_AFTER_S = 30.0
ON_TRUST_STANDS_S = 10.0  # who lifts the cup late is not overtaken


def trouble_now(pour: Pour, sight: Sight, now_s: float) -> str | None:
    """Why the weight cannot be followed at this moment, or ``None``."""
    tared = pour.tared
    fault = sight.fault_now(now_s)
    if fault is not None:
        return FAULT_REASON[fault.kind]
    if sight.missed or sight.silent(now_s):
        return "silent"
    if sight.last is None or tared is None:
        return None
    if sight.last.unit != tared.unit:
        return "unit"
    if sight.last.scale_tared and not tared.scale_tared:
        return "tared"
    # Once it was cleared nothing brings it back: what stands there then is all there is.
    if tared.scale_tared and not sight.last.scale_tared and not is_untared(pour):
        return "untared"
    level = sight.level_ug
    if sight.zeroed:
        return "lifted"
    if level is not None and sight.upper_ug < level - fall_ug(sight.division_ug):
        return "lifted"
    return None


def is_untared(pour: Pour) -> bool:
    """Whether it is known that a tare of the scale's own is gone, and the pour waits for it."""
    return pour.trouble is not None and pour.trouble.reason == "untared"


def watch(draft: Draft) -> None:
    reason = trouble_now(draft.pour, draft.sight, draft.at_s)
    trouble = draft.pour.trouble
    if reason is not None:
        if trouble is None or (trouble.reason != reason and reason != "lifted"):
            pouring = _may_pour(draft.sight, _heard_s(draft))
            draft.add(Held(draft.at_ms, reason, _trusted(draft), HELD[reason], pouring))
        return
    if trouble is None:
        if SPILLED not in draft.pour.doubts and _sank_in_stream(draft.pour, draft.sight):
            draft.add(Doubted(draft.at_ms, SPILLED))
        return
    rest = draft.sight.rest if draft.sight.resting else None
    if rest is None or rest.at_s * 1000 < trouble.at_ms:
        return
    leant_on = was_leant_on(draft, trouble)
    if SPILLED not in draft.pour.doubts and not leant_on and _is_spilled(draft, trouble):
        draft.add(Doubted(draft.at_ms, SPILLED))
    _try_resume(draft, rest, leant_on)


def was_leant_on(draft: Draft, trouble: Trouble) -> bool:
    """Whether it weighs what it did at rest before the rise that was followed last: what is gone
    again to the division was no stream, and nothing of what was there before is missing."""
    pour, sight, rest = draft.pour, draft.sight, draft.sight.rest
    if trouble.reason != "lifted" or trouble.missed or pour.parting is not None or rest is None:
        return False
    assert pour.tared is not None
    is_cup = rest.mass_ug + pour.shift_ug >= pour.tared.tare_ug - sight.division_ug
    return is_cup and _rested_at(sight, rest.mass_ug, trouble.at_ms / 1000)


def _is_spilled(draft: Draft, trouble: Trouble) -> bool:
    """Whether some of what has more than one component in it is gone, by a fall that is seen in
    its stream, upon a cup that stayed where it was: what the stream brought since may make up
    for it. What a hand took off the scale for a moment comes back at once."""
    pour, sight = draft.pour, draft.sight
    low, shown = sight.lowest_ug, sight.followed_ug
    if trouble.reason != "lifted" or trouble.missed or not trouble.pouring or low is None:
        return False
    if pour.tared is None or pour.parting is not None or not any(pour.poured) or shown is None:
        return False
    fell = max(shown, trouble.gross_ug - pour.shift_ug) - low
    stayed = low + pour.shift_ug >= pour.tared.tare_ug
    return stayed and fell > fall_ug(sight.division_ug) and sight.leapt_ug < ONE_PIECE * fell


def _sank_in_stream(pour: Pour, sight: Sight) -> bool:
    """The same where it did not fall so far that the cup was taken to be touched: two readings
    are less than a stream had shown a moment before, and less than the cup was known to weigh,
    and the second, as the display was renewed, goes on from the first. What lay on it for a
    moment is not missed, nor what a hand pressed, where it shows what rested before."""
    recent, level = sight.recent, sight.level_ug
    if level is None or not any(pour.poured) or not pour.begun or pour.parting is not None:
        return False
    if sight.upper_ug >= level:
        return False
    now, renewed_s = recent[-1], sight.renewal.every_s or 0.0
    earlier = (r for r in reversed(recent[:-1]) if now.at_s - r.at_s >= renewed_s)
    before = next(earlier, now)
    sank = max([r.mass_ug for r in recent]) - sight.upper_ug
    fell = now.mass_ug >= before.mass_ug and sank > fall_ug(sight.division_ug)
    return fell and not _rested_at(sight, sight.upper_ug, now.at_s)


def _rested_at(sight: Sight, mass_ug: int, before_s: float) -> bool:
    """Whether it was at rest with this weight, to the division, before that time: the reading
    that falls is seen to have fallen by the next one, which comes before a gap."""
    return any(
        rest.since_s < before_s - SILENT_AFTER_S
        and abs(rest.mass_ug - mass_ug) <= sight.division_ug
        for rest in sight.rests
    )


def _heard_s(draft: Draft) -> float:
    """When the scale was last heard; before a first trouble, with a whole reading."""
    sight = draft.sight
    if draft.pour.trouble is not None and sight.fault is not None:
        return sight.fault.at_s
    return sight.last.at_s if sight.last else draft.at_s


def _may_pour(sight: Sight, heard_s: float) -> bool:
    """Whether a stream may have been running then: one was seen since the last rest, the
    weight did not rest, or the builder had been told to pour a moment before."""
    told_s = sight.told_to_pour_s
    told = told_s is not None and heard_s - told_s < RUN_ON_S
    return told or not sight.resting or sight.quiet_since_s is None


def _trusted(draft: Draft) -> int:
    """The last weight that was followed; in a trouble upon a trouble, that of the first."""
    if draft.pour.trouble is not None:
        return draft.pour.trouble.gross_ug
    level = draft.sight.level_ug
    called, parting = draft.pour.called, draft.pour.parting
    if level is not None:
        return level + draft.pour.shift_ug
    if parting is not None:  # it is being stirred: what is shown is the stick's too
        return parting.gross_ug
    return called.base_ug if called else 0


def _try_resume(draft: Draft, rest: Rest, leant_on: bool) -> None:
    pour, trouble = draft.pour, draft.pour.trouble
    assert trouble is not None
    gross = rest.mass_ug + pour.shift_ug
    known_ug = rest.mass_ug if leant_on else trouble.gross_ug - pour.shift_ug
    change = rest.mass_ug - known_ug
    step = draft.sight.division_ug
    slack = max(300_000, 3 * step)
    allowed: float = LATE_DRIPS_UG
    if not trouble.lifted and not trouble.missed:  # what it weighs was not shown
        allowed = FASTEST_UG_S * RUN_ON_S
    if trouble.reason == "untared":
        if pour.terms.hands_free and _waited_long(draft, rest, slack):
            go_on_trust(draft, rest)
        return
    continuous = -slack <= change <= slack + allowed or _short_gap(draft, trouble, change, slack)
    anew = _poured_anew(draft, trouble) or _crept_back(draft, rest, known_ug)
    anew = anew or draft.sight.rose == "cup"  # less than nothing without it: zero has moved
    if _is_taken_out(draft, gross, slack):
        continuous, anew = True, False
    if continuous and not anew and not _dirty_pan(draft, trouble):
        how = "empty-seen" if leant_on and _empty_seen(draft, rest, slack) else "continuous"
        _resume(draft, Resumed(draft.at_ms, trouble.reason, how, 0))
        why = "" if leant_on else _may_be_another(pour, draft.sight, trouble, change, slack)
        if why:
            draft.add(Doubted(draft.at_ms, why))
    elif _empty_seen(draft, rest, slack) and not _must_be_seen_again(draft, rest, slack):
        _resume_from_empty(draft, change, slack)
    elif pour.terms.hands_free and _waited_long(draft, rest, slack):
        go_on_trust(draft, rest)


def _waited_long(draft: Draft, rest: Rest, slack_ug: int) -> bool:
    """Whether nobody came, and what stands there has stood for a while. Where it is less than
    the empty cup the cup is off, but for a scale that took it for zero: such a one has shown
    less than nothing when the cup was lifted, and came up from it as a cup does."""
    pour, trouble = draft.pour, draft.pour.trouble
    assert trouble is not None
    assert pour.tared is not None
    least_ug = lightest_cup_ug(draft.sight.division_ug)
    if draft.sight.rose != "cup" and rest.mass_ug + pour.shift_ug < pour.tared.tare_ug - slack_ug:
        return False
    if rest.mass_ug <= -least_ug:
        return False
    stood_s = rest.at_s - rest.since_s
    waited_s = draft.at_s - told_s(trouble, draft.sight)
    return waited_s >= ON_TRUST_AFTER_S and stood_s >= ON_TRUST_STANDS_S


def _is_taken_out(draft: Draft, gross_ug: int, slack_ug: int) -> bool:
    """Whether it is less because a part of it is being taken out: the scale was heard all
    along, and more than the empty cup is there."""
    pour, trouble = draft.pour, draft.pour.trouble
    assert trouble is not None
    if pour.parting is None or pour.tared is None or trouble.missed or trouble.reason != "lifted":
        return False
    return pour.tared.tare_ug < gross_ug <= trouble.gross_ug + slack_ug


def told_s(trouble: Trouble, sight: Sight) -> float:
    """Since when the builder has been told of this trouble: not while the program was gone."""
    return max(trouble.at_ms / 1000, sight.since_s or 0.0)


def _short_gap(draft: Draft, trouble: Trouble, change_ug: int, slack_ug: int) -> bool:
    """Whether the first weight after a short silence was what a stream had made of the
    last one before it. All that came after it has been seen to come. Where none can have been
    running, no more than drips came meanwhile."""
    back = draft.sight.back
    if back is None or not trouble.missed or trouble.reason == "scale-error":
        return False
    gap_s = draft.sight.gap_s
    came_ug = back.mass_ug + draft.pour.shift_ug - trouble.gross_ug
    most_ug = slack_ug + (FASTEST_UG_S * gap_s if trouble.pouring else LATE_DRIPS_UG)
    return gap_s <= SHORT_GAP_S and -slack_ug <= came_ug <= most_ug and change_ug >= -slack_ug


def _poured_anew(draft: Draft, trouble: Trouble) -> bool:
    """Whether what came back after a gap may be no more than the stream that ran on, upon
    a cup that the scale took for zero meanwhile: a light cup is soon outweighed so."""
    back = draft.sight.back
    if not (trouble.pouring or trouble.restarted) or back is None or not trouble.missed:
        return False
    return back.mass_ug <= FASTEST_UG_S * min(draft.sight.gap_s, SILENT_AFTER_S + RUN_ON_S)


def _resume_from_empty(draft: Draft, change_ug: int, slack_ug: int) -> None:
    pour, trouble = draft.pour, draft.pour.trouble
    assert trouble is not None
    lost = change_ug < -slack_ug and any(pour.poured) and pour.parting is None
    most: float = slack_ug + LATE_DRIPS_UG + not_yet_counted(draft, trouble)
    if trouble.reason == "lifted" and not trouble.missed and not any(pour.poured):
        most += _unshown_ug(draft.sight, draft.sight.usual_s or 0.0)
    if trouble.missed and trouble.pouring:  # before the cup was lifted
        most += FASTEST_UG_S * min(draft.sight.gap_s, SILENT_AFTER_S + RUN_ON_S)
    how = "heavier" if change_ug > most else "empty-seen"
    half_s = (draft.sight.usual_s or 0.0) / 2  # a cup is lifted between two readings
    due_ug = not_yet_counted(draft, trouble) + DUE * _unshown_ug(draft.sight, half_s, ending=True)
    heard = trouble.reason == "lifted" and not trouble.missed and pour.parting is None
    if heard and any(pour.poured) and not lost and change_ug < due_ug - slack_ug:
        how = "lighter"  # than the stream that it was lifted out of had made it
    if lost and _was_never_there(pour, trouble, -change_ug, slack_ug):
        how, lost = "lighter", False
    if _resin_alone_is_less(draft, change_ug, slack_ug) and not _is_emptied(
        pour, trouble, change_ug, slack_ug
    ):
        how = "lighter"
    _resume(draft, Resumed(draft.at_ms, trouble.reason, how, -change_ug if lost else 0))
    why = _may_be_another(pour, draft.sight, trouble, change_ug, slack_ug)
    if how == "empty-seen" and why:
        draft.add(Doubted(draft.at_ms, why))


def _may_be_another(
    pour: Pour, sight: Sight, trouble: Trouble, change_ug: int, slack_ug: int
) -> str:
    """Why a cup that was lifted out of its first stream, and came back with no more than that
    can have brought, may as well be a heavier one with nothing in it; empty where it is not. So
    too, and of cups that differ more, where the program was gone before it was lifted: nobody
    saw that stream, nor which cup stood there then."""
    assert pour.tared is not None
    low_ug = sight.lowest_ug
    off = low_ug is not None and low_ug + pour.shift_ug < pour.tared.tare_ug - slack_ug
    ran = change_ug > slack_ug or (sight.flow_ug_s > DRIP_UG_S and not trouble.restarted)
    first = trouble.pouring and not any(pour.poured) and (pour.begun or trouble.restarted)
    most_ug = ANY_CUP_UG if trouble.restarted else OTHER_CUP_UG
    if not (off and ran and first and pour.net_ug(trouble.gross_ug) + change_ug <= most_ug):
        return ""
    return ANOTHER_MEANWHILE if trouble.restarted else ANOTHER


def _was_never_there(pour: Pour, trouble: Trouble, less_ug: int, slack_ug: int) -> bool:
    """Whether it is rather the jug's own weight that was wrong, by something that lay on the
    pan for a while: most of it is gone, and nothing of what was there before it."""
    weighed_ug = pour.net_ug(trouble.gross_ug)
    return pour.begun and weighed_ug / 2 < less_ug <= weighed_ug + slack_ug


def not_yet_counted(draft: Draft, trouble: Trouble) -> float:
    """What a stream had brought in the half second of which only the lower edge is trusted."""
    shown = draft.sight.followed_ug
    if shown is None:
        return 0.0
    return min(FASTEST_UG_S / 2, max(0, shown + draft.pour.shift_ug - trouble.gross_ug))


def _unshown_ug(sight: Sight, more_s: float, *, ending: bool = False) -> float:
    """What the display had still to show of the stream that the cup was lifted out of; at the
    least, where that stream was ``ending``."""
    late_s = display_late_s(sight)
    if late_s is None:
        return 0.0
    flow_ug_s = min(sight.flow_ug_s, sight.slope_ug_s) if ending else sight.flow_ug_s
    return min(float(FASTEST_UG_S), flow_ug_s) * (late_s + more_s)


def _empty_seen(draft: Draft, rest: Rest, slack_ug: int) -> bool:
    """Whether the pan has shown zero, empty, since the trouble, and a cup came after.

    A scale that wakes up loaded shows zero too, so zero alone is no proof: either the
    weight came faster than any stream, or the same cup was seen before and after. Nor is
    one that was shown before the scale fell silent again, or may have been zeroed: then it
    was that of a loaded pan.
    """
    pour, sight = draft.pour, draft.sight
    assert pour.tared is not None
    zero = pour.tared.zero_ug or 0
    if rest.mass_ug < pour.tared.tare_ug - slack_ug or len(sight.rests) < 2:
        return False
    if not _is_of_empty_pan(pour, sight, sight.rests[-2]):
        return False
    if len(sight.rests) >= 3 and abs(sight.rests[-3].mass_ug - rest.mass_ug) <= slack_ug:
        return True
    return _in_one_piece(sight, rest, zero)


def rests_at_zero(pour: Pour, sight: Sight) -> bool:
    """Whether what rested last shows the empty pan, so that the cup can come back upon it."""
    return sight.rest is not None and _is_of_empty_pan(pour, sight, sight.rest)


def _is_of_empty_pan(pour: Pour, sight: Sight, rest: Rest) -> bool:
    assert pour.tared is not None
    assert pour.trouble is not None
    near = abs(rest.mass_ug - (pour.tared.zero_ug or 0)) <= empty_ug(sight.division_ug)
    return near and rest.at_s * 1000 >= pour.trouble.at_ms and rest.at_s >= sight.zero_s


def _resin_alone_is_less(draft: Draft, change_ug: int, slack_ug: int) -> bool:
    """Whether it is, though nobody was told to take any out: then it may be another cup. (With
    hardener in, it is unproven anyhow.)"""
    pour, trouble = draft.pour, draft.pour.trouble
    assert trouble is not None
    called = pour.called
    told = called is not None and pour.net_ug(trouble.gross_ug) > called.high_ug
    return change_ug < -slack_ug and not told and not any(pour.poured)


def _is_emptied(pour: Pour, trouble: Trouble, change_ug: int, slack_ug: int) -> bool:
    """Whether what came back weighs what the empty cup did: then it is as good as that one."""
    assert pour.tared is not None
    return trouble.gross_ug + change_ug <= pour.tared.tare_ug + slack_ug


def _must_be_seen_again(draft: Draft, rest: Rest, slack_ug: int) -> bool:
    """Whether resin alone is less than it was: zero may have been pressed as the cup came back.
    The same weight on either side of the empty pan shows that it was not."""
    sight, trouble = draft.sight, draft.pour.trouble
    assert trouble is not None
    change_ug = rest.mass_ug + draft.pour.shift_ug - trouble.gross_ug
    if not _resin_alone_is_less(draft, change_ug, slack_ug):
        return False
    twice = len(sight.rests) >= 3 and sight.rests[-3].at_s * 1000 >= trouble.at_ms
    return not twice or abs(sight.rests[-3].mass_ug - rest.mass_ug) > slack_ug


def _dirty_pan(draft: Draft, trouble: Trouble) -> bool:
    """Whether the pan did not show its zero while the cup was off: something lies on it."""
    tared, sight = draft.pour.tared, draft.sight
    assert tared is not None
    if len(sight.rests) < 2 or sight.rests[-2].at_s * 1000 < trouble.at_ms:
        return False
    pan = sight.rests[-2].mass_ug
    off = pan < tared.tare_ug - fall_ug(sight.division_ug)
    return off and abs(pan - (tared.zero_ug or 0)) > empty_ug(sight.division_ug)


def _crept_back(draft: Draft, rest: Rest, known_ug: int) -> bool:
    """Whether the weight fell since the trouble and then rose no faster than a stream."""
    sight = draft.sight
    lowest = sight.lowest_ug
    if lowest is None or lowest >= known_ug - fall_ug(sight.division_ug):
        return False
    return not _in_one_piece(sight, rest, lowest)


def _in_one_piece(sight: Sight, rest: Rest, low_ug: int) -> bool:
    """Whether the weight went from this low to the rest faster than any stream; four
    fifths of the way will do, for filters are slow at both ends of a step."""
    return sight.leapt_ug >= ONE_PIECE * (rest.mass_ug - low_ug)


def go_on_trust(draft: Draft, rest: Rest) -> None:
    """Go on although nothing shows that the weight is right: unproven from here on."""
    pour, trouble = draft.pour, draft.pour.trouble
    assert trouble is not None
    assert pour.tared is not None
    gross = rest.mass_ug + pour.shift_ug
    # Less than has been weighed into it: the scale has lost its zero, or it is another cup.
    in_it = 0 if pour.parting else sum(pour.amounts_ug)
    rezeroed = gross < pour.tared.tare_ug + in_it - draft.sight.division_ug
    shift = trouble.gross_ug - gross if rezeroed or trouble.reason == "untared" else 0
    if trouble.reason == "untared":
        draft.add(replace(pour.tared, at_ms=draft.at_ms, scale_tared=False))
    _resume(draft, Resumed(draft.at_ms, trouble.reason, "on-trust", shift))


def doubt_of(resumed: Resumed) -> str | None:
    """Why the weights stay unproven after a pour went on like this, or ``None``."""
    if resumed.how == "on-trust":
        return f"the weight was not continuous after: {resumed.reason}"
    if resumed.how == "heavier":
        return "the cup came back heavier than it can have become by what was poured on the scale"
    if resumed.shift_ug or resumed.how == "lighter":
        return "the cup came back lighter: some was taken out of it, or it is another cup"
    return None


def _resume(draft: Draft, resumed: Resumed) -> None:
    trouble = draft.pour.trouble
    assert trouble is not None
    draft.add(resumed)
    if why := doubt_of(resumed):
        draft.add(Doubted(draft.at_ms, why))
