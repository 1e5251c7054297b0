"""A labelled field that is filled in by typing or by the arrow keys."""

from __future__ import annotations

import tkinter as tk
import tkinter.font as tkfont
from collections.abc import Callable
from functools import partial

from mixer.desk import look
from mixer.desk.words import clean


class Field:
    """A caption, an entry and, where there is something to choose from, a small menu.

    ``offers`` is asked anew at each arrow key, so that a port plugged in meanwhile is
    there. A ``fixed`` field takes nothing but what it offers.
    """

    def __init__(
        self,
        parent: tk.Misc,
        caption: str,
        fonts: tuple[tkfont.Font, tkfont.Font],
        *,
        offers: Callable[[], tuple[str, ...]] | None = None,
        fixed: bool = False,
        value: str = "",
        hint: str = "",
    ) -> None:
        large, small = fonts
        self.frame = tk.Frame(parent, background=look.PAPER)
        self._offers = offers
        self._fixed = fixed
        self._offered = ""
        tk.Label(
            self.frame,
            text=caption + (f"   {hint}" if hint else ""),
            font=small,
            anchor="w",
            background=look.PAPER,
            foreground=look.QUIET,
            borderwidth=0,
            pady=0,
        ).pack(fill="x")
        line = tk.Frame(self.frame, background=look.PAPER)
        line.pack(fill="x")
        self.entry = tk.Entry(
            line,
            font=large,
            width=8,
            relief="flat",
            background=look.SHEET,
            foreground=look.INK,
            readonlybackground=look.SHEET,
            insertbackground=look.INK,
            insertwidth=3,
            highlightthickness=3,
            highlightbackground=look.LINE,
            highlightcolor=look.INK,
            selectbackground=look.POURED,
            selectforeground=look.INK,
        )
        self.entry.pack(side="left", fill="x", expand=True)
        self.set(value)
        if offers is not None:
            self.entry.bind("<Up>", lambda event: self._step(-1))
            self.entry.bind("<Down>", lambda event: self._step(1))
            button = tk.Button(
                line,
                text="▾",
                font=small,
                takefocus=0,
                relief="flat",
                background=look.LINE,
                foreground=look.INK,
                activebackground=look.POURED,
                highlightthickness=0,
                padx=8,
                pady=0,
                command=self._menu,
            )
            button.pack(side="left", fill="y", padx=(2, 0))
        self.entry.bind("<FocusIn>", lambda event: self.entry.selection_range(0, "end"))
        if fixed:
            self.entry.configure(state="readonly")

    @property
    def text(self) -> str:
        """What stands in it, without blanks around."""
        return self.entry.get().strip()

    def set(self, text: str) -> None:
        """Put this text into it."""
        if self._fixed:
            self.entry.configure(state="normal")
        self.entry.delete(0, "end")
        self.entry.insert(0, text)
        self.entry.selection_range(0, "end")
        if self._fixed:
            self.entry.configure(state="readonly")

    def offer_first(self, *, if_only: bool = False) -> None:
        """Fill an empty field with the first of what is offered, or with the only one."""
        offers = self._offers() if self._offers else ()
        if offers and not self.text and (len(offers) == 1 or not if_only):
            self.set(offers[0])
            self._offered = offers[0]

    @property
    def offered(self) -> bool:
        """Whether it holds what was filled in for the builder, and nobody has changed it."""
        return self.text == self._offered

    def _step(self, by: int) -> str:
        offers = self._offers() if self._offers else ()
        if offers:
            at = offers.index(self.text) + by if self.text in offers else 0 if by > 0 else -1
            self.set(offers[at % len(offers)])
        return "break"

    def _menu(self) -> None:
        menu = tk.Menu(self.entry, tearoff=0, font=self.entry.cget("font"))
        for offer in self._offers() if self._offers else ():
            label = clean(offer, 60) or "not said"
            menu.add_command(label=label, command=partial(self.set, offer))
        self.entry.focus_set()
        menu.tk_popup(
            self.entry.winfo_rootx(), self.entry.winfo_rooty() + self.entry.winfo_height()
        )
