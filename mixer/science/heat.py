"""The cup as one reacting, cooling body: how warm it gets, and when.

Epoxy gives off heat as it cures; a cup that cannot pass it on warms up, cures faster and
gives off more. Here the cup is lumped: one temperature, one conversion, with what the
heat has to cross (half the epoxy, the wall, the air) as conductances from its shape. The
model in two dimensions that this one is held against is :mod:`mixer.science.heat_field`.
Plain numbers in and out; scipy is loaded inside the call, because the window stands first.
This file must never be read as a promise that a cup stays cool.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from operator import itemgetter

from mixer.science.cure import ZERO_C_K

#: Conversion and temperature at any time within one step of the solver.
Within = Callable[[float], Sequence[float]]

#: degC of the room: one for all the time; or several, each from its second on, the first from 0.
Air = float | Sequence[tuple[float, float]]

#: W/(m K). Liquid and cured epoxy without filler, of the usual order (memory).
CONDUCTIVITY_W_M_K = 0.2

#: W/(m2 K). For a body of some 5 cm, 20 degrees warmer than the room: about 6 by still
#: air, 1.42 (dT/L)^(1/4), and about 6 by radiation, 4 sigma T^3 (both from memory).
AIR_W_M2K = 12.0

#: W/(m2 K). What a cup stands on: a wooden bench, through the ring of its foot; foam of
#: an inch or so (its conductivity of 0.03 W/(m K), by its thickness). Memory.
BENCH_W_M2K = 5.0
FOAM_W_M2K = 1.2

#: m2 K/W. Half a millimetre of paper or one of plastic (by conductivity, memory).
WALL_M2K_W = 0.005

#: Times R T^2 / E above the room, from which on a cup has run away; see :func:`lumped`.
HOTTER = 2.0

#: Relative, of each step of the solver: so close that half the step shows the same.
CLOSE = 1e-9

#: A cup's height by its mean diameter, where nobody measured it (common practice).
HEIGHT_BY_DIAMETER = 1.2


@dataclass(frozen=True, slots=True)
class Body:
    """What reacts and cools. Mass in g, above 0; heat of the whole reaction in J/g; heat
    capacity in J/(g K); conductance to the room in W/K."""

    mass_g: float
    heat_j_g: float
    capacity_j_g_k: float
    conductance_w_k: float

    def __post_init__(self) -> None:
        for value in (self.mass_g, self.heat_j_g, self.capacity_j_g_k, self.conductance_w_k):
            if not 0 < value < math.inf:
                raise ValueError(f"a body with a figure of {value}, which is not above 0")

    @property
    def lost_per_s(self) -> float:
        """By how much a degree more than the room cools it in a second."""
        return self.conductance_w_k / (self.mass_g * self.capacity_j_g_k)


@dataclass(frozen=True, slots=True)
class Course:
    """What became of it. ``t_s``, ``temp_c`` and ``conversion`` are where the solver
    stepped; ``reached_s`` has the time of each conversion that was asked for, None where
    it was not reached; ``runaway``: heat fed on itself; see :func:`lumped`."""

    t_s: tuple[float, ...]
    temp_c: tuple[float, ...]
    conversion: tuple[float, ...]
    reached_s: tuple[float | None, ...]
    peak_c: float
    peak_s: float
    runaway: bool
    warms_k_s: tuple[float, ...]

    def temp_at_c(self, at_s: float) -> float:
        """At any time: by the curve of the third degree through the step before and the step
        after with their slopes; before the first and after the last as it was there.

        >>> Course((0, 4), (20, 36), (0, 0), (), 36, 4, False, (0, 8)).temp_at_c(2)
        24.0
        """
        after = bisect_left(self.t_s, at_s)
        if after in (0, len(self.t_s)):
            return self.temp_c[min(after, len(self.t_s) - 1)]
        (t0, t1), (c0, c1), (w0, w1) = (
            of[after - 1 : after + 1] for of in (self.t_s, self.temp_c, self.warms_k_s)
        )
        x, long_s = (at_s - t0) / (t1 - t0), t1 - t0
        bent = (1 - x) * (w0 * long_s - (c1 - c0)) - x * (w1 * long_s - (c1 - c0))
        return c0 + x * (c1 - c0) + x * (1 - x) * bent


def filled_cup_m(mass_g: float, density_g_ml: float, cup_ml: float) -> tuple[float, float]:
    """Radius of a cup and depth of the epoxy in it, metres; the cup taken for a cylinder
    :data:`HEIGHT_BY_DIAMETER` times as high as wide.

    >>> [round(x, 3) for x in filled_cup_m(100, 1.1, 150)]
    [0.027, 0.039]
    """
    radius = (cup_ml * 1e-6 / (2 * math.pi * HEIGHT_BY_DIAMETER)) ** (1 / 3)
    return radius, mass_g / density_g_ml * 1e-6 / (math.pi * radius**2)


def conductance_w_k(
    radius_m: float,
    depth_m: float,
    *,
    air_w_m2k: float = AIR_W_M2K,
    wall_m2k_w: float = WALL_M2K_W,
    stand_w_m2k: float = BENCH_W_M2K,
    conductivity_w_m_k: float = CONDUCTIVITY_W_M_K,
) -> float:
    r"""From the mean of an upright cylinder of epoxy to the room, W/K.

    .. math::
        U A = \frac{2 \pi R D}{1/h + w + R/4k} + \frac{\pi R^2}{1/h + D/6k}
            + \frac{\pi R^2}{1/h_s + D/6k}

    Parameters
    ----------
    radius_m, depth_m : R and D of the epoxy, above 0. A tray or a wet stack is a wide
        and shallow one, a film one with hardly any depth.
    air_w_m2k : h, to the air, by convection and radiation. wall_m2k_w : w, of the cup's
        side. stand_w_m2k : h_s, through bottom and stand.
    conductivity_w_m_k : k, of the epoxy.

    Returns
    -------
    The conductance. ValueError for a size that is not above 0.

    Notes
    -----
    R/4k and D/6k are what lies between the mean and the surface where heat comes evenly
    and has come for a while (each direction for itself): a cup that heats up within
    minutes loses less. What the wall above the epoxy takes is left out.

    References
    ----------
    .. [1] Carslaw H.S., Jaeger J.C., Conduction of Heat in Solids, 1959: steady
       temperature of a slab and of a cylinder with even generation.

    Examples
    --------
    100 g in a cup of 150 mL lose a watt for some 12 degrees:

    >>> round(conductance_w_k(0.027, 0.039), 2)
    0.08
    """
    if not (0 < radius_m < math.inf and 0 < depth_m < math.inf):
        raise ValueError(f"a radius of {radius_m} m with a depth of {depth_m} m is no cup")
    base = math.pi * radius_m**2
    across = radius_m / (4 * conductivity_w_m_k)
    along = depth_m / (6 * conductivity_w_m_k)
    side = 2 * math.pi * radius_m * depth_m / (1 / air_w_m2k + wall_m2k_w + across)
    return side + base / (1 / air_w_m2k + along) + base / (1 / stand_w_m2k + along)


def lumped(
    rate_per_s: Callable[[float, float], float],
    body: Body,
    air_c: Air,
    start_c: float,
    until_s: float,
    conversions: Sequence[float] = (),
    *,
    then: Sequence[tuple[float, Body]] = (),
    leave_then: bool = False,
    leave_cooled: bool = False,
    tolerance: float = CLOSE,
) -> Course:
    r"""Temperature and conversion of a cup from the first contact of hardener on.

    .. math::
        \frac{d\alpha}{dt} = r(\alpha, T), \qquad
        m c \frac{dT}{dt} = m H r(\alpha, T) - U A \, (T - T_\mathrm{air})

    Parameters
    ----------
    rate_per_s : r, of conversion and temperature in K, such as :meth:`Cure.rate_per_s`.
    body : mass, heat, heat capacity and conductance.
    air_c, start_c : the room's temperature (:data:`Air`, also one that changes) and the
        epoxy's own as it is mixed, degC.
    until_s : how far to follow it, above 0.
    then : what is left of it, each from its second on, by time: the same epoxy, of which some
        was taken out. What it has reacted and how warm it is go along.
    conversions : the solver tells when each of these is reached; with ``leave_then`` it
        goes no further than the last of them, with ``leave_cooled`` than to twice the time at
        which it had them all and was hottest, once it cools and its room stays as it is: from
        conversions on at which a reaction slows down it does not warm up again.
    tolerance : relative, of each step.

    Returns
    -------
    A :class:`Course`. ValueError where there is no time to follow.

    Notes
    -----
    ``runaway``: it warms up past twice :math:`R T_\mathrm{air}^2 / E` above the room, some
    28 degC. Semenov [1]_: where nothing is used up no cup rests at more than once that,
    and it gets beyond if and only if
    :math:`\psi = m H r E / (U A R T_\mathrm{air}^2) > 1/e`. With consumption a cup may
    pass once that and stay lukewarm; twice is ours, and lies where the peak begins to
    climb steeply with the mass.

    References
    ----------
    .. [1] Semenov N.N., Z. Phys. 48 (1928) 571.

    Examples
    --------
    Nothing that reacts: it cools as Newton said.

    >>> cold = lumped(lambda alpha, temp: 0.0, Body(100, 380, 2.1, 0.1), 20, 40, 2100)
    >>> round(cold.temp_c[-1], 2) == round(20 + 20 / math.e, 2), cold.runaway
    (True, False)
    """
    if not 0 < until_s < math.inf:
        raise ValueError(f"{until_s} s are no time to follow")
    from scipy.integrate import LSODA  # half a second, and seldom needed

    start_k, generated = start_c + ZERO_C_K, body.heat_j_g / body.capacity_j_g_k
    # Second, conversion, by how much it is warmer than it was mixed, and how fast it gets so.
    steps: list[tuple[float, float, float, float]] = []
    y, peak_k, peak_s = (0.0, 0.0), 0.0, 0.0
    reached: list[float | None] = [None] * len(conversions)
    changes = _changes(body, air_c, then, until_s)

    def is_over() -> bool:
        if None in reached or not (leave_then or leave_cooled):
            return False
        last_s, _, _, warms_k_s = steps[-1]
        has_all_s = max([peak_s, *(at_s or 0.0 for at_s in reached)])
        is_last = len(changes) == 2 or last_s >= changes[-2][0]
        return leave_then or (is_last and warms_k_s <= 0 and last_s >= 2 * has_all_s)

    for (since_s, lost, room_c), (till_s, _, _) in pairwise(changes):
        if steps and is_over():
            break
        room_k = room_c - start_c

        def change(
            t: float, y: Sequence[float], lost: float = lost, room_k: float = room_k
        ) -> tuple[float, float]:
            rate = rate_per_s(y[0], start_k + y[1])
            return rate, generated * rate - lost * (y[1] - room_k)

        steps.append((since_s, *y, change(since_s, y)[1]))
        # By how warm it rests at its first rate: of a film a thousandth of a degree tells.
        rests_k = min(1.0, generated * rate_per_s(0.0, start_k) / lost) or 1.0
        atol = [tolerance * 0.01, tolerance * 0.1 * rests_k]
        solver = LSODA(change, since_s, y, till_s, rtol=tolerance, atol=atol)
        while solver.status == "running" and not is_over():
            if solver.step() is not None:
                raise ArithmeticError("the cup could not be followed: a step of the solver failed")
            before_s, now_s = steps[-1][0], float(solver.t)
            y = (float(solver.y[0]), float(solver.y[1]))
            met = [i for i, a in enumerate(conversions) if reached[i] is None and y[0] >= a]
            seen: dict[float, tuple[float, ...]] = {now_s: y}  # what is sought is a step of its own
            if is_top := steps[-1][3] > 0 >= change(now_s, y)[1]:
                top_s = turn(before_s, now_s, _cools(solver.dense_output(), now_s - before_s))
            for i in met:
                reached[i] = turn(before_s, now_s, _reaches(solver.dense_output(), conversions[i]))
            for at_s in [*(reached[i] or now_s for i in met), *([top_s] if is_top else [])]:
                seen.setdefault(at_s, tuple(map(float, solver.dense_output()(at_s))))
            for at_s, (alpha, above_k) in sorted(seen.items()):
                steps.append((at_s, alpha, above_k, change(at_s, (alpha, above_k))[1]))
                peak_k, peak_s = max((peak_k, peak_s), (above_k, at_s), key=itemgetter(0))
    air_k = room(air_c)(peak_s) + ZERO_C_K
    return Course(
        t_s=tuple(t for t, _, _, _ in steps),
        temp_c=tuple(start_c + above_k for _, _, above_k, _ in steps),
        conversion=tuple(alpha for _, alpha, _, _ in steps),
        reached_s=tuple(reached),
        peak_c=start_c + peak_k,
        peak_s=peak_s,
        runaway=peak_s > 0 and start_k + peak_k - air_k > HOTTER * excess_k(rate_per_s, air_k),
        warms_k_s=tuple(warms for _, _, _, warms in steps),
    )


def room(air_c: Air) -> Callable[[float], float]:
    """The temperature of the room at any second.

    >>> at = room([(0, 20.0), (600, 26.0)])
    >>> at(0), at(599), at(600), room(18.0)(5)
    (20.0, 20.0, 26.0, 18.0)
    """
    if isinstance(air_c, int | float):
        return lambda t: air_c
    since = [from_s for from_s, _ in air_c]
    return lambda t: air_c[max(0, bisect_right(since, t) - 1)][1]


def _changes(
    body: Body, air_c: Air, then: Sequence[tuple[float, Body]], until_s: float
) -> list[tuple[float, float, float]]:
    """From when on it loses heat otherwise, by how much in a second for a degree more than the
    room, and the room; at last the end. A step over such a change would be off, and by another
    amount with another step."""
    said = [] if isinstance(air_c, int | float) else [from_s for from_s, _ in air_c]
    times = sorted({0.0, *(s for s in [*said, *(s for s, _ in then)] if 0 < s < until_s)})
    bodies, since = [body, *(one for _, one in then)], [from_s for from_s, _ in then]
    at_c = room(air_c)
    found = [(s, bodies[bisect_right(since, s)].lost_per_s, at_c(s)) for s in times]
    kept = [one for before, one in pairwise(found) if one[1:] != before[1:]]
    return [found[0], *kept, (until_s, 0.0, 0.0)]


def _reaches(within: Within, conversion: float) -> Callable[[float], bool]:
    return lambda t: within(t)[0] >= conversion


def _cools(within: Within, span_s: float) -> Callable[[float], bool]:
    """By the solver's own curve: what a film gains and loses in a second is so large that the
    sign of their difference tells little."""
    return lambda t: within(t + 1e-3 * span_s)[1] <= within(t - 1e-3 * span_s)[1]


def excess_k(rate_per_s: Callable[[float, float], float], air_k: float) -> float:
    """R T^2 / E of the room: by so many degrees more, the reaction is e times as fast."""
    rate = rate_per_s(0.0, air_k)
    more = rate_per_s(0.0, air_k + 0.01) - rate
    return 0.01 * rate / more if more > 0 else math.inf


def turn(low_s: float, high_s: float, turned: Callable[[float], bool]) -> float:
    """The moment from which on this holds within a step, by halving it."""
    for _ in range(40):
        middle = (low_s + high_s) / 2
        low_s, high_s = (low_s, middle) if turned(middle) else (middle, high_s)
    return high_s
