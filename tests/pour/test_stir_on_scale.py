"""Stirred where it stands: what a stick, a hand and a second cup do to the weight means nothing."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.pouring import Guide, hold_at, over, press, ramp, tared_and_resin, weighed

from mixer.pour import parting, stirred
from mixer.pour.cup_facts import Moved
from mixer.pour.facts import Live, Stirring
from mixer.pour.inputs import Tick
from mixer.pour.sight import Sight
from mixer.pour.state import fold

#: A weight, for how many tenths of a second, and whether the scale calls it still.
STIRS = st.lists(
    st.tuples(
        st.one_of(st.sampled_from([0.0, 60.0, 76.1, 79.1, 140.0]), st.floats(-5, 200)),
        st.integers(1, 15),
        st.booleans(),
    ),
    max_size=8,
)


def stir(guide: Guide, stirs: list[tuple[float, int, bool]], now: float, until: float) -> float:
    for grams, tenths, still in stirs:
        now += 0.05  # a stick or a hand that moves takes some of the weight for a moment
        guide.take(weighed(0, now, still=False))
        for _ in range(tenths):
            if now >= until:
                return now
            now += 0.1
            guide.take(weighed(grams, now, still=still))
            guide.take(Tick(now))
    return now


def in_band() -> tuple[Guide, float]:
    """Resin and hardener are in, and the stir has begun."""
    guide, now = tared_and_resin(hands_free=False)
    press(guide, now, "go")
    now = hold_at(guide, 72, ramp(guide, 56.1, 72, now + 1, 5), 10)
    assert isinstance(press(guide, now, "go")[-1], Stirring)
    return guide, now


@settings(max_examples=12, deadline=None)
@given(STIRS)
def test_the_stir_leaves_nothing_behind(stirs: list[tuple[float, int, bool]]) -> None:
    guide, now = in_band()
    before = len(guide.facts)
    stir(guide, stirs, now, now + 4.9)
    guide.take(Tick(now + 5))
    (live,) = guide.facts[before:]
    assert isinstance(live, Live)
    assert live.verdict == "in-band"


def long_stir() -> tuple[Guide, float]:
    guide, now = in_band()
    guide.pour = replace(guide.pour, stir_ms=60_000)
    return guide, hold_at(guide, 72, now, 2)


@pytest.mark.parametrize(("rate_g_s", "for_s"), [(0.5, 4), (1.0, 3), (3.0, 4), (0.05, 40)])
def test_what_is_poured_in_while_it_is_stirred_is_noticed(rate_g_s: float, for_s: float) -> None:
    """It was called in band all the same."""
    guide, now = long_stir()
    to_g = round(72 + rate_g_s * for_s, 1)
    now = hold_at(guide, to_g, ramp(guide, 72, to_g, now, for_s), 3)
    assert guide.pour.doubts == (stirred.CAME_IN,)
    assert f"{to_g - 72:.1f} g more rests there" in guide.say
    hold_at(guide, to_g, now, 60)
    assert isinstance(guide.pour.result, Live)
    assert guide.pour.result.verdict == "unproven"
    assert guide.pour.result.unproven_because == stirred.CAME_IN


@pytest.mark.parametrize("lowered_s", [0.1, 0.5, 1.0])
def test_a_stick_that_is_put_in_is_said_and_casts_no_doubt(lowered_s: float) -> None:
    guide, now = long_stir()
    now = hold_at(guide, 75, ramp(guide, 72, 75, now, lowered_s), 8)
    assert "3.0 g more rests there" in guide.say
    now = hold_at(guide, 72, now, 3)
    assert "more rests there" not in guide.say
    now = hold_at(guide, 0, now, 5)  # stirred in the hand
    now = hold_at(guide, 75, ramp(guide, 0, 75, now, 5), 3)
    assert guide.pour.doubts == ()


def test_the_last_drips_in_the_stir_are_no_matter() -> None:
    guide, now = long_stir()
    hold_at(guide, 72.6, ramp(guide, 72, 72.6, now, 5), 9)
    assert "more rests there" not in guide.say
    assert guide.pour.doubts == ()


def test_a_second_cup_is_noted_and_casts_no_doubt() -> None:
    guide, now = in_band()
    moved = press(guide, now + 1, "moved")
    assert moved == [Moved(moved[0].at_ms)]
    assert press(guide, now + 2, "moved") == []
    hold_at(guide, 64, now + 2, 4)  # the second cup is a lighter one
    result = guide.pour.result
    assert isinstance(result, Live)
    assert (result.verdict, guide.pour.doubts) == ("in-band", ())


def test_what_is_poured_is_not_moved() -> None:
    guide, now = tared_and_resin(hands_free=False)
    assert press(guide, now, "moved") == []
    assert guide.refusal.startswith("It is moved once it is stirred")


@settings(max_examples=5, deadline=None)
@given(STIRS)
def test_nor_does_the_stir_before_a_part_is_taken_out(
    stirs: list[tuple[float, int, bool]],
) -> None:
    guide, now = over()
    press(guide, now, "part")
    before = guide.facts[:]
    now = stir(guide, stirs, now, now + 4.5)
    now = hold_at(guide, 76.1, now, 8)
    assert guide.facts == before
    assert (guide.cue, guide.say.split(" out")[0]) == ("part", "Take 8.4 g")
    now = hold_at(guide, 0, now, 3)
    hold_at(guide, 60.1, now, 3)
    assert [fact.kind for fact in guide.facts[len(before) :]] == ["held", "resumed", "parted"]
    assert guide.pour.doubts == ()
    assert fold(guide.facts) == guide.pour


def test_a_stick_that_stays_for_a_while_is_nothing_that_came_in() -> None:
    guide, now = over()
    press(guide, now, "part")
    now = hold_at(guide, 79.1, ramp(guide, 76.1, 79.1, now, 0.5), 12)
    assert (guide.cue, guide.pour.doubts) == ("part", ())
    now = hold_at(guide, 0, now, 3)  # it goes with the part that is taken out
    hold_at(guide, 60.1, now, 3)
    assert [fact.kind for fact in guide.facts[-2:]] == ["parting", "parted"]
    assert guide.pour.doubts == ()


def test_what_is_too_much_when_the_builder_goes_on_came_in() -> None:
    for word in ("go", "use"):
        guide, now = over()
        press(guide, now, "part")
        now = hold_at(guide, 79.1, ramp(guide, 76.1, 79.1, now, 0.5), 12)
        press(guide, now, word)
        assert guide.pour.doubts == (parting.CAME_IN,)


def test_what_comes_in_once_the_stick_is_out_came_in() -> None:
    guide, now = over()
    press(guide, now, "part")
    now = hold_at(guide, 76.1, hold_at(guide, 79.1, now, 6), 3)
    hold_at(guide, 79.1, ramp(guide, 76.1, 79.1, now, 3), 3)
    assert guide.pour.doubts == (parting.CAME_IN,)


def test_a_scale_that_falls_silent_in_the_stir_is_noticed() -> None:
    guide, now = over()
    press(guide, now, "part")
    now = hold_at(guide, 140, now, 2)
    guide.take(Tick(now + 3))
    assert guide.pour.trouble is not None
    assert (guide.pour.trouble.reason, guide.pour.trouble.gross_ug) == ("silent", 76_100_000)
    hold_at(guide, 76.1, now + 4, 6)
    assert (guide.pour.trouble, guide.pour.doubts) == (None, ())


def test_a_cup_that_is_off_is_not_all_taken_out() -> None:
    for word in ("go", "use"):
        guide, now = over()
        press(guide, now, "part")
        now = hold_at(guide, 0, now, 7)
        assert guide.cue == "part"
        assert press(guide, now, word) == []
        assert guide.refusal


@pytest.mark.parametrize(("rests_g", "verdict"), [(72.0, "in-band"), (77.7, "unproven")])
@pytest.mark.parametrize("stick_s", [0.0, 1.5])
def test_what_came_while_the_program_was_gone_is_doubted_if_it_stays(
    rests_g: float, verdict: str, stick_s: float
) -> None:
    guide, now = in_band()
    guide.sight = Sight()  # started anew
    now = hold_at(guide, 75, now + 1, stick_s) if stick_s else now + 1
    now = hold_at(guide, rests_g, now, 2)
    ramp(guide, rests_g + 0.3, rests_g + 0.3, now, 4)  # it does not rest at the end
    guide.take(Tick(now + 4))
    assert guide.pour.result is not None
    assert guide.pour.result.verdict == verdict
