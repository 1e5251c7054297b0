"""How far the lumped cup is from the one with a hot middle: `python -m tests.benchmarks.heat`.

Each model is fitted to the same label by itself, as a program that had only that model
would, and both are asked for other masses, temperatures and cups. What is printed is the
lumped model's time against the field's, and how far the earlier end of the range and the hot
cue come before the field's first gel and its middle's 55 degC. Takes some ten minutes; with
minutes behind it only those labels, with `hot` those that give off more heat than is usual, and
with `near` how late the gel is, and how much hotter the middle, of cups near where they run away.
"""

from __future__ import annotations

import itertools
import math
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from mixer.science.cure import Cure
from mixer.science.fitting import fit
from mixer.science.heat import filled_cup_m
from mixer.science.heat_field import FieldCourse, cylinder, solve
from mixer.science.label import HEAT_J_G, Guess, Label, Point, follow
from mixer.science.pot_life import estimate
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
WARMER = [(air_c, air_c + by) for air_c in (10.0, 15.0, 20.0, 30.0) for by in (5.0, 10.0)]
ROOMS = [*((air_c, air_c) for air_c in AIR), *WARMER, (25.0, 15.0)]
#: Minutes for 100 g at 25 degC, and at 15 where the label tells that too.
LABELS: tuple[tuple[float, float | None], ...] = (
    *((minutes, None) for minutes in (8.0, 25.0, 60.0, 120.0, 180.0, 240.0)),
    (50.0, 91.0),
    (55.0, 120.0),
    (45.0, 150.0),
    (40.0, 140.0),
    (30.0, 110.0),
    (30.0, 130.0),
)
#: Minutes for 100 g at 25 degC, its end and J/g.
HOT = tuple(itertools.product((60.0, 120.0), ("viscosity", "usable", "gel"), (420.0, 466.0, 540.0)))

#: g, degC and minutes of a label with its end, for `near`; and J/g.
NEAR = (
    (Point(100, 30, 120), "viscosity"),
    (Point(500, 25, 120), "viscosity"),
    (Point(100, 25, 120), "usable"),
    (Point(20, 25, 60), "viscosity"),
    (Point(100, 25, 60), "viscosity"),
    (Point(100, 25, 240), "viscosity"),
)
HEATS = (380.0, 420.0, 466.0, 540.0)
#: Labels of two points or of few grams, with their end and J/g: also for `near`, one by one.
NEAR_OTHER = (
    Label((Point(20, 30, 90), Point(100, 20, 221)), "viscosity", DENSITY, heat_j_g=344.0),
    Label((Point(500, 25, 45), Point(500, 15, 106)), "gel", DENSITY, heat_j_g=380.0),
    Label((Point(5, 30, 120),), "viscosity", DENSITY, heat_j_g=386.0),
    Label((Point(8, 25, 174), Point(200, 15, 237)), "usable", DENSITY),
)
#: As above, and what each takes at most, g.
NEAR_CUPS = ((None, 500), (500.0, 500), (1000.0, 500))
NEAR_PEAK_C = (30.0, 170.0)


def field(
    cure: Cure,
    mass_g: float,
    cup_ml: float | None,
    air_c: float,
    start_c: float,
    until_s: float,
    heat_j_g: float = HEAT_J_G,
) -> FieldCourse:
    radius, depth = filled_cup_m(mass_g, DENSITY, cup_ml or mass_g / DENSITY / FILLED)
    return solve(
        cylinder(radius, depth),
        cure.rate_per_s,
        air_c,
        start_c,
        until_s,
        heat_j_g=heat_j_g,
        capacity_j_g_k=CAPACITY_J_G_K,
        density_g_ml=DENSITY,
        gel=cure.gel,
    )


def fitted_field(label: Label) -> Cure:
    """The rates, and with two points the energy, with which the field's mean is at the label's
    end when the label says, by secants; that end stands as its gel."""
    system = fit(label)
    end = Guess().cure().end_conversion(label.ends)

    def late(cure: Cure, point: Point) -> float:
        wanted, temp_c = point.minutes * 60, point.temp_c
        found = field(cure, point.mass_g, None, temp_c, temp_c, wanted * 20, label.heat_j_g).gel_s
        return math.log((found or wanted * 20) / wanted)

    def scaled(energy_j_mol: float) -> Cure:
        cure = replace(Guess(energy_j_mol=energy_j_mol).cure(), gel=end)
        start = math.log(system.cure.k2_per_s / cure.k2_per_s)
        return cure.faster(
            math.exp(_root(lambda x: late(cure.faster(math.exp(x)), label.points[0]), start, 0.05))
        )

    energy_j_mol = system.guess.energy_j_mol
    if len(label.points) > 1:
        energy_j_mol = _root(
            lambda energy: late(scaled(energy), label.points[1]), energy_j_mol, 1000.0
        )
    return scaled(energy_j_mol)


def _root(off: Callable[[float], float], start: float, step: float) -> float:
    a, b = start, start + step
    off_a, off_b = off(a), off(b)
    for _ in range(20):
        if abs(off_b) < 1e-3:
            break
        move = -off_b * (b - a) / (off_b - off_a)
        a, b, off_a = b, b + max(-4 * step, min(4 * step, move)), off_b
        off_b = off(b)
    return b


@dataclass(frozen=True, slots=True)
class Case:
    """``mean`` and ``first``: the lumped time against the field's mean and first, less 1; ``low``
    the earlier end of the range against its first; ``peak`` how much hotter the lumped peak is
    than the field's middle, and ``cue_c`` how hot that is when the hot cue comes, degC; ``gel``
    as ``mean``, of the gel, which of a label that ends sooner is another time."""

    what: str
    warmer: float
    mean: float
    first: float
    low: float
    peak: float
    cue_c: float
    gel: float


def compared(label: Label) -> Iterator[Case]:
    system, cure = fit(label), fitted_field(label)
    for (cup_ml, masses), (air_c, start_c) in itertools.product(CUPS, ROOMS):
        for mass_g in masses:
            course = follow(system, label, mass_g, air_c, start_c, cup_ml)
            at_s = course.reached_s[1 if label.ends == "gel" else 0]
            life = estimate(label, mass_g, air_c, start_c, cup_ml)
            if at_s is None or life.range_s is None:
                continue
            asked = (mass_g, cup_ml, air_c, start_c)
            found = field(cure, *asked, at_s * 3, label.heat_j_g)
            gel_s = course.reached_s[1]
            gels = None
            if gel_s is not None and label.ends != "gel":
                gels = field(replace(cure, gel=system.cure.gel), *asked, gel_s * 3, label.heat_j_g)
            assert found.gel_s is not None
            assert found.first_gel_s is not None
            cue_s = life.hot_s or at_s * 3
            yield Case(
                f"{mass_g:g} g, cup {cup_ml or 'its own'}, air {air_c:g}, start {start_c:g}",
                start_c - air_c,
                at_s / found.gel_s - 1,
                at_s / found.first_gel_s - 1,
                life.range_s[0] / found.first_gel_s - 1,
                course.peak_c - (gels or found).peak_c,
                field(cure, *asked, cue_s, label.heat_j_g).peak_c,
                gel_s / gels.gel_s - 1 if gels and gels.gel_s else at_s / found.gel_s - 1,
            )


def main() -> None:
    if sys.argv[1:] == ["near"]:
        for heat_j_g, by in itertools.product(HEATS, (0.0, 10.0)):
            labels = [Label((one,), ends, DENSITY, heat_j_g=heat_j_g) for one, ends in NEAR]
            near(f"{heat_j_g:g} J/g", labels, by)
        for label in NEAR_OTHER:
            points = " and ".join(f"{p.minutes:g} min" for p in label.points)
            near(f"{points}, {label.ends}, {label.heat_j_g:g} J/g", [label], 0.0)
        return
    if sys.argv[1:] == ["hot"]:
        for minutes, ends, heat_j_g in HOT:
            label = Label((Point(100, 25, minutes),), ends, DENSITY, heat_j_g=heat_j_g)
            print(f"label of {minutes:g} min, {ends}, {heat_j_g:g} J/g")
            shown(list(compared(label)))
        return
    first = [float(word) for word in sys.argv[1:]]
    for (minutes, cold), ends in itertools.product(LABELS, ("gel", "usable")):
        if first and minutes not in first:
            continue
        points = (Point(100, 25, minutes), *([Point(100, 15, cold)] if cold else []))
        label = Label(points, ends, DENSITY)
        cases = list(compared(label))
        name = f"{minutes:g} min" + (f" and {cold:g} at 15 degC" if cold else "")
        energy = fit(label).guess.energy_j_mol / 1e3
        print(f"label of {name}, {ends}, {energy:.0f} kJ/mol: {len(cases)} cases")
        shown(cases)


def near(name: str, labels: list[Label], by: float) -> None:
    """Of all labels, epoxy by so many degC warmer than its room."""
    late, first, hotter = [], [], []
    for label in labels:
        cure = replace(fitted_field(label), gel=fit(label).cure.gel)
        for (cup_ml, most_g), air_c, mass_g in itertools.product(
            NEAR_CUPS, (10.0, 15.0, 20.0, 25.0, 30.0), (50, 100, 200, 300, 500)
        ):
            life = estimate(label, mass_g, air_c, air_c + by, cup_ml)
            is_near = NEAR_PEAK_C[0] < life.peak_c < NEAR_PEAK_C[1]
            if mass_g > most_g or life.gel_s is None or not is_near:
                continue
            found = field(cure, mass_g, cup_ml, air_c, air_c + by, life.gel_s * 3, label.heat_j_g)
            if found.gel_s is not None and found.first_gel_s is not None:
                late.append(life.gel_s / found.gel_s - 1)
                first.append(life.gel_s / found.first_gel_s - 1)
                hotter.append(found.peak_c - life.peak_c)
    print(
        f"{name}, epoxy warmer by {by:g} degC: {len(late)} cups; gel {min(late):+.1%} to "
        f"{max(late):+.1%}, against the first part {max(first):+.0%}; middle hotter by "
        f"{max(hotter):.0f} degC at most",
        flush=True,
    )


def shown(cases: list[Case]) -> None:
    for low, high in ((-10, 0), (5, 5), (10, 10)):
        some = [case for case in cases if low <= case.warmer <= high]
        mean = max(some, key=lambda case: abs(case.mean))
        within = sum(1 / 1.1 <= 1 + case.mean <= 1.1 for case in some)
        print(
            f"  epoxy warmer by {low} to {high} degC: within 10 % {within} of {len(some)}; "
            f"farthest {mean.mean:+.1%} ({mean.what}); first part "
            f"{max(case.first for case in some):+.0%}; gel {max(case.gel for case in some):+.1%}; "
            f"range begins {max(case.low for case in some):+.0%}; "
            f"peak {min(c.peak for c in some):+.0f} to {max(c.peak for c in some):+.0f}; "
            f"at the hot cue the middle has {max(case.cue_c for case in some):.0f} degC at most",
            flush=True,
        )


if __name__ == "__main__":
    main()
