"""The pot life of this mass, in this cup, in this room, from the one number on the label.

The label is met by :mod:`mixer.science.label`. Everything else is an estimate, with a
range. This file must never give a figure where it was not checked.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from mixer.science.cure import GAS_J_MOL_K, ZERO_C_K
from mixer.science.fitting import ENERGY_J_MOL, FEW_CUPS, MOST_CUPS, fit
from mixer.science.heat import Air
from mixer.science.label import (
    DOUBTS,
    HEAT_J_G,
    HEAT_J_MOL,
    Contradiction,
    Guess,
    Label,
    Left,
    Point,
    System,
    follow,
)
from mixer.science.shapes import FILLED, Shape
from mixer.science.warming import warming

__all__ = [
    "FILLED",
    "HEAT_J_G",
    "HEAT_J_MOL",
    "Contradiction",
    "Guess",
    "Label",
    "Life",
    "Point",
    "System",
    "estimate",
    "every_unchecked",
    "fit",
    "follow",
    "unchecked",
]

#: How far a label's own figure may be off, as a part of it (common practice, no source).
LABEL_OFF = 0.15

#: What the heat of the hot middle has to cross, by what that of the whole cup has: as if epoxy
#: conducted a quarter. So much that no part of the field gelled before the range, nor got hot
#: before this cup of an early label did; see DEVELOPERS.md.
MIDDLE_CONDUCTS = 0.25

#: Where lumped and field models were held against each other; see DEVELOPERS.md.
MASS_G = (5.0, 500.0)
TEMP_C = (10.0, 40.0)
LABEL_MINUTES = (8.0, 240.0)
HEATS_J_G = (150.0, 540.0)
APART_C = 10.0  # how far the epoxy's own temperature from the room's
STEEPER = 2.05  # from which on the lumped time is not within 10 % of the field's in every cup
#: How many times as far a label's energy moves with its times as that of two calm cups
#: (:class:`System`): from which on its times may be a quarter off, and no figure is given.
MOVES = (1.1, 1.5)
MUCH_J_G = 390.0  # of heat, from which on its gel is not within 10 % near where it runs away
FASTER = (1.6, 2.9)  # how many times as fast at 35 as at 25 degC: 35 to 81 kJ/mol, to a tenth
DEPTH_MM = {"tray": (3.0, 15.0), "film": (0.1, 3.0), "stack": (3.0, 30.0)}
WIDE_G = (20.0, 2000.0)  # of the epoxy in these
STACK_PCT = (10.0, 100.0)  # of a stack's weight that is epoxy
CUP_ML = (5.0, 10_000.0)


@dataclass(frozen=True, slots=True)
class Life:
    """An estimate. Times in s from the first contact of hardener, None where it is not
    reached within a week, of a gel also where the label's epoxy has none; ``range_s`` is that of
    the working time, ``hottest_c`` how hot it may get at most by what is doubted, and
    ``may_run_away`` whether by any of that, or by its middle, its heat feeds on itself. ``warm_s``
    and ``hot_s`` are as early as they may come: when its heat may begin to feed on itself
    (Semenov's critical excess above what it was mixed at, of a cup that may run away), and when
    its middle may be hotter than
    :data:`~mixer.science.warming.HOT_C`: of all that is doubted the soonest, and of the middle
    with a label that is off as well; None where neither is to be expected."""

    working_s: float | None
    gel_s: float | None
    peak_c: float
    peak_s: float
    runaway: bool
    range_s: tuple[float, float] | None
    hottest_c: float
    warm_s: float | None = None
    hot_s: float | None = None
    may_run_away: bool = False


def estimate(
    label: Label,
    mass_g: float,
    air_c: Air,
    start_c: float,
    cup: Shape | float | None = None,
    left: Left = (),
    richer: float = 1.0,
) -> Life:
    """How long it lives, with its range: what no label tells is doubted one thing at a
    time, fitted to the label again, and the deviations are added in quadrature. ``cup``,
    ``left`` and ``richer`` are as in :func:`mixer.science.label.follow`; the room may change
    (:data:`Air`).

    Raises :class:`Contradiction`; see :func:`unchecked` for where this holds.
    """
    system = fit(label)
    course = follow(system, label, mass_g, air_c, start_c, cup, left=left, richer=richer)
    working_s, gel_s = course.reached_s
    gel_s = gel_s if label.gels else None
    within, hottest_c = None, course.peak_c
    doubts = [*doubted(label, system), ((middle(system), label),)]
    early, sooner = doubts[0][0]  # the middle of a label's cup that was sooner than it says
    hot = follow(middle(early), sooner, mass_g, air_c, start_c, cup, left=left, richer=richer)
    warmings = [warming(system.cure.rate_per_s, one) for one in (course, hot)]
    runs = course.runaway or hot.runaway
    if working_s is not None:
        until_s = working_s * 20
        shorter = longer = hotter = 0.0
        for number, pair in enumerate(doubts, start=1 - len(doubts)):
            others = [
                follow(s, one, mass_g, air_c, start_c, cup, until_s, left=left, richer=richer)
                for s, one in pair
            ]
            warmings += [
                warming(s.cure.rate_per_s, other)
                for (s, _), other in zip(pair, others, strict=True)
            ]
            runs = runs or any(other.runaway for other in others)
            times = [other.reached_s[0] or until_s for other in others]
            moved = [math.log(time / working_s) for time in times]
            shorter += min(0.0, *moved) ** 2
            longer += max(0.0, *moved) ** 2
            if number:  # the peak is that of the whole
                hotter += max(0.0, *(other.peak_c - course.peak_c for other in others)) ** 2
        within = (
            working_s * math.exp(-math.sqrt(shorter)),
            working_s * math.exp(math.sqrt(longer)),
        )
        hottest_c += math.sqrt(hotter)
    warm_s, hot_s = (_soonest(times) for times in zip(*warmings, strict=True))
    figures = (working_s, gel_s, course.peak_c, course.peak_s, course.runaway, within)
    return Life(*figures, hottest_c, warm_s, hot_s, runs)


def unchecked(
    label: Label, mass_g: float, air_c: float, start_c: float, shape: Shape | None = None
) -> str | None:
    """Why no figure may be given here, in words; None where the model was checked. Fits a label
    of two points or with a peak, and raises :class:`Contradiction` where that cannot be: of a
    label that is none no other mass has a figure either.

    >>> label = Label((Point(100, 25, 25),), "gel", 1.1)
    >>> unchecked(label, 100, 25, 25), unchecked(label, 2000, 25, 25)
    (None, 'the model was checked for 5 to 500 g')
    """
    why = next(_outside(label, mass_g, air_c, start_c, shape), None)
    least = MASS_G[0], TEMP_C[0], TEMP_C[0]
    if why is not None and next(_outside(label, *least, None), None) is not None:
        return why
    warmth = _warmth(label)
    return why or warmth


def every_unchecked(label: Label, mass_g: float, air_c: float, start_c: float) -> list[str]:
    """The same of a cup with all that there is, a label that contradicts itself among it; what
    warmth makes of it is not looked at where it is outside anyhow. Its label is fitted in the few
    cups that sizing has for it.

    >>> two = (Point(100, 25, 25), Point(100, 15, 20))
    >>> every_unchecked(Label(two[:1], "gel", 1.1), 600, 50, 50)
    ['the model was checked for 5 to 500 g', 'the model was checked for 10 to 40 degC']
    >>> len(every_unchecked(Label(two, "gel", 1.1), 600, 50, 50))
    3
    """
    if label.peak_c is not None:
        try:
            fit(label, None, FEW_CUPS)
        except Contradiction as error:  # the rest is looked at without its peak, and no fit more
            bare = replace(label, peak_c=None)
            return [*_outside(bare, mass_g, air_c, start_c, None), str(error)]
    found = list(_outside(label, mass_g, air_c, start_c, None, FEW_CUPS))
    own, at_c = label.points[0].mass_g, TEMP_C[0]
    own = min(max(own, MASS_G[0]), MASS_G[1])
    if next(_outside(label, own, at_c, at_c, None, FEW_CUPS), None):
        return found
    try:
        warmth = _warmth(label, FEW_CUPS)
    except Contradiction as error:
        warmth = str(error)
    return [*found, warmth] if warmth else found


def _outside(
    label: Label,
    mass_g: float,
    air_c: float,
    start_c: float,
    shape: Shape | None,
    most_cups: int = MOST_CUPS,
) -> Iterator[str]:
    """What is outside of where the model was checked, in words; of a peak alone by a fit."""
    heat_j_g = label.heat_j_g if label.peak_c is None else fit(label, None, most_cups).heat_j_g
    kind, depth_m = (shape.kind, shape.depth_m) if shape else ("cup", None)
    own = MASS_G if depth_m is None else WIDE_G
    spans = [
        ([p.mass_g for p in label.points], MASS_G, "g on the label"),
        ([mass_g], own, "g" if depth_m is None else f"g in a {kind}"),
        ([air_c, start_c, *(p.temp_c for p in label.points)], TEMP_C, "degC"),
        ([p.minutes for p in label.points], LABEL_MINUTES, "min on the label"),
        ([heat_j_g], HEATS_J_G, f"J/g of reaction heat, and {_of_heat(label)} {heat_j_g:.0f} J/g"),
    ]
    if depth_m is not None:
        spans.append(([depth_m * 1000], DEPTH_MM[kind], f"mm of a {kind}"))
    if kind == "stack" and shape:
        spans.append(([100 * shape.share], STACK_PCT, "% of a stack's weight that is epoxy"))
    if shape and shape.cup_ml is not None:
        spans.append(([shape.cup_ml], CUP_ML, "mL of a cup"))
    for values, (least, most), unit in spans:
        if not all(least <= value <= most for value in values):
            yield f"the model was checked for {least:g} to {most:g} {unit}"
    if abs(start_c - air_c) > APART_C:
        yield f"the model was checked for epoxy within {APART_C:g} degC of the room"


def _of_heat(label: Label) -> str:
    """What its heat was reckoned from, as a sentence goes on."""
    if label.peak_c is None:
        return "by its equivalent weights this epoxy has"
    return f"the peak of {label.peak_c:g} degC on its label wants"


def _warmth(label: Label, most_cups: int = MOST_CUPS) -> str | None:
    """Whether warmth makes more or less of it than was checked, or its points hardly tell how
    much; raises Contradiction."""
    if moves(label, most_cups) > MOVES[1]:
        return (
            "the two points of its label hardly tell how many times as fast it is when 10 degC "
            "warmer, as one of these cups heats itself and the other does not: with one of them "
            "alone a time can be told"
        )
    (least, most), times = FASTER, faster(label, most_cups)
    if not least <= round(times, 1) <= most:
        return (
            f"the model was checked for epoxy that is {least:g} to {most:g} times as fast when "
            f"10 degC warmer, and by the two points of its label this is {times:.1f}"
        )
    return None


def faster(label: Label, most_cups: int = MOST_CUPS) -> float:
    """How many times as fast at 35 as at 25 degC: by its two points, or as is usual.

    >>> label = Label((Point(100, 25, 25),), "gel", 1.1)
    >>> round(faster(label), 2)
    1.98
    """
    one = len(label.points) == 1
    energy_j_mol = Guess().energy_j_mol if one else fit(label, None, most_cups).guess.energy_j_mol
    inverse = 1 / (25 + ZERO_C_K) - 1 / (35 + ZERO_C_K)
    return math.exp(energy_j_mol * inverse / GAS_J_MOL_K)


def moves(label: Label, most_cups: int = MOST_CUPS) -> float:
    """What :data:`MOVES` goes by; nothing where no two points tell the energy."""
    return fit(label, None, most_cups).moves if len(label.points) > 1 else 0.0


def doubted(label: Label, system: System) -> list[tuple[tuple[System, Label], ...]]:
    """What else may be true, each with the label that it was fitted to: a label that is off by
    itself, of two points each by itself, which moves the energy; and, in pairs, the
    :data:`DOUBTS` that this one has not settled."""
    fitted = system.guess.energy_j_mol
    sure = Guess(energy_j_mol=fitted)
    kept: list[tuple[Guess, Guess]] = []
    for low, high in DOUBTS:
        if low.energy_j_mol == high.energy_j_mol:
            if low.heat == high.heat or label.peak_c is None:
                kept.append((replace(low, energy_j_mol=fitted), replace(high, energy_j_mol=fitted)))
        elif len(label.points) == 1:
            kept.append((low, high))
    one = replace(label, points=label.points[:1], peak_c=None, heat_j_g=system.heat_j_g)
    pairs = [tuple((fit(one, guess), one) for guess in pair) for pair in kept]
    return [tuple(_off(replace(one, points=label.points), sure)), *pairs]


def middle(system: System) -> System:
    """The hot middle of it, which the lumped cup has not: one more doubt of its times."""
    return replace(system, guess=replace(system.guess, conducts=MIDDLE_CONDUCTS))


def _off(label: Label, sure: Guess) -> Iterator[tuple[System, Label]]:
    """The label's points as far off as they may be. Where that is farther than any epoxy, each
    of the two by itself with the last energy that is looked at."""
    for factors in itertools.product(
        (1 / (1 + LABEL_OFF), 1 + LABEL_OFF), repeat=len(label.points)
    ):
        points = tuple(
            replace(point, minutes=point.minutes * factor)
            for point, factor in zip(label.points, factors, strict=True)
        )
        met, guess = points[:1], sure
        if len(set(factors)) > 1:
            try:
                guess = Guess(energy_j_mol=fit(replace(label, points=points)).guess.energy_j_mol)
            except Contradiction:
                steeper = (factors[0] < factors[1]) == (points[0].temp_c > points[1].temp_c)
                met, guess = points, Guess(energy_j_mol=ENERGY_J_MOL[steeper])
        for point in met:
            one = replace(label, points=(point,))
            yield fit(one, guess), one


def _soonest(times: Iterable[float | None]) -> float | None:
    return min((at_s for at_s in times if at_s is not None), default=None)
