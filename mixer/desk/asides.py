"""Two small things that may be done while the bench goes on: close a cup, write a note.

Neither takes the bench's keys away: Escape still holds, a pedal still goes on, a
scanned card still counts.
"""

from __future__ import annotations

import tkinter as tk
import tkinter.font as tkfont
from collections.abc import Callable

from mixer.desk import look
from mixer.desk.field import Field

HOWS = {"used up": "used-up", "discard": "discard", "left over": "left"}


class Aside:
    """A framed box over a part of the window. Built when first asked for."""

    def __init__(self, parent: tk.Misc, title: str) -> None:
        family = look.font(1)[0]
        self.large, self.small = (
            tkfont.Font(family=family, size=-18),
            tkfont.Font(family=family, size=-14),
        )
        self.frame = tk.Frame(
            parent,
            background=look.PAPER,
            highlightthickness=3,
            highlightbackground=look.INK,
            padx=10,
            pady=6,
        )
        label = tk.Label(
            self.frame,
            text=title,
            font=self.small,
            background=look.PAPER,
            foreground=look.INK,
            anchor="w",
        )
        label.pack(fill="x")
        self.open = False

    def place(self, **where: float) -> None:
        """Show it there, its type in the window's scale."""
        u = look.scale_of(self.frame)
        self.large.configure(size=-max(9, round(18 * u)))
        self.small.configure(size=-max(8, round(14 * u)))
        self.frame.place(cnf=where)
        self.frame.tkraise()
        self.open = True

    def hide(self) -> None:
        """Take it away."""
        self.frame.place_forget()
        self.open = False


class Closer(Aside):
    """Which cup, and how it ended."""

    def __init__(self, parent: tk.Misc, cups: Callable[[], tuple[str, ...]]) -> None:
        super().__init__(
            parent, "Close a cup   ↑ ↓ choose · Tab next · Enter close it · F2 leave it"
        )
        fonts = (self.large, self.small)
        line = tk.Frame(self.frame, background=look.PAPER)
        line.pack(fill="x")
        self.cup = Field(line, "cup", fonts, offers=cups, fixed=True)
        self.how = Field(
            line, "how it ended", fonts, offers=lambda: tuple(HOWS), fixed=True, value="used up"
        )
        self.left = Field(line, "left over", fonts, hint="such as 9 g")
        for column, field in enumerate((self.cup, self.how, self.left)):
            field.frame.grid(row=0, column=column, sticky="ew", padx=(0, 6))
        line.columnconfigure((0, 1, 2), weight=1, uniform="third")

    def show(self, cup: int, **where: float) -> None:
        """Ask how this cup ended."""
        self.cup.set(str(cup))
        self.how.set("used up")
        self.left.set("")
        self.place(**where)
        self.cup.entry.focus_set()

    def answer(self) -> tuple[int, str, str | None]:
        """Cup, how, and what is left; a mass typed in says "left over" by itself."""
        left = self.left.text
        how = "left" if left else HOWS[self.how.text]
        return int(self.cup.text), how, left if how == "left" else None


class Noter(Aside):
    """A line of text for the record."""

    def __init__(self, parent: tk.Misc) -> None:
        super().__init__(parent, "Note for the record   Enter writes it · F3 leaves it")
        self.field = Field(self.frame, "note", (self.large, self.small))
        self.field.frame.pack(fill="x")

    def show(self, **where: float) -> None:
        """Ask for the text."""
        self.field.set("")
        self.place(**where)
        self.field.entry.focus_set()
