"""How full a laminate is: resin and fibre by weight and by volume, and how thick a ply is.

A laminate is fibre, cured resin and voids. By weight its resin fraction is w, its fibre
fraction 1 - w; by volume it is V_f of fibre, V_v of voids, the rest resin. Plain numbers
in and out. This file must never stand in for a test panel: it knows nothing of dry spots.
"""

from __future__ import annotations

import math

#: g/mL. Glass of the usual kind (E), from memory.
GLASS_G_ML = 2.54
#: g/mL. Cured epoxy without filler, where nothing says better (common practice, no source).
EPOXY_G_ML = 1.15


def resin_for(cloth_g: float, resin_fraction: float) -> float:
    r"""The resin in a laminate of this much cloth.

    .. math:: m_r = m_f \, w / (1 - w)

    Parameters
    ----------
    cloth_g : m_f, the dry cloth, g, not negative.
    resin_fraction : w, by weight, from 0 to below 1.

    Returns
    -------
    Grams. ValueError outside the ranges.

    Examples
    --------
    At 40 % by weight two thirds of the cloth's own weight stay:

    >>> round(resin_for(300, 0.4), 6)
    200.0
    """
    return _not_below_zero(cloth_g, "a cloth") * _part(resin_fraction) / (1 - resin_fraction)


def resin_fraction(cloth_g: float, laminate_g: float) -> float:
    r"""The resin fraction by weight, from the dry cloth and the cured laminate.

    .. math:: w = 1 - m_f / m

    Parameters
    ----------
    cloth_g : m_f, g, not negative. laminate_g : m, g, above 0 and not less than the cloth.

    Returns
    -------
    0 to 1. ValueError outside the ranges.

    Notes
    -----
    Holds for what was cut together: trim both to the same edge, and weigh no peel ply.

    References
    ----------
    .. [1] ASTM D3171, method II (areal weight of the fibre known).

    Examples
    --------
    >>> round(resin_fraction(300, 500), 6)
    0.4
    """
    if not _not_below_zero(cloth_g, "a cloth") <= laminate_g < math.inf or laminate_g == 0:
        raise ValueError(f"a laminate of {laminate_g} g is lighter than its cloth of {cloth_g} g")
    return 1 - cloth_g / laminate_g


def fibre_volume_fraction(
    resin_fraction: float,
    fibre_g_ml: float = GLASS_G_ML,
    resin_g_ml: float = EPOXY_G_ML,
    voids: float = 0.0,
) -> float:
    r"""Fibre by volume, from the resin fraction by weight.

    .. math::
        V_f = (1 - V_v) \, \frac{(1 - w) / \rho_f}{(1 - w) / \rho_f + w / \rho_r}

    Parameters
    ----------
    resin_fraction : w, by weight, from 0 to below 1.
    fibre_g_ml, resin_g_ml : densities of the fibre itself (not of the cloth) and of the
        cured resin, g/mL, above 0.
    voids : V_v, by volume, from 0 to below 1; a laminate laid up by hand has a few per
        cent.

    Returns
    -------
    0 to 1. ValueError outside the ranges.

    References
    ----------
    .. [1] MIL-HDBK-17-3F, volume 3 (fibre and void volume fractions); ASTM D3171.

    Examples
    --------
    >>> round(fibre_volume_fraction(0.4), 3)
    0.404
    """
    fibre = (1 - _part(resin_fraction)) / _above_zero(fibre_g_ml, "a density")
    resin = resin_fraction / _above_zero(resin_g_ml, "a density")
    return (1 - _part(voids)) * fibre / (fibre + resin)


def resin_fraction_of(
    fibre_volume: float,
    fibre_g_ml: float = GLASS_G_ML,
    resin_g_ml: float = EPOXY_G_ML,
    voids: float = 0.0,
) -> float:
    r"""The way back: the resin fraction by weight, from the fibre by volume.

    .. math::
        w = \frac{\rho_r (1 - V_v - V_f)}{\rho_r (1 - V_v - V_f) + \rho_f V_f}

    Parameters
    ----------
    fibre_volume : V_f, above 0; with the voids no more than 1.
    fibre_g_ml, resin_g_ml, voids : as in :func:`fibre_volume_fraction`.

    Returns
    -------
    0 to below 1. ValueError outside the ranges.

    Examples
    --------
    >>> round(resin_fraction_of(fibre_volume_fraction(0.4)), 6)
    0.4
    """
    room = 1 - _part(voids) - _above_zero(fibre_volume, "a fibre volume")
    if room < -1e-12:
        raise ValueError(f"{fibre_volume} of fibre and {voids} of voids are more than the whole")
    resin = max(0.0, room) * _above_zero(resin_g_ml, "a density")
    return resin / (resin + fibre_volume * _above_zero(fibre_g_ml, "a density"))


def ply_thickness_mm(
    areal_g_m2: float, fibre_volume: float, fibre_g_ml: float = GLASS_G_ML
) -> float:
    r"""How thick a cured ply is; of several plies, with the areal weight of all of them.

    .. math:: t = \frac{A}{1000 \, \rho_f V_f}

    Parameters
    ----------
    areal_g_m2 : A, of the dry cloth, g/m2, not negative.
    fibre_volume : V_f, above 0 to 1.
    fibre_g_ml : density of the fibre, g/mL, above 0.

    Returns
    -------
    Millimetres. ValueError outside the ranges.

    References
    ----------
    .. [1] MIL-HDBK-17-3F, volume 3 (cured ply thickness); ASTM D3171, method II.

    Examples
    --------
    >>> round(ply_thickness_mm(300, 0.404), 3)
    0.292
    """
    if not 0 < fibre_volume <= 1:
        raise ValueError(f"a fibre volume of {fibre_volume} is not above 0 and up to 1")
    solid = 1000 * _above_zero(fibre_g_ml, "a density") * fibre_volume
    return _not_below_zero(areal_g_m2, "an areal weight") / solid


def fibre_volume_of(
    thickness_mm: float, areal_g_m2: float, fibre_g_ml: float = GLASS_G_ML
) -> float:
    r"""The way back: the fibre by volume, from a thickness that was measured.

    .. math:: V_f = \frac{A}{1000 \, \rho_f t}

    Parameters
    ----------
    thickness_mm : t, of all plies, mm, above 0; the mean of several places, without
        peel ply's ridges.
    areal_g_m2 : A, of all plies together, g/m2, not negative. fibre_g_ml : above 0.

    Returns
    -------
    0 to 1. ValueError outside the ranges, or where the cloth alone would be thicker.

    References
    ----------
    .. [1] ASTM D3171, method II.

    Examples
    --------
    >>> round(fibre_volume_of(0.292, 300), 3)
    0.404
    """
    solid = 1000 * _above_zero(fibre_g_ml, "a density") * _above_zero(thickness_mm, "a thickness")
    volume = _not_below_zero(areal_g_m2, "an areal weight") / solid
    if volume > 1 + 1e-12:
        raise ValueError(f"{thickness_mm} mm is thinner than the fibre in it")
    return min(1.0, volume)


def fillet_area_mm2(radius_mm: float) -> float:
    r"""The cross-section of a fillet in a square corner.

    .. math:: a = r^2 (1 - \pi / 4)

    Parameters
    ----------
    radius_mm : r, of the concave face, mm, not negative.

    Returns
    -------
    Square millimetres. ValueError for a negative radius.

    References
    ----------
    .. [1] Geometry: a square of side r without a quarter of a disc.

    Examples
    --------
    >>> round(fillet_area_mm2(10), 2)
    21.46
    """
    return _not_below_zero(radius_mm, "a radius") ** 2 * (1 - math.pi / 4)


def _part(value: float) -> float:
    if not 0 <= value < 1:
        raise ValueError(f"a part of {value} is not from 0 to below 1")
    return value


def _above_zero(value: float, what: str) -> float:
    if not 0 < value < math.inf:
        raise ValueError(f"{what} of {value} is not above 0")
    return value


def _not_below_zero(value: float, what: str) -> float:
    if not 0 <= value < math.inf:
        raise ValueError(f"{what} of {value} is below 0, or no number")
    return value
