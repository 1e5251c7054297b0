"""Which panel lies where, and when it is built.

The strip of the top, the cautions and what is needed at once come first; the rest is
built after the first drawing, so that the window stands early.
"""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

from mixer.app.request import Request
from mixer.desk import look
from mixer.desk.backstage import Shop
from mixer.desk.cautions import Cautions
from mixer.desk.cups import CupsPanel
from mixer.desk.form import Form
from mixer.desk.header import Header
from mixer.desk.panel import Panel, Scene
from mixer.desk.strip import Strip

if TYPE_CHECKING:
    from mixer.desk.pad import Pad


class Layout:
    """The panels of one window. ``header`` is drawn first of all; ``asked`` is the batch that
    was asked for when the window opened, for the fields to begin with."""

    def __init__(
        self,
        root: tk.Tk,
        shop: Shop,
        start: Callable[[Request], None],
        ask_close: Callable[[int], None],
        pad: Callable[[str, int, bool], None],
    ) -> None:
        self._root, self._shop, self._start, self._ask_close = root, shop, start, ask_close
        self.asked: Request | None = None
        self._pressed = pad
        self._pad: Pad | None = None
        self._always: list[Panel] = []
        self._bench: list[tuple[Panel, dict[str, float], dict[str, float] | None]] = []
        self._for_cloth = False  # there is no cup yet, and much to be said
        self._form: Form | None = None
        self._cups: CupsPanel | None = None
        self.header = self._add(Header(root), relx=0, rely=0, relwidth=1, relheight=0.07)
        self._add(Strip(root), relx=0, rely=0.07, relwidth=1, relheight=0.085)
        self._add(Cautions(root), relx=0, rely=0.95, relwidth=1, relheight=0.05)

    def _add(self, panel: Panel, **where: float) -> Panel:
        panel.canvas.place(cnf=where)
        self._always.append(panel)
        return panel

    @property
    def form(self) -> Form:
        """The fields of the next batch; made when first asked for."""
        if self._form is None:
            self._form = Form(self._root, self._shop.choices, self._start)
            if self.asked is not None:
                self._form.fill(self.asked)
        return self._form

    def begun(self) -> None:
        """A batch is on."""
        if self.asked is not None and self.asked.left is not None:
            self.asked = replace(self.asked, left=None)
        if self._form is not None:
            self._form.begun()

    def build_rest(self, scene: Scene) -> None:
        """What was not needed for the first drawing, and will be at once when it is."""
        self._build_bench()
        if self._cups is None:
            self._cups = CupsPanel(self._root, self._ask_close)
            self._add(self._cups, relx=0.65, rely=0.51, relwidth=0.35, relheight=0.44)
        if scene.choosing:
            self.form.offer()  # there may have been nothing to offer at the first drawing
            self.focus(scene)
        else:
            self._place_bench()
        self.show(scene)

    def _build_bench(self) -> None:
        if self._bench:
            return
        from mixer.desk.batch import BatchPanel
        from mixer.desk.cue import CuePanel
        from mixer.desk.cup import CupPanel
        from mixer.desk.figure import FigurePanel

        root = self._root
        self._bench = [
            (CuePanel(root, look.SHEET), _at(0, 0.16, 0.43, 0.37), _at(0, 0.16, 0.65, 0.47)),
            (FigurePanel(root), _at(0, 0.54, 0.43, 0.41), _at(0, 0.64, 0.65, 0.31)),
            (CupPanel(root), _CUP, None),
            (BatchPanel(root), _RECIPE, _RECIPE),
        ]

    def _place_bench(self) -> None:
        for panel, with_cup, for_cloth in self._bench:
            where = for_cloth if self._for_cloth else with_cup
            if where is None:
                panel.canvas.place_forget()
            else:
                panel.canvas.place(cnf=where)

    def show(self, scene: Scene) -> None:
        """Let each panel that can be seen draw what has changed for it."""
        shown: list[Panel] = list(self._always)
        if scene.choosing:
            shown.append(self.form.answer)
        else:
            self._make_room(scene.picture.asks_cloth and scene.picture.stage == "cup")
            shown += [panel for panel, *_ in self._bench]
            weighing = scene.picture.stage in ("cup", "pour")
            shown += self._pad_if(weighing and scene.picture.display is not None)
        for panel in shown:
            panel.show(scene)

    def _make_room(self, for_cloth: bool) -> None:
        """What is said of dry cloth has the place of the cup, which is not there yet."""
        if for_cloth != self._for_cloth:
            self._for_cloth = for_cloth
            self._place_bench()

    def _pad_if(self, wanted: bool) -> list[Panel]:
        """The keys of the screen in the place of the cup, which nobody sees filling there."""
        if wanted and self._pad is None:
            from mixer.desk.pad import Pad

            self._pad = Pad(self._root, self._pressed)
        if self._pad is None:
            return []
        if not wanted:
            self._pad.canvas.place_forget()
            return []
        if not self._pad.canvas.winfo_manager():
            self._pad.canvas.place(cnf=_CUP)
            self._pad.canvas.tk.call("raise", self._pad.canvas)
        return [self._pad]

    def arrange(self, scene: Scene) -> None:
        """Fields or bench; the keyboard goes along."""
        if scene.choosing:
            for panel, *_ in self._bench:
                panel.canvas.place_forget()
            if self._pad is not None:
                self._pad.canvas.place_forget()
            self.form.frame.place(cnf=_at(0.0, 0.16, 0.65, 0.79))
        else:
            if self._form is not None:
                self._form.frame.place_forget()
            self._build_bench()
            self._place_bench()
        self.focus(scene)

    def focus(self, scene: Scene, force: bool = False) -> None:
        """Give the keyboard to the fields, or to the bench; by force from other programs."""
        widget: tk.Misc = self.form.first_to_fill() if scene.choosing else self._root
        if force:
            widget.focus_force()
        else:
            widget.focus_set()


def _at(relx: float, rely: float, relwidth: float, relheight: float) -> dict[str, float]:
    return {"relx": relx, "rely": rely, "relwidth": relwidth, "relheight": relheight}


_CUP = _at(0.43, 0.16, 0.22, 0.79)
_RECIPE = _at(0.65, 0.16, 0.35, 0.35)
