"""What a field looked like before each of the keys that were typed into it of late.

A scanner types into whatever field has the keyboard, over the text that is marked there or in
its midst. Once it is known for a scan, the field is what it was before. It must never take out
what a hand has typed.
"""

from __future__ import annotations

import tkinter as tk
from collections.abc import Collection
from typing import Any

from mixer.desk.keys import ENTER, MODIFIERS
from mixer.desk.pace import scanned

LONGEST = 160  # keys: the longest tag of ours, and a word before it
_FIRST = "before the field"  # a tag of Tk's, in front of the field's own bindings

Look = tuple[str, int, int, int]
"""Its text, where the cursor stands, and from where to where it is marked."""


class Into:
    """Watches every entry below ``root`` that gets the keyboard."""

    def __init__(self, root: tk.Misc) -> None:
        self._typed: list[tuple[str, int, Look]] = []  # in small letters; when; before it
        self._entry: tk.Entry | None = None
        self._ended = False  # by Enter: what is typed next is another text
        root.bind_class(_FIRST, "<KeyPress>", self._before)
        root.bind("<FocusIn>", self._watch, add=True)

    @property
    def typed(self) -> str:
        """The last letters that were typed on end into this field."""
        return "".join(char for char, _, _ in self._typed)

    def scanned(self, at_ms: int, cards: Collection[str]) -> str:
        """Which of these cards a scanner typed last, if this is its Enter."""
        return scanned(self.typed, [typed_ms for _, typed_ms, _ in self._typed], at_ms, cards)

    def take_out(self, entry: tk.Entry, scan: str) -> None:
        """Make the field what it was before this was scanned into it."""
        if entry is not self._entry or not self.typed.endswith(scan):
            entry.delete(len(entry.get().rstrip()) - len(scan), "end")
        else:
            text, cursor, first, last = self._typed[-len(scan)][2]
            entry.delete(0, "end")
            entry.insert(0, text)
            entry.icursor(cursor)
            entry.selection_range(first, last)
        self._typed.clear()

    def _watch(self, event: tk.Event[Any]) -> None:
        entry = event.widget
        if isinstance(entry, tk.Entry) and _FIRST not in entry.bindtags():
            entry.bindtags((_FIRST, *entry.bindtags()))

    def _before(self, event: tk.Event[Any]) -> None:
        entry, key, char = event.widget, str(event.keysym), str(event.char)
        if entry is not self._entry or self._ended:
            self._typed.clear()
            self._entry = entry
        self._ended = key in ENTER
        if len(char) == 1 and char.isprintable():
            self._typed.append((char.lower(), int(event.time), _look(entry)))
            del self._typed[:-LONGEST]
        elif key not in ENTER and not key.startswith(MODIFIERS):
            self._typed.clear()


def _look(entry: tk.Entry) -> Look:
    text, cursor = entry.get(), entry.index("insert")
    if not entry.selection_present():
        return text, cursor, cursor, cursor
    return text, cursor, entry.index("sel.first"), entry.index("sel.last")
