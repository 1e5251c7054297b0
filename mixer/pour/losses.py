"""What is gone from the cup: wiped off, dripped out, lifted out, or never was in it.

Rules:

1. A weight that has rested for a second, more than a little below what the cup was known
   to weigh, is a loss. What a hand lays on the cup for a while, and takes off again, is
   seen as one too: nobody can tell them apart.
2. What is gone while only the tare or the resin was there is weighed anew.
3. What goes little by little goes on in the stream, where nobody sees it: a batch whose
   weight sinks where it stands is unproven.
4. Once hardener is in, nobody knows of which component it was: it counts as astray, and
   the ratio is in band only if it is so either way (:class:`mixer.pour.bands.Cup`).
"""

from __future__ import annotations

from dataclasses import replace

from mixer.pour import bands
from mixer.pour.draft import Draft
from mixer.pour.facts import Doubted, Gained, Lost
from mixer.pour.rests import Rest
from mixer.pour.standing import settled
from mixer.pour.state import Pour, Trouble
from mixer.pour.turns import call_anew, call_for, tare_anew

RESTED_S = 1.0
LITTLE_DIVISIONS = 1.5  # a weight that is rounded may flicker by one
LITTLE_WITH_HARDENER = 2.5  # where to be wrong costs the batch its proof, not a look
LITTLE_REPEATS = 3  # standard deviations of a settled weight
LEAKS = "the weight sank little by little where it stood: something leaks or drifts"
SANK = 1.5  # so many times as much within one rest is no flicker
HASTY = 2  # so many times as much, where the weight has not stood for long


def little_ug(pour: Pour, division_ug: int) -> float:
    """By how much a settled weight may be less without anything being gone."""
    repeats = bands.errors_of(pour.terms, division_ug).repeatability
    divisions = LITTLE_DIVISIONS if pour.contact_ms is None else LITTLE_WITH_HARDENER
    return max(divisions * division_ug, LITTLE_REPEATS * repeats)


def notice(draft: Draft) -> None:
    """What is gone by the rest that stands now."""
    rest = settled(draft.pour, draft.sight, draft.at_s) if draft.sight.resting else None
    if rest is None or rest.at_s - rest.since_s < RESTED_S:
        return
    pour = draft.pour
    known_ug = _known_ug(draft)
    if known_ug is not None and _book(draft, rest, known_ug, 1 if rest.stands else HASTY):
        return
    if pour.begun and rest.top_s * 1000 > max(pour.begun_ms, pour.lost_ms):  # it creeps down
        _book(draft, rest, rest.top_ug + pour.shift_ug, 1)


def came_back(draft: Draft, trouble: Trouble, counted_ug: float) -> None:
    """What is gone since this trouble, after which the pour went on as if nothing were; of
    what a stream had brought already, too."""
    rest = draft.sight.rest  # that it went on from
    if rest is not None:
        _book(draft, rest, trouble.gross_ug + round(counted_ug), 1)


def brought(draft: Draft, trouble: Trouble, counted_ug: float) -> None:
    """What a cup that was lifted has more in it when it comes back, beyond what a stream
    had brought already: nobody saw from which jug."""
    pour, rest = draft.pour, draft.sight.rest
    if rest is None or not trouble.lifted or not pour.begun:
        return
    gross_ug, known_ug = rest.mass_ug + pour.shift_ug, trouble.gross_ug + round(counted_ug)
    if gross_ug - known_ug > LITTLE_DIVISIONS * draft.sight.division_ug:
        draft.add(Gained(draft.at_ms, known_ug, gross_ug, rest.text))
        call_anew(draft)


def _known_ug(draft: Draft) -> int | None:
    """What the cup is known to have weighed last, as the pour counts it."""
    pour, called = draft.pour, draft.pour.called
    if called is None:
        return None
    if not pour.begun:
        return called.base_ug
    since_ms = max(pour.begun_ms, pour.lost_ms)
    before = [r.mass_ug for r in draft.sight.rests[:-1] if r.at_s * 1000 > since_ms]
    known = [mass_ug + pour.shift_ug for mass_ug in before]
    if pour.lost_ms >= pour.begun_ms and pour.lost_ms:
        known.append(pour.lost_to_ug)
    return max(known, default=None)


def _book(draft: Draft, rest: Rest, known_ug: int, times: int) -> bool:
    """Whether it is more than a little that is gone."""
    pour, called = draft.pour, draft.pour.called
    assert called is not None
    gross_ug = rest.mass_ug + pour.shift_ug
    if known_ug - gross_ug <= times * little_ug(pour, draft.sight.division_ug):
        return False
    sank_ug = rest.top_ug - rest.mass_ug  # little by little, for it is one rest
    leaks = sank_ug > SANK * little_ug(pour, draft.sight.division_ug)
    if leaks and (pour.begun or pour.poured[0]) and pour.unproven_because is None:
        draft.add(Doubted(draft.at_ms, LEAKS))
    if called.component == 0 and not called.addition and not any(pour.poured[1:]):
        if not pour.begun:
            tare_anew(draft, rest)  # a hand lay on the cup when its tare was taken
        return True  # of the first component only what is there now counts
    draft.add(Lost(draft.at_ms, known_ug, gross_ug, rest.text))
    if pour.begun:
        call_anew(draft)
    elif (call := bands.next_call(draft.pour.cup)) is not None:
        drips_ms = called.drips_ms if call.component == called.component else 0
        call_for(draft, call, gross_ug, late_drips=called.late_drips, drips_ms=drips_ms)
    else:  # what was asked for stays so, from the weight that is there now
        draft.add(replace(called, at_ms=draft.at_ms, base_ug=gross_ug))
    return True
