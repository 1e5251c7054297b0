"""The facts of one decision in the making; the state is evolved along with them."""

from __future__ import annotations

from mixer.pour.facts import Fact
from mixer.pour.sight import Sight
from mixer.pour.state import Pour, evolve


class Draft:
    """Where one decision collects its facts, and the state that they have led to so far.

    ``refusal`` is the sentence for a word of the builder's that is not followed, ``notice``
    the one for a word that is; ``alarm``: it is to be heard too.
    """

    def __init__(self, pour: Pour, sight: Sight, at_s: float) -> None:
        self.pour, self.sight, self.at_s = pour, sight, at_s
        self.at_ms = round(at_s * 1000)
        self.facts: list[Fact] = []
        self.refusal = self.notice = ""
        self.alarm = False

    def add(self, fact: Fact) -> None:
        self.pour = evolve(self.pour, fact)
        self.facts.append(fact)

    def gross_ug(self) -> int | None:
        """What the scale carries by the newest reading, as the pour counts it."""
        last = self.sight.last
        return None if last is None else last.mass_ug + self.pour.shift_ug
