"""How far a laminate has cured, by the temperatures that it had, and when it may be touched.

A laminate is thin: it is as warm as its room, and what it gives off is lost at once. Its
temperatures come as spans, each with one temperature. Two clocks run: the conversion, by
:mod:`mixer.science.cure`, which stalls in the cool; and the label's own hours, each counted
for what it is worth at another temperature. Plain numbers in and out. A laminate is never
called ready here: only before when it is not.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from mixer.science.cure import GAS_J_MOL_K, ZERO_C_K, Cure

#: J/mol: of whichever an hour is worth less. The energies of autocatalytic fits and of
#: primary amines; see the sources of :class:`mixer.science.cure.Cure`.
ENERGIES_J_MOL = (44e3, 60e3)

#: Within these the temperatures of a laminate are believed.
COLDEST_C, WARMEST_C = -10.0, 60.0

STEP_S = 600.0


@dataclass(frozen=True, slots=True)
class Span:
    """So many seconds, above 0, at one temperature in degC."""

    seconds: float
    temp_c: float

    def __post_init__(self) -> None:
        if not 0 < self.seconds < math.inf or not COLDEST_C <= self.temp_c <= WARMEST_C:
            raise ValueError(f"{self.seconds} s at {self.temp_c} degC are no span of a cure")


def conversion(cure: Cure, spans: Sequence[Span], start: float = 0.0) -> float:
    r"""How much has reacted after all of these spans, 0 to 1.

    .. math:: \frac{d\alpha}{dt} = r(\alpha, T(t))

    Parameters
    ----------
    cure : rates fitted to a label. spans : in their order. start : conversion at first.

    Returns
    -------
    The conversion.

    Notes
    -----
    Runge and Kutta's fourth order, in steps of ten minutes, or of a five hundredth of
    the time that the reaction would take at its present speed where that is longer, and of
    a fiftieth at most. The laminate's own heat is
    left out: with it a thick one is ahead of this.

    Examples
    --------
    A day at 25 degC, and at 10:

    >>> slow = Cure().faster(0.2)
    >>> [round(conversion(slow, [Span(86400, temp_c)]), 2) for temp_c in (25, 10)]
    [0.76, 0.39]
    """
    alpha = start
    for span in spans:
        temp_k, left_s = span.temp_c + ZERO_C_K, span.seconds
        while left_s > 1e-6:
            rate = cure.rate_per_s(alpha, temp_k)
            slow_s = max(STEP_S, 0.002 / rate) if rate > 0 else left_s
            step_s = min(left_s, slow_s, 0.02 / rate if rate > 0 else left_s)
            alpha = min(1.0, alpha + step_s * _slope(cure, alpha, temp_k, step_s, rate))
            left_s -= step_s
    return alpha


def worth_s(
    spans: Sequence[Span], at_c: float, energies_j_mol: Sequence[float] = ENERGIES_J_MOL
) -> float:
    r"""What these spans are worth as seconds at another temperature: no less than that.

    .. math:: t_\mathrm{at} = \sum_i t_i \min_E
        \exp\left[\frac{E}{R} \left(\frac{1}{T_\mathrm{at}} - \frac{1}{T_i}\right)\right]

    Parameters
    ----------
    spans : of the laminate. at_c : the temperature of a label's hours, degC.
    energies_j_mol : activation energies that it may have.

    Returns
    -------
    Seconds at ``at_c``.

    Notes
    -----
    Of the energies whichever makes less of a span: colder than the label the highest,
    warmer the lowest. "Halves for each 10 degC" (common practice) lies between.

    Examples
    --------
    A day at 15 degC, by hours at 25:

    >>> round(worth_s([Span(86400, 15)], 25) / 3600, 1)
    10.4
    """
    return sum(span.seconds * _worth(span.temp_c, at_c, energies_j_mol) for span in spans)


def reached_s(
    spans: Sequence[Span],
    then_c: float,
    at_c: float,
    wanted_s: float,
    energies_j_mol: Sequence[float] = ENERGIES_J_MOL,
) -> float:
    """When a label's hours have passed, in seconds from the first span's start; after the
    last span it is ``then_c`` for ever. The rest is as in :func:`worth_s`.

    Two days at 15 degC and then 25, for a label's day at 25:

    >>> round(reached_s([Span(2 * 86400, 15)], 25, 25, 86400) / 3600, 1)
    51.3
    """
    passed_s = 0.0
    for span in spans:
        worth = _worth(span.temp_c, at_c, energies_j_mol)
        if wanted_s <= span.seconds * worth:
            return passed_s + wanted_s / worth
        wanted_s -= span.seconds * worth
        passed_s += span.seconds
    return passed_s + wanted_s / _worth(then_c, at_c, energies_j_mol)


def _worth(temp_c: float, at_c: float, energies_j_mol: Sequence[float]) -> float:
    inverse = 1 / (at_c + ZERO_C_K) - 1 / (temp_c + ZERO_C_K)
    return min(math.exp(energy * inverse / GAS_J_MOL_K) for energy in energies_j_mol)


def _slope(cure: Cure, alpha: float, temp_k: float, step_s: float, k1: float) -> float:
    k2 = cure.rate_per_s(alpha + step_s / 2 * k1, temp_k)
    k3 = cure.rate_per_s(alpha + step_s / 2 * k2, temp_k)
    k4 = cure.rate_per_s(alpha + step_s * k3, temp_k)
    return float(k1 + 2 * k2 + 2 * k3 + k4) / 6
