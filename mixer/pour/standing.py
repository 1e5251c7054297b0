"""How the pour stands: what rules and cues both ask of it. Pure questions, no facts."""

from __future__ import annotations

import math
from dataclasses import replace

from mixer.pour import bands
from mixer.pour.facts import Accepted, Begun
from mixer.pour.rests import Rest
from mixer.pour.sight import UNSEEN_S, Sight
from mixer.pour.state import Pour, evolve
from mixer.pour.trust import LATE_DRIPS_UG
from mixer.pour.words import up

RESTLESS_S = 12.0  # drips that can be seen on a fine scale are over by then


def enough(pour: Pour, net_ug: int) -> bool:
    """Whether so much of the called component is what was asked for."""
    called = pour.called
    assert called is not None
    low = called.low_ug
    if called.component == 0 and not called.addition:
        low = max(low, round(bands.ENOUGH * called.target_ug))
    return low <= net_ug <= called.high_ug or is_nearest(pour, net_ug)


def is_accepted(pour: Pour, net_ug: int) -> bool:
    """Whether ``go`` may settle the called component at this."""
    called = pour.called
    assert called is not None
    return called.low_ug <= net_ug <= called.high_ug or is_nearest(pour, net_ug)


def is_nearest(pour: Pour, net_ug: int) -> bool:
    """Whether some of it is in, less than its limits, and no step of the scale lies in them."""
    called = pour.called
    assert called is not None
    if not called.before_ug < net_ug < called.low_ug:
        return False
    return bands.reached(net_ug, called.low_ug, called.high_ug, pour.cup.division_ug)


def no_step(pour: Pour) -> bool:
    """Whether no step of the scale lies within the limits of the called component."""
    called, step = pour.called, pour.cup.division_ug
    assert called is not None
    least_ug = called.before_ug + up(max(0, called.low_ug - called.before_ug), step)
    return least_ug > called.high_ug


def settled(pour: Pour, sight: Sight, now_s: float) -> Rest | None:
    """The rest that stands for the cup now, if there is one and nothing is held."""
    return None if pour.trouble else sight.recent_rest(now_s)


def stands_since_told(sight: Sight, rest: Rest) -> bool:
    """Whether a rest stands for what is in the cup also if a builder did as he was told: one
    from before may be all that a late display has to show of a stream that runs."""
    return sight.told_from_s is None or rest.at_s >= sight.told_from_s + UNSEEN_S


def waited_s(pour: Pour, sight: Sight, now_s: float) -> float:
    """How long nothing has poured, and nobody was told to pour."""
    if sight.quiet_since_s is None:
        return 0.0
    return now_s - max(sight.quiet_since_s, sight.told_to_pour_s or 0.0)


def is_restless(pour: Pour, sight: Sight, now_s: float) -> bool:
    """Whether it is heard, nothing pours, and it has shown no weight at rest for long."""
    weighing = pour.stage in ("cup", "pour") and not pour.held_by_hand and sight.fault is None
    if not weighing or sight.last is None or sight.silent(now_s) or sight.streaming:
        return False
    since_s = max(sight.since_s or 0.0, sight.zero_s, sight.told_to_pour_s or 0.0)
    if now_s - since_s <= RESTLESS_S:
        return False
    rest = sight.rest
    return rest is None or now_s - rest.at_s > RESTLESS_S


def drip_s(pour: Pour) -> float:
    """How long the called component may drip."""
    if pour.called is None:
        return 0.0
    return pour.terms.recipe.components[pour.called.component].drip_s


def still_drips_ug(pour: Pour, at_ms: int) -> int:
    """What the jug of the component before may still drip, if that of the one that is called
    runs from now on: drips thin out, so it is no more than its part of their time."""
    called, before = pour.called, pour.last_accepted
    if called is None or before is None or at_ms >= called.drips_ms:
        return 0
    drip_ms = 1000 * pour.terms.recipe.components[before].drip_s
    left_ug = math.ceil(LATE_DRIPS_UG * min(1.0, (called.drips_ms - at_ms) / drip_ms))
    return min(left_ug, max(0, LATE_DRIPS_UG - pour.late_ug))


def drips_first_s(pour: Pour, at_ms: int) -> float:
    """How long the jug before is to drip out first, where that could matter."""
    called = pour.called
    if called is None or pour.begun or at_ms >= called.drips_ms or not drips_matter(pour):
        return 0.0
    return (called.drips_ms - at_ms) / 1000


def drips_matter(pour: Pour) -> bool:
    """Whether ``go`` came before the last drips, and these would be too much if they were of
    either jug: they take half of what the band of the sum leaves, or of one of several hardeners,
    or an additive is called."""
    called = pour.called
    if called is None or not called.drips_ms:
        return False
    either = evolve(pour, Begun(0, called.component, astray_ug=LATE_DRIPS_UG)).cup
    recipe, cup = pour.terms.recipe, pour.cup
    low, high, _ = bands.hardener_limits(
        recipe, cup.resin_ug, cup.errors, cup.switches + 1, cup.astray_ug
    )
    least, most, provable = bands.hardener_limits(
        recipe, cup.resin_ug, cup.errors, cup.switches + 1, either.astray_ug
    )
    hardeners = recipe.hardeners if len(recipe.hardeners) > 1 else ()
    own = [
        bands.own_band(cup, index)
        for index in hardeners
        if index in (called.component, pour.last_accepted)
    ]
    narrow = any(band.high_ug - band.low_ug <= 4 * LATE_DRIPS_UG for band in own)
    additive = recipe.components[called.component].role == "additive"
    return additive or narrow or not provable or 2 * (most - least) <= high - low


def answer_to_over(pour: Pour, net_ug: int) -> bands.Call | None:
    """The addition that brings the ratio back when the called component stands at this."""
    return None if pour.called is None else bands.next_call(as_it_is(pour, net_ug).cup)


def without_room(pour: Pour, net_ug: int) -> bands.Call | None:
    """What must follow when the called component stands at this, over its band or none of it in
    yet, and has no room; ``None``: it has, or it is the first and can be taken out again."""
    called = pour.called
    if called is None or (called.component == 0 and not any(pour.poured[1:])):
        return None
    if net_ug <= called.high_ug and not _is_untouched(pour, net_ug):
        return None
    call = answer_to_over(pour, net_ug)
    return call if call is not None and not call.fits else None


def is_mixed(pour: Pour, net_ug: int) -> bool:
    """Whether more than the first component is in when the called one stands at this."""
    return any(as_it_is(pour, net_ug).poured[1:])


def as_it_is(pour: Pour, net_ug: int) -> Pour:
    """The pour with the called component settled at this, or as it stands where none is in."""
    return pour if _is_untouched(pour, net_ug) else after_settling(pour, net_ug)


def _is_untouched(pour: Pour, net_ug: int) -> bool:
    called = pour.called
    assert called is not None
    return net_ug <= called.high_ug and (not pour.begun or net_ug <= called.before_ug)


def after_settling(pour: Pour, net_ug: int) -> Pour:
    """The pour as it will be when the called component is settled at this."""
    assert pour.called is not None
    return evolve(pour, Accepted(0, pour.called.component, net_ug, 0, ""))


def more_by(pour: Pour, step_ug: int) -> bands.Call | None:
    """What a batch that is in band still wants, if the scale counted by this step; ``None``:
    nothing that fits."""
    call = bands.next_call(coarser(pour, step_ug).cup)
    return call if call is not None and call.fits else None


def coarser(pour: Pour, step_ug: int) -> Pour:
    """The pour as it stands if the scale counted by this step, where that is more."""
    return replace(pour, division_ug=max(pour.division_ug, step_ug))


def may_be_coarser(pour: Pour, sight: Sight) -> Pour:
    """The pour as it stands by the coarsest step that the scale may have where the cup with
    all that is in it was weighed: nothing of the batch was weighed where it is coarser."""
    assert pour.tared is not None
    shown_ug = pour.tared.tare_ug + sum(pour.amounts_ug) - pour.shift_ug
    return coarser(pour, sight.counted.may_be_ug(shown_ug))
