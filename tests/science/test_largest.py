"""The largest mass: it lives as long as was asked, a little more does not, in a dozen cups."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from mixer.science import largest
from mixer.science.fitting import fit
from mixer.science.label import Label, Point, System, follow
from mixer.science.largest import MOST_CUPS, calm_g, last_good, lasting_g, thickest_mm
from mixer.science.pot_life import estimate
from mixer.science.shapes import Shape

FAST = Label((Point(100, 25, 25),), "usable", 1.1)
SLOW = Label((Point(100, 25, 50),), "gel", 1.1)


@given(st.floats(1, 1000))
def test_what_is_found_is_good_and_close_to_the_last_that_is(edge: float) -> None:
    asked: list[float] = []

    def good(x: float) -> bool:
        asked.append(x)
        return x <= edge

    found, is_open = last_good(good, 5.0, 500.0)
    assert len(asked) <= MOST_CUPS
    if edge < 5:
        assert (found, is_open) == (0.0, False)
    elif edge >= 500:
        assert (found, is_open) == (500.0, True)
    else:
        assert edge * 0.99 <= found <= edge * (1 + 1e-9)


@settings(max_examples=5, deadline=None)
@given(st.floats(12, 35), st.floats(15, 60))
def test_the_largest_is_found_in_a_dozen_cups(air_c: float, minutes: float) -> None:
    cups: list[float] = []

    def counted(system: System, label: Label, mass_g: float, *rest: Any, **how: Any) -> Any:
        if system is fit(FAST):  # the others are of its doubts
            cups.append(mass_g)
        return follow(system, label, mass_g, *rest, **how)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(largest, "follow", counted)
        found = lasting_g(FAST, minutes, air_c, air_c)
    assert len(cups) <= MOST_CUPS

    def lives_min(mass_g: float) -> float:
        return (follow(fit(FAST), FAST, mass_g, air_c, air_c).reached_s[0] or math.inf) / 60

    if found.most is None:
        assert lives_min(5) < minutes * 1.001
        return
    assert lives_min(found.most) >= minutes * 0.999
    assert found.open or lives_min(found.most * 1.02) < minutes


def test_what_is_doubted_only_lessens_it() -> None:
    surely = lasting_g(FAST, 33, 20, 20)
    assert surely.least is not None
    assert surely.most is not None
    assert surely.least < surely.most
    low_s, _ = estimate(FAST, surely.least, 20, 20).range_s or (0, 0)
    assert low_s / 60 == pytest.approx(33, rel=0.1)  # or thereabouts: its short end lasts


def test_the_largest_that_stays_calm() -> None:
    air_c = 18.0
    found = calm_g(SLOW, air_c, air_c)
    assert found.most is not None
    assert found.least is not None
    assert not found.open
    assert not estimate(SLOW, found.most, air_c, air_c).runaway
    assert estimate(SLOW, found.most * 1.02, air_c, air_c).runaway
    # With what is doubted it stays cool enough to hold, or nearly.
    assert estimate(SLOW, found.least, air_c, air_c).hottest_c < 60


@settings(max_examples=2, deadline=None)
@given(st.floats(12, 25), st.floats(0, 8), st.floats(40, 240), st.sampled_from(["gel", "usable"]))
def test_what_is_surely_calm_is_given_no_warning(
    air_c: float, warmer: float, minutes: float, ends: str
) -> None:
    label = Label((Point(100, 25, minutes),), ends, 1.1)
    surely = calm_g(label, air_c, air_c + warmer).least
    if surely is not None:
        life = estimate(label, surely, air_c, air_c + warmer)
        assert (life.may_run_away, life.warm_s, life.hot_s) == (False, None, None)


@settings(max_examples=2, deadline=None)
@given(
    st.tuples(st.sampled_from([50, 100, 500]), st.sampled_from([20, 25]), st.floats(20, 240)),
    st.floats(12, 28),
    st.floats(0, 8),
    st.floats(20, 120),
)
@example((100, 20, 29.0), 20.0, 5.0, 30.0)
@example((500, 20, 193.0), 25.0, 0.0, 120.0)
def test_what_surely_lasts_has_no_range_that_begins_before(
    point: tuple[float, float, float], air_c: float, warmer: float, minutes: float
) -> None:
    label = Label((Point(*point),), "gel", 1.1)
    surely = lasting_g(label, minutes, air_c, air_c + warmer).least
    if surely is not None:
        within = estimate(label, surely, air_c, air_c + warmer).range_s
        assert within is None or within[0] >= minutes * 60


@settings(max_examples=1, deadline=None)
@given(st.floats(12, 25), st.floats(40, 240), st.floats(0.3, 1))
@example(20.0, 60.0, 0.4)
def test_what_surely_spares_the_foam_is_said_to_spare_it(
    air_c: float, minutes: float, share: float
) -> None:
    label, stack = Label((Point(100, 25, minutes),), "gel", 1.1), Shape("stack", None, 0.01, share)
    surely = thickest_mm(label, 200, air_c, air_c, stack, 60).least
    if surely is not None:
        shape = replace(stack, depth_m=surely / 1000)
        hottest_c = estimate(label, 200, air_c, air_c, shape).hottest_c
        assert shape.foam_most_c(hottest_c, air_c) < 60


def test_a_surely_calm_cup_is_judged_with_its_hot_middle() -> None:
    label = Label((Point(100, 25, 120),), "gel", 1.1)
    surely = calm_g(label, 15, 20).least
    assert surely is not None
    assert estimate(label, surely, 15, 20).warm_s is None


def test_a_fast_resin_in_a_warm_room_is_never_calm() -> None:
    assert calm_g(FAST, 30, 30).most is None
    assert lasting_g(FAST, 120, 30, 30).most is None


def test_a_cup_bounds_what_is_asked() -> None:
    found = lasting_g(FAST, 5, 20, 20, 150.0, 90.0)
    assert (found.most, found.open) == (90.0, True)


def test_more_time_and_a_warmer_room_take_less() -> None:
    masses = [lasting_g(FAST, minutes, 22, 22).most or 0 for minutes in (28, 30)]
    assert masses[0] > masses[1]
    assert (calm_g(SLOW, 15, 15).most or 0) > 2 * (calm_g(SLOW, 20, 20).most or 0)


def test_the_thickest_stack_keeps_the_foam_below_its_limit() -> None:
    stack = Shape("stack", None, 0.01, 0.4)
    found = thickest_mm(SLOW, 300, 20, 20, stack, 60)
    assert found.most is not None
    assert found.least is not None
    for depth_mm, softens in ((found.most, False), (found.most * 1.02, True)):
        shape = replace(stack, depth_m=depth_mm / 1000)
        peak_c = follow(fit(SLOW), SLOW, 300, 20, 20, shape).peak_c
        assert (shape.foam_c(peak_c, 20) > 60) == softens
    bare = thickest_mm(SLOW, 300, 20, 20, replace(stack, share=1.0), 60)
    assert (bare.most or 0) < found.most
