"""A panel: a canvas that draws one part of the scene.

A panel states what it depends on (``inputs``) and draws all of it each time
(``draw``); this class sees to it that nothing happens when nothing changed, and
that items are moved and configured, never made anew. Must never ask the app for
anything.
"""

from __future__ import annotations

import tkinter as tk
from abc import ABC, abstractmethod
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from mixer.app.picture import Picture
from mixer.desk import look

AS_ZERO = str.maketrans("123456789", "0" * 9)
SURELY = 0.9  # a text that takes no more of its room by measure of another size, fits


@dataclass(frozen=True, slots=True)
class Scene:
    """The picture, and what only the window knows."""

    picture: Picture
    choosing: bool = False  # the fields for the next batch are shown
    asking: bool = False  # whether to drop the batch
    trouble: str = ""  # something in the window itself went wrong
    leaving: bool = False  # the window will close by itself
    help: str = ""  # keys of a special occasion
    typed: str = ""  # off a scale with no cable, or what dry cloth weighs


class Panel(ABC):
    """Base of all panels. ``u`` is the window's scale, ``w`` and ``h`` its size in pixels."""

    def __init__(self, parent: tk.Misc, ground: str = look.PAPER) -> None:
        self.canvas = tk.Canvas(
            parent,
            background=ground,
            highlightthickness=0,
            borderwidth=0,
            takefocus=0,
            width=1,
            height=1,
        )
        self.w = self.h = 0
        self.u = 1.0
        self._scene: Scene | None = None
        self._inputs: object = None
        self._drawn: dict[str, object] = {}  # what each item was asked to be; None: hidden
        self._told: dict[str, dict[str, object]] = {}  # the options that Tk has been told
        self._used: list[str] = []
        #: The parts of this drawing and of the one before: what each depended on, and its items.
        self._parts: dict[str, tuple[object, list[str]]] = {}
        self._before = self._parts
        self._grown = False
        self._widths: dict[tuple[str, bool], float] = {}
        self._fitted: dict[str, object] = {}  # each text that fits whole, with zeros, in its room
        self.canvas.bind("<Configure>", self._resized)

    @abstractmethod
    def inputs(self, scene: Scene) -> object:
        """All that this panel's drawing depends on, comparable."""

    @abstractmethod
    def draw(self, scene: Scene) -> None:
        """Draw the scene with :meth:`text` and :meth:`shape`."""

    def show(self, scene: Scene) -> None:
        """Draw if what matters here has changed."""
        self._scene = scene
        inputs = self.inputs(scene)
        if inputs != self._inputs:
            self._inputs = inputs
            self._draw()

    def _resized(self, event: tk.Event[Any]) -> None:
        size = (event.width, event.height)
        u = look.scale_of(self.canvas)
        if size != (self.w, self.h) or u != self.u:
            self.w, self.h = size
            self.u = u
            self._parts = {}
            self._draw()

    def _draw(self) -> None:
        if self._scene is None or self.w < 2:
            return
        self._used = []
        self._before, self._parts = self._parts, {}
        self.draw(self._scene)
        if self._grown:
            # New items lie on top, and those that were hidden may lie under all that was
            # raised meanwhile: put all into the order of drawing.
            self._grown = False
            for tag in self._used:
                self.canvas.tag_raise(tag)
        for tag in self._drawn.keys() - set(self._used):
            if self._drawn[tag] is not None:
                self._drawn[tag] = None
                self._tell(tag, state="hidden")

    def part(self, name: str, draw: Callable[..., None], *inputs: object) -> None:
        """A part of the drawing, made of these inputs and the panel's size alone: left as it is
        where they are what they were in the drawing before."""
        before, items = self._before.get(name, (None, []))
        if before == inputs:
            self._used += items
        else:
            first = len(self._used)
            draw(*inputs)
            items = self._used[first:]
        self._parts[name] = inputs, items

    def _same(self, tag: str, kind: str, value: object) -> bool:
        """Whether the item already looks so; makes it when it is drawn for the first time."""
        self._used.append(tag)
        drawn = self._drawn.get(tag)
        if drawn == value:
            return True
        if drawn is None:
            self._grown = True
        if tag not in self._drawn:
            at = (0,) * (6 if kind == "polygon" else 2 if kind == "text" else 4)
            self.canvas.tk.call(self.canvas, "create", kind, *at, "-tags", tag)
            self._told[tag] = {}
        self._drawn[tag] = value
        return False

    def _move(self, tag: str, *xy: float) -> None:
        if self._told[tag].get("xy") != xy:
            self._told[tag]["xy"] = xy
            self.canvas.tk.call(self.canvas, "coords", tag, *xy)

    def _tell(self, tag: str, **options: object) -> None:
        """Configure the item; straight to Tk, and only what is new, ten times a second."""
        told = self._told[tag]
        new = [(name, value) for name, value in options.items() if told.get(name) != value]
        if new:
            told.update(new)
            words = (word for name, value in new for word in (f"-{name}", value))
            self.canvas.tk.call(self.canvas, "itemconfigure", tag, *words)

    def shape(self, tag: str, kind: str, xy: tuple[float, ...], **options: Any) -> None:
        """A polygon, line or rectangle at these coordinates."""
        if not self._same(tag, kind, (xy, options)):
            self._move(tag, *xy)
            self._tell(tag, state="normal", **options)

    def text(
        self,
        tag: str,
        text: str,
        x: float,
        y: float,
        px: float,
        *,
        width: float,
        height: float = 0,
        anchor: str = "nw",
        bold: bool = False,
        fill: str = look.INK,
        like: str = "",
        least: float = 11,
    ) -> None:
        """Text no wider than ``width``, as large as fits up to ``px`` (already scaled).

        One line, shrunk and then shortened with "…"; with ``height`` it wraps within
        it. ``like`` is text of the greatest usual width, so that a changing figure
        does not change its size.
        """
        if self._same(tag, "text", (text, x, y, px, width, height, fill, bold)):
            return
        least = min(px, least * self.u)
        self._move(tag, x, y)
        fits = (text.translate(AS_ZERO), px, width, height, bold, like, least)
        if self._fitted.get(tag) == fits:  # its digits alone are new, as a rule
            self._tell(tag, state="normal", anchor=anchor, fill=fill, text=text)
            return
        if height:
            self._tell(tag, state="normal", anchor=anchor, fill=fill)
            self._wrap(tag, text, px, width, height, bold, least)
        else:
            one_line, font = self._one_line(text, px, width, bold, like, least)
            options = {"anchor": anchor, "fill": fill, "text": one_line, "font": font}
            self._tell(tag, state="normal", width=0, **options)
        self._fitted[tag] = fits if self._told[tag]["text"] == text else None

    def _one_line(
        self, text: str, px: float, width: float, bold: bool, like: str, least: float
    ) -> tuple[str, object]:
        """The text, shortened where it must be, and its font."""
        usual = self._measure(text, bold)
        widest = max(usual, self._measure(like, bold))
        size = max(least, min(px, 100 * width / widest)) if widest else px
        font = look.font(size, bold)
        if usual * size > SURELY * 100 * width:  # hinting does not scale evenly: look closely
            while (wide := self._exact(text, font)) > width and size > least:
                size = max(least, size - 1)
                font = look.font(size, bold)
            while wide > width and len(text) > 1:
                keep = int(len(text) * width / wide)
                text = text[: max(0, min(keep, len(text) - 1) - 1)] + "…"
                wide = self._exact(text, font)
        return text, font

    def _wrap(
        self, tag: str, text: str, px: float, width: float, height: float, bold: bool, least: float
    ) -> None:
        def tall() -> float:
            box = self.canvas.bbox(tag)
            return box[3] - box[1] if box else 0

        size = px
        self._tell(tag, text=text, font=look.font(size, bold), width=width)
        while tall() > height and size > least:
            size = max(least, size * 0.9)
            self._tell(tag, font=look.font(size, bold))
        short = text
        while tall() > height and len(short) > 1:
            short = short[: int(len(short) * 0.9)]
            self._tell(tag, text=short.rstrip() + "…")

    def _measure(self, text: str, bold: bool) -> float:
        """Width at 100 px."""
        key = (text.translate(AS_ZERO), bold)
        if key not in self._widths:
            if len(self._widths) > 200:
                self._widths.clear()
            self._widths[key] = self._exact(text, look.font(100, bold))
        return self._widths[key]

    def _exact(self, text: str, font: object) -> float:
        """Width, with every digit taken as wide as a zero."""
        zeros = text.translate(AS_ZERO)
        return float(self.canvas.tk.call("font", "measure", font, "-displayof", self.canvas, zeros))
