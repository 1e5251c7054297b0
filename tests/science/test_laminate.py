"""Fractions and thickness against handbook formulas, worked by hand, and against themselves."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mixer.science.laminate import (
    fibre_volume_fraction,
    fibre_volume_of,
    fillet_area_mm2,
    ply_thickness_mm,
    resin_for,
    resin_fraction,
    resin_fraction_of,
)

PART = st.floats(0, 0.8)
VOIDS = st.floats(0, 0.1)
DENSITY = st.floats(0.8, 3)
AREAL = st.floats(20, 2000)


def test_two_thirds_to_three_quarters_of_the_cloths_weight_stay() -> None:
    # Common practice, no source: what stays in a hand layup, by the weight of its cloth;
    # about 40 % resin by weight is good.
    assert 2 / 3 - 1e-9 <= resin_for(1, 0.40) <= 3 / 4
    assert resin_for(1, 3 / 7) == pytest.approx(3 / 4)


def test_a_hand_layup_panel_worked_by_hand() -> None:
    # One square metre, four plies of 300 g/m2 glass (2.54 g/mL), 40 % of resin (1.15 g/mL),
    # no voids. Cloth 1200 g, resin 800 g; 1200/2.54 = 472.4 mL of glass, 800/1.15 =
    # 695.7 mL of resin, 1168.1 mL on a square metre: 1.168 mm, 40.4 % of it glass.
    assert resin_for(1200, 0.4) == pytest.approx(800)
    volume = fibre_volume_fraction(0.4, 2.54, 1.15)
    assert volume == pytest.approx(472.4 / 1168.1, abs=1e-4)
    assert ply_thickness_mm(1200, volume, 2.54) == pytest.approx(1.1681, abs=1e-4)


def test_a_spar_stack_of_twenty_plies() -> None:
    # Common practice, no source: heavy spar tape is some 0.025 in a ply, twenty of them
    # 0.50 in. Such a tape weighs 650 g/m2 (our choice among what is sold).
    ply_mm = ply_thickness_mm(650, fibre_volume_fraction(0.4))
    assert ply_mm / 25.4 == pytest.approx(0.025, abs=0.001)
    assert 20 * ply_mm / 25.4 == pytest.approx(0.50, abs=0.02)


def test_voids_make_it_thicker_by_their_own_volume() -> None:
    solid, with_voids = fibre_volume_fraction(0.4), fibre_volume_fraction(0.4, voids=0.05)
    assert ply_thickness_mm(300, with_voids) == pytest.approx(ply_thickness_mm(300, solid) / 0.95)


@given(PART, DENSITY, DENSITY, VOIDS, AREAL)
def test_there_and_back(
    w: float, fibre_g_ml: float, resin_g_ml: float, voids: float, areal: float
) -> None:
    volume = fibre_volume_fraction(w, fibre_g_ml, resin_g_ml, voids)
    assert resin_fraction_of(volume, fibre_g_ml, resin_g_ml, voids) == pytest.approx(w, abs=1e-9)
    thickness = ply_thickness_mm(areal, volume, fibre_g_ml)
    assert fibre_volume_of(thickness, areal, fibre_g_ml) == pytest.approx(volume)
    assert resin_fraction(areal, areal + resin_for(areal, w)) == pytest.approx(w, abs=1e-9)
    # What it weighs is what is in it, volume by volume.
    weight = 1000 * thickness * (volume * fibre_g_ml + (1 - voids - volume) * resin_g_ml)
    assert weight == pytest.approx(areal + resin_for(areal, w))


@given(PART, PART)
def test_more_resin_is_thicker(one: float, other: float) -> None:
    low, high = sorted((one, other))
    assert fibre_volume_fraction(low) >= fibre_volume_fraction(high)


def test_a_fillet_is_what_a_round_tool_leaves_in_a_corner() -> None:
    # Geometry, counted in a grid: the part of a square of 10 mm that is outside the tool.
    steps = [(i + 0.5) / 100 * 10 for i in range(100)]
    outside = sum(math.hypot(10 - x, 10 - y) > 10 for x in steps for y in steps)
    assert fillet_area_mm2(10) == pytest.approx(outside * 0.01, abs=0.1)


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: resin_for(-1, 0.4), "below 0"),
        (lambda: resin_for(1, 1.0), "not from 0 to below 1"),
        (lambda: resin_for(1, -0.1), "not from 0"),
        (lambda: resin_for(1, math.nan), "not from 0"),
        (lambda: resin_fraction(2, 1), "lighter than its cloth"),
        (lambda: resin_fraction(0, 0), "lighter than its cloth"),
        (lambda: fibre_volume_fraction(0.4, 0), "not above 0"),
        (lambda: fibre_volume_fraction(0.4, 2.5, math.inf), "not above 0"),
        (lambda: fibre_volume_fraction(0.4, voids=1), "not from 0"),
        (lambda: resin_fraction_of(0.9, voids=0.2), "more than the whole"),
        (lambda: resin_fraction_of(0), "not above 0"),
        (lambda: ply_thickness_mm(300, 0), "not above 0 and up to 1"),
        (lambda: ply_thickness_mm(300, 1.1), "not above 0 and up to 1"),
        (lambda: ply_thickness_mm(-1, 0.4), "below 0"),
        (lambda: fibre_volume_of(0.1, 300), "thinner than the fibre"),
        (lambda: fibre_volume_of(0, 300), "not above 0"),
        (lambda: fillet_area_mm2(-1), "below 0"),
    ],
)
def test_what_is_outside_the_range_is_refused(call, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        call()
