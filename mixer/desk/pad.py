"""Keys on the screen for a gloved finger: the figure that a scale with no cable shows."""

from __future__ import annotations

import time
import tkinter as tk
from collections.abc import Callable
from typing import Any

from mixer.desk import look
from mixer.desk.panel import Panel, Scene

#: What stands on each button, and the key that it is; the last row is as wide as all.
ROWS: tuple[tuple[tuple[str, str], ...], ...] = (
    (("7", "7"), ("8", "8"), ("9", "9")),
    (("4", "4"), ("5", "5"), ("6", "6")),
    (("1", "1"), ("2", "2"), ("3", "3")),
    ((".", "."), ("0", "0"), ("⌫", "BackSpace")),
    (("−", "Down"), ("+", "Up")),
    (("go", "go"),),
)


class Pad(Panel):
    """``pressed`` is told key, time in milliseconds, and whether it went down or came up."""

    def __init__(self, parent: tk.Misc, pressed: Callable[[str, int, bool], None]) -> None:
        super().__init__(parent)
        self._pressed = pressed
        self._down = ""
        self.canvas.bind("<ButtonPress-1>", self._press)
        self.canvas.bind("<ButtonRelease-1>", self._release)

    def inputs(self, scene: Scene) -> object:
        display = scene.picture.display
        return (display is not None and display.wanted, scene.picture.stage, self._down)

    def draw(self, scene: Scene) -> None:
        display = scene.picture.display
        wanted = display is not None and display.wanted
        for said, key, (left, top, right, bottom) in self._boxes():
            ink = look.INK if wanted or key == "go" else look.LINE  # go goes on from a hold too
            dark = key in (self._down, "go")
            self.shape(
                f"box{key}", "rectangle", (left, top, right, bottom),
                fill=ink if dark else look.SHEET, outline=ink, width=2 * self.u,
            )  # fmt: skip
            self.text(
                f"key{key}", said, (left + right) / 2, (top + bottom) / 2, 38 * self.u,
                width=right - left, anchor="center", bold=True,
                fill=look.SHEET if dark else ink,
            )  # fmt: skip

    def _boxes(self) -> list[tuple[str, str, tuple[float, float, float, float]]]:
        """Each button: what stands on it, its key, and where it is."""
        gap = 6 * self.u
        tall = (self.h - gap) / len(ROWS)
        boxes = []
        for i, row in enumerate(ROWS):
            wide = (self.w - gap) / len(row)
            for j, (said, key) in enumerate(row):
                left, top = gap + j * wide, gap + i * tall
                boxes.append((said, key, (left, top, left + wide - gap, top + tall - gap)))
        return boxes

    def _press(self, event: tk.Event[Any]) -> None:
        for _, key, (left, top, right, bottom) in self._boxes():
            if left <= event.x <= right and top <= event.y <= bottom:
                self._down = key
                self._pressed(key, _time_ms(event), True)

    def _release(self, event: tk.Event[Any]) -> None:
        key, self._down = self._down, ""
        if key:
            self._pressed(key, _time_ms(event), False)
        if self._scene is not None:
            self.show(self._scene)


def _time_ms(event: tk.Event[Any]) -> int:
    return int(event.time) or int(time.monotonic() * 1000)
