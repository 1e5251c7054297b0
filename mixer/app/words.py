"""The words that a builder says to a batch, for every face one list."""

from __future__ import annotations

from mixer.pour.inputs import CARDS, KNOWN, WORDS

__all__ = ["CARDS", "KNOWN", "WORDS"]
