"""What one input comes to."""

from __future__ import annotations

from dataclasses import dataclass

from mixer.pour.facts import Fact


@dataclass(frozen=True, slots=True)
class Decision:
    """Facts that have become true, and a sentence where a word was refused, or where it was
    taken and is answered at once (``notice``). ``alarm``: to be heard as well as read."""

    facts: tuple[Fact, ...] = ()
    refusal: str = ""
    notice: str = ""
    alarm: bool = False
