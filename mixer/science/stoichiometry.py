"""How much hardener a resin needs: equivalent weights, and what follows from them.

One epoxide group takes one amine hydrogen. The equivalent weight is the mass that holds
one mole of such groups: EEW of a resin, AHEW of a hardener. Plain numbers in and out; an
equivalent weight is in g/mol, masses in any one unit. This file must never stand in for
a label: what a maker has blended in, no formula knows.
"""

from __future__ import annotations

import math
from collections.abc import Iterable


def equivalent_weight(molar_mass_g_mol: float, groups: float) -> float:
    r"""EEW or AHEW of a pure substance: :math:`M / f`.

    Parameters
    ----------
    molar_mass_g_mol : its formula weight, g/mol, above 0.
    groups : epoxide groups or amine hydrogens of one molecule, above 0.

    Returns
    -------
    Grams for each mole of groups. ValueError outside the ranges.

    Notes
    -----
    Of a commercial liquid the weight comes from its data sheet, where the epoxide is
    titrated [1]_: oligomers and purity are in it.

    References
    ----------
    .. [1] ASTM D1652, epoxy content of epoxy resins.

    Examples
    --------
    Triethylenetetramine, 146.23 g/mol with six amine hydrogens:

    >>> round(equivalent_weight(146.23, 6), 1)
    24.4
    """
    return _above_zero(molar_mass_g_mol, "a molar mass") / _above_zero(groups, "a count of groups")


def phr(eew: float, ahew: float, stoichiometric: float = 1.0) -> float:
    r"""Parts of hardener by weight for 100 parts of resin.

    .. math:: \mathrm{phr} = 100 \, s \, \mathrm{AHEW} / \mathrm{EEW}

    Parameters
    ----------
    eew, ahew : equivalent weights, g/mol, above 0.
    stoichiometric : amine hydrogens for each epoxide that are wanted, above 0; 1 is exact.

    Returns
    -------
    Parts per hundred of resin. ValueError outside the ranges.

    Notes
    -----
    Holds where nothing but this reaction takes part. A hardener with a catalyst in it, or
    one that lets epoxide react with itself, is used below it on purpose: its data sheet
    tells.

    Examples
    --------
    >>> round(phr(190, 24.4), 2)
    12.84
    """
    per_group = _above_zero(ahew, "an AHEW") / _above_zero(eew, "an EEW")
    return 100 * _above_zero(stoichiometric, "a share of stoichiometric") * per_group


def of_stoichiometric(hardener_phr: float, eew: float, ahew: float) -> float:
    r"""Amine hydrogens for each epoxide: 1 is exact, 0.9 has a tenth too little hardener.

    .. math:: s = \mathrm{phr} \cdot \mathrm{EEW} / (100 \, \mathrm{AHEW})

    Parameters
    ----------
    hardener_phr : parts of hardener by weight for 100 of resin, not below 0.
    eew, ahew : equivalent weights, g/mol, above 0.

    Returns
    -------
    The fraction of stoichiometric. ValueError outside the ranges.

    Examples
    --------
    >>> round(of_stoichiometric(12.2, 190, 24.4), 2)
    0.95
    """
    if not 0 <= hardener_phr < math.inf:
        raise ValueError(f"{hardener_phr} parts of hardener are below 0, or no number")
    return hardener_phr / phr(eew, ahew)


def of_mixture(parts: Iterable[tuple[float, float | None]]) -> float:
    r"""Equivalent weight of what is stirred together before the other side is added.

    .. math:: W = \sum m_i \Big/ \sum \frac{m_i}{W_i}

    Parameters
    ----------
    parts : for each its mass, not below 0, in any one unit, and its equivalent weight in
        g/mol, above 0; None for what has no such group (filler, an inert diluent, benzyl
        alcohol). Resins with reactive diluents give an EEW, hardeners an AHEW: the two
        sides must not stand in one mixture.

    Returns
    -------
    Grams for each mole of groups. ValueError outside the ranges, and where no part has
    such a group.

    Examples
    --------
    A published worked example, "Calculating Equivalent Weight of Epoxy Mixtures": eight
    parts of EEW 189, one of EEW 183 and one of filler.

    >>> round(of_mixture([(80, 189), (10, 183), (10, None)]))
    209
    """
    mass, moles = 0.0, 0.0
    for part, weight in parts:
        if not 0 <= part < math.inf:
            raise ValueError(f"a mass of {part} is below 0, or no number")
        mass += part
        if weight is not None:
            moles += part / _above_zero(weight, "an equivalent weight")
    if not moles > 0:
        raise ValueError("nothing in the mixture can react")
    return mass / moles


def reacting_mol_per_g(
    epoxide: Iterable[tuple[float, float | None]], amine: Iterable[tuple[float, float | None]]
) -> float:
    r"""Epoxides that find an amine hydrogen, in a gram of the whole mix.

    .. math:: \min\left(\sum \frac{m_i}{W_i}, \sum \frac{m_j}{W_j}\right) \Big/ \sum m

    Parameters
    ----------
    epoxide, amine : each side as in :func:`of_mixture`.

    Returns
    -------
    mol/g. ValueError as there, and where one side cannot react at all.

    Examples
    --------
    100 of EEW 190 with 36 of AHEW 68.4, which is exact:

    >>> round(1000 * reacting_mol_per_g([(100, 190)], [(36, 68.4)]), 2)
    3.87
    """
    sides = [list(epoxide), list(amine)]
    masses = [sum(mass for mass, _ in side) for side in sides]
    moles = [mass / of_mixture(side) for mass, side in zip(masses, sides, strict=True)]
    return min(moles) / sum(masses)


def weight_to_volume(hardener_phr: float, resin_g_per_ml: float, hardener_g_per_ml: float) -> float:
    r"""Parts of hardener by volume for 100 parts of resin by volume.

    .. math:: v = \mathrm{phr} \, \rho_\mathrm{resin} / \rho_\mathrm{hardener}

    Parameters
    ----------
    hardener_phr : parts by weight for 100 of resin, not below 0.
    resin_g_per_ml, hardener_g_per_ml : densities of the two as they are measured out, at
        one temperature, above 0.

    Returns
    -------
    Parts by volume. ValueError outside the ranges.

    Examples
    --------
    >>> round(weight_to_volume(36, 1.15, 0.98), 2)
    42.24
    """
    if not 0 <= hardener_phr < math.inf:
        raise ValueError(f"{hardener_phr} parts of hardener are below 0, or no number")
    resin = _above_zero(resin_g_per_ml, "a density")
    return hardener_phr * resin / _above_zero(hardener_g_per_ml, "a density")


def volume_to_weight(
    hardener_by_volume: float, resin_g_per_ml: float, hardener_g_per_ml: float
) -> float:
    r"""Parts of hardener by weight for 100 of resin: :func:`weight_to_volume` turned round.

    Examples
    --------
    >>> round(volume_to_weight(42.24, 1.15, 0.98), 2)
    36.0
    """
    return weight_to_volume(hardener_by_volume, hardener_g_per_ml, resin_g_per_ml)


def gel_conversion(
    epoxides: float, amine_hydrogens: float, stoichiometric: float = 1.0
) -> float | None:
    r"""Part of the epoxide that has reacted when the first endless network forms.

    .. math:: p_\mathrm{gel} = \sqrt{\frac{s}{(f - 1)(g - 1)}}

    Parameters
    ----------
    epoxides, amine_hydrogens : functionalities f and g, groups of one molecule (weight
        averages over the groups, for a mixture), above 1.
    stoichiometric : amine hydrogens for each epoxide, s, above 0.

    Returns
    -------
    Conversion of epoxide, 0 to 1; None where even the last group on the scarcer side
    does not make a gel. ValueError outside the ranges.

    Notes
    -----
    Every group as ready as any other, no rings and no other reaction. Real systems gel a
    few hundredths later, for their rings (memory).

    References
    ----------
    .. [1] Flory P.J., Principles of Polymer Chemistry, 1953, chapter 9.
    .. [2] Stockmayer W.H., J. Polym. Sci. 9 (1952) 69.
    .. [3] Macosko C.W., Miller D.R., Macromolecules 9 (1976) 199.

    Examples
    --------
    A resin of two epoxides with a diamine, four hydrogens:

    >>> round(gel_conversion(2, 4), 3)
    0.577
    """
    if not (1 < epoxides < math.inf and 1 < amine_hydrogens < math.inf):
        raise ValueError(f"functionalities of {epoxides} and {amine_hydrogens} are not above 1")
    share = _above_zero(stoichiometric, "a share of stoichiometric")
    at = math.sqrt(share / ((epoxides - 1) * (amine_hydrogens - 1)))
    # The amine is used up once its share of the epoxide has reacted.
    return at if at <= min(1.0, share) else None


def _above_zero(value: float, what: str) -> float:
    if not 0 < value < math.inf:
        raise ValueError(f"{what} of {value} is not above 0")
    return value
