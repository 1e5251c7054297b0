"""The line that is typed where dry cloth is asked for: its weight, or a word. Pure: times are
handed in.

All of it stands on the screen until Enter, so that a blank in it is never the pedal. What a
scanner types is no part of it: it comes as fast as no hand does, and ends with Enter; a tag of
ours is known by its letters, also where a busy computer held it up in the midst.
"""

from __future__ import annotations

import re

from mixer.app.words import tag_in
from mixer.desk.typed import FAST_MS, Typing

__all__ = ["FAST_MS", "Line", "cloth_in"]

SCAN = 2  # characters that come so fast and end with Enter are one
MOST = 40
LONGEST = 160  # a weight that was begun, and a whole tag after it


class Line:
    """``text`` is what a hand has typed and not yet sent."""

    def __init__(self) -> None:
        self.text = ""
        self._whole = ""  # with what is not on the screen
        self._stood = list[str]()  # the text before each letter of it
        self._burst = self._before = ""
        self._at_ms = 0

    def follow(self, wanted: bool) -> None:
        """Whether a line is still asked for; one that is not is no longer kept."""
        if not wanted:
            self._leave("")

    def put(self, char: str, at_ms: int, *, new: bool = True) -> None:
        """One character; not ``new``: a held key that repeats itself, or a scanner's that comes
        twice so soon."""
        if not self._burst or not 0 <= at_ms - self._at_ms <= FAST_MS:
            self._burst, self._before = "", self.text
        self._burst, self._at_ms = self._burst + char, at_ms
        self._whole = (self._whole + char)[-LONGEST:]
        self._stood = [*self._stood, self.text][-LONGEST:]
        if new and len(self.text) < MOST:
            self.text += char

    def scanned(self, at_ms: int) -> str:
        """What a scanner typed and this Enter ends, taken out of the line again."""
        burst, self._burst = self._burst, ""
        if ours := tag_in(self._whole):
            before = self._stood[len(self._whole.rstrip()) - len(ours)].strip()
            self._leave(before if cloth_in(before) else "")  # else a key that was hit
            return ours
        if len(burst) < SCAN or not 0 <= at_ms - self._at_ms <= FAST_MS:
            return ""
        self._leave(self._before)
        return burst

    def take_out(self, card: str) -> None:
        """A card was scanned at its end; what a hand had typed before stays."""
        self._leave(self._stood[-len(card)] if self._whole.lower().endswith(card) else self.text)

    def back(self) -> None:
        """The last character away."""
        self._leave(self.text[:-1])

    def take(self) -> str:
        """The line, which is empty then."""
        text = self.text.strip()
        self._leave("")
        return text

    def _leave(self, text: str) -> None:
        """This alone stands there."""
        self.text = self._whole = text
        self._stood = [text[:place] for place in range(len(text))]
        self._burst = self._before = ""

    @staticmethod
    def character(key: str, char: str) -> str:
        """What this key adds; empty where it adds nothing. A comma stays one until
        Enter (:func:`cloth_in`).

        >>> Line.character("KP_End", ""), Line.character("comma", ","), Line.character("F3", "")
        ('1', ',', '')
        """
        if char == ",":
            return char
        return Typing.character(key, char) or (
            char if len(char) == 1 and char.isprintable() else ""
        )


def cloth_in(line: str) -> str:
    """The weight of cloth that the line says, a bare figure in grams; empty where it is none. A
    comma is a point, but where it may stand between thousands: that is left to be refused.

    >>> cloth_in("412"), cloth_in("kit 14oz"), cloth_in("hold")
    ('412 g', '14oz', '')
    >>> cloth_in("44,3"), cloth_in("1,200")
    ('44.3 g', '1,200 g')
    """
    words = line.lower().removeprefix("kit").strip()
    words = re.sub(r"^([0-9]+),(?=[0-9]{1,2}(?![0-9,]))", r"\1.", words)
    if words[:1].isdigit() or words[:1] == ".":
        return f"{words} g" if words[-1:].isdigit() else words
    return ""
