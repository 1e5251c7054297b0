"""What was poured in another's stage, as the builder says: ``was resin``.

Rules:

1. No scale can see it, so the builder's word books it: all that came since the call, at rest,
   is the component's that was named, and what is asked for is reckoned anew.
2. Nobody weighed where one jug ended and the other began: the batch is unproven from there.
3. A clock of hardener that has begun to run is not taken back; one that was poured unasked
   runs from when its stream may first have begun.
4. Where there is no room to put it right, the pour is held.
"""

from __future__ import annotations

from mixer.pour import bands, unasked
from mixer.pour.draft import Draft
from mixer.pour.facts import Accepted, Begun, Doubted, Held, Stirring
from mixer.pour.jugs import NONE_ASKED
from mixer.pour.standing import settled
from mixer.pour.state import BY_HAND
from mixer.pour.turns import call_for
from mixer.pour.words import HELD, grams

WHY = "what came in the stage of one component was said to be another: {}"
NO_ROOM = "There is no room to put that right: drop it. What goes on from here stays unproven."
TYPED = "With no cable this cannot be weighed apart: note it and drop the batch."
FIRST = "Held: go on first, then say it again."


def say(draft: Draft, text: str) -> None:
    """The word ``was``, with the name of what has just been poured."""
    pour = draft.pour
    names = {c.name.lower(): i for i, c in enumerate(pour.terms.recipe.components)}
    component, called = names.get(text.strip().lower()), pour.called
    rest = settled(pour, draft.sight, draft.at_s) if draft.sight.resting else None
    if component is None:
        draft.refusal = f"Say what has just been poured: was {' or was '.join(names)}."
    elif called is None or pour.parting is not None:
        draft.refusal = NONE_ASKED[pour.stage]
    elif pour.held_by_hand:
        draft.refusal = FIRST
    elif pour.trouble is not None:
        draft.refusal = HELD[pour.trouble.reason]
    elif rest is None or draft.sight.streaming:
        draft.refusal = "The weight has not come to rest yet: stop pouring, and wait."
    elif component == called.component:
        draft.notice = unasked.answer(draft, rest)
        if not draft.notice:
            draft.refusal = "That is what is asked for: there is nothing to put right."
    elif (came_ug := rest.mass_ug + pour.shift_ug - called.base_ug) <= draft.sight.division_ug:
        draft.refusal = "Nothing has come since that jug was asked for."
    else:
        _book(draft, component, came_ug, rest.mass_ug + pour.shift_ug, rest.text)


def _book(draft: Draft, component: int, came_ug: int, gross_ug: int, text: str) -> None:
    pour, step = draft.pour, draft.sight.division_ug
    named = pour.terms.recipe.components[component]
    if named.role == "hardener" and pour.contact_ms is None:
        assert pour.tared is not None
        seen = pour.begun and not pour.lost_ms
        since_ms = pour.begun_ms if seen else pour.tared.at_ms
        draft.add(Begun(draft.at_ms, component, draft.at_ms - since_ms))
    net_ug = pour.amounts_ug[component] + came_ug
    draft.add(Accepted(draft.at_ms, component, net_ug, gross_ug, text, division_ug=step))
    draft.add(Doubted(draft.at_ms, WHY.format(named.name)))
    call = bands.next_call(draft.pour.cup)
    draft.notice = f"{grams(came_ug, step)} is booked as {named.name}; the batch stays unproven."
    if call is None:
        draft.add(Stirring(draft.at_ms, draft.pour.stir_ms))
        return
    call_for(draft, call, gross_ug, late_drips=False, step_ug=step)
    if not call.fits:
        draft.add(Held(draft.at_ms, BY_HAND, gross_ug, HELD[BY_HAND]))
        draft.notice, draft.alarm = NO_ROOM, True
