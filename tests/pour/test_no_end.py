"""Additions answer one another: however each is poured, they come to an end."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import example, given, settings
from hypothesis import strategies as st
from support.pouring import HARDENER, RESIN, TWO, Guide, press, terms
from support.typing import Teller

from devices.readings import Reading
from mixer.pour.bands import (
    Cup,
    conforms,
    hardener_limits,
    next_call,
    own_band,
    poured,
    reached,
)
from mixer.pour.facts import Accepted, Called, Opened, Tared
from mixer.pour.inputs import Tick, Weighed
from mixer.pour.recipe import Component, Recipe
from mixer.pour.single import bound
from mixer.pour.state import begin, evolve

CUP_UG = 12_000_000
#: By how much each pour goes over its band; it is as much again in the next round.
OVERS_UG = st.lists(st.integers(1, 3_000_000), min_size=1, max_size=6)
LEAST_DIVISIONS = 2  # of a band: an addition that goes over it is more than that


@settings(max_examples=60, deadline=None)
@example(size_g=20, division_ug=1000000, repeats=0, overs_ug=[1, 1, 1, 1, 5901, 171889])
@given(
    st.integers(20, 400),
    st.sampled_from([10_000, 100_000, 1_000_000]),
    st.sampled_from([0, 0.5, 1]),
    OVERS_UG,
)
def test_a_hand_that_pours_over_every_band_is_told_to_add_only_so_often(
    size_g: int, division_ug: int, repeats: float, overs_ug: list[int]
) -> None:
    """Each addition that misses brings more than its whole band, and all together no more than
    the batch that was asked for: that many are the most, and mostly there are far fewer."""
    what = terms(size_g, repeatability_ug=round(repeats * division_ug))
    pour = evolve(begin(Opened(0, what)), Tared(0, CUP_UG, 0, division_ug, "g", False, ""))
    additions, gross_ug = 0, CUP_UG
    narrowest_ug = min(LEAST_DIVISIONS * division_ug, round(TWO.ratio_tolerance * what.size_ug / 4))
    while (call := next_call(pour.cup)) is not None and call.fits:
        additions += call.addition
        assert additions * narrowest_ug <= what.size_ug
        first = call.component == 0 and not call.addition
        over_ug = overs_ug[additions % len(overs_ug)]
        net_ug = call.target_ug if first else call.high_ug + over_ug
        before_ug = gross_ug
        gross_ug += net_ug - call.before_ug
        for fact in (
            Called(
                1, call.component, before_ug, call.before_ug, call.target_ug, call.low_ug,
                call.high_ug, call.addition, False, division_ug,
            ),
            Accepted(1, call.component, net_ug, gross_ug, "", division_ug=division_ug),
        ):  # fmt: skip
            pour = evolve(pour, fact)
    if call is None:  # room had ended its limits, and it is in band all the same
        assert conforms(pour.cup)[0]
        return
    # Too much of one, and no room for the other: parted, or discarded.
    assert pour.added_ug + call.target_ug - call.before_ug > what.size_ug or (
        sum(pour.amounts_ug) + call.target_ug - call.before_ug > 2 * sum(pour.amounts_ug)
    )


PIGMENT = Component("pigment", "additive", 4, 8, tolerance=0.2)
DILUENT = Component("diluent", "additive", 15, 8, tolerance=0.03)
FINE = [
    TWO,
    Recipe((RESIN, DILUENT, HARDENER), 0.02),
    Recipe((RESIN, PIGMENT, HARDENER), 0.03),
    Recipe((RESIN, HARDENER, DILUENT), 0.03),
    Recipe((RESIN, Component("fast", "hardener", 24, 8), Component("slow", "hardener", 12, 8)),
           0.03, 0.1),
]  # fmt: skip


@settings(max_examples=200, deadline=None)
@given(
    st.sampled_from(FINE),
    st.integers(10, 120),
    st.sampled_from([100_000, 1_000_000]),
    st.lists(st.integers(-1, 3), min_size=6, max_size=6),
)
def test_less_than_a_step_of_the_scale_is_never_asked_for(
    recipe: Recipe, size_g: int, step_ug: int, off: list[int]
) -> None:
    """Each pour comes to the step that is nearest to what is asked for, or some steps off it."""
    count = len(recipe.components)
    none = (0,) * count
    cup = Cup(terms(size_g, recipe=recipe), 12_000_000, step_ug, none, (False,) * count, 0)
    for turn in range(60):
        call = next_call(cup)
        if call is None or not call.fits:
            break
        wanted_ug = call.target_ug - call.before_ug
        assert wanted_ug >= step_ug or not call.addition
        steps = max(1, round(wanted_ug / step_ug) + (off[turn] if turn < len(off) else 0))
        net_ug = call.before_ug + steps * step_ug
        if net_ug < call.low_ug and not reached(net_ug, call.low_ug, call.high_ug, step_ug):
            net_ug = call.before_ug - (call.before_ug - call.low_ug) // step_ug * step_ug
        cup = poured(cup, replace(call, target_ug=net_ug))
    else:
        raise AssertionError("it comes to no end")
    if call is None:
        assert conforms(cup)[0]


@settings(max_examples=200, deadline=None)
@example(recipe_at=1, size_g=60, step_ug=100_000, repeats=0.5, off=[1.0, 0.97, 1.029])
@given(
    st.integers(0, len(FINE) - 1),
    st.floats(1, 2000),
    st.sampled_from([10_000, 100_000, 500_000, 1_000_000, 5_000_000]),
    st.sampled_from([0, 0.5, 1]),
    st.lists(st.floats(0.75, 1.25) | st.floats(0.96, 1.04), min_size=3, max_size=3),
)
def test_the_step_nearest_to_a_band_is_never_shown_to_be_in_it(
    recipe_at: int, size_g: float, step_ug: int, repeats: float, off: list[float]
) -> None:
    """Where a band lies between two steps of the scale the nearer one is taken; what this scale
    can prove is within all its limits."""
    recipe = FINE[recipe_at]
    amounts_ug = tuple(
        round(size_g * 1e6 * recipe.share(i) * off[i] / step_ug) * step_ug
        for i in range(len(recipe.components))
    )
    told = terms(size_g, recipe=recipe, repeatability_ug=round(repeats * step_ug))
    poured_all = (True,) * len(amounts_ug)
    cup = Cup(told, CUP_UG, step_ug, amounts_ug, poured_all, 1)
    in_band, provable = conforms(cup)
    if not (in_band and provable):
        return
    low_ug, high_ug, _ = hardener_limits(recipe, cup.resin_ug, cup.errors, cup.switches)
    assert low_ug <= cup.hardener_ug <= high_ug
    for index in bound(recipe):
        own = own_band(cup, index)
        assert own.low_ug <= amounts_ug[index] <= own.high_ug


def coarsely(guide: Guide, to_g: int, from_s: float, for_s: float, upon_g: int = 0) -> float:
    """A stream up to this and then a rest, on a scale of 1 g; the time after it."""
    streams = [g for g in range(upon_g, to_g) for _ in range(3)] if upon_g else []
    for i, mass_g in enumerate([*streams, *[to_g] * round(for_s * 10)]):
        at_s, still = from_s + i / 10, i >= len(streams)
        text = f"{mass_g} g"
        guide.take(Weighed(Reading(mass_g * 10**6, text, "g", 10**6, still, at_s=at_s)))
        guide.take(Tick(at_s))
    return at_s + 0.1


def test_where_no_step_is_in_band_the_nearest_is_said_to_do_and_is_taken() -> None:
    """42 g of resin want 6.11 to 6.49 g of diluent: a scale of 1 g shows 6 or 7."""
    guide = Guide(terms(61, recipe=FINE[1], hands_free=False))
    now = coarsely(guide, 12, coarsely(guide, 0, 0, 2), 3)
    now = coarsely(guide, 54, now, 10, upon_g=12)
    press(guide, now, "go")
    now = coarsely(guide, 54, now, 2)
    assert guide.say.startswith(
        "Gently: 6 g of diluent to go; no step of this scale is in band, and it stays unproven."
    )
    now = coarsely(guide, 60, now, 12, upon_g=54)
    assert (guide.cue, guide.component) == ("next", "diluent")
    assert guide.say.startswith(
        "Diluent is as near as it can be: no step of this scale is in band. Go on to the next jug."
    )
    press(guide, now, "go")
    assert guide.component == "hardener"


def test_the_same_where_the_totals_are_typed() -> None:
    teller = Teller(FINE[1], 61, division_g=1)
    teller.shows("0", "42")
    assert "until the scale shows 48 g (no step of this scale is in band: what" in teller.say
    teller.shows("48")
    assert teller.pour.called is not None
    assert teller.pour.called.component == 2
