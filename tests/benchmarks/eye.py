"""Looks at the screen from the X server's side: when something was drawn, and where.

The server's DAMAGE extension reports each drawing once it has been done; nothing is
asked of the program that draws. Times are monotonic nanoseconds of the moment at which
the report arrived here, so they are never too early.
"""

from __future__ import annotations

import select
import threading
import time

from Xlib import XK, X
from Xlib.display import Display
from Xlib.ext import damage, xtest

Drawn = tuple[int, int]  # when (monotonic ns), and how many pixels
_TOP_BIT = 0x80  # of blue: 0 in any dark ink, 1 in any light paper


class Eye:
    """Watches one display, from one thread."""

    def __init__(self, name: str) -> None:
        self._display = Display(name)
        self._display.damage_query_version()
        self._root = self._display.screen().root
        self._root.change_attributes(event_mask=X.SubstructureNotifyMask)
        self._root.damage_create(damage.DamageReportRawRectangles)
        self._display.sync()
        self._damage = self._display.extension_event.DamageNotify

    def close(self) -> None:
        self._display.close()

    def forget(self) -> None:
        """Leave aside what has been drawn until now."""
        self._display.sync()
        while self._display.pending_events():
            self._display.next_event()

    def first_drawn(self, within_s: float = 20.0) -> tuple[int, str]:
        """When the next window shows its first dark ink, and its size as ``1024x600``."""
        until_s, window = time.monotonic() + within_s, None
        while time.monotonic() < until_s:
            for event in self._events(0.1):
                now_ns = time.monotonic_ns()
                if event.type == X.MapNotify:
                    window = event.window
                elif window is not None and event.type == self._damage:
                    at = window.get_geometry()
                    if at.width > 100 and self._has_ink(event.area):
                        return now_ns, f"{at.width}x{at.height}"
        raise TimeoutError(f"no window was drawn within {within_s:g} s")

    def drawings(self, wait_s: float) -> list[Drawn]:
        """What is drawn from now on, as soon as anything is."""
        return [
            (time.monotonic_ns(), event.area.width * event.area.height)
            for event in self._events(wait_s)
            if event.type == self._damage
        ]

    def press(self, key: str) -> int:
        """Press and release a key; when it was pressed."""
        code = self._display.keysym_to_keycode(XK.string_to_keysym(key))
        now_ns = time.monotonic_ns()
        xtest.fake_input(self._display, X.KeyPress, code)
        xtest.fake_input(self._display, X.KeyRelease, code)
        self._display.flush()
        return now_ns

    def _events(self, wait_s: float):
        if not self._display.pending_events():
            select.select([self._display.fileno()], [], [], wait_s)
        while self._display.pending_events():
            yield self._display.next_event()

    def _has_ink(self, area) -> bool:
        """Whether there is anything dark there. One bit a pixel is fetched, no more."""
        image = self._root.get_image(
            area.x, area.y, area.width, area.height, X.XYPixmap, _TOP_BIT
        ).data
        line = (area.width + 31) // 32 * 4
        whole = area.width // 8
        return any(
            image[at : at + whole].strip(b"\xff") for at in range(0, line * area.height, line)
        )


class Watcher:
    """An eye in a thread of its own, writing down all that is drawn."""

    def __init__(self, name: str) -> None:
        self.drawn: list[Drawn] = []
        self._eye = Eye(name)
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def close(self) -> None:
        self._stop.set()
        self._thread.join()
        self._eye.close()

    def _run(self) -> None:
        while not self._stop.is_set():
            self.drawn += self._eye.drawings(0.1)
