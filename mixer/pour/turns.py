"""One component after another: what is called, when its stream begins, whose the drips
are, and when a weight is settled.

Rules:

1. A weight is settled only from a rest (:mod:`mixer.pour.sight`), never one frame.
2. Drips belong to the component that dripped. With keys, ``go`` settles the earlier
   weight at that moment. Hands free, the component's drip time is waited out in band
   and at rest. What still falls before the next stream is booked to it too, hands free
   or where ``go`` came within that time; but it may be of either jug, as may what falls in
   a stream that begins within that time: it must not matter to the ratio
   (:class:`mixer.pour.bands.Cup`).
3. What stands over the band, dripped out, is taken as it is; the next call is the
   addition that brings the ratio back, where there is room for it.
4. More than drops that came while the weight could not be followed is the stream of the
   component that was called, and may have begun as soon as it was not followed.
"""

from __future__ import annotations

from dataclasses import replace

from mixer.pour import bands, jugs, unasked
from mixer.pour.draft import Draft
from mixer.pour.facts import Accepted, Begun, Called, Doubted, Kept, Resumed, Stirring, Tared
from mixer.pour.observe import CREEP_UG
from mixer.pour.rests import Rest
from mixer.pour.sight import DROP_UG, fall_ug
from mixer.pour.standing import (
    after_settling,
    answer_to_over,
    as_it_is,
    drip_s,
    drips_first_s,
    drips_matter,
    enough,
    may_be_coarser,
    more_by,
    settled,
    still_drips_ug,
    waited_s,
    without_room,
)
from mixer.pour.state import Trouble
from mixer.pour.trust import LATE_DRIPS_UG
from mixer.pour.words import MAY_BE_COARSER

MUCH_UG = 4 * LATE_DRIPS_UG  # of less than this, a dab is already much


def call_for(
    draft: Draft, call: bands.Call, gross_ug: int, *, late_drips: bool, step_ug: int = 0,
    drips_ms: int = 0,
) -> None:  # fmt: skip
    draft.add(
        Called(
            draft.at_ms, call.component, gross_ug, call.before_ug, call.target_ug, call.low_ug,
            call.high_ug, call.addition, late_drips, max(step_ug, draft.sight.division_ug),
            drips_ms,
        )
    )  # fmt: skip


def tare_anew(draft: Draft, rest: Rest) -> None:
    """All that rests there is the cup's own weight."""
    tared, last = draft.pour.tared, draft.sight.last
    assert tared is not None
    assert last is not None
    gross_ug = rest.mass_ug + draft.pour.shift_ug
    draft.add(
        Tared(
            draft.at_ms, gross_ug, tared.zero_ug, last.division_ug, last.unit,
            last.scale_tared, rest.text,
        )
    )  # fmt: skip
    call_for(draft, bands.first_call(draft.pour.cup), gross_ug, late_drips=False)


def begin(draft: Draft, unseen_ms: int = 0) -> None:
    """The stream of the called component has begun, from whichever jug. Of hardener so little may
    have come before that it was taken for drips: its clock runs from there."""
    called, pour = draft.pour.called, draft.pour
    assert called is not None
    astray_ug = still_drips_ug(pour, draft.at_ms - unseen_ms)
    first = called.component in pour.terms.recipe.hardeners and pour.contact_ms is None
    if first and pour.astray_ms is not None:
        unseen_ms = max(unseen_ms, draft.at_ms - pour.astray_ms)
    draft.add(Begun(draft.at_ms, called.component, unseen_ms, astray_ug))
    jugs.doubt(draft)
    if astray_ug:
        call_anew(draft)


def call_anew(draft: Draft) -> None:
    """The limits of what is being poured, now that something went astray."""
    called, call = draft.pour.called, bands.next_call(draft.pour.cup)
    if called is None or call is None or call.component != called.component:
        return
    limits = replace(called, target_ug=call.target_ug, low_ug=call.low_ug, high_ug=call.high_ug)
    draft.add(replace(limits, at_ms=draft.at_ms))
    draft.add(Begun(draft.at_ms, called.component))
    jugs.doubt(draft)


def accept(draft: Draft, rest: Rest, *, late_drips: bool) -> None:
    """Settle the called component at this rest and ask for what comes next."""
    called = draft.pour.called
    assert called is not None
    if not draft.pour.begun and not called.addition:
        begin(draft)
    drips_ms = _drips_until_ms(draft)
    gross = settle(draft, rest)
    call = bands.next_call(draft.pour.cup)
    step_ug = draft.sight.division_ug
    if call is None:
        step_ug = draft.sight.counted.may_be_ug(rest.mass_ug)
        call = more_by(draft.pour, step_ug)
    if call is None:
        proven = bands.conforms(draft.pour.cup) == (True, True)
        if proven and bands.conforms(may_be_coarser(draft.pour, draft.sight).cup) != (True, True):
            draft.add(Doubted(draft.at_ms, MAY_BE_COARSER))  # a restart forgets what was shown
        draft.add(Stirring(draft.at_ms, draft.pour.stir_ms))
    else:
        drips = late_drips or drips_ms > 0
        call_for(draft, call, gross, late_drips=drips, step_ug=step_ug, drips_ms=drips_ms)


def may_drip_out_of_band(draft: Draft, net_ug: int) -> bool:
    """Whether this is the last that is poured, and what its jug may still drip would be too
    much: while it is stirred nothing is weighed."""
    pour, called = draft.pour, draft.pour.called
    assert called is not None
    last = bands.next_call(after_settling(pour, net_ug).cup) is None
    drips = pour.begun and waited_s(pour, draft.sight, draft.at_s) < drip_s(pour)
    return last and drips and net_ug + LATE_DRIPS_UG > called.high_ug


def _drips_until_ms(draft: Draft) -> int:
    """Until when the jug of the called component may drip; 0: it has dripped out."""
    pour, sight = draft.pour, draft.sight
    left_s = drip_s(pour) - waited_s(pour, sight, draft.at_s)
    return draft.at_ms + round(left_s * 1000) if left_s > 0 else 0


def keep(draft: Draft, rest: Rest) -> None:
    """Settle the called component where it is, out of band, and use what there is."""
    net = draft.pour.net_ug(rest.mass_ug + draft.pour.shift_ug)
    stuck = without_room(draft.pour, net) is not None
    if as_it_is(draft.pour, net) is not draft.pour:
        settle(draft, rest)
    use_as_it_is(draft, rest.mass_ug + draft.pour.shift_ug, go_on=stuck)


def use_as_it_is(draft: Draft, gross_ug: int, *, go_on: bool = True) -> None:
    """Stir what there is; or, where no room kept a component out, go on with that: without it
    there is no batch, and how much room there is the builder now judges."""
    draft.add(Kept(draft.at_ms))
    call = bands.next_call(draft.pour.cup)
    if go_on and not all(draft.pour.poured) and call is not None:
        call_for(draft, call, gross_ug, late_drips=False)
    else:
        draft.add(Stirring(draft.at_ms, draft.pour.stir_ms))


def settle(draft: Draft, rest: Rest) -> int:
    """Book the called component as it lies at this rest; the gross that it was settled at."""
    called = draft.pour.called
    assert called is not None
    gross = rest.mass_ug + draft.pour.shift_ug
    net = draft.pour.net_ug(gross)
    jugs.settle(draft, gross)
    unasked.settle(draft, rest)
    step_ug = draft.sight.division_ug
    draft.add(Accepted(draft.at_ms, called.component, net, gross, rest.text, division_ug=step_ug))
    return gross


def advance(draft: Draft) -> None:
    pour, sight, now = draft.pour, draft.sight, draft.at_s
    called = pour.called
    if called is None:
        return
    if not pour.begun and not _notice_stream(draft) and not _has_enough(draft):
        return
    rest = settled(pour, sight, now) if sight.resting else None
    if rest is None or waited_s(pour, sight, now) < drip_s(pour):
        return
    net = pour.net_ug(rest.mass_ug + pour.shift_ug)
    if net > called.high_ug:
        _answer_over(draft, rest, net)
    elif pour.terms.hands_free and enough(pour, net):
        accept(draft, rest, late_drips=True)


def notice_stream(draft: Draft) -> None:
    """In a hold by hand, which often comes as a stream has just begun: that one is there, and
    what is gone later may be of it. Nothing is settled or asked for."""
    if draft.pour.called is not None and not draft.pour.begun:
        _notice_stream(draft)


def came_unseen(draft: Draft, trouble: Trouble) -> None:
    """What came between the last weight before this trouble and the first since.

    More than drops is the stream of the component that was called, if it is more than the
    other jug can drip; else it may be of either. After a restart nobody knows how the last
    of it came before, either.
    """
    called, rest = draft.pour.called, draft.sight.rest
    if called is None or draft.pour.begun or draft.pour.parting or rest is None:
        return
    if _may_have_run_unseen(draft, trouble):
        begin(draft, draft.at_ms - _followed_ms(draft, called))
        return
    gross, step = rest.mass_ug + draft.pour.shift_ug, draft.sight.division_ug
    rise, came = gross - called.base_ug, gross - trouble.gross_ug
    poured = came > max(DROP_UG, step)
    if called.late_drips and rise <= _dab_ug(called):
        if poured or trouble.restarted:
            _book_late_drips(draft, rest)
        return
    if not poured and not (trouble.restarted and rise > max(LATE_DRIPS_UG, 2 * step)):
        return
    if called.late_drips:
        before = replace(rest, mass_ug=trouble.gross_ug - draft.pour.shift_ug, text="")
        _book_late_drips(draft, before)
    begin(draft, draft.at_ms - _followed_ms(draft, called))


def _followed_ms(draft: Draft, called: Called) -> int:
    """Until when it is known that nothing of what is called had come."""
    followed_s = draft.sight.followed_s
    return called.at_ms if followed_s is None else max(called.at_ms, round(followed_s * 1000))


def _may_have_run_unseen(draft: Draft, trouble: Trouble) -> bool:
    """Whether hardener may be in since a time when the scale was not heard: it then took what
    it carried for another weight, and what came meanwhile is unknown. Its clock runs."""
    called, pour = draft.pour.called, draft.pour
    assert called is not None
    hardener = called.component in pour.terms.recipe.hardeners and pour.contact_ms is None
    resumed = [fact for fact in draft.facts if isinstance(fact, Resumed)]
    return hardener and trouble.missed and bool(resumed and resumed[-1].shift_ug)


def _dab_ug(called: Called) -> int:
    """Up to how much is no stream yet, however it came."""
    much = not called.addition and called.target_ug - called.before_ug >= MUCH_UG
    return LATE_DRIPS_UG if much else 0


def _has_enough(draft: Draft) -> bool:
    """Whether an addition is in band before anything was added: its limits are those of
    a ratio that was weighed once more, and may take in what is there."""
    called = draft.pour.called
    return called is not None and called.addition and enough(draft.pour, called.before_ug)


def _notice_stream(draft: Draft) -> bool:
    """Tell the called component's stream from late drips; true once it has begun.

    Drips come drop by drop and are soon over. What comes faster, comes in a lump, or
    comes to more than a jug can drip is the stream of the component that was called
    (in the last case all of it: there was no moment at which the drips ended). Where
    a jug is first asked for, and for much, no more than the other can drip is no stream
    yet, however it came.
    """
    pour, sight = draft.pour, draft.sight
    called, last = pour.called, sight.last
    assert called is not None
    if last is None:
        return False
    rise = last.mass_ug + pour.shift_ug - called.base_ug
    step = sight.division_ug
    if called.late_drips and rise <= _dab_ug(called):
        _book_what_fell(draft)
        return False
    lump = sight.lump()
    if lump is not None and sight.rests[-1].since_s * 1000 <= called.at_ms:
        lump = None  # it fell before this component was called
    if lump is not None and lump.mass_ug + pour.shift_ug < called.base_ug - fall_ug(step):
        lump = None  # the cup was off the scale then: put back is not poured
    pouring = sight.streaming and rise > 3 * step
    # A slow stream upon drips is more than these before it is seen as one.
    most = LATE_DRIPS_UG + CREEP_UG if called.late_drips else LATE_DRIPS_UG
    if lump is None and not pouring and rise <= max(most, 2 * step):
        return False
    if called.late_drips and (lump is not None or pouring):
        before = lump or sight.rest
        fallen = before.mass_ug + pour.shift_ug - called.base_ug if before else 0
        crept = pour.late_ug > 0 and pour.late_ug + fallen > LATE_DRIPS_UG + 2 * step
        # No stream is seen, or was as it crept, and it is too much for drips.
        if _dab_ug(called) and (crept or not pouring):
            draft.add(Doubted(draft.at_ms, "what came so slowly may be of either of two jugs"))
        _book_late_drips(draft, before)
    begin(draft)
    return True


def _book_what_fell(draft: Draft) -> None:
    """What has come to rest before the stream."""
    sight, called = draft.sight, draft.pour.called
    assert called is not None
    if not sight.resting or sight.rest is None:
        return
    rest, step = sight.rest, sight.division_ug
    if not rest.stands:
        return  # a slow stream on a slow or noisy scale begins as a rest that creeps
    if drips_first_s(draft.pour, draft.at_ms) > 0:
        return  # it is told to drip out, and is booked when it has
    fallen = rest.mass_ug + draft.pour.shift_ug - called.base_ug
    dabbed = sight.dabbed(called.at_ms / 1000)
    if fallen > 2 * step or (dabbed and fallen >= 2 * step):
        _book_late_drips(draft, rest)


def _book_late_drips(draft: Draft, rest: Rest | None) -> None:
    """What had fallen when the stream began belongs to the component before. All of it may be
    the first of the stream, or a slow dribble, unless its jug was told to drip out till then;
    no more than a division may be flicker too, but before an addition, whose other jug had
    dripped out."""
    pour = draft.pour
    called, before = pour.called, pour.last_accepted
    if called is None or before is None or rest is None:
        return
    gross = rest.mass_ug + pour.shift_ug
    fallen = gross - called.base_ug
    step = draft.sight.division_ug
    flicker_ug = step if pour.late_ug else 0  # of two weights that were booked
    if fallen < step or pour.late_ug + fallen > max(LATE_DRIPS_UG + flicker_ug, step):
        return  # nothing, or more than can drip
    amount = pour.amounts_ug[before] + fallen
    told = draft.at_ms >= called.drips_ms >= rest.stood_s * 1000 and drips_matter(pour)
    astray_ug = fallen if (fallen > step or called.addition) and not told else 0
    draft.add(Accepted(draft.at_ms, before, amount, gross, rest.text, astray_ug))
    call = bands.next_call(draft.pour.cup)
    if call is not None and call.component == called.component:
        call_for(draft, call, gross, late_drips=True, drips_ms=called.drips_ms)
    else:  # it is this jug that pours, whatever the arithmetic would now ask for
        draft.add(replace(called, at_ms=draft.at_ms, base_ug=gross))


def _answer_over(draft: Draft, rest: Rest, net_ug: int) -> None:
    """Over the band: take it as it is and ask for more of the other, if that fits."""
    called = draft.pour.called
    assert called is not None
    if called.component == 0 and not any(draft.pour.poured[1:]):
        return  # resin alone: some can be taken out again
    answer = answer_to_over(draft.pour, net_ug)
    if answer is None or answer.fits:  # none: what it may be now is all right
        accept(draft, rest, late_drips=True)
