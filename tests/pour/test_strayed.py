"""What may be of another component counts in the band of each by itself too."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st
from support.pouring import HARDENER, RESIN, Guide, hold_at, press, ramp, terms

from mixer.pour import bands
from mixer.pour.facts import Accepted, Begun, Called, Gained, Lost, Opened, Tared
from mixer.pour.recipe import Component, Recipe
from mixer.pour.state import Pour, begin, evolve

PIGMENT = Component("pigment", "additive", 5, 8, tolerance=0.2)
LAST = Recipe((RESIN, HARDENER, PIGMENT), ratio_tolerance=0.03)
BLEND = Recipe(
    (RESIN, Component("fast", "hardener", 18, 8), Component("slow", "hardener", 18, 8)),
    ratio_tolerance=0.03,
)


def test_what_is_lost_as_a_pigment_is_poured_may_be_pigment() -> None:
    """0.8 g is gone of a cup with 8.4 g of pigment, of which 8.0 g is the least for 200 g."""
    guide = Guide(terms(282, recipe=LAST, hands_free=False))
    now = hold_at(guide, 12, hold_at(guide, 0, 0, 2), 3)
    for from_g, to_g in ((12, 212), (212, 284)):
        now = hold_at(guide, to_g, ramp(guide, from_g, to_g, now, 15), 10)
        press(guide, now, "go")
    now = hold_at(guide, 292.4, ramp(guide, 284, 292.4, now, 3), 10)
    assert guide.cue == "next"
    now = hold_at(guide, 291.6, now, 6)
    now = hold_at(guide, 292.2, ramp(guide, 291.6, 292.2, now, 1), 10)
    press(guide, now, "go")
    assert guide.pour.stage == "pour", guide.pour.result
    assert guide.refusal.startswith("Not in band")


def filled(recipe: Recipe, *grams: float) -> Pour:
    pour = begin(Opened(0, terms(200, recipe=recipe)))
    pour = evolve(pour, Tared(1, 0, 0, 100_000, "g", False, ""))
    base_ug = 0
    for index, mass_g in enumerate(grams):
        net_ug = round(mass_g * 1e6)
        pour = evolve(pour, Called(2, index, base_ug, 0, 1, 1, 1, False, False))
        pour = evolve(
            evolve(pour, Begun(3, index)), Accepted(4, index, net_ug, base_ug + net_ug, "")
        )
        base_ug += net_ug
    return pour


@given(astray_g=st.floats(0.1, 5), index=st.sampled_from([1, 2]))
def test_drips_between_two_hardeners_narrow_the_band_of_each(astray_g: float, index: int) -> None:
    pour = filled(BLEND, 100, 18)
    pour = evolve(pour, Called(5, 2, 118_000_000, 0, 1, 1, 1, False, False))
    astray_ug = round(astray_g * 1e6)
    either = evolve(pour, Begun(6, 2, astray_ug=astray_ug))
    before, after = (bands.own_band(one.cup, index) for one in (pour, either))
    assert not after.provable or after.low_ug - before.low_ug >= astray_ug - 1
    assert not after.provable or before.high_ug - after.high_ug >= astray_ug - 1
    assert bands.own_band(pour.cup, index).provable


@given(g=st.floats(0.1, 3), gains=st.booleans())
def test_what_is_lost_or_came_in_may_be_of_any(g: float, gains: bool) -> None:
    pour, ug = filled(LAST, 100, 36, 5), round(g * 1e6)
    pour = evolve(pour, Called(7, 1, 141_000_000, 36_000_000, 1, 1, 1, True, False))
    fact = (Gained if gains else Lost)(8, 141_000_000, 141_000_000 + (ug if gains else -ug), "")
    assert evolve(pour, fact).strayed_ug == (ug, ug, ug)
