"""From what a label says to a cure that agrees with it.

The rates of :mod:`mixer.science.cure` are scaled until the lumped cup of
:mod:`mixer.science.heat` ends its pot life where the label says, then; a second time at
another temperature gives the activation energy, a peak temperature the heat. All that is
sought is found at once by Newton's steps, whose slopes come out of the very course that was
followed (:func:`slopes`), so that a label costs a handful of cups. This file must never fit a
label that contradicts itself.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from mixer.science.cure import (
    GAS_J_MOL_K,
    REFERENCE_K,
    ZERO_C_K,
    Cure,
    activation_energy_j_mol,
    adiabatic_s,
    isothermal_s,
)
from mixer.science.heat import Body, Course, lumped
from mixer.science.label import HEAT_J_G, Contradiction, Guess, Label, Point, System
from mixer.science.shapes import Shape

ENERGY_J_MOL = (30e3, 100e3)
HEATS_J_G = (HEAT_J_G / 3, HEAT_J_G * 2)
LEAST_APART_C = 5.0  # of two label points: closer, a minute's rounding makes any energy

MOST_CUPS = 24  # of a label; all but the steepest are met in ten
FEW_CUPS = 10  # the same where a batch is sized: it solves a dozen, and has two of them left
LONGEST_STEP = (1.0, 2e4, 150.0)  # each no longer: in logarithms, J/mol, J/g
WITHIN = ((-math.inf, math.inf), ENERGY_J_MOL, HEATS_J_G)
NEAR, NEAR_LAST = 1e-2, 4e-2  # so near of a time one more step is the last; and of the few cups
NEAR_C = 50.0  # times as many degC of a peak
MET = 1e-5  # of a time: what the last step, which is not followed, may leave, by the one before
LONGEST = 50  # times the label's own time is a cup followed, at most
LOST = 5.0  # how often a cup loses its heat in a time in which half of it still counts (our choice)
CELLS = 20  # of an integral that only begins the search

#: Of the rates by their logarithm, of the energy by J/mol, of the heat by J/g.
Slopes = tuple[float, float, float]
RATES, ENERGY, HEAT = range(3)


@dataclass(frozen=True, slots=True)
class Tried:
    """One cup of the label, as it came out: by how much its time is late, in logarithms, and
    how much too hot it gets, in degC, with the slopes of both."""

    late: float
    late_by: Slopes
    hot_c: float
    hot_by: Slopes


def fit(label: Label, guess: Guess | None = None, most_cups: int = MOST_CUPS) -> System:
    """The system that ends its pot life where and when the label says, in so many cups or fewer.

    Raises :class:`Contradiction` where none was found: two points of which the warmer
    lasts as long as the colder, or a peak that the times do not allow.

    >>> from mixer.science.label import follow
    >>> label = Label((Point(100, 25, 25),), "gel", 1.1)
    >>> round(follow(fit(label), label, 100, 25, 25).reached_s[1] / 60, 2)
    25.0
    """
    found = fitted(label, guess or Guess(), most_cups)
    if isinstance(found, Contradiction):
        raise Contradiction(str(found), found.cups)
    return found


@functools.lru_cache(maxsize=64)  # a label is fitted once, and its cups asked for many times
def fitted(label: Label, guess: Guess, most_cups: int) -> System | Contradiction:
    """The same, with what contradicts itself as a value: that is found out once too."""
    temps = [point.temp_c for point in label.points]
    if len(temps) > 1 and abs(temps[1] - temps[0]) < LEAST_APART_C:
        why = f"two label points at {temps[0]:g} and {temps[1]:g} degC tell no activation energy"
        give = f"give two that are {LEAST_APART_C:g} degC or more apart"
        if len({point.mass_g for point in label.points}) == 1:
            return Contradiction(f"{why}; {give}, or one")
        told = ", ".join(f"{point.minutes:g} min for {point.mass_g:g} g" for point in label.points)
        return Contradiction(
            f"{why}, of whatever masses: keep the one whose mass is nearer to what is mixed, leave "
            f"the other out, and compare that with what is told of its mass then ({told}); or "
            f"{give}"
        )
    return _by_newton(label, guess, most_cups)


def slopes(
    cure: Cure, body: Body, air_c: float, course: Course, to: float
) -> tuple[Slopes, Slopes]:
    r"""What a little more of the rates, the energy and the heat makes of a course.

    .. math::
        \frac{d\,\delta T}{d\alpha} = \frac{\delta H}{c} + \frac{\lambda}{r} \left[
            (T - T_\mathrm{air}) (\rho\,\delta T + \pi) - \delta T \right], \qquad
        \frac{d\,\delta t}{d\alpha} = -\frac{\rho\,\delta T + \pi}{r}

    Parameters
    ----------
    cure, body, air_c : as the course was followed with, of one room and one body.
    course : what came of it. to : the conversion at which the time is asked for.

    Returns
    -------
    The slopes of the time at ``to`` in s, and of the hottest temperature of the course in
    degC: each by the logarithm of the rates, by J/mol of energy, by J/g of heat.

    Notes
    -----
    The lumped model with the conversion for its time, made linear: :math:`\lambda` is the loss
    by heat capacity, :math:`\rho = \partial \ln r / \partial T`, :math:`\pi` the change of
    :math:`\ln r` itself (1; by the energy :math:`(1/298.15\,\mathrm{K} - 1/T)/R`; 0). From
    step to step of the solver and once more from half step to half step, and so far beyond the
    second as it differs from the first (Richardson): so close that a label which is met by
    them is met alike, whatever the steps.

    Examples
    --------
    A cup that loses all its heat at once is a film: twice the rates, half the time.

    >>> cure, body = Cure(), Body(100, 380, 2.1, 1e3)
    >>> course = lumped(cure.rate_per_s, body, 25, 25, 1e5, (0.3,), leave_then=True)
    >>> times, _ = slopes(cure, body, 25, course, 0.3)
    >>> round(times[0] / course.reached_s[0], 2)
    -1.0
    """
    ends = next((i for i, alpha in enumerate(course.conversion) if alpha >= to), None)
    hottest = course.temp_c.index(max(course.temp_c))
    last = max(len(course.t_s) - 1 if ends is None else ends, hottest)
    nodes = list(zip(course.t_s, course.conversion, course.temp_c, course.warms_k_s, strict=True))
    nodes = nodes[: last + 1]
    halved = nodes[:1]
    for before, after in pairwise(nodes):
        halved += [_between(cure, before, after), after]
    whole, half = (
        _slopes(cure, body, air_c, [one[1:3] for one in each], to, hottest * by)
        for each, by in ((nodes, 1), (halved, 2))
    )
    times, temps = (
        [(4 * fine - coarse) / 3 for fine, coarse in zip(*each, strict=True)]
        for each in zip(half, whole, strict=True)
    )
    return (times[0], times[1], times[2]), (temps[0], temps[1], temps[2])


#: Second, conversion, degC, degrees a second.
Node = tuple[float, float, float, float]


def _between(cure: Cure, before: Node, after: Node) -> Node:
    """Half way, by the curve of the third degree through both with their slopes."""
    (t, alpha, temp_c, warms), (till, beta, till_c, cools) = before, after
    eighth_s = (till - t) / 8
    rate, later = (cure.rate_per_s(a, c + ZERO_C_K) for a, c in ((alpha, temp_c), (beta, till_c)))
    return (
        (t + till) / 2,
        (alpha + beta) / 2 + eighth_s * (rate - later),
        (temp_c + till_c) / 2 + eighth_s * (warms - cools),
        0.0,
    )


def _slopes(
    cure: Cure,
    body: Body,
    air_c: float,
    nodes: Sequence[tuple[float, float]],
    to: float,
    hottest: int,
) -> tuple[list[float], list[float]]:
    """From step to step of these conversions and temperatures, the middle for each step."""
    times, temps, hottest_by = [0.0] * 3, [0.0] * 3, [0.0] * 3
    for number, ((alpha, temp_c), (until, until_c)) in enumerate(pairwise(nodes), start=1):
        step = until - alpha
        part = max(0.0, min(until, to) - alpha)
        middle, temp_k = alpha + step / 2, (temp_c + until_c) / 2 + ZERO_C_K
        rate = cure.rate_per_s(middle, temp_k)
        warmer, colder = (cure.rate_per_s(middle, temp_k + by_k) for by_k in (0.05, -0.05))
        steeper = 10 * (warmer - colder) / rate
        cools, above_c = body.lost_per_s / rate, temp_k - ZERO_C_K - air_c
        grows = min(50.0, cools * (above_c * steeper - 1) * step)
        mean = math.expm1(grows) / grows if abs(grows) > 1e-9 else 1.0  # exact over one step
        for i, own in enumerate((1.0, (1 / REFERENCE_K - 1 / temp_k) / GAS_J_MOL_K, 0.0)):
            driven = cools * above_c * own + (1 / body.capacity_j_g_k if i == HEAT else 0.0)
            before = temps[i]
            temps[i] += (before * grows + driven * step) * mean
            times[i] -= (steeper * (before + temps[i]) / 2 + own) / rate * part
        if number == hottest:
            hottest_by = list(temps)
    return times, hottest_by


def _by_newton(label: Label, guess: Guess, most_cups: int) -> System | Contradiction:
    """All that is sought together. What is still wanted beyond the last that is looked at, once
    it was tried there, is no epoxy's."""
    from numpy.linalg import LinAlgError, solve

    sought = [RATES, *[ENERGY] * (len(label.points) > 1), *[HEAT] * (label.peak_c is not None)]
    heat_j_g = label.heat_j_g * guess.heat
    values, cups, beyond = _start(label, guess, heat_j_g, sought), 0, [0.0] * 3
    far_before = math.inf
    seen: list[tuple[float, float]] = []
    while cups + len(label.points) <= most_cups:
        system, cups = _system(guess, *values), cups + len(label.points)
        is_last = most_cups <= FEW_CUPS and cups + len(label.points) > most_cups
        near = NEAR_LAST if is_last else NEAR
        peaks = [HEAT in sought, False]
        tried = [_tried(label, *one, system) for one in zip(label.points, peaks, strict=False)]
        off = [one.late for one in tried]
        rows = [[one.late_by[i] for i in sought] for one in tried]
        far = max(map(abs, off))
        if HEAT in sought:
            off.append(tried[0].hot_c)
            rows.append([tried[0].hot_by[i] for i in sought])
            far = max(far, abs(tried[0].hot_c) / NEAR_C)
        # A step leaves a share of the square of what was off; how much, the one before has shown.
        is_near = far < near and (is_last or far * (far / far_before) ** 2 < MET)
        far_before = far
        try:
            step = solve(rows, off)
        except LinAlgError:
            break
        longest = max(abs(one) / LONGEST_STEP[i] for i, one in zip(sought, step, strict=True))
        is_kept, before = longest <= 1, beyond
        beyond = [0.0] * 3
        for i, one in zip(sought, step, strict=True):
            wanted = values[i] - float(one / max(1.0, longest))
            if sought == [RATES]:
                seen.append((values[i], off[0]))
                wanted = _narrowed(wanted, seen)
            within = min(max(wanted, WITHIN[i][0]), WITHIN[i][1])
            beyond[i], values[i] = wanted - within, within
        if is_near and is_kept and not any(beyond):
            moves = _moves(label, rows) if ENERGY in sought else 0.0
            return replace(_system(guess, *values), cups=cups, moves=moves)
        if any(one * other > 0 for one, other in zip(before, beyond, strict=True)):
            break
    return _contradiction(label, beyond, cups)


def _moves(label: Label, rows: Sequence[Sequence[float]]) -> float:
    """How far the energy goes with a time, by what was last tried (:class:`System`)."""
    from numpy.linalg import inv

    a, b = (1 / (point.temp_c + ZERO_C_K) for point in label.points)
    j_mol = max(abs(float(one)) for one in inv(rows)[ENERGY][:2])
    return j_mol * abs(a - b) / GAS_J_MOL_K


def _narrowed(wanted: float, seen: Sequence[tuple[float, float]]) -> float:
    """The next to be tried of one value, by those that were and how late each was: where the cup
    is near to running away a slope leads too far, and back again."""
    slow = max((one for one in seen if one[1] > 0), default=None)
    fast = min((one for one in seen if one[1] <= 0), default=None)
    if slow is None or fast is None:
        return wanted
    if slow[0] < wanted < fast[0] and abs(seen[-1][1]) < 0.5 * abs(seen[-2][1]):
        return wanted
    return slow[0] + (fast[0] - slow[0]) * slow[1] / (slow[1] - fast[1])


def _contradiction(label: Label, beyond: Sequence[float], cups: int) -> Contradiction:
    """In words, by what was wanted ``beyond`` the last that is looked at."""
    times = " and ".join(
        f"{p.minutes:g} min for {p.mass_g:g} g at {p.temp_c:g} degC" for p in label.points
    )
    peak = f"a peak of {label.peak_c or 0.0:g} degC"
    if beyond[ENERGY]:
        much = "more" if beyond[ENERGY] > 0 else "less"
        why = (
            f"the two label points contradict each other ({times}): warmth makes {much} of a "
            "difference there than with any epoxy that is known here; compare both with the data "
            "sheet: with one of them alone a time can be told"
        )
    elif beyond[HEAT]:
        least, most = HEATS_J_G
        why = (
            f"{peak} does not go with {times}: it wants a heat of reaction outside "
            f"{least:.0f} to {most:.0f} J/g"
        )
    else:
        also = "" if label.peak_c is None else f" with {peak}"
        why = f"no epoxy was found that agrees with {times}{also}; compare it with the data sheet"
    return Contradiction(why, cups)


def _start(label: Label, guess: Guess, heat_j_g: float, sought: Sequence[int]) -> list[float]:
    """From where Newton's steps begin: between a film and a cup that loses no heat, the more of
    the first the more of its heat it would lose in this time (:data:`LOST`)."""

    def log_factor(point: Point, energy_j_mol: float) -> float:
        cure = replace(guess, energy_j_mol=energy_j_mol).cure()
        cup = _cup(label, point, heat_j_g, guess)
        end, own_s = cure.end_conversion(label.ends), point.minutes * 60
        film_s = isothermal_s(cure, end, point.temp_c, CELLS)
        kept_s = adiabatic_s(cure, end, point.temp_c, heat_j_g / cup.capacity_j_g_k, CELLS)
        part = 1 / (1 + own_s * cup.lost_per_s / LOST)
        return math.log(film_s / own_s) + part * math.log(kept_s / film_s)

    energy = guess.energy_j_mol
    if ENERGY in sought:
        a, b = label.points
        energy = activation_energy_j_mol(a.minutes, a.temp_c, b.minutes, b.temp_c)
        for _ in range(3):
            energy = min(max(energy, ENERGY_J_MOL[0]), ENERGY_J_MOL[1])
            off = log_factor(a, energy) - log_factor(b, energy)
            inverse = 1 / (a.temp_c + ZERO_C_K) - 1 / (b.temp_c + ZERO_C_K)
            energy -= off * GAS_J_MOL_K / inverse
        energy = min(max(energy, ENERGY_J_MOL[0]), ENERGY_J_MOL[1])
    return [log_factor(label.points[0], energy), energy, heat_j_g]


def _cup(label: Label, point: Point, heat_j_g: float, guess: Guess) -> Body:
    """What the label's time was measured with."""
    exchange = guess.exchange * guess.label_exchange
    return Shape().body(point.mass_g, label.density_g_ml, heat_j_g, exchange)


def _system(guess: Guess, log_factor: float, energy_j_mol: float, heat_j_g: float) -> System:
    one = replace(guess, energy_j_mol=energy_j_mol)
    return System(one.cure().faster(math.exp(log_factor)), heat_j_g, one)


def _tried(label: Label, point: Point, peak: bool, system: System) -> Tried:
    """This point's cup; ``peak``: followed until it has cooled, and not just to its end."""
    cup = _cup(label, point, system.heat_j_g, system.guess)
    end, most_s = system.cure.end_conversion(label.ends), point.minutes * 60 * LONGEST
    rate, air_c = system.cure.rate_per_s, point.temp_c
    course = lumped(rate, cup, air_c, air_c, most_s, (end,), leave_then=not peak)
    end_s = course.reached_s[0] or most_s
    times, hot_by = slopes(system.cure, cup, air_c, course, end)
    late_by = (times[0] / end_s, times[1] / end_s, times[2] / end_s)
    late = math.log(end_s / (point.minutes * 60))
    return Tried(late, late_by, course.peak_c - (label.peak_c or 0.0), hot_by)
