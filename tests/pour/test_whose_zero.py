"""A zero that is shown after a trouble: of the empty pan, or of a scale that took the cup for it.

A cup of 12 g with 44.1 g of resin in it; 56.1 g in all.
"""

from __future__ import annotations

import pytest
from support.pouring import Guide, hold_at, ramp, tared_and_resin, terms, weighed

from mixer.pour.inputs import Tick
from mixer.pour.words import CUP_OFF, LESS_THAN_NOTHING, NOT_THE_SAME, ON_TRUST_SOON


def woken_loaded(*, hands_free: bool = False) -> tuple[Guide, float]:
    """Silent for a while, and then the cup is shown as nothing."""
    guide, now = tared_and_resin(hands_free)
    guide.take(Tick(now + 1.5))
    return guide, hold_at(guide, 0, now + 2.5, 3)


@pytest.mark.parametrize("zeroed_at_g", [-20.0, -40.0, -54.0])
def test_zero_that_is_pressed_before_the_pan_has_settled_is_not_that_of_the_pan(
    zeroed_at_g: float,
) -> None:
    guide, now = woken_loaded()
    now = ramp(guide, 0, zeroed_at_g, now, 0.3)
    now = ramp(guide, 0, -56.1 - zeroed_at_g, now, 0.5)  # it was on its way to -56.1
    hold_at(guide, -zeroed_at_g, ramp(guide, -56.1 - zeroed_at_g, -zeroed_at_g, now, 0.2), 5)
    assert guide.pour.trouble is not None


def test_zero_that_was_seen_before_another_silence_proves_nothing_after_it() -> None:
    guide, now = woken_loaded()
    guide.take(Tick(now + 1.5))
    guide.take(weighed(2, now + 3, still=False))  # woken up with a hand and half the cup on it
    now = ramp(guide, 2, 30, now + 3, 0.4)
    hold_at(guide, 30, now, 5)
    assert guide.pour.trouble is not None


def test_zero_that_is_shown_by_the_pan_after_the_cup_was_lifted_is_that_of_the_pan() -> None:
    guide, now = woken_loaded()
    assert (guide.cue, guide.say) == ("lift", NOT_THE_SAME)
    now = hold_at(guide, -56.1, ramp(guide, 0, -56.1, now, 0.3), 1)
    assert (guide.cue, guide.say) == ("clear", LESS_THAN_NOTHING)
    now = hold_at(guide, -56.1, now, 31)
    assert (guide.cue, guide.say) == ("place", LESS_THAN_NOTHING)
    now = hold_at(guide, 0, now, 2)  # zero was pressed
    assert (guide.cue, guide.say) == ("place", CUP_OFF)
    hold_at(guide, 56.1, ramp(guide, 0, 56.1, now, 0.3), 3)
    assert guide.pour.trouble is None
    assert guide.pour.unproven_because is None


def test_hands_free_nobody_is_told_to_lift_the_cup_again_and_again() -> None:
    """Who puts it back without zeroing waits, and the batch goes on unproven."""
    guide, now = woken_loaded(hands_free=True)
    now = hold_at(guide, -56.1, ramp(guide, 0, -56.1, now, 0.3), 1)
    now = hold_at(guide, 0, ramp(guide, -56.1, 0, now, 0.3), 3)
    assert (guide.cue, guide.say) == ("wait", ON_TRUST_SOON)
    hold_at(guide, 0, now, 30)
    assert guide.pour.trouble is None
    assert guide.pour.unproven_because is not None


@pytest.mark.parametrize("fall_is_shown", [True, False])
@pytest.mark.parametrize("shown_g", [1.0, 5.0, 20.0, 41.0])
def test_zero_that_is_pressed_as_the_cup_comes_back_is_not_that_of_the_pan(
    shown_g: float, fall_is_shown: bool
) -> None:
    guide, now = tared_and_resin(hands_free=True)
    now = hold_at(guide, 0, ramp(guide, 56.1, 0, now, 0.3), 2)
    now = ramp(guide, 0, shown_g, now, 0.2)
    if fall_is_shown:
        guide.take(weighed(shown_g / 3, now, still=False))
        now += 0.1
    now = hold_at(guide, 56.1 - shown_g, ramp(guide, 1, 56.1 - shown_g, now, 0.3), 5)
    assert guide.pour.trouble is not None
    assert (guide.cue, guide.say) == ("lift", NOT_THE_SAME)
    now = hold_at(guide, -shown_g, ramp(guide, 56.1 - shown_g, -shown_g, now, 0.3), 2)
    now = hold_at(guide, 0, now, 2)  # zeroed, as it was told to be
    hold_at(guide, 56.1, ramp(guide, 0, 56.1, now, 0.3), 3)
    assert guide.pour.trouble is None
    assert guide.pour.unproven_because is None


def test_a_hand_that_presses_on_the_cup_as_it_puts_it_back_takes_no_proof() -> None:
    guide, now = tared_and_resin(hands_free=True)
    now = hold_at(guide, 0, ramp(guide, 56.1, 0, now, 0.3), 2)
    now = ramp(guide, 75, 56.1, ramp(guide, 0, 75, now, 0.3), 0.2)
    hold_at(guide, 56.1, now, 3)
    assert guide.pour.trouble is None
    assert guide.pour.unproven_because is None


@pytest.mark.parametrize("rests_s", [0.3, 2.0])
def test_a_cup_that_comes_back_from_less_than_nothing_is_weighed_from_another_zero(
    rests_s: float,
) -> None:
    """Zero was pressed in the stream, which ran on until the figure was the old one."""
    guide = Guide(terms(60))
    now = hold_at(guide, 7.5, hold_at(guide, 0, 0, 2), 3)
    now = ramp(guide, 7.5, 8.4, now, 0.4)
    now = hold_at(guide, 7.5, ramp(guide, 0, 7.5, now, 1), 2)
    assert (guide.cue, guide.say) == ("lift", NOT_THE_SAME)
    now = hold_at(guide, -8.4, ramp(guide, 7.5, -8.4, now, 0.4), rests_s)
    now = hold_at(guide, 7.5, ramp(guide, -8.4, 7.5, now, 0.4), 3)
    assert guide.pour.trouble is not None
    now = hold_at(guide, -8.4, ramp(guide, 7.5, -8.4, now, 0.4), 1)
    now = hold_at(guide, 0, now, 2)  # zeroed, as it was told to be
    hold_at(guide, 15.9, ramp(guide, 0, 15.9, now, 0.4), 3)
    assert guide.pour.trouble is None
