"""What a scale leaves open about a weight, and about a ratio that was weighed on it.

A batch is judged by H - r R, hardener H against resin R at the ratio r. Both are
differences of weights read at rest. Each weight has errors of its own: the display
rounds it, the scale repeats only so well, its line is not quite straight, its zero may
lie elsewhere after it was emptied, and it drifts. An error in proportion to the load, the
span, is common to all weights: it makes resin and hardener wrong by the same factor, so
that their ratio does not feel it. Plain numbers in and out; masses in any one unit, the
same throughout.

This file must never take an error for smaller than it is: each weight that is read at
rest counts once, with all the weight that it has in the result.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from statistics import NormalDist


@dataclass(frozen=True, slots=True)
class Errors:
    """What a scale leaves open about one weight.

    Parameters
    ----------
    division : one step of the display's last digit, above 0.
    repeatability : standard deviation of one settled weight. It is not averaged down,
        since readings of one loading need not be independent.
    linearity, zero, drift : half-widths, not negative: how far the scale's line may be
        off between its ends, its zero once it was emptied, and how far it may wander
        while a batch is poured.

    Raises
    ------
    ValueError outside these ranges.

    Examples
    --------
    A published example: repeatability 0.17 mg, drift within 0.2 mg, readability within
    0.05 mg (a division of 0.1 mg) combine to 0.2075 mg [2]_.

    >>> round(Errors(0.1, 0.17, drift=0.2).weight_u, 4)
    0.2075

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 4.3.7 (rectangular distribution) and 5.1.2.
    .. [2] University of Tartu, "Uncertainty of Simple Weighing".
    """

    division: float
    repeatability: float = 0.0
    linearity: float = 0.0
    zero: float = 0.0
    drift: float = 0.0

    def __post_init__(self) -> None:
        if not 0 < self.division < math.inf:
            raise ValueError(f"a division of {self.division} is not above 0")
        for error in (self.repeatability, self.linearity, self.zero, self.drift):
            if not 0 <= error < math.inf:
                raise ValueError(f"an error of {error} is below 0, or no number")

    @property
    def weight_u(self) -> float:
        """Standard uncertainty of one weight at rest, but for the span."""
        widths = (self.linearity, self.zero, self.drift)
        return math.hypot(
            rounding_u(self.division),
            self.repeatability,
            *(width / math.sqrt(3) for width in widths),
        )

    @property
    def net_u(self) -> float:
        """Standard uncertainty of a net weight: of the difference of two weights."""
        return math.sqrt(2) * self.weight_u


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


def largest_error(load: float, interval: float, accuracy_class: str) -> float:
    """The largest error that a verified scale of this class may show when it is new.

    Parameters
    ----------
    load : not negative; interval : the verification scale interval e, above 0, in the
        same unit. accuracy_class : ``"II"`` or ``"III"``.

    Returns
    -------
    Half-width, in the unit of the interval: 0.5, 1 or 1.5 e. In service twice that is
    allowed. ValueError for a class, load or interval outside the table.

    References
    ----------
    .. [1] OIML R 76-1:2006, table 6.

    Examples
    --------
    >>> largest_error(60, 0.1, "II"), largest_error(600, 1, "III")
    (0.05, 1.0)
    """
    if accuracy_class not in _STEPS:
        raise ValueError(f"a class of {accuracy_class!r} is none of {', '.join(_STEPS)}")
    if not (0 < interval < math.inf and load >= 0):
        raise ValueError(f"a load of {load} at an interval of {interval} is not above 0")
    for most, errors in zip(_STEPS[accuracy_class], (0.5, 1.0, 1.5), strict=True):
        if load <= most * interval:
            return errors * interval
    raise ValueError(f"a load of {load} is more than class {accuracy_class} can carry")


_STEPS = {"II": (5_000, 20_000, 100_000), "III": (500, 2_000, 10_000)}


def balance_u(errors: Errors, ratio: float, switches: int = 1) -> float:
    r"""Standard uncertainty of H - r R.

    Parameters
    ----------
    errors : of each weight.
    ratio : r, hardener per resin by weight, above 0 (0.36, not 36).
    switches : how often the pour went over from resin to hardener or back, at
        least 1. Two hardeners one after the other are no switch: their sum counts.

    Returns
    -------
    Standard uncertainty of H - r R, in the unit of the errors. ValueError
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
    The errors of the weights are independent, each of u_w, hence, s being the switches,

    .. math::
        u = u_w \sqrt{r^2 + s (1 + r)^2 + c_n^2} .

    Independence holds where each run is many divisions long. A span error makes
    H - r R wrong by its factor, which where that is near zero is nothing.

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 5.1.2 (uncorrelated inputs) and F.2.2.1.

    Examples
    --------
    >>> round(balance_u(Errors(0.1), 0.36), 4)
    0.0498
    """
    if not 0 < ratio < math.inf:
        raise ValueError(f"a ratio of {ratio} is not above 0")
    if switches < 1:
        raise ValueError(f"{switches} switches: resin and hardener make at least one")
    last = 1.0 if switches % 2 else ratio
    return errors.weight_u * math.sqrt(ratio**2 + switches * (1 + ratio) ** 2 + last**2)


def ratio_u(errors: Errors, ratio: float, resin: float, switches: int = 1) -> float:
    """Standard uncertainty of a weighed ratio H / R near the one asked for.

    Parameters
    ----------
    errors, ratio, switches : as in :func:`balance_u`.
    resin : R, above 0, in the unit of the errors.

    Returns
    -------
    Standard uncertainty of H / R, without a unit: at H = r R the ratio changes by
    d(H / R) = d(H - r R) / R. ValueError outside the ranges.

    Examples
    --------
    44 g of resin at 100 : 36 on a perfect scale of 0.1 g: 36 within 0.11.

    >>> round(100 * ratio_u(Errors(0.1), 0.36, 44), 2)
    0.11
    """
    if not 0 < resin < math.inf:
        raise ValueError(f"{resin} of resin is not above 0")
    return balance_u(errors, ratio, switches) / resin


@cache
def coverage(ratios: int) -> float:
    """How many standard uncertainties wide a guard band is where so many ratios are judged.

    Two: whatever is accepted then is outside with a probability of at most 2.3 %, and one of
    two with 4.6 %. Of three and more, each gets its part of the 5 % that all may have together,
    whatever they have in common (Bonferroni).

    Parameters
    ----------
    ratios : at least 1; else ValueError.

    References
    ----------
    .. [1] JCGM 106:2012, 8.3.

    Examples
    --------
    >>> coverage(1), round(coverage(4), 3)
    (2.0, 2.241)
    """
    if ratios < 1:
        raise ValueError(f"{ratios} ratios: at least one is judged")
    return max(2.0, NormalDist().inv_cdf(1 - 0.05 / ratios))


def guard(errors: Errors, ratio: float, switches: int = 1, ratios: int = 1) -> float:
    """How far the acceptance band is drawn in from the tolerance band, on each side.

    Parameters
    ----------
    errors, ratio, switches : as in :func:`balance_u`.
    ratios : how many are judged, as in :func:`coverage`.

    Returns
    -------
    Guard band on H - r R, in the unit of the errors.

    References
    ----------
    .. [1] JCGM 106:2012, 8.3.

    Examples
    --------
    >>> round(guard(Errors(0.1), 0.36), 3)
    0.1
    """
    return coverage(ratios) * balance_u(errors, ratio, switches)


def smallest_provable(
    errors: Errors, ratio: float, tolerance: float, switches: int = 1, divisions_left: float = 1.0,
    ratios: int = 1,
) -> float:  # fmt: skip
    """The least resin for which the display can show that the ratio is in tolerance.

    With R of resin the hardener may be off by tolerance x ratio x R. The guard band
    takes its part from either side; at least ``divisions_left`` divisions must be
    left on either side of the target, or nobody could hit what remains.

    Parameters
    ----------
    errors, ratio, switches : as in :func:`balance_u`.
    tolerance : of the hardener, relative, above 0 (0.03 = 3 %).
    divisions_left : not negative.
    ratios : how many are judged, as in :func:`coverage`.

    Returns
    -------
    Mass of resin, in the unit of the errors. ValueError outside the ranges.

    Examples
    --------
    100 : 36 within 3 % on a perfect scale of 0.1 g takes 18.5 g of resin, 25 g of epoxy.

    >>> round(smallest_provable(Errors(0.1), 0.36, 0.03), 1)
    18.5
    """
    if not 0 < tolerance < math.inf:
        raise ValueError(f"a tolerance of {tolerance} is not above 0")
    if not 0 <= divisions_left < math.inf:
        raise ValueError(f"{divisions_left} divisions left is below 0")
    needed = guard(errors, ratio, switches, ratios) + divisions_left * errors.division
    return needed / (tolerance * ratio)
