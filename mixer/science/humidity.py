"""Damp air: at which temperature it begins to wet a surface.

Hardeners take up water and carbon dioxide from damp air, and a film of dew between
plies cannot be seen afterwards. Plain numbers in and out; this file must not decide
what is too damp.
"""

from __future__ import annotations

import math

AIR_LEAST_C = -45.0
AIR_MOST_C = 60.0

# (b, c in degC) of e_s(t) = 6.112 hPa * exp(b t / (c + t))
_OVER_WATER = (17.62, 243.12)
_OVER_ICE = (22.46, 272.62)


def dew_point_c(air_c: float, rh_pct: float) -> float:
    r"""The temperature at which this air, cooled, reaches saturation.

    .. math::
        \ln \frac{e}{e_0} = \ln \frac{U}{100} + \frac{b t}{c + t}, \qquad
        t_d = \frac{c \ln (e/e_0)}{b - \ln (e/e_0)}

    Parameters
    ----------
    air_c : temperature of the air, degC, -45 to 60.
    rh_pct : relative humidity over liquid water, per cent, above 0 to 100.

    Returns
    -------
    Dew point, degC; below 0 degC the frost point (saturation over ice), because
    ice is what a surface that cold would show.

    Notes
    -----
    b = 17.62, c = 243.12 degC over water, 22.46 and 272.62 over ice. From 0 to 50
    degC and 10 to 100 % it differs by less than 0.05 degC from the inverted
    Hyland-Wexler equations. A workshop hygrometer of 3 % leaves ten times that.
    ValueError outside the ranges.

    References
    ----------
    .. [1] Sonntag D., "Important new values of the physical constants of 1986, vapour
       pressure formulations based on the ITS-90, and psychrometer formulae",
       Z. Meteorol. 40 (1990) 340; adopted in WMO-No. 8, annex 4.B. (Constants quoted
       from memory; the tests compare them with an independent formulation.)

    Examples
    --------
    >>> round(dew_point_c(25, 50), 1)
    13.9
    """
    if not AIR_LEAST_C <= air_c <= AIR_MOST_C:
        raise ValueError(f"air of {air_c} degC is not within {AIR_LEAST_C} to {AIR_MOST_C} degC")
    if not 0 < rh_pct <= 100:
        raise ValueError(f"a relative humidity of {rh_pct} % is not above 0 and up to 100 %")
    b, c = _OVER_WATER
    log_e = math.log(rh_pct / 100) + b * air_c / (c + air_c)
    if log_e < 0:  # drier than saturation at 0 degC
        b, c = _OVER_ICE
    return c * log_e / (b - log_e)


def dew_margin_c(surface_c: float, air_c: float, rh_pct: float) -> float:
    """By how much a surface is warmer than the dew point of the air on it, K.

    The coldest surface is meant: a mould, a spar, a jug from the cellar. Below zero it is
    wet; ISO 8502-4 wants 3 K for paint, and the trade takes that over. Air as for
    :func:`dew_point_c`, the surface from -45 to 60 degC too; ValueError outside.

    >>> round(dew_margin_c(15, 25, 50), 1)
    1.1
    """
    if not AIR_LEAST_C <= surface_c <= AIR_MOST_C:
        raise ValueError(
            f"a surface of {surface_c} degC is not within {AIR_LEAST_C} to {AIR_MOST_C} degC"
        )
    return surface_c - dew_point_c(air_c, rh_pct)
