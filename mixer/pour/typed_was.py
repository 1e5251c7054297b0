"""A total that was typed wrong, as the builder says: ``was 41.4``.

Rules:

1. It is the last total that was gone on from, of the cup or of a component: what is asked for
   is reckoned anew. What was said before it stays a fact.
2. The component cannot have been less than what was in the cup before it.
3. A clock of hardener that has begun to run is not taken back.
4. Once it is stirred no figure changes any more: a note says so.
"""

from __future__ import annotations

from dataclasses import replace

from mixer.pour import bands
from mixer.pour.draft import Draft
from mixer.pour.facts import Accepted
from mixer.pour.jugs import NONE_ASKED
from mixer.pour.shows import LESS_THAN_NOTHING, beyond, division_ug, known_ug, read_ug
from mixer.pour.was import TYPED
from mixer.pour.words import grams, too_heavy

IN_THE_STIR = "It is being stirred: no figure changes any more. Add what it was as a note."


def say(draft: Draft, text: str) -> int | None:
    """The word ``was`` with what the display truly showed. That total, where it was taken: what
    is asked for upon it is to be decided anew."""
    pour, step = draft.pour, division_ug(draft.pour)
    gross, known = read_ug(text), known_ug(pour)
    if gross is None:
        draft.refusal = TYPED
    elif pour.stage == "stir":
        draft.refusal = IN_THE_STIR
    elif pour.called is None or pour.parting is not None:
        draft.refusal = NONE_ASKED[pour.stage]
    elif wrong := beyond(pour, text, gross):
        draft.refusal = wrong
    elif gross == known:
        draft.refusal = f"{grams(known, step)} is what was typed: there is nothing to put right."
    elif pour.last_accepted is None:
        return _tare(draft, gross, text.strip())
    elif gross <= known - pour.amounts_ug[pour.last_accepted]:
        name = pour.terms.recipe.components[pour.last_accepted].name
        draft.refusal = f"That leaves no {name}: it was {grams(known, step)}, with what was there."
    else:
        net = pour.amounts_ug[pour.last_accepted] + gross - known
        draft.add(Accepted(draft.at_ms, pour.last_accepted, net, gross, text.strip()))
        return gross
    return None


def _tare(draft: Draft, gross: int, text: str) -> int | None:
    tared = draft.pour.tared
    assert tared is not None
    if gross < 0:
        draft.refusal = LESS_THAN_NOTHING
    elif bands.too_heavy(draft.pour.terms, gross):
        draft.refusal = too_heavy(draft.pour.terms.size_ug, division_ug(draft.pour))
    else:
        zeroed = gross == 0
        draft.add(replace(tared, at_ms=draft.at_ms, tare_ug=gross, scale_tared=zeroed, text=text))
        return gross
    return None
