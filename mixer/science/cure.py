"""How an epoxy hardens: conversion over time, where it stalls, and how it thickens.

Conversion is the part of the epoxide that has reacted, 0 to 1. The reaction speeds
itself up (each hydroxyl it makes is a catalyst), follows Arrhenius, and is held back by
diffusion once the resin turns to glass: cured in a cool room it stalls, far from done.
Plain numbers in and out. The figures here are those of a typical room-temperature amine
system, never of a product: what a label says is fitted in :mod:`mixer.science.pot_life`,
and this file must never be read as "fully cured".
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from mixer.science.stoichiometry import gel_conversion

GAS_J_MOL_K = 8.314462618
ZERO_C_K = 273.15
REFERENCE_K = 298.15

#: A difunctional resin with a diamine. Flory 1953; see :func:`gel_conversion`.
FUNCTIONS = (2.0, 4.0)
GEL = gel_conversion(*FUNCTIONS) or 1.0

#: At the end of a pot life the resin is this many times as thick as it was, at one
#: temperature: a doubling is a usual meaning of "viscosity", five times is where a thin
#: laminating resin no longer wets cloth by itself (common practice, no source).
THICKER = {"viscosity": 2.0, "usable": 5.0}


@dataclass(frozen=True, slots=True)
class Cure:
    r"""One system: its rates, the glass it makes, and where it gels.

    .. math::
        \frac{d\alpha}{dt} = \frac{(k_1 + k_2 \alpha^m)(1 - \alpha)^n}
            {1 + \exp[C (\alpha - \alpha_g(T))]}, \qquad
        k_i = k_{i,25} \exp\left[\frac{E_i}{R}
            \left(\frac{1}{298.15\,\mathrm{K}} - \frac{1}{T}\right)\right]

    Parameters
    ----------
    k1_per_s, k2_per_s : rates at 25 degC, 1/s, not negative: by what catalyses from the
        start, and by what the reaction makes.
    e1_j_mol, e2_j_mol : their activation energies.
    m, n : orders. 1 and 2 are the third-order mechanism of amine and epoxide at exact
        ratio, primary and secondary hydrogens alike [1]_.
    tg_start_c, tg_full_c, tg_ratio : glass transition unreacted and fully reacted, and
        the ratio of their steps in heat capacity (DiBenedetto).
    sharpness : C, how sharply diffusion takes over at the conversion of the glass [3]_.
    gel : conversion at the gel point.

    Notes
    -----
    Checked from -10 to 60 degC and, in a cup that heats itself, up to some 250. The
    defaults: E = 52 kJ/mol is "halves for each 10 degC" by Arrhenius, within 44 to 57
    kJ/mol of autocatalytic fits [4]_ [5]_. k1/k2 = 0.2 is ours: a system that lasts 25
    minutes as 100 g then gels in two to three hours as a film (common practice). The
    glass transitions, -40 and 80 degC with a ratio of 0.35, and C = 40 are of the usual
    order (memory); with them a cure at 20 to 25 degC stalls at 80 to 90 % (practice).

    References
    ----------
    .. [1] Horie K. et al., J. Polym. Sci. A-1 8 (1970) 1357 (from memory).
    .. [2] Kamal M.R., Sourour S., Polym. Eng. Sci. 13 (1973) 59 (from memory).
    .. [3] Chern C.-S., Poehlein G.W., Polym. Eng. Sci. 27 (1987) 788 (from memory).
    .. [4] Thermochim. Acta 447 (2006) 167.
    .. [5] J. Appl. Polym. Sci. 56 (1995) 1029.
    """

    k1_per_s: float = 5.8e-5
    k2_per_s: float = 2.9e-4
    e1_j_mol: float = 52e3
    e2_j_mol: float = 52e3
    m: float = 1.0
    n: float = 2.0
    tg_start_c: float = -40.0
    tg_full_c: float = 80.0
    tg_ratio: float = 0.35
    sharpness: float = 40.0
    gel: float = GEL

    def rate_per_s(self, alpha: Any, temp_k: Any, exp: Callable[[Any], Any] = math.exp) -> Any:
        """Speed of the reaction at this conversion and temperature, 1/s.

        ``exp`` is ``math.exp`` for numbers, ``numpy.exp`` for whole arrays of them.

        >>> 0.9e-4 < Cure().rate_per_s(0.3, 298.15) / (1 - 0.3) ** 2 < 1.5e-4
        True
        """
        inverse = (1 / REFERENCE_K - 1 / temp_k) / GAS_J_MOL_K
        k1 = self.k1_per_s * exp(self.e1_j_mol * inverse)
        k2 = self.k2_per_s * exp(self.e2_j_mol * inverse)
        x = (temp_k - ZERO_C_K - self.tg_start_c) / (self.tg_full_c - self.tg_start_c)
        glass = x / (self.tg_ratio + x * (1 - self.tg_ratio))
        # abs(): a solver that tries a step may be a billionth beyond 0 or 1.
        chemical = (k1 + k2 * abs(alpha) ** self.m) * abs(1 - alpha) ** self.n
        return chemical / (1 + exp(self.sharpness * (alpha - glass)))

    def faster(self, factor: float) -> Cure:
        """The same with both rates multiplied."""
        return replace(self, k1_per_s=self.k1_per_s * factor, k2_per_s=self.k2_per_s * factor)

    def glass_transition_c(self, alpha: float) -> float:
        r"""Glass transition at this conversion, degC.

        .. math:: T_g = T_{g0} + (T_{g1} - T_{g0}) \frac{\lambda \alpha}{1 - (1 - \lambda)\alpha}

        DiBenedetto's equation as Pascault and Williams wrote it, J. Polym. Sci. B 28
        (1990) 85 (from memory).

        >>> Cure().glass_transition_c(0), Cure().glass_transition_c(1)
        (-40.0, 80.0)
        """
        share = self.tg_ratio * alpha / (1 - (1 - self.tg_ratio) * alpha)
        return self.tg_start_c + (self.tg_full_c - self.tg_start_c) * share

    def glass_conversion(self, temp_c: float) -> float:
        """Conversion at which the resin turns to glass at this temperature: the inverse.

        >>> round(Cure().glass_conversion(25), 2)
        0.77
        """
        x = (temp_c - self.tg_start_c) / (self.tg_full_c - self.tg_start_c)
        return x / (self.tg_ratio + x * (1 - self.tg_ratio))

    def end_conversion(self, ends: str) -> float:
        """Conversion at which a pot life ends that ``ends`` in this way: "gel", or a word
        of :data:`THICKER`.

        >>> round(Cure().end_conversion("gel"), 3), round(Cure().end_conversion("usable"), 2)
        (0.577, 0.34)
        """
        return self.gel if ends == "gel" else conversion_when_thicker(THICKER[ends], self.gel)


def thicker(alpha: float, gel: float = GEL) -> float:
    r"""How many times as thick as at the start, at one temperature.

    .. math:: \frac{\eta}{\eta_0} =
        \left(\frac{\alpha_\mathrm{gel}}{\alpha_\mathrm{gel} - \alpha}\right)^{A + B \alpha}

    Parameters
    ----------
    alpha : conversion, 0 to 1. gel : conversion at the gel point, above 0 to 1.

    Returns
    -------
    The ratio of viscosities; infinite from the gel point on. ValueError outside the ranges.

    Notes
    -----
    A = 1.5 and B = 1 were found for another network, and are of the usual order for
    epoxies (memory). A warm resin is thinner besides: see :func:`thinned_by_heat`.

    References
    ----------
    .. [1] Castro J.M., Macosko C.W., AIChE J. 28 (1982) 250 (from memory).

    Examples
    --------
    >>> thicker(0.0), round(thicker(0.34), 1), thicker(0.6)
    (1.0, 5.1, inf)
    """
    if not (0 <= alpha <= 1 and 0 < gel <= 1):
        raise ValueError(f"a conversion of {alpha}, gel at {gel}, is not within 0 to 1")
    if alpha >= gel:
        return math.inf
    return float((gel / (gel - alpha)) ** (1.5 + alpha))


def conversion_when_thicker(factor: float, gel: float = GEL) -> float:
    """Conversion at which the resin is ``factor`` times as thick: :func:`thicker` inverted,
    by halving. ValueError for a factor below 1.

    >>> round(conversion_when_thicker(2), 2)
    0.19
    """
    if not 1 <= factor < math.inf:
        raise ValueError(f"a factor of {factor} is below 1, or no number")
    low, high = 0.0, gel
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if thicker(middle, gel) < factor else (low, middle)
    return low


def thinned_by_heat(temp_c: float, from_c: float = 25.0, e_j_mol: float = 50e3) -> float:
    r"""Viscosity of unreacted resin against that at ``from_c``: Arrhenius.

    .. math:: \eta / \eta_{\mathrm{from}} = \exp[E (1/T - 1/T_\mathrm{from}) / R]

    Degrees Celsius from -10 to 60, E in J/mol. Near room temperature liquid epoxies thin
    more steeply than one E can say; 50 kJ/mol is of the usual order (memory).

    >>> round(thinned_by_heat(35), 2)
    0.52
    """
    t, t0 = temp_c + ZERO_C_K, from_c + ZERO_C_K
    return math.exp(e_j_mol * (1 / t - 1 / t0) / GAS_J_MOL_K)


def activation_energy_j_mol(time_a: float, a_c: float, time_b: float, b_c: float) -> float:
    r"""From two times to one conversion, each at a temperature of its own that does not rise.

    .. math:: E = \frac{R \ln(t_a / t_b)}{1/T_a - 1/T_b}

    Times above 0 in any one unit, temperatures in degC, not the same. ValueError outside.

    Examples
    --------
    Half the time for 10 degC more, near 25 degC (common practice, no source):

    >>> round(activation_energy_j_mol(2, 20, 1, 30) / 1e3)
    51
    """
    if not (0 < time_a < math.inf and 0 < time_b < math.inf) or a_c == b_c:
        raise ValueError("two times above 0 at two temperatures are wanted")
    inverse = 1 / (a_c + ZERO_C_K) - 1 / (b_c + ZERO_C_K)
    return GAS_J_MOL_K * math.log(time_a / time_b) / inverse


def isothermal_s(cure: Cure, to: float, temp_c: float, cells: int = 400) -> float:
    r"""Time to a conversion at one temperature, as a thin film is cured; seconds.

    .. math:: t = \int_0^{\alpha} \frac{d\alpha'}{\dot\alpha(\alpha', T)}

    By Simpson's rule. A film loses its heat as it comes; one that dries or takes up
    damp is not this one.

    >>> 1.8 < isothermal_s(Cure(), 0.5, 20) / isothermal_s(Cure(), 0.5, 30) < 2.2
    True
    """
    return adiabatic_s(cure, to, temp_c, 0.0, cells)


def adiabatic_s(cure: Cure, to: float, temp_c: float, rise_k: float, cells: int = 400) -> float:
    r"""The same where all heat stays in it, ``rise_k`` what all of it warms by: the soonest.

    .. math:: t = \int_0^{\alpha} \frac{d\alpha'}{\dot\alpha(\alpha', T + \Delta T \alpha')}

    380 J/g in 2.1 J/(g K) are 181 K:

    >>> round(adiabatic_s(Cure(), 0.5, 25, 181) / isothermal_s(Cure(), 0.5, 25), 2)
    0.17
    """
    temp_k = temp_c + ZERO_C_K
    step = to / (2 * cells)
    total = 0.0
    for i in range(2 * cells + 1):
        weight = 1 if i in (0, 2 * cells) else 4 if i % 2 else 2
        total += weight / cure.rate_per_s(i * step, temp_k + rise_k * i * step)
    return total * step / 3
