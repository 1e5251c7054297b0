"""The figure that is typed off a display: what each key makes of it. Pure: times are handed in.

Digits by hand are the figure; digits of a scanned label are not. A scanner types as fast as
no hand does: digits that came so are taken back when a letter or a blank follows them, or
Enter after two of them, and given on as part of the card. Must never lose or double a key
press.
"""

from __future__ import annotations

from mixer.app.picture import Display
from mixer.desk.keys import ENTER
from mixer.desk.words import decimals

FAST_MS = 40  # apart: typed by a scanner
LABEL = 2  # digits that come so fast and end with Enter are one
MOST = 8
FINE, COARSE = 1, 10  # steps of the display

#: The numeric pad by its caps, whether NumLock is on or not.
PAD = {
    "KP_Insert": "0", "KP_End": "1", "KP_Down": "2", "KP_Next": "3", "KP_Left": "4",
    "KP_Begin": "5", "KP_Right": "6", "KP_Home": "7", "KP_Up": "8", "KP_Prior": "9",
    "KP_Delete": ".", "KP_Decimal": ".", "KP_Separator": ".",
    **{f"KP_{digit}": str(digit) for digit in range(10)},
}  # fmt: skip
STEPS = {"Up": FINE, "Down": -FINE, "Prior": COARSE, "Next": -COARSE}


class Typing:
    """``text`` is what has been typed. Once it was sent the next digit begins a new figure,
    and BackSpace or an arrow mends the old one; a new thing asked for takes a sent one away."""

    def __init__(self) -> None:
        self.text = ""
        self._sent = self._told = False  # now, and at all for what is asked for
        self._call = 0
        self._burst = ""
        self._before = ("", False)  # text, and whether it was sent, before the burst
        self._label, self._with_label = "", ("", False)  # what was taken back, and before that
        self._at_ms = 0

    @staticmethod
    def character(key: str, char: str) -> str:
        """The digit or point that this key is; empty for any other.

        >>> Typing.character("KP_End", ""), Typing.character("comma", ",")
        ('1', '.')
        """
        if key in PAD:
            return PAD[key]
        return "." if char == "," else char if char == "." or char in set("0123456789") else ""

    def follow(self, display: Display | None) -> None:
        """What is asked for now; ``None``: nothing, the batch is over."""
        call = -1 if display is None else display.call
        if call != self._call:
            self._call, self._told = call, False
            if self._sent or display is None:
                self.text, self._sent = "", False

    def put(self, char: str, at_ms: int, *, new: bool = True, read: str = "") -> None:
        """One digit or point; not ``new``: a held key that repeats itself. ``read`` is what
        stands on the key, where a label would have that."""
        if not self._burst or at_ms - self._at_ms > FAST_MS:
            self._burst, self._before = "", (self.text, self._sent)
        self._burst, self._at_ms = self._burst + (read or char), at_ms
        if not new:
            return
        if self._sent:
            self.text, self._sent = "", False
        if len(self.text) < MOST and not (char == "." and "." in self.text):
            self.text += char

    def label(self, key: str, char: str, at_ms: int) -> str:
        """The digits that were part of a scanned label, as this key shows; taken back."""
        fast = bool(self._burst) and 0 <= at_ms - self._at_ms <= FAST_MS
        ends = key in ENTER and len(self._burst) >= LABEL
        # A blank after one digit is a pedal's, that went down beside it.
        blank = char == " " and len(self._burst) < 2
        letter = len(char) == 1 and char.isprintable() and not blank
        if not fast or self.character(key, char) or not (ends or letter):
            return ""
        burst, self._burst = self._burst, ""
        self._label, self._with_label = burst, (self.text, self._sent)
        self.text, self._sent = self._before
        return burst

    def put_back(self, digits: str) -> None:
        """These were no part of what a scanner typed: of the figure again."""
        if digits and digits == self._label:
            self.text, self._sent = self._with_label
        self._label = ""

    def back(self) -> bool:
        """The last digit away. Whether nothing is left of a figure that was sent: it is to be
        taken back, lest ``go`` take it although it is no longer seen."""
        taken = len(self.text) == 1 and self._told
        self.text, self._sent, self._burst = self.text[:-1], False, ""
        return taken

    def step(self, by: int, display: Display, division_ug: int) -> None:
        """So many steps of the display up or down; from nothing, first to what is asked for."""
        now_ug = _ug(self.text)
        asked_ug = display.target_ug or 0
        now_ug = asked_ug if now_ug is None else max(0, now_ug + by * division_ug)
        places = decimals(division_ug)
        self.text = f"{now_ug / 1e6:.{places}f}"
        self._sent, self._burst = False, ""

    def send(self) -> str:
        """The figure, to be sent with a word."""
        self._sent, self._burst, self._told = True, "", self._told or bool(self.text)
        return self.text

    @property
    def ready(self) -> bool:
        """Whether there is a figure that was not sent yet."""
        return bool(self.text) and not self._sent


def _ug(text: str) -> int | None:
    try:
        return round(float(text) * 1e6)
    except ValueError:
        return None
