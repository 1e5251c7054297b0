"""An over-pour for whose correction cup or scale have no room: stir, part, and correct. With
the hardener still to come it is resin and additive that are stirred.

Rules:

1. Only what was stirred thoroughly has one ratio in all its parts: the stir comes first.
2. What is taken out takes its share of every component with it. The ratio stays as it
   was, and so does what is astray: it is never reckoned less for what was taken out.
3. Nothing is poured meanwhile: what comes in has no jug, and leaves the batch unproven.
   When there is room for an exact addition, ``go`` asks for it.
4. From the stir until the weight has rested without the stick, what it shows is the stick's
   and the hand's: no loss, no touch, and nothing that came in. What is there too much when
   the builder goes on did come in.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

from mixer.pour import bands, losses
from mixer.pour.bands import Cup
from mixer.pour.draft import Draft
from mixer.pour.facts import Doubted, Parted, Parting, Stirring
from mixer.pour.rests import Rest
from mixer.pour.sight import Sight
from mixer.pour.standing import as_it_is, drip_s, is_mixed, settled, waited_s, without_room
from mixer.pour.state import Pour
from mixer.pour.turns import call_for, settle, use_as_it_is
from mixer.pour.words import grams

CAME_IN = "something came into the cup while a part of it was taken out"
NOT_MIXED = "Nothing is mixed in the cup: nothing here is to be parted yet."
NOT_YET_STIRRED = "Stir on until the time is up: each part of it must have the same ratio."


def begin(draft: Draft) -> None:
    """The word ``part``: take it as it is, and stir it."""
    pour = draft.pour
    called = pour.called
    rest = None if pour.held_by_hand else settled(pour, draft.sight, draft.at_s)
    if pour.parting is not None:
        draft.refusal = "It is being parted already."
    elif called is None or (called.component == 0 and not any(pour.poured[1:])):
        draft.refusal = NOT_MIXED
    elif rest is None:
        draft.refusal = "The weight has not come to rest yet: wait."
    elif not is_mixed(pour, net := pour.net_ug(rest.mass_ug + pour.shift_ug)):
        draft.refusal = NOT_MIXED
    elif without_room(pour, net) is None:
        over = net > called.high_ug
        draft.refusal = (
            "There is room to put it right: let it drip out."
            if over
            else "It is not over the band: there is nothing to be parted."
        )
    elif waited_s(pour, draft.sight, draft.at_s) < drip_s(pour):
        draft.refusal = "Let it drip out first: what falls later has no jug."
    elif to_take_out_ug(parted_once(pour, net)) is None:
        draft.refusal = "It is too far out for any part of it to be put right: drop it, or use it."
    else:
        untouched = as_it_is(pour, net) is pour
        gross = rest.mass_ug + pour.shift_ug if untouched else settle(draft, rest)
        draft.add(Parting(draft.at_ms, gross, pour.stir_ms))


def go(draft: Draft) -> None:
    """The word ``go``: what was to be taken out is out."""
    pour, parting = draft.pour, draft.pour.parting
    assert parting is not None
    rest = there(pour, draft.sight, draft.at_s)
    if left_s(pour, draft.at_s) > 0:
        draft.refusal = NOT_YET_STIRRED
        return
    if rest is None:
        draft.refusal = "The weight has not come to rest yet: wait."
        return
    _take_out(draft, rest)
    step = draft.sight.division_ug
    if short_ug := to_take_out_ug(draft.pour.cup) or 0:
        draft.refusal = f"There is no room yet: take {grams(short_ug, step)} more out."
        return
    call = bands.next_call(draft.pour.cup)
    if call is None:  # in band, now that so little is left that nobody could tell
        draft.add(Stirring(draft.at_ms, draft.pour.stir_ms))
    else:
        call_for(draft, call, rest.mass_ug + pour.shift_ug, late_drips=False)


def use(draft: Draft, rest: Rest) -> None:
    """Use what is there, out of band as it is."""
    _take_out(draft, rest)
    use_as_it_is(draft, rest.mass_ug + draft.pour.shift_ug)


def watch(draft: Draft) -> None:
    """What was taken out by the rest that stands now, or came in; but not while it is being
    stirred, with a stick in it."""
    rest = there(draft.pour, draft.sight, draft.at_s) if draft.sight.resting else None
    if rest is None or not is_followed(draft.pour, draft.sight):
        return
    if rest.at_s - rest.since_s >= losses.RESTED_S:
        _take_out(draft, rest)


def is_followed(pour: Pour, sight: Sight) -> bool:
    """Whether the weight is that of the cup and what is in it, as far as nothing is wrong."""
    if pour.stage != "pour" or pour.trouble is not None:
        return False
    if pour.parting is None or pour.tared is None:
        return True
    over_s = (pour.parting.at_ms + pour.parting.stir_ms) / 1000
    most_ug = pour.parting.gross_ug + losses.little_ug(pour, sight.division_ug)
    return any(
        rest.at_s >= over_s and pour.tared.tare_ug < rest.mass_ug + pour.shift_ug <= most_ug
        for rest in sight.rests
    )


def there(pour: Pour, sight: Sight, now_s: float) -> Rest | None:
    """The rest that stands for the cup with something in it; ``None`` where it is off."""
    rest, tared = settled(pour, sight, now_s), pour.tared
    if rest is None or tared is None:
        return None
    return rest if rest.mass_ug + pour.shift_ug > tared.tare_ug else None


def _take_out(draft: Draft, rest: Rest) -> None:
    pour = draft.pour
    assert pour.parting is not None
    known_ug, gross_ug = pour.parting.gross_ug, rest.mass_ug + pour.shift_ug
    little_ug = losses.little_ug(pour, draft.sight.division_ug)
    if known_ug - gross_ug > little_ug:
        amounts_ug = without(pour.cup, known_ug - gross_ug).amounts_ug
        draft.add(Parted(draft.at_ms, known_ug, gross_ug, amounts_ug, rest.text))
    elif gross_ug - known_ug > little_ug and pour.unproven_because is None:
        draft.add(Doubted(draft.at_ms, CAME_IN))


def left_s(pour: Pour, now_s: float) -> float:
    """How long it is still to be stirred before it can be parted."""
    assert pour.parting is not None
    return (pour.parting.at_ms + pour.parting.stir_ms) / 1000 - now_s


@lru_cache(maxsize=bands.KEPT)
def to_take_out_ug(cup: Cup) -> int | None:
    """The least to be taken out of a stirred cup, so that what brings the ratio back has
    room; ``None`` where it would never have.

    In steps of a hundredth of what is in the cup, which is finer than any spoon.
    """
    total_ug = sum(cup.amounts_ug)
    if bands.can_be_put_right(cup):
        return 0
    few, many = 0, 100  # hundredths that are surely too few, and surely enough
    while many - few > 1:
        out = (few + many) // 2
        fits = bands.can_be_put_right(without(cup, total_ug * out // 100))
        few, many = (few, out) if fits else (out, many)
    return total_ug * many // 100 if many < 100 else None


def is_provable(cup: Cup, out_ug: int) -> bool:
    """Whether this scale could prove the ratio of what is left, once it is put right."""
    return bands.is_provable(bands.all_that_follows(without(cup, out_ug)))


def parted_once(pour: Pour, net_ug: int) -> Cup:
    """The cup as it will be reckoned when the called component is settled at this, and the
    whole is to be parted: it is weighed once more."""
    cup = as_it_is(pour, net_ug).cup
    return replace(cup, switches=cup.switches + 1)


def without(cup: Cup, out_ug: int) -> Cup:
    """The cup when so much of its mix was taken out."""
    total_ug = sum(cup.amounts_ug)
    left = max(0, total_ug - out_ug)
    amounts_ug = tuple(round(a * left / total_ug) for a in cup.amounts_ug)
    before = zip(cup.out_ug or (0,) * len(amounts_ug), cup.amounts_ug, strict=True)
    gone = tuple(out + had - has for (out, had), has in zip(before, amounts_ug, strict=True))
    return replace(
        cup, amounts_ug=amounts_ug, out_ug=gone, added_ug=round(cup.added_ug * left / total_ug)
    )
