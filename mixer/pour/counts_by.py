"""By what step a scale counts that shows more digits than it has: learned from what it shows,
and where on the scale it showed it.

Pure. A scale of two ranges may go on showing 0.1 g where it counts by 0.5 or by 1 g, so the
step is one of the weights above some weight: above the heaviest that does not fit into it.
One reading may be a wrong frame, so it is the second heaviest of them that counts.

What speaks for a step of k digits is that the display went from one multiple of k to another,
above that weight or, where the fine range ends just there, again and again until now. On a
plain scale a weight is a multiple of k once in k times, so n of them in a row (n - 1 ways) are
so by chance once in k**n. A step is *known* where that is once in 10**7, and *may be* there
where it is once in 1000 (our choice): what is known counts everywhere, what may be only against
a verdict. Where the scale says that it is in a higher range than before, a coarser step is
expected: it may be any that all weights there fit into, and is known where chance would do that
once in 100 times.
"""

from __future__ import annotations

from dataclasses import dataclass

from devices.readings import Reading

STEPS = (50, 20, 10, 5, 2)  # of the last digit, the coarsest first
KNOWN, MAY_BE = 10**7, 10**3  # once in so many by chance
KNOWN_HIGHER, MAY_BE_HIGHER = 10**2, 1
MOST = 32  # ways from one weight to the next that are kept, the heaviest: enough for each step
NOWHERE = -(10**15)  # below any weight


@dataclass(frozen=True, slots=True)
class Counted:
    """Of one unit, step of the last digit, tare and range, in last digits: ``misfits`` are the
    two heaviest weights shown that are no multiples, for each of ``STEPS``; ``ways`` the
    heaviest ways of the display from one weight to the next, ``shown`` the last of these, and
    ``lately`` how many weights there were since the last that is no multiple, of each of ``STEPS``.
    ``lowest`` is the lowest range that the scale was ever in."""

    frame: tuple[str, int, bool, int] = ("", 0, False, 1)
    misfits: tuple[tuple[int, int], ...] = ((NOWHERE, NOWHERE),) * len(STEPS)
    ways: tuple[tuple[int, int], ...] = ()
    lately: tuple[int, ...] = (0,) * len(STEPS)
    shown: int | None = None
    by: int = 0  # how long the last way was
    lowest: int | None = None

    @property
    def now_ug(self) -> int:
        """The step that it is known to count by where it shows what it shows now, in micrograms."""
        if self.shown is None:
            return self.frame[1]
        once_in = KNOWN_HIGHER if self._is_higher else KNOWN
        lately = (
            step
            for step, n, (_, misfit) in zip(STEPS, self.lately, self.misfits, strict=True)
            if step**n >= once_in and self.shown > misfit - step
        )
        return max(next(lately, 1) * self.frame[1], self._step_ug(self.shown, once_in))

    def may_be_ug(self, mass_ug: int) -> int:
        """The coarsest step that it may count by there, for all that was seen."""
        return self._step_ug(
            round(mass_ug / max(1, self.frame[1])), MAY_BE_HIGHER if self._is_higher else MAY_BE
        )

    @property
    def _is_higher(self) -> bool:
        return self.lowest is not None and self.frame[3] > self.lowest

    def _step_ug(self, count: int, once_in: int) -> int:
        for step, (_, misfit) in zip(STEPS, self.misfits, strict=True):
            if self._is_higher and misfit > NOWHERE:  # all that range has one step
                continue
            if count > misfit and step ** self._fitting(step, misfit) >= once_in:
                return step * self.frame[1]
        return self.frame[1]

    def _fitting(self, step: int, above: int) -> int:
        """How many weights in a row were multiples of this step, above that one."""
        ways = 0
        for low, high in reversed(self.ways):  # the heaviest are last
            if low <= above:
                break
            ways += not (low % step or high % step)
        return ways + 1 if ways else 0


def counted(before: Counted, reading: Reading) -> Counted:
    """What is known after this reading.

    >>> known = Counted()
    >>> for tenths in (*range(0, 500, 7), *range(500, 700, 10)):
    ...     shown = Reading(tenths * 100_000, "", "g", 100_000, still=True)
    ...     known = counted(known, shown)
    >>> known.now_ug, known.may_be_ug(48_000_000)
    (1000000, 100000)
    """
    place, digit_ug = reading.weighing_range, reading.division_ug
    frame = reading.unit, digit_ug, reading.scale_tared, place
    lowest = place if before.lowest is None else min(place, before.lowest)
    if frame != before.frame or digit_ug <= 0:
        before = Counted(frame, lowest=lowest)
    count = round(reading.mass_ug / max(1, digit_ug))
    from_ = before.shown
    by = abs(count - from_) if from_ else 0
    # Zero fits into anything, each time again; and so does what a steady stream adds to what did.
    moved = bool(count and by and (by != before.by or by in STEPS))
    known, ways = zip(STEPS, before.misfits, strict=True), before.ways
    if from_ is not None and moved:
        ways = tuple(sorted((*ways, (min(count, from_), max(count, from_))))[-MOST:])
    return Counted(
        frame=frame,
        lowest=before.lowest,
        shown=count,
        by=by or before.by,
        misfits=tuple(
            _two_heaviest(two, count) if count > two[1] and count % k else two for k, two in known
        ),
        lately=tuple(
            0 if count % k else min(n + moved, MOST)
            for k, n in zip(STEPS, before.lately, strict=True)
        ),
        ways=ways,
    )


def _two_heaviest(two: tuple[int, int], count: int) -> tuple[int, int]:
    heaviest, second = sorted((*two, count), reverse=True)[:2]
    return heaviest, second
