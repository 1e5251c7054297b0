"""Epoxy with a filler in it, worked by hand and against itself."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mixer.science.thickened import CLOSEST, density_g_ml, epoxy_g, filler_g, volume_by_epoxy

VOLUMES = st.floats(0, 10)
BULK = st.floats(0.02, 0.5)
TRUE = st.floats(0.5, 3)
EPOXY = st.floats(0.9, 1.3)


def test_micro_slurry_worked_by_hand() -> None:
    # One volume of bubbles to one of epoxy (common practice, no source): 100 mL of epoxy
    # are 110 g; 100 mL of loose bubbles are 11 g, their grains 11 / 0.2 = 55 mL. 155 mL of
    # slurry weigh 121 g: 0.78 g/mL, lighter than water.
    assert filler_g(110, 1, 0.11, 1.1) == pytest.approx(11)
    assert volume_by_epoxy(1, 0.11, 0.2) == pytest.approx(1.55)
    assert density_g_ml(1, 0.11, 0.2, 1.1) == pytest.approx(121 / 155)
    assert epoxy_g(155, 1, 0.11, 0.2, 1.1) == pytest.approx(110)


@given(VOLUMES, BULK, TRUE, EPOXY, st.floats(0, 1000))
def test_what_goes_in_comes_out(
    by_volume: float, bulk: float, true: float, epoxy: float, volume_ml: float
) -> None:
    inside_g = epoxy_g(volume_ml, by_volume, bulk, true, epoxy)
    with_filler_g = inside_g + filler_g(inside_g, by_volume, bulk, epoxy)
    assert with_filler_g == pytest.approx(
        volume_ml * density_g_ml(by_volume, bulk, true, epoxy), abs=1e-9
    )
    assert 0 <= inside_g <= volume_ml * epoxy + 1e-9
    # The grains never fill more than balls can.
    grains = by_volume * bulk / true / volume_by_epoxy(by_volume, bulk, true)
    assert grains <= CLOSEST + 1e-9


@pytest.mark.parametrize(
    "call",
    [
        lambda: filler_g(-1, 1, 0.1, 1.1),
        lambda: filler_g(1, -1, 0.1, 1.1),
        lambda: filler_g(1, 1, 0, 1.1),
        lambda: volume_by_epoxy(1, 0.3, 0.2),
        lambda: volume_by_epoxy(math.nan, 0.1, 0.2),
        lambda: epoxy_g(1, 1, 0.1, 0.2, math.inf),
        lambda: density_g_ml(1, 0.1, 0.2, 0),
    ],
)
def test_what_is_outside_the_range_is_refused(call) -> None:
    with pytest.raises(ValueError, match=r"not above 0|below 0|denser than its grains"):
        call()
