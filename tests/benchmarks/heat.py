"""How far the lumped cup is from the one with a hot middle: `python -m tests.benchmarks.heat`.

Each model is fitted to the same label by itself, as a program that had only that model
would, and both are asked for other masses, temperatures and cups. What is printed is the
lumped model's time against the field's. Takes two minutes.
"""

from __future__ import annotations

import itertools
import math
import sys
from collections.abc import Iterator
from dataclasses import replace

from mixer.science.cure import Cure
from mixer.science.heat import filled_cup_m
from mixer.science.heat_field import FieldCourse, cylinder, solve
from mixer.science.label import HEAT_J_G, Guess, Label, Point, fit, follow
from mixer.science.shapes import CAPACITY_J_G_K, FILLED

DENSITY = 1.1
#: Millilitres of a cup, and grams in it; None: one that is filled as a label's is.
CUPS: tuple[tuple[float | None, tuple[float, ...]], ...] = (
    (150.0, (5, 20, 50, 90)),
    (300.0, (20, 100, 180)),
    (500.0, (50, 200, 300)),
    (None, (5, 100, 500)),
)
AIR = (10.0, 15.0, 25.0, 35.0, 40.0)


def field(
    cure: Cure, mass_g: float, cup_ml: float | None, air_c: float, start_c: float, until_s: float
) -> FieldCourse:
    radius, depth = filled_cup_m(mass_g, DENSITY, cup_ml or mass_g / DENSITY / FILLED)
    return solve(
        cylinder(radius, depth),
        cure.rate_per_s,
        air_c,
        start_c,
        until_s,
        heat_j_g=HEAT_J_G,
        capacity_j_g_k=CAPACITY_J_G_K,
        density_g_ml=DENSITY,
        gel=cure.gel,
    )


def fitted_field(label: Label) -> Cure:
    """The rates with which the field's mean is at the label's end when the label says, by
    secants; that end stands as its gel."""
    point = label.points[0]
    wanted = point.minutes * 60
    unscaled = replace(Guess().cure(), gel=Guess().cure().end_conversion(label.ends))

    def late(log_factor: float) -> float:
        cure = unscaled.faster(math.exp(log_factor))
        found = field(cure, point.mass_g, None, point.temp_c, point.temp_c, wanted * 20).gel_s
        return math.log((found or wanted * 20) / wanted)

    start = fit(label).cure.k2_per_s / Guess().cure().k2_per_s
    a, b = math.log(start), math.log(start) + 0.05
    late_a, late_b = late(a), late(b)
    while abs(late_b) > 1e-3:
        a, b, late_a = b, b - late_b * (b - a) / (late_b - late_a), late_b
        late_b = late(b)
    return unscaled.faster(math.exp(b))


def compared(minutes: float, ends: str) -> Iterator[tuple[str, float, float, float]]:
    """For each case: what it is, the lumped time to this end against the field's mean and
    first, less 1, and how much hotter the lumped peak is than the field's middle, degC."""
    label = Label((Point(100, 25, minutes),), ends, DENSITY)
    system, cure = fit(label), fitted_field(label)
    pairs = [(air, air) for air in AIR] + [(15.0, 25.0), (25.0, 35.0), (25.0, 15.0)]
    for (cup_ml, masses), (air_c, start_c) in itertools.product(CUPS, pairs):
        for mass_g in masses:
            course = follow(system, label, mass_g, air_c, start_c, cup_ml)
            at_s = course.reached_s[1 if ends == "gel" else 0]
            if at_s is None:
                continue
            found = field(cure, mass_g, cup_ml, air_c, start_c, at_s * 3)
            what = f"{mass_g:g} g, cup {cup_ml or 'its own'}, air {air_c:g}, start {start_c:g}"
            assert found.gel_s is not None
            assert found.first_gel_s is not None
            yield (
                what,
                at_s / found.gel_s - 1,
                at_s / found.first_gel_s - 1,
                course.peak_c - found.peak_c,
            )


def main() -> None:
    labels = [float(word) for word in sys.argv[1:]] or [8.0, 25.0, 60.0, 240.0]
    for minutes, ends in itertools.product(labels, ("gel", "usable")):
        cases = list(compared(minutes, ends))
        mean = max(cases, key=lambda case: abs(case[1]))
        first = max(cases, key=lambda case: case[2])
        low, high = min(case[3] for case in cases), max(case[3] for case in cases)
        within = sum(1 / 1.1 <= 1 + case[1] <= 1.1 for case in cases)
        print(
            f"label of {minutes:g} min, {ends}: {len(cases)} cases, within 10 % in {within}; "
            f"farthest {mean[1]:+.1%} ({mean[0]}); against the first part that is there "
            f"{first[2]:+.1%} ({first[0]}); peak {low:+.0f} to {high:+.0f} degC",
            flush=True,
        )


if __name__ == "__main__":
    main()
