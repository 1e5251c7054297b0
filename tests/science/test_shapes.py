"""Trays, films and stacks on foam, against a steady field and the field that reacts."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mixer.science import shapes
from mixer.science.fitting import fit
from mixer.science.heat import AIR_W_M2K, FOAM_W_M2K, conductance_w_k, lumped
from mixer.science.heat_field import Mesh, cylinder, solve
from mixer.science.label import Label, Point, follow
from mixer.science.pot_life import estimate
from mixer.science.shapes import Kind, Shape, slab

DENSITY, AIR_C = 1.1, 20.0
#: From a face to the room, m2 K/W: from metal on ice to thick foam.
RESISTANCES = st.floats(0.02, 2)
DEPTHS = st.floats(0.001, 0.05)


def on_foam(radius_m: float, depth_m: float) -> Mesh:
    """Its middle is the bottom of its axis; its sides are more of it."""
    mesh = cylinder(radius_m, depth_m, 1, 40, side_m2k_w=math.inf, bottom_m2k_w=1 / FOAM_W_M2K)
    return replace(mesh, middle=0)


@pytest.mark.parametrize("depth_m", [0.003, 0.0127, 0.03])
def test_a_slab_on_foam_is_that_of_a_steady_field(depth_m: float) -> None:
    # Heat that comes evenly, for long; no edge: an independent solution, by volumes.
    per_m3 = 1e4
    mesh = cylinder(0.1, depth_m, 1, 40, side_m2k_w=math.inf, bottom_m2k_w=1 / FOAM_W_M2K)
    found = solve(
        replace(mesh, middle=0),
        lambda alpha, temp_k, exp: per_m3 / (DENSITY * 1e6) / 380 + 0 * temp_k,
        AIR_C,
        AIR_C,
        300 * 3600,
        heat_j_g=380,
        capacity_j_g_k=2.1,
        density_g_ml=DENSITY,
    )
    per_m2, ratio = slab(depth_m, 1 / AIR_W_M2K, 1 / FOAM_W_M2K)
    mean_k = found.peak_mean_c - AIR_C
    assert per_m3 * depth_m / per_m2 == pytest.approx(mean_k, rel=0.01)
    assert ratio == pytest.approx((found.peak_c - AIR_C) / mean_k, rel=0.02)


@given(DEPTHS, RESISTANCES)
def test_between_like_faces_a_slab_is_warmest_inside(depth_m: float, face: float) -> None:
    per_m2, ratio = slab(depth_m, face, face)
    # Half of the heat each way, a sixth of its depth from the mean: as of a cup's ends.
    along = depth_m / 0.2
    assert per_m2 == pytest.approx(2 / (face + along / 6))
    assert ratio < 1


@given(DEPTHS, RESISTANCES, st.floats(1.01, 20))
def test_a_worse_bottom_makes_mean_and_bottom_warmer(
    depth_m: float, top: float, worse: float
) -> None:
    like, foam = slab(depth_m, top, top), slab(depth_m, top, top * worse)
    assert foam[0] < like[0]
    assert foam[1] > like[1]
    # Turned over, its mean is the same.
    assert slab(depth_m, top * worse, top)[0] == pytest.approx(foam[0])


@given(st.floats(5, 2000), st.floats(0.003, 0.03), st.floats(0.2, 1))
def test_a_stack_weighs_what_it_holds(mass_g: float, depth_m: float, share: float) -> None:
    stack = Shape("stack", None, depth_m, share)
    radius, depth = stack.size_m(mass_g, DENSITY)
    body = stack.body(mass_g, DENSITY, 380)
    assert body.mass_g * share == pytest.approx(mass_g)
    # Glass gives no heat: that of its epoxy is all there is.
    assert body.mass_g * body.heat_j_g == pytest.approx(mass_g * 380)
    volume_ml = math.pi * radius**2 * depth * 1e6
    assert volume_ml == pytest.approx(mass_g / DENSITY + (body.mass_g - mass_g) / 2.55)
    assert AIR_C <= stack.mixed_c(30, AIR_C) <= 30
    assert stack.mixed_c(AIR_C, AIR_C) == pytest.approx(AIR_C)


@given(st.floats(5, 500), st.floats(0.5, 3))
def test_a_cup_that_nobody_named_is_filled_to_three_fifths(mass_g: float, density: float) -> None:
    radius, depth = Shape().size_m(mass_g, density)
    assert math.pi * radius**2 * depth == pytest.approx(mass_g / density * 1e-6)
    height = 1.2 * 2 * radius  # common practice: a cup by its mean diameter
    assert depth == pytest.approx(0.6 * height)


@given(st.floats(20, 500), st.floats(0.003, 0.02))
def test_a_tray_passes_more_than_a_cup(mass_g: float, depth_m: float) -> None:
    tray = Shape("tray", depth_m=depth_m).body(mass_g, DENSITY, 380)
    cup = Shape().body(mass_g, DENSITY, 380)
    thinner = Shape("tray", depth_m=depth_m / 2).body(mass_g, DENSITY, 380)
    if Shape().size_m(mass_g, DENSITY)[1] > depth_m:
        assert tray.conductance_w_k > cup.conductance_w_k
    assert thinner.conductance_w_k > tray.conductance_w_k


@pytest.mark.parametrize(
    ("kind", "depth_m", "share", "air_c"),
    # Corners of what pot_life.DEPTH_MM allows; all between: tests/benchmarks/shapes.py.
    [
        ("tray", 0.003, 1.0, 35), ("tray", 0.015, 1.0, 15), ("film", 0.003, 1.0, 25),
        ("stack", 0.003, 0.4, 20), ("stack", 0.0127, 0.4, 30), ("stack", 0.03, 0.4, 20),
        ("stack", 0.0127, 1.0, 15), ("stack", 0.03, 1.0, 30), ("stack", 0.03, 0.1, 30),
    ],
)  # fmt: skip
def test_the_lumped_shape_gels_within_a_tenth_of_the_field(
    kind: Kind, depth_m: float, share: float, air_c: float
) -> None:
    label = Label((Point(100, 25, 60),), "gel", DENSITY)
    system, shape, mass_g = fit(label), Shape(kind, None, depth_m, share), 200.0
    course = follow(system, label, mass_g, air_c, air_c, shape)
    gel_s = course.reached_s[1] or 0
    radius, depth = shape.size_m(mass_g, DENSITY)
    mesh = on_foam(radius, depth) if kind == "stack" else cylinder(radius, depth)
    body = shape.body(mass_g, DENSITY, system.heat_j_g)
    field = solve(
        mesh,
        system.cure.rate_per_s,
        air_c,
        air_c,
        max(gel_s * 3, course.peak_s * 1.5),
        heat_j_g=body.heat_j_g,
        capacity_j_g_k=body.capacity_j_g_k,
        density_g_ml=body.mass_g / (float(mesh.volume_m3.sum()) * 1e6),
        gel=system.cure.gel,
    )
    assert gel_s == pytest.approx(field.gel_s, rel=0.10)
    hottest = shape.foam_c(course.peak_c, air_c) if kind == "stack" else course.peak_c
    assert hottest == pytest.approx(field.peak_c, abs=30)
    assert field.stored_j + field.lost_j == pytest.approx(field.heat_j, rel=2e-3)


def test_half_an_inch_of_flox_on_foam_cooks_where_a_thin_stack_does_not() -> None:
    label = Label((Point(100, 25, 60),), "gel", DENSITY)
    system = fit(label)
    peaks = {
        (depth, share): follow(
            system, label, 300, 22, 22, Shape("stack", None, depth, share)
        ).peak_c
        for depth in (0.003, 0.0127)
        for share in (0.4, 1.0)
    }
    assert peaks[0.003, 0.4] < 30
    assert peaks[0.0127, 1.0] > 100
    assert peaks[0.003, 0.4] < peaks[0.003, 1.0] < peaks[0.0127, 1.0]
    assert peaks[0.003, 0.4] < peaks[0.0127, 0.4] < peaks[0.0127, 1.0]


@given(DEPTHS, st.floats(0.5, 2))
def test_foam_is_as_warm_as_the_bottom_of_its_slab(depth_m: float, exchange: float) -> None:
    stack = Shape("stack", None, depth_m, 0.4)
    _, ratio = slab(depth_m, 1 / (AIR_W_M2K * exchange), 1 / (FOAM_W_M2K * exchange))
    foam_c = stack.foam_c(50, AIR_C, exchange)
    assert foam_c - AIR_C == pytest.approx(ratio * 30)
    assert foam_c < stack.foam_most_c(50, AIR_C, exchange) <= foam_c + shapes.FIELD_HOTTER_K
    assert stack.foam_most_c(25, AIR_C) - AIR_C == pytest.approx(
        2 * (stack.foam_c(25, AIR_C) - AIR_C)
    )
    assert stack.foam_most_c(15, AIR_C) == stack.foam_c(15, AIR_C)


@given(st.floats(20, 2000), DEPTHS, st.floats(0.2, 1))
def test_foam_at_its_sides_takes_no_heat_from_a_stack(
    mass_g: float, depth_m: float, share: float
) -> None:
    stack = Shape("stack", None, depth_m, share)
    one, twice = (stack.body(of_g, DENSITY, 380) for of_g in (mass_g, 2 * mass_g))
    assert twice.conductance_w_k == pytest.approx(2 * one.conductance_w_k)


def test_the_foam_of_a_joint_is_never_called_cooler_than_it_is() -> None:
    # Flox in a pocket: foam beneath it and at its sides, air above it alone.
    label = Label((Point(100, 25, 55), Point(100, 15, 120)), "viscosity", DENSITY)
    system, joint, air_c = fit(label), Shape("stack", None, 0.03, 0.9), 12.0
    life = estimate(label, 20, air_c, air_c, joint)
    radius, depth = joint.size_m(20, DENSITY)
    foam = 1 / FOAM_W_M2K
    mesh = replace(
        cylinder(radius, depth, 8, 20, side_m2k_w=foam, bottom_m2k_w=foam),
        middle=0,
    )
    body = joint.body(20, DENSITY, system.heat_j_g)
    field = solve(
        mesh,
        system.cure.rate_per_s,
        air_c,
        air_c,
        (life.gel_s or 0) * 3,
        heat_j_g=body.heat_j_g,
        capacity_j_g_k=body.capacity_j_g_k,
        density_g_ml=body.mass_g / (float(mesh.volume_m3.sum()) * 1e6),
        gel=system.cure.gel,
    )
    assert field.peak_c > 60
    assert joint.foam_most_c(life.hottest_c, air_c) > field.peak_c


def test_a_film_is_as_warm_as_its_room() -> None:
    label = Label((Point(100, 25, 25),), "gel", DENSITY)
    system, film = fit(label), Shape("film", depth_m=0.0005)
    body = film.body(100, DENSITY, 380)
    assert lumped(system.cure.rate_per_s, body, 25, 25, 86400).peak_c < 27
    bare = conductance_w_k(*film.size_m(100, DENSITY), wall_m2k_w=0.0)
    assert body.conductance_w_k == pytest.approx(bare)


@pytest.mark.parametrize(
    ("kind", "depth_m", "share"),
    [("cup", 0.01, 1), ("tray", None, 1), ("stack", 0.01, 0), ("stack", 0.01, 1.1)],
)
def test_what_is_no_shape_is_refused(kind: Kind, depth_m: float | None, share: float) -> None:
    with pytest.raises(ValueError, match="epoxy"):
        Shape(kind, None, depth_m, share)


@pytest.mark.parametrize("bad", [0, -1, math.nan, math.inf])
def test_outside_its_ranges_it_gives_no_number(bad: float) -> None:
    for place in range(3):
        figures = [0.01, 0.08, 0.8]
        figures[place] = bad
        with pytest.raises(ValueError, match="not above 0"):
            slab(*figures)
    with pytest.raises(ValueError, match="no foam"):
        Shape().foam_c(40, 20)
