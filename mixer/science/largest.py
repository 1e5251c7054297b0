"""How much may be mixed at once: the largest mass that lives long enough, or stays calm.

Each is looked for with one system in at most a dozen cups (:data:`MOST_CUPS`); what is
doubted is then tried by itself. It must never look beyond the masses and thicknesses for
which the model was checked.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from mixer.science.fitting import fit
from mixer.science.label import Label, System, follow
from mixer.science.pot_life import DEPTH_MM, MASS_G, doubted, estimate, middle
from mixer.science.shapes import Shape
from mixer.science.warming import HOT_C

#: Whether a system, with the label that it was fitted to, does as is wanted at a value.
Good = Callable[[System, Label, float], bool]

MOST_CUPS = 12
CLOSE = 0.01  # in logarithms: a scoop of epoxy is less exact
STEPS = 1e-7  # relative, of the solver: half of them find the same mass
ROUGH = 0.04  # the same, of a doubt


@dataclass(frozen=True, slots=True)
class Largest:
    """``most`` by the best estimate, ``least`` with what is doubted; None where even the
    smallest is too much. ``open``: it is only as far as the model was checked, or as the
    cup takes."""

    most: float | None
    least: float | None
    open: bool


def lasting_g(
    label: Label,
    minutes: float,
    air_c: float,
    start_c: float,
    cup: Shape | float | None = None,
    most_g: float = MASS_G[1],
) -> Largest:
    """The largest mass in g that can be worked with for so long; ``cup`` as in
    :func:`mixer.science.label.follow`, which holds up to ``most_g``. ``least`` has a range, as
    :func:`estimate` tells it, that does not begin before.

    >>> from mixer.science.label import Point
    >>> found = lasting_g(Label((Point(100, 25, 25),), "usable", 1.1), 25, 25, 25)
    >>> 97 < found.most < 103, found.least < found.most
    (True, True)
    """

    def lasts(system: System, one: Label, mass_g: float) -> bool:
        until_s = minutes * 60
        course = follow(
            system, one, mass_g, air_c, start_c, cup, until_s, leave_then=True, tolerance=STEPS
        )
        return course.reached_s[0] is None

    found = _doubting(label, lasts, (MASS_G[0], most_g), sooner=True)
    if found.least is None:
        return found

    def surely_lasts(mass_g: float) -> bool:
        within = estimate(label, mass_g, air_c, start_c, cup).range_s
        return within is None or within[0] >= minutes * 60

    return replace(found, least=_surely(surely_lasts, MASS_G[0], found.least))


def calm_g(
    label: Label,
    air_c: float,
    start_c: float,
    cup: Shape | float | None = None,
    most_g: float = MASS_G[1],
) -> Largest:
    """The largest mass in g that does not run away; ``least`` as :func:`estimate` judges it,
    which then has no time at which it may be warm.

    >>> from mixer.science.label import Point
    >>> found = calm_g(Label((Point(100, 25, 240),), "gel", 1.1), 20, 20)
    >>> 5 < found.least < found.most < 500
    True
    """

    def is_calm(system: System, one: Label, mass_g: float) -> bool:
        course = follow(system, one, mass_g, air_c, start_c, cup, tolerance=STEPS)
        return not course.runaway

    def is_cool(system: System, one: Label, mass_g: float) -> bool:
        course = follow(system, one, mass_g, air_c, start_c, cup, tolerance=STEPS)
        return not course.runaway and course.peak_c < HOT_C

    found = _doubting(label, is_calm, (MASS_G[0], most_g), doubted_good=is_cool)
    if found.least is None:
        return found
    early, sooner = doubted(label, fit(label))[0][0]

    def stays_cool(mass_g: float) -> bool:
        return is_cool(middle(early), sooner, mass_g) and is_cool(fit(label), label, mass_g)

    return replace(found, least=_surely(stays_cool, MASS_G[0], found.least))


def thickest_mm(
    label: Label, mass_g: float, air_c: float, start_c: float, stack: Shape, softens_c: float
) -> Largest:
    """The thickest stack in mm that keeps the foam under it below ``softens_c``; ``least`` by
    what :func:`estimate` has for the hottest that it may get.

    >>> from mixer.science.label import Point
    >>> slow, stack = Label((Point(100, 25, 50),), "gel", 1.1), Shape("stack", None, 0.01, 0.4)
    >>> found = thickest_mm(slow, 300, 20, 20, stack, 60)
    >>> 5 < found.least < found.most < 30
    True
    """

    def foam(most: bool) -> Good:
        def is_cool(system: System, one: Label, depth_mm: float) -> bool:
            shape = replace(stack, depth_m=depth_mm / 1000)
            course = follow(system, one, mass_g, air_c, start_c, shape, tolerance=STEPS)
            hot_c = shape.foam_most_c if most else shape.foam_c
            return hot_c(course.peak_c, air_c, system.guess.exchange) < softens_c

        return is_cool

    found = _doubting(label, foam(most=False), DEPTH_MM["stack"], also=foam(most=True))
    if found.least is None:
        return found

    def spares(depth_mm: float) -> bool:
        shape = replace(stack, depth_m=depth_mm / 1000)
        hottest_c = estimate(label, mass_g, air_c, start_c, shape).hottest_c
        return shape.foam_most_c(hottest_c, air_c) < softens_c

    return replace(found, least=_surely(spares, DEPTH_MM["stack"][0], found.least))


def last_good(
    good: Callable[[float], bool], least: float, most: float, close: float = CLOSE
) -> tuple[float, bool]:
    """The largest value from ``least`` on that is good, and whether that is ``most``
    itself; 0.0 where there is none. What is larger than one that is not good is not good.

    By halving in logarithms: from 5 to 500 that is eleven questions for one per cent.

    >>> found, is_open = last_good(lambda x: x <= 30, 5.0, 500.0)
    >>> 29.7 < found <= 30, is_open
    (True, False)
    """
    if good(most):
        return most, True
    if not good(least):
        return 0.0, False
    low, high = math.log(least), math.log(most)
    for _ in range(MOST_CUPS - 2):
        if high - low < close:
            break
        middle = (low + high) / 2
        low, high = (middle, high) if good(math.exp(middle)) else (low, middle)
    return math.exp(low), False


def _surely(good: Callable[[float], bool], least: float, most: float) -> float | None:
    """So much of ``most`` as is good by the judge that has the last word; None for nothing."""
    if good(most):
        return most
    inside = max(least, most * math.exp(-CLOSE))  # what the looser steps of the search may be off
    found, _ = last_good(good, least, inside, ROUGH)
    return found or None


def _doubting(
    label: Label,
    good: Good,
    span: tuple[float, float],
    also: Good | None = None,
    *,
    doubted_good: Good | None = None,
    sooner: bool = False,
) -> Largest:
    """The same with each doubt by itself, and once as ``also`` has it, or of the middle, which
    is ``sooner``; how much less it then is, added in quadrature. ``doubted_good`` is asked of
    the doubts where that is more."""
    system = fit(label)
    found, is_open = last_good(lambda x: good(system, label, x), *span)
    if not found:
        return Largest(None, None, False)
    asked = doubted_good or good
    others = [[(asked, other, one) for other, one in pair] for pair in doubted(label, system)]
    if sooner:
        others.append([(good, middle(system), label)])
    if also is not None:
        others.append([(also, system, label)])
    less = 0.0
    for doubts in others:
        worst = found
        for holds, other, one in doubts:  # most only help, and one cup shows it
            worst, _ = last_good(functools.partial(holds, other, one), span[0], worst, ROUGH)
            if not worst:
                return Largest(found, None, is_open)
        less += math.log(found / worst) ** 2
    least = found * math.exp(-math.sqrt(less))
    return Largest(found, least if least >= span[0] else None, is_open)
