"""What puts a ratio right must leave the cup within what its heat and its pot life allow."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.pouring import TWO, Guide, hold_at, press, ramp, terms

from mixer.pour import parting
from mixer.pour.bands import Cup, next_call
from mixer.pour.facts import Capped
from mixer.pour.recipe import Component, Recipe
from mixer.pour.state import evolve, fold


def capped(most_g: float | None) -> tuple[Guide, float]:
    """44.1 g of resin and 20 g of hardener, 3.9 g too much, in a cup with room for more."""
    guide = Guide(terms(60, hands_free=False))
    fact = Capped(0, None if most_g is None else round(most_g * 1e6))
    guide.facts.append(fact)
    guide.pour = evolve(guide.pour, fact)
    now = hold_at(guide, 12, hold_at(guide, 0, 0, 2), 3)
    now = hold_at(guide, 56.1, ramp(guide, 12, 56.1, now, 5), 9)
    press(guide, now, "go")
    return guide, hold_at(guide, 76.1, ramp(guide, 56.1, 76.1, now + 1, 5), 10)


def test_an_addition_beyond_it_is_parted_instead_and_told_why() -> None:
    guide, now = capped(66)
    assert guide.cue == "over"
    assert guide.say == (
        "Over the band by 3.9 g, and what puts it right may run hot or not last: let it drip out "
        "and part it (stir, take 8.4 g out, correct the rest), drop it and discard the cup, or use "
        "it as out of band."
    )
    press(guide, now, "part")
    now = hold_at(guide, 76.1, now, 6)
    now = hold_at(guide, 66.1, hold_at(guide, 0, now, 3), 3)
    (called,) = press(guide, now, "go")
    assert (called.component, called.addition) == (0, True)  # type: ignore[union-attr]
    assert called.target_ug + 16_879_875 <= 66e6  # type: ignore[union-attr]


@pytest.mark.parametrize(("most_g", "most"), [(None, ""), (76, ", 11.8 g at the most")])
def test_one_within_it_is_asked_for(most_g: float | None, most: str) -> None:
    guide, _ = capped(most_g)
    assert guide.say == f"Add 11.5 g of resin, 10.6 g at the least{most}: it brings the ratio back."


def test_where_the_exact_one_is_beyond_it_the_smallest_that_brings_the_ratio_back_may_do() -> None:
    guide, _ = capped(75)
    assert guide.say == (
        "Add 10.9 g of resin, 10.6 g at the least, 10.9 g at the most: it brings the ratio back."
    )


def test_what_is_in_band_and_a_little_beyond_it_is_accepted_and_said() -> None:
    guide, now = capped(75)
    now = hold_at(guide, 87.2, ramp(guide, 76.1, 87.2, now + 1, 5), 3)
    assert (guide.cue, guide.say) == (
        "over", "In band, but over what leaves room for the rest by 0.2 g: let it drip out."
    )  # fmt: skip
    hold_at(guide, 87.2, now, 8)
    assert guide.pour.stage == "stir"


PIGMENT = Component("pigment", "additive", 4, 8, tolerance=0.2)
TINTED = Recipe((TWO.components[0], PIGMENT, TWO.components[1]), 0.03)


@pytest.mark.parametrize(("by", "most_g"), [("heat", 17.9), ("cup", 17.9), ("lot", 17.6)])
def test_more_than_leaves_room_for_the_hardener_is_said_before_its_jug_is_opened(
    by: str, most_g: float
) -> None:
    """2.3 g of pigment want 57.5 g of resin, and these 20.7 g of hardener."""
    what = terms(60, recipe=TINTED, hands_free=False)
    if by == "cup":
        what = replace(what, cup_most_ug=85_000_000)
    elif by == "lot":
        what = replace(what, left_ug=(None, None, 21_700_000))
    guide = Guide(what)
    if by == "heat":
        guide.pour = evolve(guide.pour, Capped(0, 85_000_000))
    now = hold_at(guide, 12, hold_at(guide, 0, 0, 2), 3)
    now = hold_at(guide, 54.9, ramp(guide, 12, 54.9, now, 9), 11)
    press(guide, now, "go")
    now = hold_at(guide, 57.2, ramp(guide, 54.9, 57.2, hold_at(guide, 54.9, now, 2), 1), 16)
    assert guide.say == (
        f"Add 14.6 g of resin, 9.1 g at the least, {most_g} g at the most, then 20.7 g of "
        "hardener: it brings the ratio back."
    )
    now = hold_at(guide, 76.0, ramp(guide, 57.2, 76.0, now, 5), 11)  # 18.8 g
    assert (guide.cue, guide.component) == ("over", "resin")
    assert press(guide, now, "go") == []


def test_it_binds_no_first_pour() -> None:
    guide = Guide(terms(60))
    guide.pour = evolve(guide.pour, Capped(0, 30_000_000))
    now = hold_at(guide, 12, hold_at(guide, 0, 0, 2), 3)
    called = guide.pour.called
    assert called is not None
    assert called.target_ug == pytest.approx(44.1e6, abs=0.1e6)
    hold_at(guide, 56.1, ramp(guide, 12, 56.1, now, 5), 9)
    press(guide, now + 15, "go")
    assert guide.component == "hardener"


def test_the_last_word_on_it_holds_and_folds() -> None:
    guide, _ = capped(66)
    guide.facts.append(Capped(99_000, None))
    pour = fold(guide.facts)
    assert pour is not None
    assert pour.heat_most_ug is None


@given(
    most_g=st.floats(20, 200),
    resin_g=st.floats(10, 100),
    ratio=st.floats(0.2, 0.8),
)
def test_no_addition_that_fits_is_beyond_it(most_g: float, resin_g: float, ratio: float) -> None:
    amounts_ug = (round(resin_g * 1e6), round(resin_g * ratio * 1e6))
    cup = Cup(terms(60), 12_000_000, 100_000, amounts_ug, (True, True), 1)
    cup = replace(cup, heat_most_ug=round(most_g * 1e6))
    call = next_call(cup)
    if call is not None and call.fits:
        assert sum(amounts_ug) - call.before_ug + call.target_ug <= round(most_g * 1e6)
    out_ug = parting.to_take_out_ug(cup)
    if out_ug:
        again = next_call(parting.without(cup, out_ug))
        assert again is None or again.fits


@pytest.mark.parametrize(
    ("heat_g", "left_g", "why"),
    [
        (41, None, ", so much as may run hot or not last"),
        (None, 10, ", more than what is left of the hardener makes"),
        (43, 12, ""),
    ],
)
def test_a_size_that_could_be_proven_and_may_not_be_mixed_is_no_advice(
    heat_g: float | None, left_g: float | None, why: str
) -> None:
    left_ug = () if left_g is None else (None, round(left_g * 1e6))
    guide = Guide(replace(terms(40), left_ug=left_ug))
    guide.pour = replace(guide.pour, heat_most_ug=None if heat_g is None else round(heat_g * 1e6))
    hold_at(guide, 0, 0, 2)
    assert f"can prove a ratio from 42 g on{why}: a batch of this size" in guide.say


def test_resin_that_makes_more_than_may_stay_calm_is_told_before_its_hardener() -> None:
    guide = Guide(terms(60, hands_free=False))
    guide.pour = evolve(guide.pour, Capped(0, 66_000_000))
    now = hold_at(guide, 12, hold_at(guide, 0, 0, 2), 3)
    now = hold_at(guide, 82, ramp(guide, 12, 82, now, 6), 9)
    assert guide.cue == "next"
    assert guide.say.endswith(
        "With its hardener that makes 95.2 g, and more than 66.0 g may run hot or not last."
    )
    press(guide, now, "go")
    assert guide.component == "hardener"
