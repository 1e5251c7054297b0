"""The cure of a laminate: against scipy, its own inverse, and the energies that were found."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from mixer.science.cure import Cure, activation_energy_j_mol, isothermal_s
from mixer.science.cure_clock import Span, conversion, reached_s, worth_s

CURE = Cure().faster(0.3)
TEMPS = st.floats(-10, 60)
SPANS = st.lists(st.builds(Span, st.floats(60, 3e5), TEMPS), min_size=1, max_size=6)


@pytest.mark.parametrize("temps", [(25.0,), (20.0, 5.0, 18.0), (-10.0, 60.0), (10.0, 40.0)])
@pytest.mark.parametrize("cure", [CURE, Cure().faster(30)], ids=["slow", "fast"])
def test_conversion_agrees_with_scipy(temps: tuple[float, ...], cure: Cure) -> None:
    # An independent integration: implicit, with its own steps, at a tight tolerance.
    alpha = 0.0
    for temp_c in temps:
        found = solve_ivp(
            lambda t, y, k=temp_c + 273.15: [cure.rate_per_s(y[0], k)],
            (0, 40_000),
            [alpha],
            method="Radau",
            rtol=1e-9,
            atol=1e-11,
        )
        alpha = float(found.y[0, -1])
    spans = [Span(40_000, temp_c) for temp_c in temps]
    assert conversion(cure, spans) == pytest.approx(alpha, abs=2e-4)


@settings(deadline=None, max_examples=30)
@given(st.floats(0.05, 0.75), st.floats(5, 50))
def test_it_is_the_inverse_of_the_time_at_one_temperature(alpha: float, temp_c: float) -> None:
    # Up to where the glass holds it back, where the time to a conversion is hard to tell.
    wanted = min(alpha, CURE.glass_conversion(temp_c))
    span = Span(isothermal_s(CURE, wanted, temp_c), temp_c)
    assert conversion(CURE, [span]) == pytest.approx(wanted, abs=1e-3)


@settings(deadline=None, max_examples=30)
@given(SPANS, st.floats(0.1, 20))
def test_it_only_grows_and_more_so_in_warmth(spans: list[Span], warmer: float) -> None:
    grown = [conversion(CURE, spans[:n]) for n in range(len(spans) + 1)]
    assert grown == sorted(grown)
    assert 0 <= grown[-1] < 1
    warm = [Span(s.seconds, min(60, s.temp_c + warmer)) for s in spans]
    assert conversion(CURE, warm) >= grown[-1] - 1e-9
    halves = [Span(s.seconds / 2, s.temp_c) for s in spans for _ in range(2)]
    assert conversion(CURE, halves) == pytest.approx(grown[-1], abs=1e-4)


def test_in_the_cool_it_stalls_far_from_done() -> None:
    # Practice: room-temperature cure stalls at roughly 80 to 90 %.
    week, month = ([Span(days * 86400, 20)] for days in (7, 30))
    assert 0.78 < conversion(CURE, week) < 0.9
    assert conversion(CURE, month) - conversion(CURE, week) < 0.05
    assert conversion(CURE, month) < 0.92
    assert conversion(CURE, [Span(7 * 86400, 5)]) < conversion(CURE, week) - 0.08


@given(SPANS, TEMPS)
def test_hours_are_worth_themselves_and_no_more_than_either_energy_says(
    spans: list[Span], at_c: float
) -> None:
    same = [Span(span.seconds, at_c) for span in spans]
    assert worth_s(same, at_c) == pytest.approx(sum(s.seconds for s in spans))
    for span in spans:
        if abs(span.temp_c - at_c) > 1:
            worth = worth_s([span], at_c)
            energy = activation_energy_j_mol(span.seconds, span.temp_c, worth, at_c)
            # 44 to 57 and 55 to 60 kJ/mol: Thermochim. Acta 447 (2006) 167; J. Appl.
            # Polym. Sci. 56 (1995) 1029. Of these whichever makes less of it.
            assert energy == pytest.approx(60e3 if span.temp_c < at_c else 44e3)


def test_near_room_temperature_a_day_colder_by_ten_is_worth_less_than_half() -> None:
    # "Halves for each 10 degC" (practice): never more than that is credited.
    assert 0.4 < worth_s([Span(86400, 15)], 25) / 86400 < 0.5
    assert 1.7 < worth_s([Span(86400, 35)], 25) / 86400 < 2.0


@given(SPANS, TEMPS, TEMPS, st.floats(600, 1e6))
def test_when_hours_have_passed_they_are_worth_what_was_wanted(
    spans: list[Span], then_c: float, at_c: float, wanted_s: float
) -> None:
    due_s = reached_s(spans, then_c, at_c, wanted_s)
    lived, left_s = [], due_s
    for span in [*spans, Span(1e9, then_c)]:
        if left_s > 0:
            lived.append(Span(min(left_s, span.seconds), span.temp_c))
            left_s -= span.seconds
    assert worth_s(lived, at_c) == pytest.approx(wanted_s, rel=1e-6)
    assert reached_s(spans, then_c, at_c, wanted_s * 1.1) > due_s
    assert reached_s(spans, max(-10, then_c - 5), at_c, wanted_s) >= due_s


@pytest.mark.parametrize(
    ("seconds", "temp_c"),
    [(0, 20), (-1, 20), (math.inf, 20), (60, -10.1), (60, 61), (60, math.nan)],
)
def test_what_is_no_span_is_refused(seconds: float, temp_c: float) -> None:
    with pytest.raises(ValueError, match="no span"):
        Span(seconds, temp_c)
