"""How far the lumped tray, film and stack on foam are from the field: `python -m
tests.benchmarks.shapes`.

Both with the same cure, fitted to the label by the lumped cup. What is printed is the
lumped gel against the field's mean, and the hottest of the foam under a stack. Takes two
minutes.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

from mixer.science.fitting import fit
from mixer.science.heat import AIR_W_M2K, FOAM_W_M2K
from mixer.science.heat_field import FieldCourse, Mesh, cylinder, solve
from mixer.science.label import Label, Point, System, follow
from mixer.science.pot_life import DEPTH_MM, STACK_PCT, WIDE_G
from mixer.science.shapes import Shape

DENSITY = 1.1
AIR = ((10.0, 10.0), (15.0, 25.0), (20.0, 20.0), (25.0, 15.0), (30.0, 30.0), (40.0, 40.0))
SHARES = {"tray": (1.0,), "film": (1.0,), "stack": (STACK_PCT[0] / 100, 0.4, 0.7, 1.0)}


def mesh(shape: Shape, mass_g: float) -> Mesh:
    """With the bottom of its axis as the middle, where a stack has foam."""
    radius, depth = shape.size_m(mass_g, DENSITY)
    if shape.kind == "tray":
        return cylinder(radius, depth)
    if shape.kind == "film":
        return cylinder(radius, depth, side_m2k_w=1 / AIR_W_M2K)
    # Its sides lose nothing, so that one ring is all of it, however much it is.
    wide = cylinder(radius, depth, 1, 40, side_m2k_w=math.inf, bottom_m2k_w=1 / FOAM_W_M2K)
    return replace(wide, middle=0)


def field(
    shape: Shape, mass_g: float, system: System, air_c: float, start_c: float, until_s: float
) -> FieldCourse:
    cells = mesh(shape, mass_g)
    body = shape.body(mass_g, DENSITY, system.heat_j_g)
    return solve(
        cells,
        system.cure.rate_per_s,
        air_c,
        shape.mixed_c(start_c, air_c),
        until_s,
        heat_j_g=body.heat_j_g,
        capacity_j_g_k=body.capacity_j_g_k,
        density_g_ml=body.mass_g / (float(cells.volume_m3.sum()) * 1e6),
        gel=system.cure.gel,
    )


@dataclass(frozen=True, slots=True)
class Case:
    """Lumped gel by the field's mean, less 1; hottest of the foam, lumped and field."""

    what: str
    gel: float
    foam_c: float
    field_foam_c: float


def compared(kind: str, minutes: float) -> Iterator[Case]:
    label = Label((Point(100, 25, minutes),), "gel", DENSITY)
    system = fit(label)
    low, high = DEPTH_MM[kind]
    depths = (low, (low * high) ** 0.5, high)
    masses = (200.0,) if kind == "stack" else (WIDE_G[0], 200.0, WIDE_G[1])
    for depth, share, mass_g, (air_c, start_c) in itertools.product(
        depths, SHARES[kind], masses, AIR
    ):
        shape = Shape(kind, None, depth / 1000, share)  # type: ignore[arg-type]
        course = follow(system, label, mass_g, air_c, start_c, shape)
        if course.reached_s[1] is None:
            continue
        until_s = max(course.reached_s[1] * 3, course.peak_s * 1.5)
        found = field(shape, mass_g, system, air_c, start_c, until_s)
        assert found.gel_s is not None
        foam_c = shape.foam_c(course.peak_c, air_c) if kind == "stack" else course.peak_c
        yield Case(
            f"{mass_g:g} g, {depth:.1f} mm, {share:g}, air {air_c:g}, start {start_c:g}",
            course.reached_s[1] / found.gel_s - 1,
            foam_c,
            found.peak_c,
        )


def main() -> None:
    for kind, minutes in itertools.product(("tray", "film", "stack"), (8.0, 25.0, 60.0, 240.0)):
        cases = list(compared(kind, minutes))
        far = max(cases, key=lambda case: abs(case.gel))
        within = sum(1 / 1.1 <= 1 + case.gel <= 1.1 for case in cases)
        low = min(cases, key=lambda case: case.foam_c - case.field_foam_c)
        high = max(cases, key=lambda case: case.foam_c - case.field_foam_c)
        print(
            f"{kind}, label of {minutes:g} min: {len(cases)} cases, gel within 10 % in {within}, "
            f"farthest {far.gel:+.1%} ({far.what}); hottest {low.foam_c - low.field_foam_c:+.0f} "
            f"({low.what}; {low.foam_c:.0f}) to {high.foam_c - high.field_foam_c:+.0f} degC "
            f"({high.what}; {high.foam_c:.0f})",
            flush=True,
        )


if __name__ == "__main__":
    main()
