"""The dew point against published values and an independent formulation."""

from __future__ import annotations

import math

import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mixer.science.humidity import dew_margin_c, dew_point_c

AIR = st.floats(0, 50)
RH = st.floats(10, 100)


@pytest.mark.parametrize(
    ("air_c", "rh_pct", "expected_c"),
    # Source: libraries psychrolib and CoolProp, which agree to these digits.
    [(25, 50, 13.86), (20, 65, 13.23), (30, 80, 26.17), (15, 70, 9.58), (35, 30, 14.85)],
)
def test_published_values(air_c: float, rh_pct: float, expected_c: float) -> None:
    assert dew_point_c(air_c, rh_pct) == pytest.approx(expected_c, abs=0.1)


@given(AIR, RH)
def test_agrees_with_psychrolib(air_c: float, rh_pct: float) -> None:
    # psychrolib inverts the Hyland-Wexler equations of the ASHRAE Handbook numerically.
    psychrolib.SetUnitSystem(psychrolib.SI)
    theirs = psychrolib.GetTDewPointFromRelHum(air_c, rh_pct / 100)
    assert dew_point_c(air_c, rh_pct) == pytest.approx(theirs, abs=0.05)


@given(AIR)
def test_saturated_air_is_at_its_dew_point(air_c: float) -> None:
    assert dew_point_c(air_c, 100) == pytest.approx(air_c, abs=1e-9)


@given(AIR, RH, st.floats(0.01, 5))
def test_damper_or_warmer_air_has_a_higher_dew_point(
    air_c: float, rh_pct: float, more: float
) -> None:
    here = dew_point_c(air_c, rh_pct)
    assert here <= air_c + 1e-9
    assert dew_point_c(min(air_c + more, 60), rh_pct) > here
    if rh_pct + more <= 100:
        assert dew_point_c(air_c, rh_pct + more) > here


@pytest.mark.parametrize(
    ("air_c", "rh_pct"),
    [(20, 0), (20, -5), (20, 100.1), (-46, 50), (61, 50), (math.nan, 50), (20, math.nan)],
)
def test_outside_its_range_it_gives_no_number(air_c: float, rh_pct: float) -> None:
    with pytest.raises(ValueError, match="is not"):
        dew_point_c(air_c, rh_pct)


@given(AIR, RH)
def test_a_surface_at_the_dew_point_has_no_margin(air_c: float, rh_pct: float) -> None:
    dew_c = dew_point_c(air_c, rh_pct)
    assert dew_margin_c(dew_c, air_c, rh_pct) == 0
    assert dew_margin_c(min(60, dew_c + 3), air_c, rh_pct) == pytest.approx(3)


@pytest.mark.parametrize("bad", [-46, 61, math.nan])
def test_a_surface_outside_its_range_has_none(bad: float) -> None:
    with pytest.raises(ValueError, match="is not"):
        dew_margin_c(bad, 20, 50)
