"""The words that a builder may say to a pour. Nothing else is loaded with them: the window
needs them before it stands."""

from __future__ import annotations

#: What a card may say, and a word typed; those beside them come with a text of their own.
CARDS = ("go", "hold", "use", "part", "drop", "split", "moved")
WORDS = (*CARDS, "filler", "weigh", "note", "jug", "was")
KNOWN = (
    "go, hold, use, part, drop, split, moved, filler NAME, weigh JUG, note TEXT, jug TAG, was JUG"
)
