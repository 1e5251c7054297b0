"""What is gone from the cup: wiped off, dripped out, lifted out, or never was in it.

Rules:

1. A weight that has rested for a second, more than a little below what the cup was known
   to weigh, is a loss. What a hand lays on the cup for a while, and takes off again, is
   seen as one too: nobody can tell them apart.
2. What is gone while only the tare or the resin was there is weighed anew.
3. Once hardener is in, nobody knows of which component it was: it counts as astray, and
   the ratio is in band only if it is so either way (:class:`mixer.pour.bands.Cup`).
"""

from __future__ import annotations

from mixer.pour import bands
from mixer.pour.draft import Draft
from mixer.pour.facts import Lost, Tared
from mixer.pour.rests import Rest
from mixer.pour.standing import settled
from mixer.pour.state import Pour, Trouble
from mixer.pour.turns import call_for

RESTED_S = 1.0
LITTLE_DIVISIONS = 1.5  # a weight that is rounded may flicker by one
LITTLE_WITH_HARDENER = 2.5  # where to be wrong costs the batch its proof, not a look
LITTLE_REPEATS = 3  # standard deviations of a settled weight
HASTY = 2  # so many times as much, where the weight has not stood for long


def little_ug(pour: Pour, division_ug: int) -> float:
    """By how much a settled weight may be less without anything being gone."""
    repeats = bands.errors_of(pour.terms, division_ug).repeatability
    divisions = LITTLE_DIVISIONS if pour.contact_ms is None else LITTLE_WITH_HARDENER
    return max(divisions * division_ug, LITTLE_REPEATS * repeats)


def notice(draft: Draft) -> None:
    """What is gone by the rest that stands now."""
    rest = settled(draft.pour, draft.sight, draft.at_s) if draft.sight.resting else None
    known_ug = _known_ug(draft)
    if rest is not None and known_ug is not None and rest.at_s - rest.since_s >= RESTED_S:
        _book(draft, rest, known_ug, 1 if rest.stands else HASTY)


def came_back(draft: Draft, trouble: Trouble) -> None:
    """What is gone since this trouble, after which the pour went on as if nothing were."""
    rest = settled(draft.pour, draft.sight, draft.at_s)
    if rest is not None:
        _book(draft, rest, trouble.gross_ug, 1)


def _known_ug(draft: Draft) -> int | None:
    """What the cup is known to have weighed last, as the pour counts it."""
    pour, called = draft.pour, draft.pour.called
    if called is None:
        return None
    if not pour.begun:
        return called.base_ug
    before = [r for r in draft.sight.rests[:-1] if r.at_s * 1000 > max(pour.begun_ms, pour.lost_ms)]
    return max((r.mass_ug + pour.shift_ug for r in before), default=None)


def _book(draft: Draft, rest: Rest, known_ug: int, times: int) -> None:
    pour, called = draft.pour, draft.pour.called
    assert called is not None
    gross_ug = rest.mass_ug + pour.shift_ug
    if known_ug - gross_ug <= times * little_ug(pour, draft.sight.division_ug):
        return
    if called.component == 0 and not called.addition:
        if not pour.begun:
            _tare_anew(draft, rest, gross_ug)
        return  # of the first component only what is there now counts
    draft.add(Lost(draft.at_ms, known_ug, gross_ug, rest.text))
    call = bands.next_call(draft.pour.cup)
    if not pour.begun and call is not None:
        call_for(draft, call, gross_ug, late_drips=called.late_drips)


def _tare_anew(draft: Draft, rest: Rest, gross_ug: int) -> None:
    """A hand lay on the cup when its tare was taken."""
    tared = draft.pour.tared
    assert tared is not None
    draft.add(
        Tared(
            draft.at_ms, gross_ug, tared.zero_ug, tared.division_ug, tared.unit,
            tared.scale_tared, rest.text,
        )
    )  # fmt: skip
    call_for(draft, bands.first_call(draft.pour.cup), gross_ug, late_drips=False)
