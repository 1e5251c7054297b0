"""When a cup is warm and hot, and a room that changes, against an integration of its own."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mixer.science.cure import ZERO_C_K, Cure
from mixer.science.heat import Body, Course, lumped, room
from mixer.science.pot_life import Label, Point, estimate, fit, follow
from mixer.science.warming import HOT_C, first_s, warming

CURE = Cure(5.8e-5, 2.9e-4)
CUP = Body(mass_g=100, heat_j_g=380, capacity_j_g_k=2.1, conductance_w_k=0.08)
LABEL = Label((Point(100, 25, 60),), "gel", 1.1)


def test_a_room_that_changes_is_that_of_each_time() -> None:
    # Checked by scipy's solve_ivp (Radau), stopped and begun anew at each change.
    from scipy.integrate import solve_ivp

    changes = [(0.0, 18.0), (400.0, 31.0), (900.0, 22.0), (1500.0, math.inf)]
    found = lumped(CURE.rate_per_s, CUP, changes[:-1], 21.0, 1500.0)
    y = [0.0, 21.0 + ZERO_C_K]
    for (since, air_c), (until, _) in pairwise(changes):

        def change(t, y, air_k=air_c + ZERO_C_K):
            rate = CURE.rate_per_s(y[0], y[1])
            lost = CUP.conductance_w_k * (y[1] - air_k) / CUP.mass_g
            return [rate, (CUP.heat_j_g * rate - lost) / CUP.capacity_j_g_k]

        y = solve_ivp(change, (since, until), y, method="Radau", rtol=1e-9, atol=1e-11).y[:, -1]
    assert found.conversion[-1] == pytest.approx(y[0], abs=1e-4)
    assert found.temp_c[-1] == pytest.approx(y[1] - ZERO_C_K, abs=0.02)


def test_one_temperature_all_the_time_is_that_temperature() -> None:
    once = lumped(CURE.rate_per_s, CUP, 24.0, 21.0, 3000.0)
    again = lumped(CURE.rate_per_s, CUP, [(0.0, 24.0), (500.0, 24.0)], 21.0, 3000.0)
    assert once == again


@given(st.lists(st.tuples(st.floats(0, 1e5), st.floats(-10, 60)), min_size=1), st.floats(0, 2e5))
def test_a_room_is_at_what_was_said_last(said: list[tuple[float, float]], at_s: float) -> None:
    said = [(0.0, said[0][1]), *sorted(said[1:], key=lambda one: one[0])]
    last = [air_c for since, air_c in said if since <= at_s][-1]
    assert room(said)(at_s) == last


DEGREES = st.integers(-10_000, 200_000).map(lambda thousandths: thousandths / 1000)


@given(st.lists(DEGREES, min_size=2, max_size=9), DEGREES)
def test_a_cup_is_first_so_warm_between_the_steps_around_it(temps: list[float], c: float) -> None:
    steps = tuple(range(len(temps)))
    slopes = tuple(0.0 for _ in temps)  # from each to the next it only rises, or only falls
    course = Course(steps, tuple(temps), steps, (), max(temps), 0, False, slopes)
    at_s = first_s(course, c)
    if at_s is None:
        assert max(temps) < c
    else:
        assert all(temp < c for temp in temps[: math.ceil(at_s)])
        assert temps[math.ceil(at_s)] >= c


def test_a_cup_that_stays_cool_is_neither() -> None:
    system = fit(LABEL)
    assert warming(system.cure.rate_per_s, follow(system, LABEL, 5, 15, 15)) == (None, None)
    life = estimate(LABEL, 5, 15, 15)
    assert (life.warm_s, life.hot_s) == (None, None)


@settings(max_examples=8, deadline=None)
@given(st.floats(20, 400), st.floats(18, 38), st.floats(-8, 8))
def test_what_runs_away_is_said_before_it_is_hot(mass_g: float, air_c: float, by: float) -> None:
    start_c = min(40.0, max(10.0, air_c + by))
    life = estimate(LABEL, mass_g, air_c, start_c)
    system = fit(LABEL)
    course = follow(system, LABEL, mass_g, air_c, start_c)
    warm_s, hot_s = warming(system.cure.rate_per_s, course)
    for early, at_s in ((life.warm_s, warm_s), (life.hot_s, hot_s)):
        if at_s is not None:
            assert early is not None
            assert early < at_s  # that of a label that is too long, or of a warmer reaction
    if life.peak_c > HOT_C:
        assert life.hot_s is not None
    if life.hot_s is not None:
        assert life.warm_s is not None
        assert life.warm_s <= life.hot_s


@settings(max_examples=50, deadline=None)
@given(
    st.floats(5, 500),
    st.floats(10, 40),
    st.floats(-10, 10),
    st.floats(0.1, 25),
    st.sampled_from([12, 60, 240]),
)
def test_a_warmer_room_makes_no_warning_later(
    mass_g: float, air_c: float, by: float, more: float, minutes: float
) -> None:
    label = Label((Point(100, 25, minutes),), "gel", 1.1)
    system = fit(label)
    cues = []
    for one in (air_c, air_c + more):
        course = follow(system, label, mass_g, one, air_c + by)
        cues.append([s or math.inf for s in warming(system.cure.rate_per_s, course)])
    for later, sooner in zip(*cues, strict=True):
        assert sooner <= later * 1.001 + 1


def test_a_warmer_room_told_at_the_bench_puts_off_nothing() -> None:
    # 100 g of a label of 25 min, mixed at 15 degC: the cue was reckoned from the room.
    label = Label((Point(100, 25, 25),), "gel", 1.1)
    cool, warm = (estimate(label, 100, air_c, 15) for air_c in (15, 25))
    assert warm.warm_s is not None
    assert cool.warm_s is not None
    assert warm.warm_s < cool.warm_s


def test_a_share_goes_on_from_where_the_whole_was() -> None:
    # Checked by scipy's solve_ivp (Radau), begun anew as a part is taken out.
    from scipy.integrate import solve_ivp

    share = Body(mass_g=25, heat_j_g=380, capacity_j_g_k=2.1, conductance_w_k=0.035)
    found = lumped(CURE.rate_per_s, CUP, 24.0, 21.0, 1500.0, then=[(600.0, share)])
    y = [0.0, 21.0 + ZERO_C_K]
    for body, since, until in ((CUP, 0.0, 600.0), (share, 600.0, 1500.0)):

        def change(t, y, body=body):
            rate = CURE.rate_per_s(y[0], y[1])
            lost = body.conductance_w_k * (y[1] - 24.0 - ZERO_C_K) / body.mass_g
            return [rate, (body.heat_j_g * rate - lost) / body.capacity_j_g_k]

        y = solve_ivp(change, (since, until), y, method="Radau", rtol=1e-9, atol=1e-11).y[:, -1]
    assert found.conversion[-1] == pytest.approx(y[0], abs=1e-4)
    assert found.temp_c[-1] == pytest.approx(y[1] - ZERO_C_K, abs=0.02)


@settings(max_examples=6, deadline=None)
@given(st.floats(30, 400), st.floats(0.1, 0.6), st.floats(18, 32), st.integers(0, 1200))
def test_a_share_lives_between_the_whole_and_what_was_never_larger(
    mass_g: float, part: float, air_c: float, at_s: int
) -> None:
    share_g = mass_g * part
    whole = estimate(LABEL, mass_g, air_c, air_c)
    alone = estimate(LABEL, share_g, air_c, air_c)
    share = estimate(LABEL, mass_g, air_c, air_c, None, [(at_s, share_g, None)])
    for name in ("working_s", "gel_s"):
        least, now, most = (getattr(one, name) for one in (whole, share, alone))
        assert least * 0.999 <= now <= most * 1.001
    assert whole.range_s is not None
    assert share.range_s is not None
    assert whole.range_s[0] * 0.999 <= share.range_s[0]
