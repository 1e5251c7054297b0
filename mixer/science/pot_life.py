"""The pot life of this mass, in this cup, in this room, from the one number on the label.

A label gives a time for a mass at a temperature, and means by its end a gel, a viscosity
or "usable". The rates of :mod:`mixer.science.cure` are scaled until the lumped cup of
:mod:`mixer.science.heat` ends its pot life there, then; a second time at another
temperature gives the activation energy, a peak temperature the heat. Everything else is
an estimate, with a range. This file must never give a figure where it was not checked.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

from mixer.science.cure import Cure, isothermal_s
from mixer.science.heat import (
    AIR_W_M2K,
    BENCH_W_M2K,
    Air,
    Body,
    Course,
    conductance_w_k,
    filled_cup_m,
    lumped,
)
from mixer.science.warming import warming

#: J for each mole of epoxide that takes an amine hydrogen; of the usual order (memory).
HEAT_J_MOL = 100e3

#: J/g of mixed epoxy, where no equivalent weight tells: that of EEW 190 with 36 phr.
HEAT_J_G = 380.0

#: J/(g K), between the liquid's 1.9 at room temperature and more when hot (memory).
CAPACITY_J_G_K = 2.1

#: Of the cup that a label's mass, or a cup that nobody named, stands in (our choice).
FILLED = 0.6

#: How far a label's own figure may be off, as a part of it (common practice, no source).
LABEL_OFF = 0.15

#: Where lumped and field models were held against each other; see DEVELOPERS.md.
MASS_G = (5.0, 500.0)
TEMP_C = (10.0, 40.0)
LABEL_MINUTES = (8.0, 240.0)
APART_C = 10.0  # how far the epoxy's own temperature from the room's

LONGEST_S = 7 * 86400.0
ENERGY_J_MOL = (30e3, 100e3)
LEAST_APART_C = 5.0  # of two label points: closer, a minute's rounding makes any energy


class Contradiction(ValueError):
    """A label that nothing can be fitted to; the message says why, in words."""


@dataclass(frozen=True, slots=True)
class Point:
    """One pot life: of this mass in g, epoxy and room at this temperature."""

    mass_g: float
    temp_c: float
    minutes: float


@dataclass(frozen=True, slots=True)
class Label:
    """What a data sheet tells. ``ends`` is ``gel``, ``viscosity`` or ``usable``; ``peak_c``
    the hottest of the first point's cup, where it is told."""

    points: tuple[Point, ...]
    ends: str
    density_g_ml: float
    peak_c: float | None = None
    heat_j_g: float = HEAT_J_G

    def working_ends(self) -> str:
        """What the working time ends with: the label's own sign, or before its gel."""
        return "usable" if self.ends == "gel" else self.ends


@dataclass(frozen=True, slots=True)
class Guess:
    """What no label tells. ``exchange`` multiplies what passes from any cup to the room,
    ``label_exchange`` that of the label's cup alone, ``heat`` the heat of reaction."""

    energy_j_mol: float = 52e3
    start_share: float = 0.2
    exchange: float = 1.0
    label_exchange: float = 1.0
    heat: float = 1.0

    def cure(self) -> Cure:
        """Unscaled; ``start_share`` is k1/k2."""
        k1 = self.start_share * 1e-4
        return Cure(k1, 1e-4, self.energy_j_mol, self.energy_j_mol)


#: Each by itself, as far as it may well be off (our choice; energies as in the sources
#: of :class:`Cure`, the rest without a source).
DOUBTS = (
    (Guess(energy_j_mol=44e3), Guess(energy_j_mol=60e3)),
    (Guess(start_share=0.05), Guess(start_share=1.0)),
    (Guess(exchange=0.67), Guess(exchange=1.5)),
    (Guess(label_exchange=0.75), Guess(label_exchange=1.33)),
    (Guess(heat=0.8), Guess(heat=1.2)),
)


@dataclass(frozen=True, slots=True)
class System:
    """A cure that agrees with a label, and its heat."""

    cure: Cure
    heat_j_g: float
    guess: Guess


@dataclass(frozen=True, slots=True)
class Life:
    """An estimate. Times in s from the first contact of hardener, None where it is not
    reached within a week; ``range_s`` is that of the working time. ``warm_s`` and ``hot_s``
    are as early as they may come: when its heat may begin to feed on itself (Semenov's
    critical excess above the room, of a cup that may run away), and when it may be hotter
    than :data:`~mixer.science.warming.HOT_C`; None where neither is to be expected."""

    working_s: float | None
    gel_s: float | None
    peak_c: float
    peak_s: float
    runaway: bool
    range_s: tuple[float, float] | None
    warm_s: float | None = None
    hot_s: float | None = None


def body(
    mass_g: float, density_g_ml: float, heat_j_g: float, cup_ml: float | None, exchange: float
) -> Body:
    """A cup with this much epoxy in it; one that it fills to :data:`FILLED` for None."""
    volume = cup_ml or mass_g / density_g_ml / FILLED
    radius, depth = filled_cup_m(mass_g, density_g_ml, volume)
    passes = conductance_w_k(
        radius, depth, air_w_m2k=AIR_W_M2K * exchange, stand_w_m2k=BENCH_W_M2K * exchange
    )
    return Body(mass_g, heat_j_g, CAPACITY_J_G_K, passes)


@functools.lru_cache(maxsize=64)  # a label is fitted once, and its cups asked for many times
def fit(label: Label, guess: Guess | None = None) -> System:
    """The system that ends its pot life where and when the label says.

    Raises :class:`Contradiction` where there is none: two points of which the warmer
    lasts as long as the colder, or a peak that the times do not allow.

    >>> label = Label((Point(100, 25, 25),), "gel", 1.1)
    >>> round(follow(fit(label), label, 100, 25, 25).reached_s[1] / 60, 2)
    25.0
    """
    _must_be_apart(label)
    guess = guess or Guess()
    heat = label.heat_j_g * guess.heat
    if len(label.points) > 1 and label.peak_c is not None:
        for _ in range(2):  # each hardly moves the other
            guess = replace(guess, energy_j_mol=_energy_j_mol(label, guess, heat))
            heat = _heat_j_g(label, guess)
    elif len(label.points) > 1:
        guess = replace(guess, energy_j_mol=_energy_j_mol(label, guess, heat))
    elif label.peak_c is not None:
        heat = _heat_j_g(label, guess)
    return _scaled(label, guess, heat)


def follow(
    system: System,
    label: Label,
    mass_g: float,
    air_c: Air,
    start_c: float,
    cup_ml: float | None = None,
    until_s: float = LONGEST_S,
) -> Course:
    """The course of a cup; ``reached_s`` has the end of the working time, then the gel."""
    cup = body(mass_g, label.density_g_ml, system.heat_j_g, cup_ml, system.guess.exchange)
    ends = (system.cure.end_conversion(label.working_ends()), system.cure.gel)
    return lumped(system.cure.rate_per_s, cup, air_c, start_c, until_s, ends)


def estimate(
    label: Label, mass_g: float, air_c: Air, start_c: float, cup_ml: float | None = None
) -> Life:
    """How long it lives, with its range: what no label tells is doubted one thing at a
    time, fitted to the label again, and the deviations are added in quadrature. The room
    may change (:data:`Air`).

    Raises :class:`Contradiction`; see :func:`unchecked` for where this holds.
    """
    system = fit(label)
    course = follow(system, label, mass_g, air_c, start_c, cup_ml)
    working_s, gel_s = course.reached_s
    cup = (mass_g, air_c, start_c, cup_ml)
    within = None
    warmings = [warming(system.cure.rate_per_s, course, air_c)]
    if working_s is not None:
        shorter = longer = math.log(1 + LABEL_OFF) ** 2
        for pair in _doubts(label, system):
            others = [_with_another(label, g, system.heat_j_g, cup, working_s) for g in pair]
            moved = [log for log, _ in others]
            warmings += [times for _, times in others]
            shorter += min(0.0, *moved) ** 2
            longer += max(0.0, *moved) ** 2
        within = (
            working_s * math.exp(-math.sqrt(shorter)),
            working_s * math.exp(math.sqrt(longer)),
        )
    warm_s, hot_s = (_soonest(times) for times in zip(*warmings, strict=True))
    return Life(
        working_s, gel_s, course.peak_c, course.peak_s, course.runaway, within, warm_s, hot_s
    )


def unchecked(label: Label, mass_g: float, air_c: float, start_c: float) -> str | None:
    """Why no figure may be given here, in words; None where the model was checked.

    >>> label = Label((Point(100, 25, 25),), "gel", 1.1)
    >>> unchecked(label, 100, 25, 25), unchecked(label, 2000, 25, 25)
    (None, 'the model was checked for 5 to 500 g')
    """
    spans = [
        ([mass_g, *(p.mass_g for p in label.points)], MASS_G, "g"),
        ([air_c, start_c, *(p.temp_c for p in label.points)], TEMP_C, "degC"),
        ([p.minutes for p in label.points], LABEL_MINUTES, "min on the label"),
    ]
    for values, (least, most), unit in spans:
        if not all(least <= value <= most for value in values):
            return f"the model was checked for {least:g} to {most:g} {unit}"
    if abs(start_c - air_c) > APART_C:
        return f"the model was checked for epoxy within {APART_C:g} degC of the room"
    return None


def _doubts(label: Label, system: System) -> list[tuple[Guess, Guess]]:
    """Without those that this label has settled."""
    fitted = system.guess.energy_j_mol
    kept = []
    for low, high in DOUBTS:
        if low.energy_j_mol == high.energy_j_mol:
            if low.heat == high.heat or label.peak_c is None:
                kept.append((replace(low, energy_j_mol=fitted), replace(high, energy_j_mol=fitted)))
        elif len(label.points) == 1:
            kept.append((low, high))
    return kept


def _with_another(
    label: Label,
    guess: Guess,
    heat_j_g: float,
    cup: tuple[float, Air, float, float | None],
    working_s: float,
) -> tuple[float, tuple[float | None, float | None]]:
    """How far, in logarithms, the working time moves with another guess; and when the cup
    then is warm, and hot."""
    one = replace(label, points=label.points[:1], peak_c=None, heat_j_g=heat_j_g)
    other = fit(one, guess)
    course = follow(other, one, *cup, until_s=working_s * 20)
    moved = math.log((course.reached_s[0] or working_s * 20) / working_s)
    return moved, warming(other.cure.rate_per_s, course, cup[1])


def _soonest(times: Iterable[float | None]) -> float | None:
    """The first of them, and a part earlier, as far as the label itself may be off."""
    known = [at_s for at_s in times if at_s is not None]
    return min(known) / (1 + LABEL_OFF) if known else None


def _must_be_apart(label: Label) -> None:
    temps = [point.temp_c for point in label.points]
    if len(temps) > 1 and abs(temps[1] - temps[0]) < LEAST_APART_C:
        raise Contradiction(
            f"two label points at {temps[0]:g} and {temps[1]:g} degC tell no activation energy; "
            f"give two that are {LEAST_APART_C:g} degC or more apart, or one"
        )


def _scaled(label: Label, guess: Guess, heat_j_g: float) -> System:
    """The rates scaled until the label's first point is met."""
    from scipy.optimize import brentq

    cure, point = guess.cure(), label.points[0]
    # A cup that heats itself is never slower than a film: here the rates are too high.
    high = math.log(isothermal_s(cure, cure.end_conversion(label.ends), point.temp_c))
    high += 0.01 - math.log(point.minutes * 60)

    def late(log_factor: float) -> float:
        return _late(label, point, System(cure.faster(math.exp(log_factor)), heat_j_g, guess))

    low = high - 1.0
    while late(low) < 0:
        low -= 1.0
    factor = math.exp(brentq(late, low, high, xtol=1e-4))
    return System(cure.faster(factor), heat_j_g, guess)


def _late(label: Label, point: Point, system: System) -> float:
    """Logarithm of the model's time to this point's end, by the label's."""
    exchange = system.guess.exchange * system.guess.label_exchange
    cup = body(point.mass_g, label.density_g_ml, system.heat_j_g, None, exchange)
    end, most_s = system.cure.end_conversion(label.ends), point.minutes * 60 * 50
    course = lumped(
        system.cure.rate_per_s, cup, point.temp_c, point.temp_c, most_s, (end,), leave_then=True
    )
    return math.log((course.reached_s[0] or most_s) / (point.minutes * 60))


def _energy_j_mol(label: Label, guess: Guess, heat_j_g: float) -> float:
    from scipy.optimize import brentq

    second = label.points[1]

    def late(energy_j_mol: float) -> float:
        system = _scaled(label, replace(guess, energy_j_mol=energy_j_mol), heat_j_g)
        return _late(label, second, system)

    if late(ENERGY_J_MOL[0]) * late(ENERGY_J_MOL[1]) > 0:
        times = " and ".join(
            f"{p.minutes:g} min for {p.mass_g:g} g at {p.temp_c:g} degC" for p in label.points
        )
        raise Contradiction(
            f"the two label points contradict each other ({times}): no activation energy of "
            f"{ENERGY_J_MOL[0] / 1e3:g} to {ENERGY_J_MOL[1] / 1e3:g} kJ/mol has both"
        )
    return float(brentq(late, *ENERGY_J_MOL, xtol=100.0))


def _heat_j_g(label: Label, guess: Guess) -> float:
    from scipy.optimize import brentq

    point, peak_c = label.points[0], label.peak_c or 0.0

    def too_hot(heat_j_g: float) -> float:
        system = _scaled(label, guess, heat_j_g)
        until_s = point.minutes * 60 * 20
        course = follow(system, label, point.mass_g, point.temp_c, point.temp_c, None, until_s)
        return course.peak_c - peak_c

    least, most = HEAT_J_G / 3, HEAT_J_G * 2
    if too_hot(least) > 0 or too_hot(most) < 0:
        raise Contradiction(
            f"a peak of {peak_c:g} degC does not go with {point.minutes:g} min for "
            f"{point.mass_g:g} g at {point.temp_c:g} degC: it wants a heat of reaction outside "
            f"{least:.0f} to {most:.0f} J/g"
        )
    return float(brentq(too_hot, least, most, xtol=1.0))
