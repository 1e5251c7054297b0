"""What a display in steps, and a scale that repeats only so well, leave open about a ratio.

A batch is judged by H - r R, hardener H against resin R at the ratio r. Both are
differences of weights read at rest from a display with divisions of d; each reading
is rounded, so even a perfect scale leaves this much unknown. Rounding and, where it
is given, repeatability are counted here. Plain numbers in and out; masses in any one
unit, the same throughout.

This file must never take a rounding error for smaller than it is: each weight that
is read at rest counts once, with all the weight that it has in the result.
"""

from __future__ import annotations

import math


def rounding_u(division: float) -> float:
    r"""Standard uncertainty of one displayed figure.

    The true value lies anywhere within half a division of the display, with equal
    probability: a rectangular distribution of half-width d/2, so u = d / sqrt(12).

    Parameters
    ----------
    division : one step of the display's last digit, above 0.

    Returns
    -------
    Standard uncertainty, in the unit of the division. ValueError for a division
    that is not above 0.

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), F.2.2.1.

    Examples
    --------
    >>> round(rounding_u(1.0), 2)
    0.29
    """
    if not 0 < division < math.inf:
        raise ValueError(f"a division of {division} is not above 0")
    return division / math.sqrt(12)


def balance_u(
    division: float, ratio: float, switches: int = 1, repeatability: float = 0.0
) -> float:
    r"""Standard uncertainty of H - r R from rounding and repeatability.

    Parameters
    ----------
    division : one step of the display, above 0.
    ratio : r, hardener per resin by weight, above 0 (0.36, not 36).
    switches : how often the pour went over from resin to hardener or back, at
        least 1. Two hardeners one after the other are no switch: their sum counts.
    repeatability : standard deviation s of one settled weight, not negative; it is
        not averaged down, since readings of one loading need not be independent.

    Returns
    -------
    Standard uncertainty of H - r R, in the unit of the division. ValueError
    outside the ranges.

    Notes
    -----
    Let w_0 be the weight of the cup, w_1 ... w_n the weight after each run of one
    kind, n = switches + 1. The runs are w_i - w_(i-1), and each enters H - r R with
    the factor c_i = -r (resin) or 1 (hardener). Collected by weights,

    .. math::
        H - r R = -c_1 w_0 + \sum_{i=1}^{n-1} (c_i - c_{i+1})\, w_i + c_n w_n .

    The first run is resin: w_0 has the factor r. Each weight at a switch stands in
    two runs, with the opposite sign: its factor is 1 + r, in size. The last has 1
    after hardener (an odd number of switches), r after resin (an even one). A
    weight between two runs of the same kind has c_i - c_(i+1) = 0 and drops out.
    The errors of the weights are independent, each of u_w^2 = d^2 / 12 + s_r^2, s_r
    being the repeatability and s the switches, hence

    .. math::
        u = u_w \sqrt{r^2 + s (1 + r)^2 + c_n^2} .

    Independence holds where each run is many divisions long.

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 5.1.2 (uncorrelated inputs) and F.2.2.1.

    Examples
    --------
    >>> round(balance_u(0.1, 0.36), 4)
    0.0498
    """
    if not 0 < ratio < math.inf:
        raise ValueError(f"a ratio of {ratio} is not above 0")
    if switches < 1:
        raise ValueError(f"{switches} switches: resin and hardener make at least one")
    last = 1.0 if switches % 2 else ratio
    if not 0 <= repeatability < math.inf:
        raise ValueError(f"a repeatability of {repeatability} is below 0")
    weight_u = math.hypot(rounding_u(division), repeatability)
    return weight_u * math.sqrt(ratio**2 + switches * (1 + ratio) ** 2 + last**2)


def guard(division: float, ratio: float, switches: int = 1, repeatability: float = 0.0) -> float:
    """How far the acceptance band is drawn in from the tolerance band, on each side.

    The guard band is w = U = 2 u (k = 2): whatever is accepted then has a
    probability of at most 2.3 % of being outside the tolerance.

    Parameters
    ----------
    division, ratio, switches, repeatability : as in :func:`balance_u`.

    Returns
    -------
    Guard band on H - r R, in the unit of the division.

    References
    ----------
    .. [1] JCGM 106:2012, 8.3.

    Examples
    --------
    >>> round(guard(0.1, 0.36), 3)
    0.1
    """
    return 2 * balance_u(division, ratio, switches, repeatability)


def smallest_provable(
    division: float,
    ratio: float,
    tolerance: float,
    switches: int = 1,
    divisions_left: float = 1.0,
    repeatability: float = 0.0,
) -> float:
    """The least resin for which the display can show that the ratio is in tolerance.

    With R of resin the hardener may be off by tolerance x ratio x R. The guard band
    takes its part from either side; at least ``divisions_left`` divisions must be
    left on either side of the target, or nobody could hit what remains.

    Parameters
    ----------
    division, ratio, switches : as in :func:`balance_u`.
    tolerance : of the hardener, relative, above 0 (0.03 = 3 %).
    divisions_left : not negative.
    repeatability : as in :func:`balance_u`.

    Returns
    -------
    Mass of resin, in the unit of the division. ValueError outside the ranges.

    Examples
    --------
    100 : 36 within 3 % on a display of 0.1 g takes 18.5 g of resin, 25 g of epoxy.

    >>> round(smallest_provable(0.1, 0.36, 0.03), 1)
    18.5
    """
    if not 0 < tolerance < math.inf:
        raise ValueError(f"a tolerance of {tolerance} is not above 0")
    if not 0 <= divisions_left < math.inf:
        raise ValueError(f"{divisions_left} divisions left is below 0")
    needed = guard(division, ratio, switches, repeatability) + divisions_left * division
    return needed / (tolerance * ratio)
