"""How often a display shows something new, however often it is asked.

Pure, and volatile. A scale that is asked twenty times a second and is renewed four times says
each figure five times: what rose between two of them rose in a quarter of a second, and not in
the time between two answers. It shows while a weight is on its way: then each new figure is
another one. Until that was seen nothing is known of it.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from statistics import median

from devices.readings import Reading

MOST_S = 0.7  # between two figures of one run; a display that is slower is none to pour by
RUN = 5  # figures in a row, each further on than the last digit may flicker
STEP_DIVISIONS = 2


@dataclass(frozen=True, slots=True)
class Renewal:
    """``told_s`` is how often, as the last whole run told it; ``turns_s`` when the newest figures
    of this run came, and ``rising`` which way it goes."""

    told_s: float | None = None
    turns_s: tuple[float, ...] = ()
    rising: bool = True

    @property
    def every_s(self) -> float | None:
        """How often it is renewed, by the last whole run or else by this one so far; ``None``
        where that is not known."""
        return self.told_s or _usual_gap_s(self.turns_s)

    def after(self, last: Reading | None, reading: Reading) -> Renewal:
        """What is known after this reading, ``last`` being the one before it.

        >>> known, last = Renewal(), None
        >>> for i in range(40):  # four figures a second, asked for twenty times
        ...     now = Reading(i // 5 * 2_000_000, "", "g", 100_000, False, at_s=i / 20)
        ...     known, last = known.after(last, now), now
        >>> known.every_s
        0.25
        """
        if last is None or reading.mass_ug == last.mass_ug:
            return self
        moved_ug, rising = reading.mass_ug - last.mass_ug, reading.mass_ug > last.mass_ug
        if abs(moved_ug) < STEP_DIVISIONS * reading.division_ug:
            return Renewal(self.told_s)
        goes_on = self.turns_s and rising == self.rising
        if not goes_on or reading.at_s - self.turns_s[-1] > MOST_S:
            return Renewal(self.told_s, (reading.at_s,), rising)
        turns_s = (*self.turns_s, reading.at_s)[-RUN:]
        told_s = _usual_gap_s(turns_s) if len(turns_s) == RUN else self.told_s
        return Renewal(told_s, turns_s, rising)


def _usual_gap_s(turns_s: tuple[float, ...]) -> float | None:
    gaps_s = [later - one for one, later in pairwise(turns_s)]
    return median(gaps_s) if gaps_s else None
