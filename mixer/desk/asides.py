"""Small things that may be done while the bench goes on: close a cup or split it, write a
note, say how warm the air is, or that a cup is thickening.

None takes the bench's keys away: a pedal still goes on while a cup is chosen, and a
scanned card still counts. Only Escape leaves the box first.
"""

from __future__ import annotations

import tkinter as tk
import tkinter.font as tkfont
from collections.abc import Callable

from mixer.desk import look
from mixer.desk.backstage import Shop
from mixer.desk.field import Field

# Lower right, where it hides neither the figure nor the cup that is being poured.
_WHERE = {"relx": 0.997, "rely": 0.946, "relwidth": 0.344}

HOWS = {"used up": "used-up", "discard": "discard", "split off": "share", "left over": "left"}


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
        self._title = tk.Label(
            self.frame,
            text=title,
            font=self.small,
            background=look.PAPER,
            foreground=look.INK,
            anchor="w",
            justify="left",
        )
        self._title.pack(fill="x")
        self.open = False

    def place(self) -> None:
        """Show it, its type in the window's scale."""
        u = look.scale_of(self.frame)
        self.large.configure(size=-max(9, round(18 * u)))
        self.small.configure(size=-max(8, round(14 * u)))
        self.frame.place(anchor="se", **_WHERE)  # type: ignore[arg-type]
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
            parent, "Close or split   ↑ ↓ choose, Tab next field,\nEnter do it, Esc leave it"
        )
        fonts = (self.large, self.small)
        line = tk.Frame(self.frame, background=look.PAPER)
        line.pack(fill="x")
        self.cup = Field(line, "cup", fonts, offers=cups, fixed=True)
        self.how = Field(
            line, "how it ended", fonts, offers=lambda: tuple(HOWS), fixed=True, value="used up"
        )
        self.left = Field(line, "left or split off", fonts, hint="such as 9 g")
        self.cup.frame.grid(row=0, column=0, sticky="ew", padx=(0, 8))
        self.how.frame.grid(row=0, column=1, sticky="ew")
        self.left.frame.grid(row=1, column=0, columnspan=2, sticky="ew")
        line.columnconfigure((0, 1), weight=1, uniform="half")

    def show(self, cup: int) -> None:
        """Ask how this cup ended."""
        self.cup.set(str(cup))
        self.how.set("used up")
        self.left.set("")
        self.place()
        self.cup.entry.focus_set()

    def answer(self) -> tuple[int, str, str | None]:
        """Cup, how, and what is left or shared; a mass typed in says "left over" by itself."""
        left, how = self.left.text, HOWS[self.how.text]
        how = "left" if left and how != "share" else how
        return int(self.cup.text), how, left or None if how in ("left", "share") else None


class Noter(Aside):
    """A line of text for the record."""

    def __init__(self, parent: tk.Misc) -> None:
        super().__init__(parent, "Note for the record\nEnter write it, Esc leave it")
        self.field = Field(self.frame, "note", (self.large, self.small))
        self.field.frame.pack(fill="x")

    def show(self) -> None:
        """Ask for the text."""
        self.field.set("")
        self.place()
        self.field.entry.focus_set()


class Airer(Aside):
    """How warm the air is now."""

    def __init__(self, parent: tk.Misc) -> None:
        super().__init__(parent, "How warm is the air now?\nEnter say it, Esc leave it")
        self.field = Field(self.frame, "air", (self.large, self.small), hint="such as 22 degC")
        self.field.frame.pack(fill="x")

    def show(self) -> None:
        """Ask for the temperature."""
        self.field.set("")
        self.place()
        self.field.entry.focus_set()


class Thickener(Aside):
    """Which cup is thickening."""

    def __init__(self, parent: tk.Misc, cups: Callable[[], tuple[str, ...]]) -> None:
        super().__init__(
            parent, "It is thickening   ↑ ↓ choose the cup,\nF6 or Enter say so, Esc leave it"
        )
        self.cup = Field(self.frame, "cup", (self.large, self.small), offers=cups, fixed=True)
        self.cup.frame.pack(fill="x")

    def show(self, cup: str) -> None:
        """Ask which; the oldest is offered."""
        self.cup.set(cup)
        self.place()
        self.cup.entry.focus_set()


class Asides:
    """All of them over one window; at most one is open.

    ``cups`` are the live cups, oldest first; ``back`` gives the keyboard back to what
    had it.
    """

    def __init__(
        self,
        parent: tk.Misc,
        shop: Shop,
        cups: Callable[[], tuple[str, ...]],
        back: Callable[[], None],
    ) -> None:
        self._parent = parent
        self._shop = shop
        self._cups = cups
        self._back = back
        self._closer: Closer | None = None
        self._noter: Noter | None = None
        self._airer: Airer | None = None
        self._thickener: Thickener | None = None

    @property
    def _all(self) -> tuple[Aside, ...]:
        made = (self._closer, self._noter, self._airer, self._thickener)
        return tuple(aside for aside in made if aside is not None)

    @property
    def open(self) -> bool:
        """Whether one of them stands there."""
        return any(aside.open for aside in self._all)

    def ask_close(self, cup: int) -> None:
        """Ask how this live cup ended."""
        self.close()
        if self._closer is None:
            self._closer = Closer(self._parent, self._cups)
        self._closer.show(cup)

    def toggle_closer(self) -> None:
        """Ask about the oldest live cup, or leave it."""
        cups = self._cups()
        if cups and not (self._closer is not None and self._closer.open):
            self.ask_close(int(cups[0]))
        else:
            self.close()

    def used_up(self) -> None:
        """The one live cup is used up; of several it is asked which, and once more closes it."""
        cups, closer = self._cups(), self._closer
        if closer is not None and closer.open:
            self._shop.close_cup(int(closer.cup.text), "used-up", None)
            self.close()
        elif len(cups) == 1:
            self._shop.close_cup(int(cups[0]), "used-up", None)
        elif cups:
            self.ask_close(int(cups[0]))
        else:
            self._shop.key("usedup")  # that there is none is said

    def toggle_noter(self) -> None:
        """Ask for a note, or leave it."""
        was_open = self._noter is not None and self._noter.open
        self.close()
        if not was_open:
            if self._noter is None:
                self._noter = Noter(self._parent)
            self._noter.show()

    def toggle_airer(self) -> None:
        """Ask how warm the air is, or leave it."""
        was_open = self._airer is not None and self._airer.open
        self.close()
        if not was_open:
            if self._airer is None:
                self._airer = Airer(self._parent)
            self._airer.show()

    def toggle_thickener(self) -> None:
        """Ask which live cup is thickening; asked already, say so."""
        if self._thickener is not None and self._thickener.open:
            self.enter()
            return
        self.close()
        if cups := self._cups():
            if self._thickener is None:
                self._thickener = Thickener(self._parent, self._cups)
            self._thickener.show(cups[0])

    def enter(self) -> None:
        """Do what the open one says."""
        if self._closer is not None and self._closer.open:
            self._shop.close_cup(*self._closer.answer())
        elif self._noter is not None and self._noter.field.text:
            self._shop.key("note", self._noter.field.text)
        elif self._airer is not None and self._airer.open and self._airer.field.text:
            self._shop.key("air", self._airer.field.text)
        elif self._thickener is not None and self._thickener.open:
            self._shop.key("thick", self._thickener.cup.text)
        self.close()

    def close(self) -> None:
        """Take away what is open."""
        for aside in self._all:
            if aside.open:
                aside.hide()
                self._back()
