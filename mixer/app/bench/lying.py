"""What the dry cloth for a batch weighs: as it lies upon the scale, or as it was typed.

What lies there is what counts, also where some of it was taken off again: until ``go``
nothing is kept of what lay there before. It must never take what lay on the scale at the start
for cloth, nor a draught for a ply.
"""

from __future__ import annotations

from typing import Literal

from mixer.pour.sight import Sight, lightest_cup_ug

#: By so much of it cloth may seem to change in a draught, and is not reckoned anew (our choice).
STILL = 0.002

Seen = Literal["", "cloth", "empty", "unknown"]


class Lying:
    """``cloth_ug`` is what counts; None where there is none. ``typed``: nothing of it goes away
    with what is taken off."""

    def __init__(self) -> None:
        self.cloth_ug: int | None = None
        self.typed = True
        self._lies_ug = 0  # as it was last told

    def see(self, sight: Sight) -> Seen:
        """What is new of it once it has stood: ``empty`` where cloth that counted was taken off,
        ``unknown`` where the empty scale was never seen."""
        rest = sight.rest if sight.resting else None
        if rest is None or not rest.stands or sight.last is None or sight.last.scale_tared:
            return ""
        lies_ug = 0
        if rest.mass_ug >= lightest_cup_ug(sight.division_ug):
            if sight.pan_zero_ug is None:
                return "unknown"
            lies_ug = rest.mass_ug - sight.pan_zero_ug
        same_ug = max(sight.division_ug, STILL * self._lies_ug)
        if abs(lies_ug - self._lies_ug) <= same_ug:
            return ""
        more, self._lies_ug = lies_ug > self._lies_ug, lies_ug
        if self.typed and not more:
            return ""
        self.typed, self.cloth_ug = False, lies_ug or None
        return "cloth" if lies_ug else "empty"

    def type(self, cloth_ug: int) -> None:
        """It was weighed elsewhere: that counts until more is laid on the scale."""
        self.cloth_ug, self.typed = cloth_ug, True

    def begin_anew(self) -> None:
        """What was typed is gone; what lies there is told again."""
        self.cloth_ug, self.typed, self._lies_ug = None, True, 0
