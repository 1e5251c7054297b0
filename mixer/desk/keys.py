"""What a key, a pedal or a scanned card means. Pure: times are handed in.

The one place where a held key, a bouncing pedal and a double press are told from a
new press. A card is a burst of letters ended by Enter, as fast as a scanner's; it means what
its key means, and the same word by hand nothing.
To drop a batch takes two presses, or two scans. Must never turn one press into two,
and never let one lost key release make a key deaf.
"""

from __future__ import annotations

from mixer.app.words import CARDS, OF_THE_WINDOW
from mixer.desk.pace import scanned

NAMED = {
    "space": "go", "Escape": "escape", "Delete": "drop",
    "F2": "close", "F3": "note", "F4": "use", "F5": "part", "F6": "thick", "F7": "air",
    "F8": "split", "F9": "moved",
}  # fmt: skip
ENTER = ("Return", "KP_Enter")
COMMANDS = (*CARDS, *OF_THE_WINDOW)
WAS = "was"  # the one word that is typed with a blank in it: ``was resin``, ``was 41.4``

DOUBLE_MS = 600  # a second press this soon is the same press
BOUNCE_MS = 50  # a press this soon after the release is autorepeat or a bouncing contact
STUCK_MS = 1500  # a key that is down and silent for so long has lost its release
TEXT_MS = 1500  # letters further apart than this are not one text
SCAN_MS = 100  # a blank this soon after a letter is part of a card and no pedal
CONFIRM_MS = 5000  # how long the question whether to drop stands

MODIFIERS = ("Shift", "Control", "Alt", "Meta", "Super", "Caps", "Num", "ISO", "Mode")


class Keys:
    """Remembers just enough of what was pressed. All times in milliseconds of one clock."""

    def __init__(self) -> None:
        self._seen: dict[str, int] = {}  # keys that are down: when last heard of
        self._released: dict[str, int] = {}
        self._counted: dict[str, int] = {}
        self._letters = ""
        self._typed_ms: list[int] = []  # when each of them was
        self._asked_at: int | None = None
        self.read = ""  # what the last card said that is no command, in small letters

    def word(self, key: str, char: str, at_ms: int) -> str | None:
        """What this key-down says, or nothing.

        ``"go"``, ``"hold"``, ``"use"``, ``"part"``, ``"split"``, ``"moved"`` and ``"drop"`` (the
        second time) are for the batch; ``"ask"`` is the first half of a drop; ``"enter"``,
        ``"escape"``, ``"close"``, ``"note"``, ``"thick"`` and ``"air"`` are for the window, as
        are the cards ``"next"`` and ``"usedup"``; ``""`` is a text that is no command, and
        ``"typed"`` one that is, but that no scanner has typed: ``read`` has what it says.

        >>> keys = Keys()
        >>> keys.word("space", " ", 1000), keys.word("space", " ", 1020)
        ('go', None)
        >>> keys.word("Delete", "", 2000), keys.word("Delete", "", 4000)
        ('ask', 'drop')
        """
        if key.startswith(MODIFIERS):
            return None
        if len(char) == 1 and char.isprintable() and (char != " " or self._in_card(at_ms)):
            # No filter here: the double letter of a burst is two letters.
            self.fresh(key, at_ms)
            self.letter(char, at_ms)
            return None
        letters, self._letters = self._card(at_ms), ""
        if not self.fresh(key, at_ms):
            return None
        if key not in ENTER:
            return self._said(NAMED.get(key), at_ms)
        if letters:
            return self._text(letters, at_ms)
        if self.asking(at_ms):
            self.keep()
            return "drop"
        return self._said("enter", at_ms)

    def letter(self, char: str, at_ms: int) -> None:
        """One more letter, perhaps of a card."""
        letters = self._card(at_ms)
        self._typed_ms = [*(self._typed_ms if letters else []), at_ms][-80:]
        self._letters = (letters + char.lower())[-80:]
        if not "drop".startswith(self._letters):
            self.keep()

    def begun(self, at_ms: int) -> bool:
        """Whether letters were typed of late that no Enter has ended."""
        return bool(self._card(at_ms))

    def scanned(self, at_ms: int) -> tuple[str, str]:
        """What was typed before, and the command that a scanner typed, if this is its Enter."""
        letters = self._card(at_ms)
        card = scanned(letters, self._typed_ms, at_ms, COMMANDS) if letters else ""
        return letters.removesuffix(card), card

    def begin_card(self, text: str, at_ms: int) -> None:
        """What came before turns out to be the beginning of a card."""
        self._letters, self._typed_ms = text, [at_ms] * len(text)

    def _text(self, letters: str, at_ms: int) -> str | None:
        """What letters and this Enter say."""
        card = scanned(letters, self._typed_ms, at_ms, COMMANDS)
        if card or letters not in COMMANDS:
            return self.card(card or letters, at_ms)
        self.read = letters
        return self._said("typed", at_ms)

    def card(self, text: str, at_ms: int) -> str | None:
        """What a scanned card says, as :meth:`word`."""
        known = text in COMMANDS
        self.read = "" if known else text
        return self._said(text if known else "", at_ms)

    def asking(self, at_ms: int) -> bool:
        """Whether the question whether to drop the batch still stands."""
        return self._asked_at is not None and 0 <= at_ms - self._asked_at <= CONFIRM_MS

    def keep(self) -> None:
        """Take the question back."""
        self._asked_at = None

    def fresh(self, key: str, at_ms: int) -> bool:
        """Whether this key-down is a new press and no repeat of a held key."""
        seen = self._seen.get(key)
        released = self._released.get(key)
        self._seen[key] = at_ms
        held = seen is not None and 0 <= at_ms - seen < STUCK_MS
        bounced = released is not None and 0 <= at_ms - released < BOUNCE_MS
        return not held and not bounced

    def release(self, key: str, at_ms: int) -> None:
        """The key came up."""
        self._seen.pop(key, None)
        self._released[key] = at_ms

    def forget(self) -> None:
        """The window lost the keyboard: releases may have gone elsewhere."""
        self._seen.clear()
        self._letters = ""

    def _card(self, at_ms: int) -> str:
        """The letters so far, if they can still belong to one card."""
        return self._letters if self._since(at_ms, TEXT_MS) else ""

    def scanning(self, at_ms: int) -> bool:
        """Whether so little time has passed since a letter that no hand pressed this key."""
        return self._since(at_ms, SCAN_MS)

    def says_was(self, at_ms: int) -> bool:
        """Whether what was typed of late begins with the word for what was another thing: the
        digits behind it are no figure of what is asked for."""
        return self._card(at_ms).split(" ")[0] == WAS

    def _since(self, at_ms: int, most_ms: int) -> bool:
        """Whether the last letter is no older than this."""
        return bool(self._letters) and 0 <= at_ms - self._typed_ms[-1] < most_ms

    def _in_card(self, at_ms: int) -> bool:
        """Whether a blank now is one of a card, or of what is said to have been poured."""
        return self.scanning(at_ms) or self.says_was(at_ms)

    def _said(self, word: str | None, at_ms: int) -> str | None:
        asked = self.asking(at_ms)
        if word != "drop":
            self.keep()
        once = word in ("go", "use", "part", "drop", "split", "moved", *OF_THE_WINDOW)
        if word is not None and once and not self._counts(word, at_ms):
            return None
        if word != "drop":
            return word
        self._asked_at = None if asked else at_ms
        return "drop" if asked else "ask"

    def _counts(self, word: str, at_ms: int) -> bool:
        """Whether it is a word of its own and not the second half of a double press."""
        last = self._counted.get(word)
        if last is not None and 0 <= at_ms - last < DOUBLE_MS:
            return False
        self._counted[word] = at_ms
        return True
