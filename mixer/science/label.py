"""From what a label says to a cure that agrees with it.

A label gives a time for a mass at a temperature, and means by its end a gel, a viscosity
or "usable". The rates of :mod:`mixer.science.cure` are scaled until the lumped cup of
:mod:`mixer.science.heat` ends its pot life there, then; a second time at another
temperature gives the activation energy, a peak temperature the heat. This file must never
fit a label that contradicts itself.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from mixer.science.cure import (
    GAS_J_MOL_K,
    REFERENCE_K,
    ZERO_C_K,
    Cure,
    activation_energy_j_mol,
    isothermal_s,
)
from mixer.science.heat import Air, Body, Course, lumped, room
from mixer.science.shapes import Shape

#: J for each mole of epoxide that takes an amine hydrogen; of the usual order (memory).
HEAT_J_MOL = 100e3

#: J/g of mixed epoxy, where no equivalent weight tells: that of EEW 190 with 36 phr.
HEAT_J_G = 380.0

#: What was left of a cup, each from its second on: so many g, in a cup as in :func:`follow`.
Left = Sequence[tuple[float, float, "Shape | float | None"]]

LONGEST_S = 7 * 86400.0
ENERGY_J_MOL = (30e3, 100e3)
MOST_STEPS, MET = 15, 1e-4  # of the search for both points, and when it is at rest
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
    conducts: float = 1.0

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
    cup: Shape | float | None = None,
    until_s: float = LONGEST_S,
    *,
    left: Left = (),
    leave_then: bool = False,
    tolerance: float = 1e-6,
) -> Course:
    """The course of a cup: a shape, millilitres, or None for one that this mass fills as a
    label's does; ``left`` is what of it stood alone later. ``reached_s`` has the end of the
    working time, then the gel; with ``leave_then`` it is followed no further than the first
    of these.
    """
    shape = _shape(cup)

    def body(of: Shape, of_g: float) -> Body:
        guess = system.guess
        return of.body(of_g, label.density_g_ml, system.heat_j_g, guess.exchange, guess.conducts)

    ends = [system.cure.end_conversion(label.working_ends()), system.cure.gel]
    return lumped(
        system.cure.rate_per_s,
        body(shape, mass_g),
        air_c,
        start_c if shape.share == 1 else shape.mixed_c(start_c, room(air_c)(0)),
        until_s,
        ends[:1] if leave_then else ends,
        then=[(from_s, body(_shape(its), its_g)) for from_s, its_g, its in left],
        leave_then=leave_then,
        tolerance=tolerance,
    )


def _shape(cup: Shape | float | None) -> Shape:
    return cup if isinstance(cup, Shape) else Shape(cup_ml=cup)


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
    cup = Shape().body(point.mass_g, label.density_g_ml, system.heat_j_g, exchange)
    end, most_s = system.cure.end_conversion(label.ends), point.minutes * 60 * 50
    course = lumped(
        system.cure.rate_per_s, cup, point.temp_c, point.temp_c, most_s, (end,), leave_then=True
    )
    return math.log((course.reached_s[0] or most_s) / (point.minutes * 60))


def _energy_j_mol(label: Label, guess: Guess, heat_j_g: float) -> float:
    from scipy.optimize import brentq

    second = label.points[1]
    if (found := _by_both_points(label, guess, heat_j_g)) is not None:
        return found

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


def _by_both_points(label: Label, guess: Guess, heat_j_g: float) -> float | None:
    """The energy with which both points are met, and the rates with it: by Broyden's steps, in
    some ten cups where the search of one within the other takes seventy. None where that does
    not come to rest within what is looked at."""
    first, second = label.points
    cure = replace(guess, energy_j_mol=ENERGY_J_MOL[0]).cure()
    at_s = isothermal_s(cure, cure.end_conversion(label.ends), first.temp_c)
    energy = activation_energy_j_mol(first.minutes, first.temp_c, second.minutes, second.temp_c)
    energy = min(max(energy, ENERGY_J_MOL[0]), ENERGY_J_MOL[1])

    def scale(temp_c: float) -> float:
        """What a J/mol more makes of the logarithm of the rates."""
        return (1 / REFERENCE_K - 1 / (temp_c + ZERO_C_K)) / GAS_J_MOL_K

    def late(log_factor: float, energy_j_mol: float) -> list[float]:
        one = replace(guess, energy_j_mol=energy_j_mol)
        system = System(one.cure().faster(math.exp(log_factor)), heat_j_g, one)
        return [_late(label, point, system) for point in (first, second)]

    factor = math.log(at_s / (first.minutes * 60)) - 0.3
    factor -= (energy - ENERGY_J_MOL[0]) * scale(first.temp_c)
    slopes = [[-1.0, -scale(point.temp_c)] for point in (first, second)]
    off = late(factor, energy)
    for _ in range(MOST_STEPS):
        if max(map(abs, off)) < MET:
            return energy
        (a, b), (c, d) = slopes
        whole = a * d - b * c
        step = ((b * off[1] - d * off[0]) / whole, (c * off[0] - a * off[1]) / whole)
        factor, energy = factor + step[0], energy + step[1]
        if not ENERGY_J_MOL[0] <= energy <= ENERGY_J_MOL[1] or abs(step[0]) > 3:
            return None
        before, off = off, late(factor, energy)
        units = (step[0], step[1] / 1e4)  # alike in size: a factor, and ten kJ/mol
        length = units[0] ** 2 + units[1] ** 2
        for row, now, then in zip(slopes, off, before, strict=True):
            missed = now - then - row[0] * step[0] - row[1] * step[1]
            row[0] += missed * units[0] / length
            row[1] += missed * units[1] / length / 1e4
    return None


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
