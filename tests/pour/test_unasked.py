"""Whoever pours while nothing is asked for may have another jug in hand."""

from __future__ import annotations

import pytest
from support.pouring import Guide, hold_at, press, ramp, terms

from mixer.pour.inputs import Input
from mixer.pour.unasked import SAY, WHY


class Listening(Guide):
    """Keeps all that was said aloud."""

    aloud = ""

    def take(self, happened: Input) -> None:
        super().take(happened)
        self.aloud += self.notice if self.alarm else ""


def resin(hands_free: bool, to_g: float = 56.1) -> tuple[Listening, float]:
    """A cup of 12 g and the resin, in band and at rest, its jug still dripping."""
    guide = Listening(terms(60, hands_free=hands_free))
    now = hold_at(guide, 12, hold_at(guide, 0, 0, 2), 3)
    return guide, hold_at(guide, to_g, ramp(guide, 12, to_g, now, 6), 4)


@pytest.mark.parametrize("hands_free", [True, False])
@pytest.mark.parametrize("more_g", [2.0, 15.9])
def test_the_next_jug_before_its_turn_leaves_the_batch_unproven_and_is_said(
    hands_free: bool, more_g: float
) -> None:
    guide, now = resin(hands_free)
    assert guide.cue == "in-band"
    to_g = round(56.1 + more_g, 1)
    hold_at(guide, to_g, ramp(guide, 56.1, to_g, now, more_g / 3), 5)
    assert guide.aloud == SAY
    assert guide.pour.doubts == (WHY,)


def test_go_before_it_has_come_to_stay_is_no_way_round() -> None:
    guide, now = resin(False)
    now = hold_at(guide, 72, ramp(guide, 56.1, 72, now, 5), 1.5)
    press(guide, now, "go")
    assert guide.component == "hardener"
    assert guide.pour.doubts == (WHY,)


@pytest.mark.parametrize("hands_free", [True, False])
def test_drips_and_a_hand_that_is_slow_to_stop_are_no_pour(hands_free: bool) -> None:
    guide, now = resin(hands_free)
    for i in range(12):  # 1.2 g
        now = hold_at(guide, round(56.1 + (i + 1) / 10, 1), now, 0.8)
    assert guide.pour.doubts == ()
    slow, now = resin(hands_free, 50)
    assert slow.cue in ("pour", "ease")
    now = hold_at(slow, 60, ramp(slow, 50, 60, now, 3), 9)
    assert slow.pour.doubts == ()


def test_a_hand_on_the_pan_that_goes_again_is_none() -> None:
    guide, now = resin(True)
    now = hold_at(guide, 60, now, 2)
    hold_at(guide, 56.1, now, 6)
    assert guide.pour.doubts == ()
