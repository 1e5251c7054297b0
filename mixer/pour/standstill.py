"""What the builder is told while nothing is to be poured: before the cup stands there, while
a part is taken out, and of a live cup. Pure: it has no
memory; :mod:`mixer.pour.coach`, which follows the approach to a target, has one.
"""

from __future__ import annotations

import math

from mixer.pour import jug_weights, jugs, parting, words
from mixer.pour.bands import smallest_provable_ug, too_heavy
from mixer.pour.put_right import is_empty
from mixer.pour.sight import Sight, lightest_cup_ug
from mixer.pour.state import Pour
from mixer.pour.words import Advice, grams

TARED_WITH_CUP = " If it stands there already, tare was pressed upon it: take it off."
BELOW_ZERO = (
    "The scale shows less than nothing: zero it, or clear its tare, while there is nothing on it."
)
RESTED_S = 1.0  # longer than a rest from before the cue can still be shown (our choice)


def cup(pour: Pour, sight: Sight, now_s: float) -> Advice:
    if sight.fault is not None or sight.silent(now_s):
        return Advice("wait", "The scale says no weight yet.")
    if sight.last is None:
        return Advice("wait", "The scale says no weight yet.")
    step, least = sight.division_ug, lightest_cup_ug(sight.division_ug)
    if pour.weighing is not None:
        return Advice("place", jug_weights.told(pour))
    if sight.last.mass_ug >= least and not jug_weights.is_off(pour, sight):
        return Advice("lift", jug_weights.told(pour))
    if sight.last.mass_ug <= -least:
        return Advice("clear", BELOW_ZERO)
    if sight.pan_zero_ug is None:
        if sight.last.mass_ug < least:
            return Advice("wait", "The empty pan is being looked at.")
        say = "Clear the scale, and zero it if need be: its empty pan must be seen before the cup."
        return Advice("clear", say)
    if sight.last.mass_ug < least:
        if sight.resting and sight.last.mass_ug > max(500_000, step):
            light = f"A cup below {grams(least, step)} is too light for this scale to know it."
            return Advice("place", f"{light} Take a heavier one.")
        there = TARED_WITH_CUP if sight.last.scale_tared else ""
        return Advice("place", "Put the empty cup on the scale." + there + _too_small(pour, sight))
    if sight.resting and too_heavy(pour.terms, sight.last.mass_ug):
        return Advice("place", words.too_heavy(pour.terms.size_ug, step))
    return Advice("wait", "Hands off: the cup's own weight is being taken.")


def _too_small(pour: Pour, sight: Sight) -> str:
    if sight.division_ug <= 0:
        return ""
    least = smallest_provable_ug(pour.terms, sight.division_ug)
    if pour.terms.size_ug >= least:
        return ""
    more = _too_much(pour, least)
    return (
        f" This scale can prove a ratio from {math.ceil(least / 1e6)} g on{more}: "
        "a batch of this size will stay unproven."
    )


def _too_much(pour: Pour, mass_ug: int) -> str:
    """Why so much could not be mixed, as far as it is known before the cup stands there."""
    terms = pour.terms
    if any(m is not None and mass_ug > m for m in (terms.cup_most_ug, terms.scale_most_ug)):
        return ", more than cup and scale take"
    if pour.heat_most_ug is not None and mass_ug > pour.heat_most_ug:
        return ", so much as may run hot or not last"
    for index, left_ug in enumerate(terms.left_ug):
        if left_ug is not None and mass_ug * terms.recipe.share(index) > left_ug:
            return f", more than what is left of the {terms.recipe.components[index].name} makes"
    return ""


def closed(sight: Sight) -> str:
    """`stop` until the weight has rested since the builder was last told to pour: a gentle
    stream may not be seen as one, and in a silence none is."""
    told_s = sight.told_to_pour_s
    rested = told_s is None or (sight.rest is not None and sight.rest.at_s > told_s + RESTED_S)
    return "wait" if rested and not sight.streaming else "stop"


def taking_out(pour: Pour, sight: Sight) -> bool:
    """Whether the weight is followed, or the cup is off so that a part can be taken out."""
    trouble = pour.trouble
    return trouble is None or (trouble.reason == "lifted" and is_empty(pour, sight))


def parted(pour: Pour, sight: Sight, now_s: float) -> Advice:
    assert pour.parting is not None
    if (left := parting.left_s(pour, now_s)) > 0:
        say = "Stir it thoroughly: each part must have one ratio. Scrape the sides and the bottom."
        return Advice("stir", say + doubt(pour), left)
    rest = parting.there(pour, sight, now_s)
    out_ug = 0 if rest is None else pour.parting.gross_ug - (rest.mass_ug + pour.shift_ug)
    short_ug = parting.to_take_out_ug(parting.without(pour.cup, max(0, out_ug))) or 0
    if rest is not None and short_ug <= 0:
        return Advice("next", "There is room now. Go on to put it right." + doubt(pour))
    more = grams(words.up(max(0, short_ug), sight.division_ug), sight.division_ug)
    say = f"Take {more} out and lay it aside as waste; the cup back on the scale."
    return Advice("part", say + doubt(pour))


def live(pour: Pour) -> str:
    result = pour.result
    assert result is not None
    if result.verdict == "in-band":
        return "The cup is live: use it."
    if result.verdict == "out-of-band":
        return "The cup is live, but its weighed ratio is out of band."
    return f"The cup is live, but not shown to be right: {result.unproven_because}."


def doubt(pour: Pour) -> str:
    return jugs.reminder(pour) + (" The batch stays unproven." if pour.unproven_because else "")
