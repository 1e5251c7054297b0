"""What is said to a builder whose component stands over its band: by how much, and what to do."""

from __future__ import annotations

from dataclasses import replace

from mixer.pour import bands, parting, words
from mixer.pour.sight import Sight
from mixer.pour.standing import after_settling, answer_to_over, as_it_is, is_mixed, no_step
from mixer.pour.state import Pour
from mixer.pour.words import grams

NO_ROOM = "no room to put it right"
HOLD = "cup, scale or lots"


def told(pour: Pour, sight: Sight, net: int) -> str:
    """By how much so much of the called component is over, and the way out of it."""
    called = pour.called
    assert called is not None
    if called.component == 0 and not any(pour.poured[1:]):
        return (
            f"More resin than {HOLD} can take with its hardener: lift the cup, take some out, and "
            "put it back."
        )
    answer, step = answer_to_over(pour, net), sight.division_ug
    by = net - called.high_ug
    over = f" by {grams(by, step)}" if 2 * by >= step else ", barely"
    if answer is not None and not answer.fits:
        stands = f"Over the band{over}" if net > called.high_ug else "Not all that follows fits"
        return f"{stands}, and {lacks(pour, answer, net)}: {ways_out(pour, net, step)}"
    if answer is None or not answer.addition:
        if bands.is_cut(pour.cup, called.component, called.high_ug):
            return f"In band, but over what leaves room for the rest{over}: let it drip out."
        none = f", but{words.NO_STEP}" if no_step(pour) else ""
        return f"Over the band{over}{none}: let it drip out."
    name = pour.terms.recipe.components[answer.component].name
    more = grams(answer.target_ug - answer.before_ug, step)
    cup, index = after_settling(pour, net).cup, answer.component
    follows = then(cup, index, answer.target_ug, step)
    return f"Over the band{over}: let it drip out, then add {more} of {name}{follows}."


def ways_out(pour: Pour, net: int, step_ug: int) -> str:
    """What may be done where so much of the called component has no room to be put right."""
    to_come = [
        component.name
        for component, there in zip(
            pour.terms.recipe.components, as_it_is(pour, net).poured, strict=True
        )
        if not there
    ]
    use = "use it as out of band"
    if to_come:
        use = f"use it all the same and go on with {' and '.join(to_come)}"
    if not is_mixed(pour, net):
        return f"lift the cup, take some resin out and put it back; or {use}."
    cup = parting.parted_once(pour, net)
    out_ug = parting.to_take_out_ug(cup)
    if out_ug is None:
        return f"drop it and discard the cup, or {use}."
    out = grams(words.up(out_ug, step_ug), step_ug)
    small = "" if parting.is_provable(cup, out_ug) else "; too little for this scale to prove"
    return (
        f"let it drip out and part it (stir, take {out} out, correct the rest{small}),"
        f" drop it and discard the cup, or {use}."
    )


def at_most(pour: Pour, net_ug: int, step_ug: int) -> str:
    """How much more of the called component leaves room for what follows it; empty where it is
    its band that ends what is accepted."""
    called = pour.called
    assert called is not None
    if not bands.is_cut(pour.cup, called.component, called.high_ug):
        return ""
    return f", {grams(words.down(max(0, called.high_ug - net_ug), step_ug), step_ug)} at the most"


def then(cup: bands.Cup, component: int, target_ug: int, step_ug: int) -> str:
    """What is asked for once there is so much of this component; empty: nothing."""
    here_ug, after = cup.amounts_ug[component], cup
    call: bands.Call | None = bands.Call(
        component, here_ug, target_ug, target_ug, target_ug, addition=True
    )
    for _ in range(bands.MOST_STEPS):
        if call is None:
            break
        after = bands.poured(after, call)
        call = bands.next_call(after)
    more = [
        f"{grams(ug - there, step_ug)} of {each.name}"
        for each, ug, there in zip(
            cup.terms.recipe.components, after.amounts_ug, cup.amounts_ug, strict=True
        )
        if ug > there and each is not cup.terms.recipe.components[component]
    ]
    return f", then {' and '.join(more)}" if more else ""


def lacks(pour: Pour, answer: bands.Call, net: int) -> str:
    """Why the answer to so much of the called component does not fit.

    What the lot lacks is said first: more room would not help. Heat is where all else would do.
    """
    now = as_it_is(pour, net).cup
    then = bands.with_all(now, answer, least=True)
    for index, component in enumerate(pour.terms.recipe.components):
        if then.amounts_ug[index] > bands.lot_most_ug(now, index):
            return f"what is left of the {component.name} is too little to put it right"
    cold = bands.next_call(replace(now, heat_most_ug=None))
    if cold is not None and cold.fits:
        return "what puts it right may run hot or not last"
    if sum(then.amounts_ug) <= now.room_ug:
        return "to put it right takes more than the batch itself"
    return NO_ROOM
