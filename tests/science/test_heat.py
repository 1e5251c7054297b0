"""The lumped cup against Semenov, energy, and an integration of its own."""

from __future__ import annotations

import math
import subprocess
import sys
from collections.abc import Callable

import pytest

from mixer.science import heat
from mixer.science.cure import GEL, ZERO_C_K, Cure
from mixer.science.heat import CLOSE, Body, conductance_w_k, filled_cup_m, lumped

CURE = Cure(5.8e-5, 2.9e-4)
CUP = Body(mass_g=100, heat_j_g=380, capacity_j_g_k=2.1, conductance_w_k=0.08)
RATE = CURE.rate_per_s


# -- Semenov: consumption off, well stirred

AIR_C, ENERGY = 25.0, 52e3
AIR_K = AIR_C + ZERO_C_K
EXCESS_K = 8.314462618 * AIR_K**2 / ENERGY  # R T^2 / E


def unconsumed(psi: float) -> Callable[[float, float], float]:
    """Heat that goes by temperature alone, so strong that this is Semenov's number; with
    the exponential that he put in the place of exp(-E/RT)."""
    at_air = psi * CUP.conductance_w_k * EXCESS_K / (CUP.mass_g * CUP.heat_j_g)
    return lambda alpha, temp_k: at_air * math.exp(min(50.0, (temp_k - AIR_K) / EXCESS_K))


def test_below_semenovs_number_it_settles_and_above_it_runs_away() -> None:
    # Semenov 1928: critical psi = 1/e; within 2 %.
    time_s = CUP.mass_g * CUP.capacity_j_g_k / CUP.conductance_w_k
    calm = lumped(unconsumed(0.98 / math.e), CUP, AIR_C, AIR_C, 60 * time_s, tolerance=1e-9)
    assert not calm.runaway
    assert calm.peak_c - AIR_C < EXCESS_K
    wild = lumped(unconsumed(1.02 / math.e), CUP, AIR_C, AIR_C, 60 * time_s, tolerance=1e-9)
    assert wild.runaway
    assert wild.peak_c - AIR_C > 5 * EXCESS_K


def test_at_the_limit_it_rests_at_the_critical_excess() -> None:
    # Semenov 1928: R T^2 / E; psi = theta exp(-theta), so just below 1/e theta is just below 1.
    time_s = CUP.mass_g * CUP.capacity_j_g_k / CUP.conductance_w_k
    found = lumped(unconsumed(0.9999 / math.e), CUP, AIR_C, AIR_C, 1000 * time_s, tolerance=1e-9)
    assert found.peak_c - AIR_C == pytest.approx(EXCESS_K, rel=0.02)


@pytest.mark.parametrize("theta", [0.1, 0.5, 0.9])
def test_it_settles_where_generation_meets_loss(theta: float) -> None:
    time_s = CUP.mass_g * CUP.capacity_j_g_k / CUP.conductance_w_k
    found = lumped(
        unconsumed(theta * math.exp(-theta)), CUP, AIR_C, AIR_C, 100 * time_s, tolerance=1e-9
    )
    assert found.temp_c[-1] - AIR_C == pytest.approx(theta * EXCESS_K, rel=0.02)


# -- with a real cure


def by_hand(air_c: float, start_c: float, step_s: float, until_s: float) -> dict[str, float]:
    """The same equations by Runge and Kutta's fixed steps, with the heat lost as a third."""
    alpha, temp, lost_j, gel_s, peak = 0.0, start_c + ZERO_C_K, 0.0, 0.0, 0.0
    air = air_c + ZERO_C_K

    def slopes(a: float, t: float) -> tuple[float, float, float]:
        rate, out = RATE(a, t), CUP.conductance_w_k * (t - air)
        warming = (CUP.mass_g * CUP.heat_j_g * rate - out) / (CUP.mass_g * CUP.capacity_j_g_k)
        return rate, warming, out

    for i in range(round(until_s / step_s)):
        k1 = slopes(alpha, temp)
        k2 = slopes(alpha + step_s / 2 * k1[0], temp + step_s / 2 * k1[1])
        k3 = slopes(alpha + step_s / 2 * k2[0], temp + step_s / 2 * k2[1])
        k4 = slopes(alpha + step_s * k3[0], temp + step_s * k3[1])
        moved = [
            step_s / 6 * (a + 2 * b + 2 * c + d) for a, b, c, d in zip(k1, k2, k3, k4, strict=True)
        ]
        if alpha < GEL <= alpha + moved[0]:
            gel_s = (i + (GEL - alpha) / moved[0]) * step_s
        alpha, temp, lost_j = alpha + moved[0], temp + moved[1], lost_j + moved[2]
        peak = max(peak, temp - ZERO_C_K)
    return {"alpha": alpha, "temp": temp - ZERO_C_K, "lost": lost_j, "gel": gel_s, "peak": peak}


@pytest.mark.parametrize(("air_c", "start_c"), [(25, 25), (15, 24), (35, 28)])
def test_it_agrees_with_steps_made_by_hand(air_c: float, start_c: float) -> None:
    found = lumped(RATE, CUP, air_c, start_c, 9000, (GEL,))
    hand = by_hand(air_c, start_c, 1.0, 9000)
    assert found.reached_s[0] == pytest.approx(hand["gel"], rel=1e-3)
    assert found.peak_c == pytest.approx(hand["peak"], abs=0.2)
    assert found.conversion[-1] == pytest.approx(hand["alpha"], abs=1e-3)
    # Heat conserved: what reacted is what is still in it and what went to the room.
    made = CUP.mass_g * CUP.heat_j_g * found.conversion[-1]
    stored = CUP.mass_g * CUP.capacity_j_g_k * (found.temp_c[-1] - start_c)
    assert stored + hand["lost"] == pytest.approx(made, rel=1e-3)


def test_finer_steps_change_nothing_that_is_shown() -> None:
    for mass_g, air_c in ((20.0, 15.0), (100.0, 25.0), (500.0, 35.0)):
        cup = Body(mass_g, 380, 2.1, 0.08 * (mass_g / 100) ** (2 / 3))
        coarse = lumped(RATE, cup, air_c, air_c, 86400, (0.35, GEL))
        fine = lumped(RATE, cup, air_c, air_c, 86400, (0.35, GEL), tolerance=CLOSE / 100)
        assert len(fine.t_s) > 1.3 * len(coarse.t_s)  # else it is the same run
        assert coarse.reached_s == pytest.approx(fine.reached_s, rel=1e-6)
        assert coarse.peak_c == pytest.approx(fine.peak_c, abs=1e-3)
        assert coarse.runaway == fine.runaway


def test_the_more_epoxy_the_sooner_and_the_hotter() -> None:
    courses = []
    for mass_g in (10.0, 30.0, 100.0, 300.0):
        radius, depth = filled_cup_m(mass_g, 1.1, mass_g / 1.1 / 0.6)
        cup = Body(mass_g, 380, 2.1, conductance_w_k(radius, depth))
        courses.append(lumped(RATE, cup, 20, 20, 86400, (GEL,)))
    gels = [course.reached_s[0] or 0 for course in courses]
    peaks = [course.peak_c for course in courses]
    assert gels == sorted(gels, reverse=True)
    assert peaks == sorted(peaks)


def test_a_tray_stays_cool_where_a_cup_runs_away() -> None:
    cup_r, cup_d = filled_cup_m(200, 1.1, 300)
    cup = lumped(RATE, Body(200, 380, 2.1, conductance_w_k(cup_r, cup_d)), 20, 20, 86400)
    depth = 0.003
    tray_r = math.sqrt(200 / 1.1 * 1e-6 / depth / math.pi)
    tray = lumped(RATE, Body(200, 380, 2.1, conductance_w_k(tray_r, depth)), 20, 20, 86400)
    assert cup.runaway
    assert cup.peak_c > 100
    assert not tray.runaway
    assert tray.peak_c < 30


def test_a_stack_on_foam_gets_hotter_than_one_on_the_bench() -> None:
    stack = {"radius_m": 0.1, "depth_m": 0.0127, "wall_m2k_w": 0.0}  # half an inch
    bench = conductance_w_k(**stack, stand_w_m2k=heat.BENCH_W_M2K)
    foam = conductance_w_k(**stack, stand_w_m2k=heat.FOAM_W_M2K)
    mass = math.pi * 0.1**2 * 0.0127 * 1.1e6
    peaks = [lumped(RATE, Body(mass, 380, 2.1, u), 20, 20, 86400).peak_c for u in (bench, foam)]
    assert peaks[1] > peaks[0] + 5


def test_warm_epoxy_in_a_cold_room_starts_at_its_hottest() -> None:
    small = Body(5, 380, 2.1, 0.02)
    found = lumped(RATE, small, 10, 40, 3600)
    assert found.peak_s == 0
    assert found.peak_c == pytest.approx(40)
    assert not found.runaway  # though it is 30 degC warmer than the room


def test_what_only_takes_up_the_rooms_heat_does_not_run_away() -> None:
    found = lumped(lambda alpha, temp_k: 0.0, CUP, 40, 10, 86400)
    assert found.peak_c == pytest.approx(40, abs=0.01)
    assert not found.runaway


def test_it_may_leave_once_it_has_what_was_asked() -> None:
    whole = lumped(RATE, CUP, 25, 25, 86400, (0.2, GEL))
    part = lumped(RATE, CUP, 25, 25, 86400, (GEL, 0.2), leave_then=True)
    assert part.reached_s == whole.reached_s[::-1]
    assert part.t_s[-1] < whole.t_s[-1] / 5
    never = lumped(RATE, CUP, 25, 25, 60, (GEL,), leave_then=True)
    assert never.reached_s == (None,)


def test_more_passes_a_larger_cup_and_less_a_worse_stand() -> None:
    usual = conductance_w_k(0.03, 0.04)
    assert conductance_w_k(0.035, 0.04) > usual
    assert conductance_w_k(0.03, 0.05) > usual
    assert conductance_w_k(0.03, 0.04, stand_w_m2k=1) < usual
    assert conductance_w_k(0.03, 0.04, wall_m2k_w=0.1) < usual
    assert conductance_w_k(0.03, 0.04, air_w_m2k=5) < usual


@pytest.mark.parametrize("bad", [0, -1, math.nan, math.inf])
def test_outside_its_ranges_it_gives_no_number(bad: float) -> None:
    with pytest.raises(ValueError, match="not above 0"):
        Body(bad, 380, 2.1, 0.1)
    with pytest.raises(ValueError, match="not above 0"):
        Body(100, 380, 2.1, bad)
    with pytest.raises(ValueError, match="is no cup"):
        conductance_w_k(bad, 0.04)
    with pytest.raises(ValueError, match="is no cup"):
        conductance_w_k(0.03, bad)
    with pytest.raises(ValueError, match="no time to follow"):
        lumped(RATE, CUP, 25, 25, bad)


def test_scipy_is_not_loaded_before_a_cup_is_followed() -> None:
    code = (
        "import sys, mixer.science.heat, mixer.science.heat_field, mixer.science.largest\n"
        "import mixer.science.cure_clock, mixer.app.life.life_picture, mixer.app.life.cure_clock\n"
        "assert not {'scipy', 'numpy', 'matplotlib'} & set(sys.modules)"
    )
    subprocess.run([sys.executable, "-c", code], check=True, timeout=60)


def test_runaway_is_where_the_peak_climbs_with_the_mass() -> None:
    slow = CURE.faster(1 / 3).rate_per_s
    seen = []
    for mass_g in (5.0, 10.0, 20.0, 40.0, 80.0, 160.0, 320.0):
        radius, depth = filled_cup_m(mass_g, 1.1, mass_g / 1.1 / 0.6)
        cup = Body(mass_g, 380, 2.1, conductance_w_k(radius, depth))
        found = lumped(slow, cup, 20, 20, 3 * 86400)
        seen.append((found.peak_c, found.runaway))
    assert [runs for _, runs in seen] == sorted(runs for _, runs in seen)
    assert {runs for _, runs in seen} == {False, True}
    for peak, runs in seen:
        assert runs == (peak > 50)
