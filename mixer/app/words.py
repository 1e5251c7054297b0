"""The words that a builder says to a batch, for every face one list."""

from __future__ import annotations

from mixer.plan.tags import HEAD, is_ours
from mixer.pour.inputs import CARDS, KNOWN, WORDS

__all__ = ["CARDS", "HEAD", "KNOWN", "OF_THE_WINDOW", "WORDS", "is_ours"]

#: Cards that are no word to a batch: the next one is asked for, a live cup is used up. Written
#: without a blank, which is the pedal's.
OF_THE_WINDOW = ("next", "usedup")
