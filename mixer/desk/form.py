"""What to mix next: the fields of a batch, and the sentence that answers them.

All text is handed on as typed; whether it makes sense is the app's to say.
"""

from __future__ import annotations

import tkinter as tk
import tkinter.font as tkfont
from collections.abc import Callable
from dataclasses import replace
from typing import Any

from mixer.app.request import KIT, USUAL_SCALE, Choices, Request
from mixer.desk import look
from mixer.desk.field import Field
from mixer.desk.panel import Panel, Scene
from mixer.desk.words import clean

_MORE = "further: stir, air, lots, layup"


class _Answer(Panel):
    """The heading and what the app says."""

    def inputs(self, scene: Scene) -> object:
        return (scene.picture.say, scene.trouble)

    def draw(self, scene: Scene) -> None:
        u, left = self.u, 20 * self.u
        said = f"This window had trouble: {scene.trouble}" if scene.trouble else scene.picture.say
        said = clean(said) or "Which resin, how much, on which port?"
        self.text("title", "Next batch", left, 8 * u, 34 * u, width=self.w - 2 * left, bold=True)
        self.text(
            "say",
            said,
            left,
            54 * u,
            20 * u,
            width=self.w - 2 * left,
            height=self.h - 56 * u,
            least=9,
        )


class Form:
    """Fields on the left; further ones, folded away at first, on the right."""

    def __init__(
        self, parent: tk.Misc, choices: Callable[[], Choices], start: Callable[[Request], None]
    ) -> None:
        self.frame = tk.Frame(parent, background=look.PAPER)
        self._start = start
        self._begun = ""  # the size of the batch that was started last
        # Held here: a font of tkinter's goes away with its last Python name.
        self._large, self._small = tkfont.Font(size=-20), tkfont.Font(size=-14)
        self._large.configure(family=look.font(1)[0])
        self._small.configure(family=look.font(1)[0])
        self.answer = _Answer(self.frame)
        self.answer.canvas.place(relx=0, rely=0, relwidth=1, relheight=0.24)
        left = tk.Frame(self.frame, background=look.PAPER)
        left.place(relx=0.03, rely=0.24, relwidth=0.45, relheight=0.76)
        self.fields = {
            "resin": self._field(left, "resin", lambda: choices().resins),
            "size": self._field(left, "size", hint="such as 80 g, or kit"),
            "port": self._field(
                left, "port", lambda: choices().ports, hint="typed: is a scale with no cable"
            ),
            "cup": self._field(left, "cup", lambda: ("", *choices().cups), hint="may stay empty"),
            "scale": self._field(left, "scale", lambda: choices().scales, value=USUAL_SCALE),
        }
        self.offer()
        self.more = tk.Button(
            left,
            text="▸ " + _MORE,
            font=self._small,
            command=self.unfold,
            relief="flat",
            anchor="w",
            background=look.PAPER,
            foreground=look.INK,
            activebackground=look.SHEET,
            padx=4,
            pady=2,
            highlightthickness=2,
            highlightbackground=look.PAPER,
            highlightcolor=look.INK,
        )
        self.more.pack(fill="x", pady=(4, 0))
        self._right: tk.Frame | None = None
        self.frame.bind("<Configure>", lambda event: self.resize())

    def _field(
        self,
        parent: tk.Frame,
        caption: str,
        offers: Callable[[], tuple[str, ...]] | None = None,
        *,
        small: bool = False,
        fixed: bool = False,
        value: str = "",
        hint: str = "",
    ) -> Field:
        fonts = (self._small if small else self._large, self._small)
        field = Field(parent, caption, fonts, offers=offers, fixed=fixed, value=value, hint=hint)
        if not small:
            field.frame.pack(fill="x", pady=(0, 3))
        return field

    def unfold(self) -> None:
        """Show the further fields; they come after the button in the order of Tab."""
        if self._right is not None:
            return
        self._right = right = tk.Frame(self.frame, background=look.PAPER)
        right.place(relx=0.51, rely=0.24, relwidth=0.47, relheight=0.76)
        further: tuple[tuple[str, str, str], ...] = (
            ("resin_temp", "resin is at", "21 degC"),
            ("air", "air is at", "22 degC"),
            ("surface", "surface", "17 degC"),
            ("rh", "humidity", "55 %"),
            ("resin_lot", "resin lot", ""),
            ("hardener_lot", "hardener lot", ""),
            ("layup", "layup", ""),
            ("plies", "plies", "1-4"),
            ("operator", "operator", ""),
            ("stir", "stir for", "120 s"),
        )
        for i, (name, caption, hint) in enumerate(further):
            field = self._field(right, caption, small=True, hint=hint)
            field.frame.grid(row=i // 2, column=i % 2, sticky="ew", padx=(0, 10), pady=(0, 5))
            self.fields[name] = field
        hands = self._field(
            right, "hands-free", lambda: ("no", "yes"), small=True, fixed=True, value="no"
        )
        hands.frame.grid(row=5, column=0, sticky="ew", padx=(0, 10), pady=(0, 5))
        self.fields["hands_free"] = hands
        left = self._field(right, "left", small=True, hint="resin=900g")
        left.frame.grid(row=5, column=1, sticky="ew", padx=(0, 10), pady=(0, 5))
        self.fields["left"] = left
        right.columnconfigure((0, 1), weight=1, uniform="half")
        self.more.configure(text="▾ " + _MORE)

    def offer(self) -> None:
        """Fill in the first port; but no resin that nobody chose, unless there is one only."""
        self.fields["port"].offer_first()
        self.fields["resin"].offer_first(if_only=True)

    def fill(self, request: Request) -> None:
        """Show what was asked for on the command line."""
        further = {n: getattr(request, n) for n in Request.__slots__ if n not in self.fields}
        if any(further.values()):
            self.unfold()
        self._begun = request.size
        for name, field in self.fields.items():
            value = getattr(request, name)
            field.set(("yes" if value else "no") if name == "hands_free" else value or "")

    def take_up(self, request: Request) -> None:
        """Show the order that can be gone on with, unless somebody has begun to fill in another."""
        resin, size = (self.fields[name] for name in ("resin", "size"))
        if not size.text and (not resin.text or resin.offered):
            self.fill(request)

    def begun(self) -> None:
        """A batch is on: what is left of the lots is less now, and is to be said anew."""
        if "left" in self.fields and self.fields["left"].text:
            self.fields["left"].set("")

    def by_kit(self) -> None:
        """A kit was scanned: the size goes by it, if nobody gave another since the last batch."""
        size = self.fields["size"]
        if size.text in ("", self._begun):
            size.set(KIT)

    def request(self) -> Request:
        """What the fields say now; an empty one is "not said"."""
        said = {name: field.text for name, field in self.fields.items()}
        hands_free = said.pop("hands_free", "no") == "yes"
        resin, size, port = (said.pop(name) for name in ("resin", "size", "port"))
        asked = Request(
            resin, size, port, scale=said.pop("scale") or USUAL_SCALE, hands_free=hands_free
        )
        further: dict[str, Any] = {n: v or None for n, v in said.items()}
        return replace(asked, **further)

    def enter(self) -> None:
        """Start what the fields say."""
        self._begun = self.fields["size"].text
        self._start(self.request())

    def first_to_fill(self) -> tk.Entry:
        """The first field that is still empty, else the first."""
        empty = [n for n in ("resin", "size", "port") if not self.fields[n].text]
        return self.fields[empty[0] if empty else "resin"].entry

    def resize(self) -> None:
        """Type grows with the window."""
        u = look.scale_of(self.frame)
        self._large.configure(size=-max(9, round(20 * u)))
        self._small.configure(size=-max(8, round(14 * u)))
