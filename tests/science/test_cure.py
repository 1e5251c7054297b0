"""The cure against published orders of magnitude and independent integrations."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad, solve_ivp

from mixer.science.cure import (
    GEL,
    ZERO_C_K,
    Cure,
    activation_energy_j_mol,
    conversion_when_thicker,
    isothermal_s,
    thicker,
    thinned_by_heat,
)

TYPICAL = Cure()


def film(temp_c: float, hours: float) -> float:
    """Conversion of a thin film after this long at one temperature."""
    found = solve_ivp(
        lambda t, y: [TYPICAL.rate_per_s(y[0], temp_c + ZERO_C_K)],
        (0, hours * 3600),
        [0.0],
        method="LSODA",
        rtol=1e-8,
        atol=1e-10,
    )
    return float(found.y[0, -1])


def test_it_gels_where_flory_and_stockmayer_say() -> None:
    # Flory 1953; Stockmayer 1952; Macosko and Miller 1976: two epoxides, four hydrogens.
    assert TYPICAL.gel == pytest.approx(0.577, abs=5e-4)


def test_the_activation_energies_are_those_of_amine_and_epoxide() -> None:
    # 44 to 57 kJ/mol, autocatalytic fits: Thermochim. Acta 447 (2006) 167; J. Appl.
    # Polym. Sci. 56 (1995) 1029.
    assert 44e3 <= TYPICAL.e1_j_mol <= 57e3
    assert 44e3 <= TYPICAL.e2_j_mol <= 57e3


def test_half_the_time_for_ten_degrees_more_is_some_52_kj_per_mole() -> None:
    # Practice, by Arrhenius, near 25 degC.
    assert 51e3 <= activation_energy_j_mol(2, 20, 1, 30) <= 53.5e3


@pytest.mark.parametrize("temp_c", [15, 20, 25, 30])
def test_a_film_lasts_half_as_long_for_ten_degrees_more(temp_c: float) -> None:
    # Practice, no source: within 15 %.
    halved = isothermal_s(TYPICAL, GEL, temp_c) / isothermal_s(TYPICAL, GEL, temp_c + 10)
    assert halved == pytest.approx(2, rel=0.15)


@pytest.mark.parametrize(("temp_c", "hours"), [(20, 24), (20, 7 * 24), (25, 24), (25, 7 * 24)])
def test_a_cure_in_the_room_stalls_at_80_to_90_per_cent(temp_c: float, hours: float) -> None:
    # Practice, no source.
    assert 0.80 <= film(temp_c, hours) <= 0.90


def test_it_goes_on_when_it_is_warmed_after_it_stalled() -> None:
    stalled = film(20, 7 * 24)
    cold = TYPICAL.rate_per_s(stalled, 20 + ZERO_C_K)
    warm = TYPICAL.rate_per_s(stalled, 60 + ZERO_C_K)
    # Far more than Arrhenius alone: it is no glass any more.
    arrhenius = math.exp(52e3 / 8.314 * (1 / 293.15 - 1 / 333.15))
    assert warm / cold > 5 * arrhenius


def test_in_the_cold_it_turns_to_glass_before_it_gels() -> None:
    assert TYPICAL.glass_conversion(-10) < GEL < TYPICAL.glass_conversion(15)


def test_it_speeds_itself_up() -> None:
    rates = [TYPICAL.rate_per_s(a / 100, 298.15) for a in range(100)]
    fastest = rates.index(max(rates))
    assert 10 < fastest < 50
    assert rates[fastest] > 1.2 * rates[0]


def test_both_rates_follow_arrhenius_each_with_its_own_energy() -> None:
    # Without glass, at the start and far on: the ratio of the rates is the definition.
    one = Cure(k1_per_s=1e-4, k2_per_s=0, e1_j_mol=60e3, sharpness=0)
    assert one.rate_per_s(0, 308.15) / one.rate_per_s(0, 298.15) == pytest.approx(
        math.exp(60e3 / 8.314462618 * (1 / 298.15 - 1 / 308.15))
    )
    two = Cure(k1_per_s=0, k2_per_s=1e-4, e2_j_mol=45e3, sharpness=0)
    assert two.rate_per_s(0.5, 298.15) == pytest.approx(1e-4 * 0.5 * 0.25 / 2)
    assert two.rate_per_s(0.5, 288.15) / two.rate_per_s(0.5, 298.15) == pytest.approx(
        math.exp(45e3 / 8.314462618 * (1 / 298.15 - 1 / 288.15))
    )


def test_arrays_and_numbers_come_to_the_same() -> None:
    alphas, temps = np.linspace(0, 1, 11), np.linspace(263, 520, 11)
    many = TYPICAL.rate_per_s(alphas, temps, np.exp)
    each = [TYPICAL.rate_per_s(float(a), float(t)) for a, t in zip(alphas, temps, strict=True)]
    assert many.tolist() == pytest.approx(each)


@given(st.floats(0, 1), st.floats(-10, 250), st.floats(0.1, 10))
def test_the_rate_is_never_below_nothing_and_scales(
    alpha: float, temp_c: float, factor: float
) -> None:
    rate = TYPICAL.rate_per_s(alpha, temp_c + ZERO_C_K)
    assert 0 <= rate < math.inf
    faster = TYPICAL.faster(factor).rate_per_s(alpha, temp_c + ZERO_C_K)
    assert faster == pytest.approx(factor * rate)


@given(st.floats(-35, 78))
def test_glass_transition_and_its_conversion_are_inverse(temp_c: float) -> None:
    at = TYPICAL.glass_conversion(temp_c)
    assert 0 < at < 1
    assert TYPICAL.glass_transition_c(at) == pytest.approx(temp_c, abs=1e-6)


@given(st.floats(1, 1e4), st.floats(0.2, 0.9))
def test_thickening_and_its_conversion_are_inverse(factor: float, gel: float) -> None:
    at = conversion_when_thicker(factor, gel)
    assert 0 <= at < gel
    assert thicker(at, gel) == pytest.approx(factor, rel=1e-6)


@given(st.floats(0, 0.99), st.floats(0.001, 0.01))
def test_it_never_thins_by_curing(alpha: float, more: float) -> None:
    assert thicker(alpha) >= 1
    assert thicker(alpha + more) >= thicker(alpha)


def test_thickening_has_no_end_at_the_gel_point() -> None:
    assert thicker(0) == 1
    assert thicker(GEL - 1e-9) > 1e15
    assert thicker(GEL) == math.inf


def test_what_ends_a_pot_life_comes_in_this_order() -> None:
    ends = [TYPICAL.end_conversion(word) for word in ("viscosity", "usable", "gel")]
    assert 0.1 < ends[0] < ends[1] < ends[2] == TYPICAL.gel
    assert [thicker(end) for end in ends[:2]] == pytest.approx([2, 5])


def test_warm_resin_is_thinner() -> None:
    # Practice, no source: a liquid epoxy loses about half its thickness for 10 degC.
    assert thinned_by_heat(25) == 1
    assert thinned_by_heat(35) == pytest.approx(0.5, abs=0.06)
    assert thinned_by_heat(15) > 1.7


@given(st.floats(0.05, 0.6), st.floats(0, 60))
def test_the_time_of_a_film_is_the_integral(to: float, temp_c: float) -> None:
    # Independent: adaptive quadrature of scipy.
    expected, _ = quad(lambda a: 1 / TYPICAL.rate_per_s(a, temp_c + ZERO_C_K), 0, to, limit=200)
    assert isothermal_s(TYPICAL, to, temp_c) == pytest.approx(expected, rel=1e-4)


@given(st.floats(20e3, 120e3), st.floats(0, 40), st.floats(1, 20))
def test_two_times_give_the_energy_they_came_from(
    energy: float, cold_c: float, more: float
) -> None:
    times = [
        isothermal_s(Cure(e1_j_mol=energy, e2_j_mol=energy, sharpness=0), 0.4, temp, 20)
        for temp in (cold_c, cold_c + more)
    ]
    found = activation_energy_j_mol(times[0], cold_c, times[1], cold_c + more)
    assert found == pytest.approx(energy, rel=1e-6)


def test_outside_its_ranges_it_gives_no_number() -> None:
    for bad in (-0.1, 1.1, math.nan):
        with pytest.raises(ValueError, match="not within"):
            thicker(bad)
    for gel in (0, 1.1, math.nan):
        with pytest.raises(ValueError, match="not within"):
            thicker(0.1, gel)
    for factor in (0.5, math.inf, math.nan):
        with pytest.raises(ValueError, match="below 1"):
            conversion_when_thicker(factor)
    for times in ((0, 20, 1, 30), (1, 20, math.nan, 30), (2, 20, 1, 20)):
        with pytest.raises(ValueError, match="are wanted"):
            activation_energy_j_mol(*times)
