"""What a key, a pedal or a scanned card means. Pure: times are handed in.

The one place where a held key, a bouncing pedal and a double press are told from a
new press. A card is a burst of letters ended by Enter. To drop a batch takes two
presses. Must never turn one press into two, and never let one lost key release make
a key deaf.
"""

from __future__ import annotations

WORDS = ("go", "hold", "drop")
DOUBLE_MS = 600  # a second press this soon is the same press
BOUNCE_MS = 50  # a press this soon after the release is autorepeat or a bouncing contact
STUCK_MS = 1500  # a key that is down and silent for so long has lost its release
CARD_MS = 1500  # letters further apart than this are not one card
CONFIRM_MS = 5000  # how long the question whether to drop stands

_MODIFIERS = ("Shift", "Control", "Alt", "Meta", "Super", "Caps", "Num", "ISO", "Mode")
ENTER = ("Return", "KP_Enter")


class Keys:
    """Remembers just enough of what was pressed. All times in milliseconds of one clock."""

    def __init__(self) -> None:
        self._seen: dict[str, int] = {}  # keys that are down: when last heard of
        self._released: dict[str, int] = {}
        self._counted: dict[str, int] = {}
        self._letters = ""
        self._letter_at = 0
        self._asked_at: int | None = None

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

    def counts(self, key: str, at_ms: int) -> bool:
        """Whether a new press is a press of its own and not the second half of a double one."""
        last = self._counted.get(key)
        if last is not None and 0 <= at_ms - last < DOUBLE_MS:
            return False
        self._counted[key] = at_ms
        return True

    def asking(self, at_ms: int) -> bool:
        """Whether the question whether to drop the batch still stands."""
        return self._asked_at is not None and 0 <= at_ms - self._asked_at <= CONFIRM_MS

    def keep(self) -> None:
        """Take the question back."""
        self._asked_at = None

    def on_batch(self, key: str, char: str, at_ms: int) -> str | None:
        """A key pressed at the bench while a batch is on: the word to send, ``"ask"``, or nothing.

        >>> keys = Keys()
        >>> keys.on_batch("space", " ", 1000), keys.on_batch("space", " ", 1020)
        ('go', None)
        """
        if key.startswith(_MODIFIERS):
            return None
        if len(char) == 1 and char.isalpha():
            # No filter here: the double letter of a burst is two letters.
            self.fresh(key, at_ms)
            soon = 0 <= at_ms - self._letter_at < CARD_MS
            self._letters = ((self._letters if soon else "") + char.lower())[-12:]
            self._letter_at = at_ms
            self.keep()
            return None
        letters, self._letters = self._letters, ""
        if not self.fresh(key, at_ms):
            return None
        asked = self.asking(at_ms)
        if key in ENTER:
            self.keep()
            if letters:
                return letters if letters in WORDS and at_ms - self._letter_at < CARD_MS else None
            return "drop" if asked else None
        if key == "Delete":
            if not self.counts(key, at_ms):
                return None
            self._asked_at = None if asked else at_ms
            return "drop" if asked else "ask"
        self.keep()
        if key == "space":
            return "go" if self.counts(key, at_ms) else None
        return "hold" if key == "Escape" else None
