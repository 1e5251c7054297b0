"""Whoever pours while nothing is asked for may have another jug in hand."""

from __future__ import annotations

from dataclasses import replace

import pytest
from support.pouring import HARDENER, RESIN, Guide, hold_at, press, ramp, terms

from mixer.pour.inputs import Input, Key, Tick
from mixer.pour.recipe import Component, Recipe
from mixer.pour.state import fold
from mixer.pour.unasked import WHY

DOUBT = WHY.format("resin")


class Listening(Guide):
    """Keeps all that was said aloud."""

    aloud = ""

    def take(self, happened: Input) -> None:
        super().take(happened)
        self.aloud += self.notice if self.alarm else ""


def resin(hands_free: bool, to_g: float = 56.1, for_s: float = 4) -> tuple[Listening, float]:
    """A cup of 12 g and the resin, in band and at rest, its jug still dripping."""
    guide = Listening(terms(60, hands_free=hands_free))
    now = hold_at(guide, 12, hold_at(guide, 0, 0, 2), 3)
    return guide, hold_at(guide, to_g, ramp(guide, 12, to_g, now, 6), for_s)


def more(guide: Guide, now: float, more_g: float, from_g: float = 56.1, for_s: float = 5) -> float:
    """So much upon it, and at rest again."""
    to_g = round(from_g + more_g, 1)
    return hold_at(guide, to_g, ramp(guide, from_g, to_g, now, more_g / 3), for_s)


@pytest.mark.parametrize("hands_free", [True, False])
@pytest.mark.parametrize("more_g", [2.0, 15.9])
def test_the_next_jug_before_its_turn_leaves_the_batch_unproven_and_is_said(
    hands_free: bool, more_g: float
) -> None:
    guide, now = resin(hands_free)
    assert guide.cue == "in-band"
    now = more(guide, now, more_g)
    said = f"{more_g} g more came when there was enough resin. If it was resin, say was resin; "
    assert guide.aloud.startswith(said)
    assert guide.aloud in guide.say
    assert guide.pour.doubts == ()
    hold_at(guide, round(56.1 + more_g, 1), now, 9)
    if not hands_free:
        press(guide, now + 9, "go")
    assert guide.component == "hardener"
    assert guide.pour.doubts == (DOUBT,)


def test_go_before_it_has_come_to_stay_is_no_way_round() -> None:
    guide, now = resin(False)
    now = more(guide, now, 15.9, for_s=1.5)
    press(guide, now, "go")
    assert guide.component == "hardener"
    assert guide.pour.doubts == (DOUBT,)


@pytest.mark.parametrize("hands_free", [True, False])
@pytest.mark.parametrize("silent_s", [1.3, 3.3])
@pytest.mark.parametrize("more_g", [1.5, 4.0])
def test_nor_is_a_gap(hands_free: bool, silent_s: float, more_g: float) -> None:
    """As nothing was asked for before it, no stream had been let run on into it."""
    guide, now = resin(hands_free)
    guide.take(Tick(now + silent_s - 0.2))
    assert guide.pour.trouble is not None
    now = hold_at(guide, round(56.1 + more_g, 1), now + silent_s, 6)
    assert guide.pour.trouble is not None
    if hands_free:
        hold_at(guide, round(56.1 + more_g, 1), now, 30)
    else:
        press(guide, now, "go")
    assert guide.pour.trouble is None
    assert "the weight was not continuous after: silent" in guide.pour.doubts


def test_nor_is_a_lift() -> None:
    guide, now = resin(False)
    now = more(guide, now, 15.9, for_s=2.5)
    now = hold_at(guide, 0, now, 2)
    assert guide.pour.trouble is not None
    press(guide, hold_at(guide, 72, now, 12), "go")
    assert guide.pour.doubts == (DOUBT,)


def test_nor_that_its_jug_drips_on() -> None:
    guide, now = resin(False)
    now = more(guide, now, 5)
    for i in range(12):
        now = hold_at(guide, round(61.2 + i / 10, 1), now, 0.8)
    press(guide, hold_at(guide, 62.3, now, 9), "go")
    assert guide.pour.doubts == (DOUBT,)


def test_who_says_that_it_was_the_same_jug_is_believed() -> None:
    guide, now = resin(False)
    now = more(guide, now, 5)
    guide.take(Key(now, "was", "resin"))
    assert guide.notice == "5.0 g more counts as resin."
    now = hold_at(guide, 61.1, now, 9)
    assert "more came" not in guide.say
    press(guide, now, "go")
    assert guide.component == "hardener"
    assert guide.pour.doubts == ()
    assert fold(guide.facts) == guide.pour


def test_who_says_that_it_was_the_next_jug_has_it_booked_so() -> None:
    guide, now = resin(False)
    now = more(guide, now, 5)
    guide.take(Key(now, "was", "hardener"))
    assert guide.pour.doubts
    assert DOUBT not in guide.pour.doubts


@pytest.mark.parametrize("hands_free", [True, False])
def test_drips_and_a_hand_that_is_slow_to_stop_are_no_pour(hands_free: bool) -> None:
    guide, now = resin(hands_free)
    for i in range(12):  # 1.2 g
        now = hold_at(guide, round(56.1 + (i + 1) / 10, 1), now, 0.8)
    slow, now = resin(hands_free, 50, 1)
    assert slow.cue in ("pour", "ease", "stop", "wait")
    now = hold_at(slow, 60, ramp(slow, 50, 60, now, 3), 9)
    for one, gross_g in ((guide, 57.3), (slow, 60)):
        press(one, hold_at(one, gross_g, now + 10, 9), "go")
        assert one.component == "hardener"
        assert one.pour.doubts == ()


@pytest.mark.parametrize("for_s", [2, 5])
def test_a_hand_on_the_pan_that_goes_again_is_none(for_s: float) -> None:
    guide, now = resin(False)
    now = hold_at(guide, 60, now, for_s)
    now = hold_at(guide, 0, hold_at(guide, 56.1, now, 3), 3)  # lifted, and put back
    press(guide, hold_at(guide, 56.1, now, 12), "go")
    assert guide.component == "hardener"
    assert DOUBT not in guide.pour.doubts  # others have their own


def test_who_goes_on_where_it_is_short_before_he_is_told_pours_what_is_asked_for() -> None:
    guide, now = resin(False, 46, 1)
    press(guide, now, "hold")
    now = hold_at(guide, 46, now, 6)
    press(guide, now, "go")
    now = more(guide, now, 10.1, 46, 10)
    press(guide, now, "go")
    assert guide.component == "hardener"
    assert guide.pour.doubts == ()


def test_where_no_other_jug_is_to_come_nothing_is_doubted() -> None:
    guide, now = resin(False, for_s=10)
    press(guide, now, "go")
    now = hold_at(guide, 72, ramp(guide, 56.1, 72, now + 1, 5), 4)
    assert guide.cue == "in-band"
    more(guide, now, 3, 72, 3)
    assert guide.sight.stood is not None
    assert guide.say.endswith("g of resin.")
    assert guide.pour.doubts == ()


def test_the_first_of_two_hardeners_is_doubted_too() -> None:
    fast, slow = replace(HARDENER, parts=18), Component("slow", "hardener", 18, 8)
    recipe = Recipe((RESIN, fast, slow), 0.03)
    guide = Listening(terms(200, recipe=recipe, hands_free=False))
    now = hold_at(guide, 12, hold_at(guide, 0, 0, 2), 3)
    now = hold_at(guide, 160, ramp(guide, 12, 160, now, 20), 10)
    press(guide, now, "go")
    now = hold_at(guide, 186, ramp(guide, 160, 186, now + 1, 5), 10)
    assert guide.cue == "next"
    now = more(guide, now, 1.6, 186, 9)
    press(guide, now, "go")
    assert guide.pour.doubts == (WHY.format("hardener"),)
