"""The cup with a hot middle against Frank-Kamenetskii, and the lumped cup against it."""

from __future__ import annotations

import math

import numpy as np
import pytest

from mixer.science.cure import ZERO_C_K, Cure
from mixer.science.heat import Body, conductance_w_k, filled_cup_m, lumped
from mixer.science.heat_field import FieldCourse, Mesh, cylinder, solve
from mixer.science.pot_life import CUP_ML, Label, Point, estimate, fit
from mixer.science.shapes import CAPACITY_J_G_K, FILLED
from mixer.science.warming import HOT_C

AIR_C = 25.0
AIR_K = AIR_C + ZERO_C_K
GAS, ENERGY = 8.314462618, 1e6  # so large that exp(-E/RT) is the exponential of the theory
EXCESS_K = GAS * AIR_K**2 / ENERGY
K, DENSITY, CAPACITY, HEAT = 0.2, 1.1, 2.0, 400.0
SIZE_M = 0.02


def ball(radius_m: float, shells: int, wedges: int) -> Mesh:
    """A ball with its surface at the room's temperature: shells, cut by cones about the axis."""
    r = np.linspace(0, radius_m, shells + 1)
    cos = np.cos(np.linspace(0, math.pi, wedges + 1))
    angle = np.linspace(0, math.pi, wedges + 1)
    solid = 2 * math.pi * (cos[:-1] - cos[1:])
    cell = np.arange(shells * wedges).reshape(shells, wedges)
    step = radius_m / shells
    outward = K * np.outer(r[1:-1] ** 2, solid) / step
    middle = (r[1:] + r[:-1]) / 2
    cone = math.pi * np.outer(r[1:] ** 2 - r[:-1] ** 2, np.sin(angle[1:-1]))
    around = K * cone / (middle * math.pi / wedges)[:, None]
    room = np.zeros((shells, wedges))
    room[-1] = K * radius_m**2 * solid / (step / 2)
    return Mesh(
        volume_m3=np.outer((r[1:] ** 3 - r[:-1] ** 3) / 3, solid).ravel(),
        one=np.concatenate([cell[:-1].ravel(), cell[:, :-1].ravel()]),
        other=np.concatenate([cell[1:].ravel(), cell[:, 1:].ravel()]),
        link_w_k=np.concatenate([outward.ravel(), around.ravel()]),
        room_w_k=room.ravel(),
        middle=0,
    )


FIXED = {"conductivity_w_m_k": K}
SHAPES = {
    "slab": cylinder(
        0.1, 2 * SIZE_M, 1, 40, side_m2k_w=math.inf, top_m2k_w=0, bottom_m2k_w=0, **FIXED
    ),
    "cylinder": cylinder(
        SIZE_M, 0.1, 30, 1, side_m2k_w=0, top_m2k_w=math.inf, bottom_m2k_w=math.inf, **FIXED
    ),
    "ball": ball(SIZE_M, 30, 4),
}


@pytest.mark.parametrize(
    ("shape", "critical"),
    # Frank-Kamenetskii 1938, fixed wall temperature; Proc. R. Soc. (exact slab results).
    [("slab", 0.878), ("cylinder", 2.00), ("ball", 3.32)],
)
@pytest.mark.parametrize("part", [0.98, 1.02])
def test_frank_kamenetskiis_numbers_within_two_per_cent(
    shape: str, critical: float, part: float
) -> None:
    # delta = E L^2 rho H r(T_air) / (k R T_air^2)
    delta = part * critical
    at_air = delta * K * EXCESS_K / (SIZE_M**2 * DENSITY * 1e6 * HEAT)

    def rate(alpha, temp_k, exp):
        return at_air * exp(ENERGY / GAS * (1 / AIR_K - 1 / temp_k))

    time_s = SIZE_M**2 * DENSITY * 1e6 * CAPACITY / K
    found = solve(
        SHAPES[shape],
        rate,
        AIR_C,
        AIR_C,
        30 * time_s,
        heat_j_g=HEAT,
        capacity_j_g_k=CAPACITY,
        density_g_ml=DENSITY,
        stop_c=AIR_C + 4 * EXCESS_K,  # at the limit it rests between 1.2 and 1.6 of these
        gel=math.inf,
    )
    assert found.stopped == (part > 1)


@pytest.mark.parametrize(
    ("radius_m", "depth_m"), [(0.02, 0.03), (0.03, 0.04), (0.06, 0.01), (0.05, 0.1)]
)
def test_the_lumped_conductance_is_that_of_a_steady_field(radius_m: float, depth_m: float) -> None:
    # Heat that comes evenly, for long: mean excess = heat by conductance.
    watts_per_g = 1e-3
    found = solve(
        cylinder(radius_m, depth_m),
        lambda alpha, temp_k, exp: watts_per_g / HEAT + 0 * temp_k,
        AIR_C,
        AIR_C,
        100 * 3600,
        heat_j_g=HEAT,
        capacity_j_g_k=CAPACITY,
        density_g_ml=DENSITY,
    )
    watts = watts_per_g * math.pi * radius_m**2 * depth_m * DENSITY * 1e6
    steady = watts / (found.peak_mean_c - AIR_C)
    assert conductance_w_k(radius_m, depth_m) == pytest.approx(steady, rel=0.03)


CURE = Cure(5.8e-5, 2.9e-4)


def filled(
    mass_g: float, cup_ml: float, air_c: float, mesh: tuple[int, int] = (10, 12)
) -> FieldCourse:
    radius, depth = filled_cup_m(mass_g, DENSITY, cup_ml)
    return solve(
        cylinder(radius, depth, *mesh),
        CURE.rate_per_s,
        air_c,
        air_c,
        4 * 3600,
        heat_j_g=380,
        capacity_j_g_k=2.1,
        density_g_ml=DENSITY,
        gel=CURE.gel,
    )


@pytest.mark.parametrize(
    ("mass_g", "cup_ml", "air_c"),
    # The corners of 20 to 500 g, 15 to 35 degC, in cups of 150, 300 and 1 000 mL; all
    # between and beside: tests/benchmarks/heat.py. The last are the widest of which a figure is
    # given.
    [
        *((20, 150, 15), (20, 300, 25), (90, 150, 35), (180, 300, 15)),
        *((500, 1000, 15), (500, 1000, 35), (100, CUP_ML[1], 25), (500, CUP_ML[1], 35)),
    ],
)
def test_the_lumped_cup_gels_within_a_tenth_of_the_field(
    mass_g: float, cup_ml: float, air_c: float
) -> None:
    radius, depth = filled_cup_m(mass_g, DENSITY, cup_ml)
    cup = Body(mass_g, 380, 2.1, conductance_w_k(radius, depth))
    one = lumped(CURE.rate_per_s, cup, air_c, air_c, 86400, (CURE.gel,))
    field = filled(mass_g, cup_ml, air_c)
    assert one.reached_s[0] == pytest.approx(field.gel_s, rel=0.10)
    assert one.peak_c == pytest.approx(field.peak_c, abs=25)


@pytest.mark.parametrize(("air_c", "at_s"), [(15, 1800), (25, 900)])
def test_a_share_gels_within_a_tenth_of_the_field(air_c: float, at_s: float) -> None:
    # 30 of 120 g, mixed up as it is poured; all between and beside: tests/benchmarks/shares.py.
    def solved(mass_g: float, start_c: float, reacted: float, until_s: float) -> FieldCourse:
        return solve(
            cylinder(*filled_cup_m(mass_g, DENSITY, 2 * mass_g)),
            CURE.rate_per_s,
            air_c,
            start_c,
            until_s,
            heat_j_g=380,
            capacity_j_g_k=2.1,
            density_g_ml=DENSITY,
            gel=CURE.gel,
            start_conversion=reacted,
        )

    def body(mass_g: float) -> Body:
        passes = conductance_w_k(*filled_cup_m(mass_g, DENSITY, 2 * mass_g))
        return Body(mass_g, 380, 2.1, passes)

    whole = solved(120, air_c, 0.0, at_s)
    warm_c, reacted = air_c + whole.stored_j / (120 * 2.1), whole.heat_j / (120 * 380)
    share = solved(30, warm_c, reacted, 4 * 3600)
    then = [(at_s, body(30))]
    one = lumped(CURE.rate_per_s, body(120), air_c, air_c, 86400, (CURE.gel,), then=then)
    assert share.gel_s is not None
    assert one.reached_s[0] == pytest.approx(at_s + share.gel_s, rel=0.10)
    assert one.reached_s[0] < (at_s + share.gel_s) * 1.02  # it promises hardly more


def test_no_heat_is_lost_or_made_and_a_finer_mesh_gels_no_other_way() -> None:
    coarse, fine = filled(100, 150, 25), filled(100, 150, 25, (15, 18))
    for found in (coarse, fine):
        assert found.stored_j + found.lost_j == pytest.approx(found.heat_j, rel=2e-3)
        assert 0 < found.lost_j < found.heat_j
    assert coarse.gel_s == pytest.approx(fine.gel_s, rel=0.01)
    assert coarse.first_gel_s == pytest.approx(fine.first_gel_s, rel=0.02)
    assert coarse.first_gel_s < coarse.gel_s


def test_the_middle_is_hotter_than_the_mean_and_less_so_in_a_tray() -> None:
    even = {"heat_j_g": 1.0, "capacity_j_g_k": 2.0, "density_g_ml": DENSITY}
    found = [
        solve(cylinder(r, d), lambda a, t, exp: 1e-3 + 0 * t, 25, 25, 1e5, **even)
        for r, d in ((0.03, 0.04), (0.06, 0.01))
    ]
    spread = [(f.peak_c - 25) / (f.peak_mean_c - 25) for f in found]
    assert spread[0] > spread[1] > 1


STEEP = Label((Point(100, 25, 30), Point(100, 15, 110)), "gel", 1.1)
STEEP_SLOWER = Label((Point(100, 25, 45), Point(100, 15, 150)), "gel", 1.1)
LONG = Label((Point(100, 25, 180),), "usable", 1.1)


@pytest.mark.parametrize(
    ("label", "mass_g", "cup_ml", "air_c", "start_c"),
    [
        (STEEP, 500, None, 10, 20),
        (STEEP, 250, 500, 15, 25),
        (STEEP_SLOWER, 250, 500, 15, 20),
        (LONG, 500, None, 20, 30),
    ],
)
def test_the_earlier_end_and_the_hot_cue_come_before_the_middle(
    label: Label, mass_g: float, cup_ml: float | None, air_c: float, start_c: float
) -> None:
    system, life = fit(label), estimate(label, mass_g, air_c, start_c, cup_ml)
    assert life.range_s is not None
    assert life.hot_s is not None
    mesh = cylinder(*filled_cup_m(mass_g, 1.1, cup_ml or mass_g / 1.1 / FILLED), 7, 8)
    until_low, until_hot = (
        solve(
            mesh,
            system.cure.rate_per_s,
            air_c,
            start_c,
            until_s,
            heat_j_g=system.heat_j_g,
            capacity_j_g_k=CAPACITY_J_G_K,
            density_g_ml=1.1,
            gel=system.cure.gel,
        )
        for until_s in (life.range_s[0], life.hot_s)
    )
    assert until_low.first_gel_s is None
    assert until_hot.peak_c < HOT_C
