"""Epoxy with a filler in it: how much of each, and what it weighs.

A filler is measured loose, by volume for one of epoxy, and weighed by its bulk density;
in the epoxy its grains take up what their own density says. Plain numbers in and out.
This file must never stand in for the eye: bulk densities vary by some 30 % (common
practice, no source), so that every figure is a start, and then it goes by consistency.
"""

from __future__ import annotations

import math

#: The part of a space that equal balls can fill; see :func:`volume_by_epoxy`.
CLOSEST = 0.64


def filler_g(epoxy_g: float, by_volume: float, bulk_g_ml: float, epoxy_g_ml: float) -> float:
    r"""The filler for so much epoxy.

    .. math:: m = v \, \rho_b \, m_e / \rho_e

    Parameters
    ----------
    epoxy_g : m_e, mixed epoxy, not negative.
    by_volume : v, loose filler for one of epoxy, not negative.
    bulk_g_ml, epoxy_g_ml : of the loose filler and of the epoxy, g/mL, above 0.

    Returns
    -------
    Grams. ValueError outside the ranges.

    Examples
    --------
    >>> round(filler_g(110, 3, 0.1, 1.1), 6)
    30.0
    """
    volume_ml = _not_below_zero(epoxy_g) / _above_zero(epoxy_g_ml)
    return volume_ml * _not_below_zero(by_volume) * _above_zero(bulk_g_ml)


def volume_by_epoxy(by_volume: float, bulk_g_ml: float, true_g_ml: float) -> float:
    r"""The volume that comes out, for one of epoxy.

    .. math:: V / V_e = \max(1 + s,\; s / 0.64), \qquad s = v \, \rho_b / \rho_t

    Parameters
    ----------
    by_volume : v, loose filler for one of epoxy, not negative.
    bulk_g_ml, true_g_ml : of the loose filler and of its grains, g/mL, above 0, the first
        not above the second.

    Returns
    -------
    Above 0. ValueError outside the ranges.

    Notes
    -----
    s is what the grains take up by themselves. The first holds as long as the epoxy fills
    all that they leave free; grains that are balls lie no closer than 0.64 by volume, so
    that a dry mix has air in it.

    References
    ----------
    .. [1] Random close packing of equal balls, 0.64 (from memory).

    Examples
    --------
    >>> round(volume_by_epoxy(3, 0.1, 0.2), 6), round(volume_by_epoxy(5, 0.11, 0.2), 2)
    (2.5, 4.3)
    """
    if _above_zero(bulk_g_ml) > _above_zero(true_g_ml):
        raise ValueError(f"loose filler of {bulk_g_ml} g/mL is denser than its grains")
    grains = _not_below_zero(by_volume) * bulk_g_ml / true_g_ml
    return max(1 + grains, grains / CLOSEST)


def epoxy_g(
    volume_ml: float, by_volume: float, bulk_g_ml: float, true_g_ml: float, epoxy_g_ml: float
) -> float:
    """The epoxy in so much of it: in a fillet, in a joint.

    Parameters
    ----------
    volume_ml : of the thickened epoxy, not negative; the others as above.

    Returns
    -------
    Grams. ValueError outside the ranges.

    Examples
    --------
    >>> round(epoxy_g(25, 3, 0.1, 0.2, 1.1), 6)
    11.0
    """
    whole = volume_by_epoxy(by_volume, bulk_g_ml, true_g_ml)
    return _not_below_zero(volume_ml) / whole * _above_zero(epoxy_g_ml)


def density_g_ml(by_volume: float, bulk_g_ml: float, true_g_ml: float, epoxy_g_ml: float) -> float:
    """What it weighs by its volume.

    Parameters
    ----------
    As above.

    Returns
    -------
    g/mL. ValueError outside the ranges.

    Examples
    --------
    >>> round(density_g_ml(3, 0.1, 0.2, 1.1), 6)
    0.56
    """
    weight = _above_zero(epoxy_g_ml) + by_volume * bulk_g_ml
    return weight / volume_by_epoxy(by_volume, bulk_g_ml, true_g_ml)


def _above_zero(value: float) -> float:
    if not 0 < value < math.inf:
        raise ValueError(f"{value} is not above 0")
    return value


def _not_below_zero(value: float) -> float:
    if not 0 <= value < math.inf:
        raise ValueError(f"{value} is below 0, or no number")
    return value
