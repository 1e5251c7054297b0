"""How the pour stands: what rules and cues both ask of it. Pure questions, no facts."""

from __future__ import annotations

from mixer.pour import bands
from mixer.pour.facts import Accepted
from mixer.pour.rests import Rest
from mixer.pour.sight import Sight
from mixer.pour.state import Pour, evolve


def enough(pour: Pour, net_ug: int) -> bool:
    """Whether so much of the called component is what was asked for."""
    called = pour.called
    assert called is not None
    low = called.low_ug
    if called.component == 0 and not called.addition:
        low = max(low, round(bands.ENOUGH * called.target_ug))
    return low <= net_ug <= called.high_ug


def settled(pour: Pour, sight: Sight, now_s: float) -> Rest | None:
    """The rest that stands for the cup now, if there is one and nothing is held."""
    return None if pour.trouble else sight.recent_rest(now_s)


def waited_s(pour: Pour, sight: Sight, now_s: float) -> float:
    """How long nothing has poured, and nobody was told to pour."""
    if sight.quiet_since_s is None:
        return 0.0
    return now_s - max(sight.quiet_since_s, sight.told_to_pour_s or 0.0)


def drip_s(pour: Pour) -> float:
    """How long the called component may drip."""
    if pour.called is None:
        return 0.0
    return pour.terms.recipe.components[pour.called.component].drip_s


def answer_to_over(pour: Pour, net_ug: int) -> bands.Call | None:
    """The addition that brings the ratio back when the called component stands at this."""
    return None if pour.called is None else bands.next_call(after_settling(pour, net_ug).cup)


def after_settling(pour: Pour, net_ug: int) -> Pour:
    """The pour as it will be when the called component is settled at this."""
    assert pour.called is not None
    return evolve(pour, Accepted(0, pour.called.component, net_ug, 0, ""))
