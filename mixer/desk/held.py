"""Keys that do something for as long as they are held.

A held key repeats itself, and on some systems each repeat looks like letting go and
pressing anew: only a key that stays up was let go.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

RELEASE_MS = 30  # a key that is pressed again within this was not let go


class HeldKeys:
    """``does`` maps key names to a function told ``True`` once when the key goes down and
    ``False`` once when it has come up; ``after`` runs something so many ms later."""

    def __init__(
        self,
        does: Mapping[str, Callable[[bool], None]],
        after: Callable[[int, Callable[[], None]], object],
    ) -> None:
        self._does = dict(does)
        self._after = after
        self._down: dict[str, bool] = {}  # told that it is down; whether it really is

    def __contains__(self, key: str) -> bool:
        return key in self._does

    def press(self, key: str) -> None:
        """The key went down, or repeats itself."""
        told = key in self._down
        self._down[key] = True
        if not told:
            self._does[key](True)

    def release(self, key: str) -> None:
        """The key came up, for good or for a repeat."""
        if key in self._down:
            self._down[key] = False
            self._after(RELEASE_MS, lambda: self._let_go(key))

    def forget(self) -> None:
        """The window lost the keyboard: nothing is held any more."""
        for key in list(self._down):
            self._down[key] = False
            self._let_go(key)

    def _let_go(self, key: str) -> None:
        if self._down.get(key) is False:
            del self._down[key]
            self._does[key](False)
