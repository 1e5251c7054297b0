"""What the cup's putting down tells of the scale: how late its display is.

Pure, and volatile: losing it costs a top-up. A cup arrives at once, so that the way from
a fifth of its weight to four fifths is the display's own. Of two equal filters in a row,
each of first order with the time constant T, the step response is 1 - (1 + t/T) exp(-t/T):
it takes 2.17 T from a fifth to four fifths, and the display of a steady stream is 2 T late.
"""

from __future__ import annotations

from itertools import pairwise

DELAY_PER_RISE = 2.0 / 2.17
DELAY_RANGE_S = (0.1, 1.5)  # what is longer was no putting down but a hand that dwelt
FINEST = 1.04  # of a rise, what has grown by less than this is not kept
MOST = 64

#: The rise of a weight from the empty pan: when, and how much, in micrograms.
Rise = tuple[tuple[float, int], ...]


def risen(rise: Rise, at_s: float, mass_ug: int, least_ug: int) -> Rise:
    """The rise after this weight; what is below ``least_ug`` is the empty pan."""
    here = (at_s, mass_ug)
    if mass_ug < least_ug:
        return (here,)
    if not rise or len(rise) >= MOST or mass_ug < FINEST * rise[-1][1]:
        return rise
    return (*rise, here)


def delay_s(rise: Rise, cup_ug: int) -> float | None:
    """How late the display is, in seconds; ``None`` where no cup was seen to be put down, or
    one too light for a fifth of it to be told from the pan.

    >>> rise = ((0.0, 0), (0.1, 0), (0.2, 2_000_000), (0.8, 10_000_000))
    >>> round(delay_s(rise, 12_500_000), 2)
    0.52
    """
    low, high = (crossed_s(rise, part * cup_ug) for part in (0.2, 0.8))
    if low is None or high is None:
        return None
    least, most = DELAY_RANGE_S
    return min(most, max(least, DELAY_PER_RISE * (high - low)))


def crossed_s(rise: Rise, mass_ug: float) -> float | None:
    """When it rose past this, by a straight line between two readings."""
    for (from_s, below_ug), (to_s, above_ug) in pairwise(rise):
        if below_ug < mass_ug <= above_ug:
            return from_s + (to_s - from_s) * (mass_ug - below_ug) / (above_ug - below_ug)
    return None
