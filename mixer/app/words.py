"""The words that a builder says to a batch and to its live cups, for every face one list."""

from __future__ import annotations

from mixer.pour import inputs
from mixer.pour.inputs import CARDS

__all__ = ["CARDS", "KNOWN", "WORDS"]

WORDS = (*inputs.WORDS, "air", "thick")
KNOWN = f"{inputs.KNOWN}, air 24degC, thick CUP"
