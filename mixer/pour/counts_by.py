"""By what step a scale counts that shows more digits than it has: learned from what it shows.

Pure. A display whose last digit is always 0 or 5, or always even, over enough different
weights counts by five or by two of it. Before enough were seen the step is the digit's own,
and one weight that does not fit takes it back.
"""

from __future__ import annotations

from dataclasses import dataclass

from devices.readings import Reading

ENOUGH_FOR_5, ENOUGH_FOR_2 = 12, 24  # different weights: once in 10**7 by chance
MOST = 32


@dataclass(frozen=True, slots=True)
class Counted:
    """Of one unit and step of the last digit: weights that differ, in steps, and last digits."""

    frame: tuple[str, int] = ("", 0)
    counts: frozenset[int] = frozenset()
    digits: frozenset[int] = frozenset()

    @property
    def step_ug(self) -> int:
        """The step that it counts by, in micrograms."""
        digit_ug = self.frame[1]
        if self.digits == {0, 5} and len(self.counts) >= ENOUGH_FOR_5:
            return 5 * digit_ug
        if len(self.digits) >= 4 and self.digits <= {0, 2, 4, 6, 8}:
            return 2 * digit_ug if len(self.counts) >= ENOUGH_FOR_2 else digit_ug
        return digit_ug


def counted(before: Counted, reading: Reading) -> Counted:
    """What is known after this reading.

    >>> known = Counted()
    >>> for tenths in range(0, 120, 5):
    ...     shown = Reading(tenths * 100_000, "", "g", 100_000, still=True)
    ...     known = counted(known, shown)
    >>> known.step_ug
    500000
    """
    frame = reading.unit, reading.division_ug
    if frame != before.frame or reading.division_ug <= 0:
        before = Counted(frame)
    count = round(reading.mass_ug / max(1, reading.division_ug))
    known = count in before.counts or len(before.counts) >= MOST
    if known and count % 10 in before.digits:
        return before
    return Counted(frame, before.counts | {count}, before.digits | {count % 10})
