"""One window on a screen of the tests' own, worked by real X events.

The test is the window's thread: it presses a key at the X server, then lets the window
run until what should follow has followed.
"""

from __future__ import annotations

import gc
import time
import tkinter as tk
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

from PIL import Image, ImageGrab
from Xlib import XK, X
from Xlib.display import Display
from Xlib.ext import xtest
from Xlib.protocol import event
from Xlib.protocol.event import ClientMessage

from mixer.app.picture import Picture
from mixer.app.request import Choices, Request
from mixer.desk.keys import BOUNCE_MS
from mixer.desk.typed import FAST_MS
from mixer.desk.window import Window

DONT_WAIT = 2  # Tcl's TCL_DONT_WAIT
PICTURES = Path(__file__).parents[1] / "pictures"
NAMES = {" ": "space", ".": "period", "-": "minus", ":": "colon", "\n": "Return"}


class FakeShop:
    """Shows the picture it is given, and keeps what it is told."""

    def __init__(self, picture: Picture | None = None) -> None:
        self._changed: Callable[[], None] = lambda: None
        self.shown = picture or Picture()
        self.offers = Choices(("sample-28", "sample-36"), ("paper-150",), ("sma",), ("sim:",))
        self.words: list[str] = []
        self.notes: list[str] = []
        self.started: list[Request] = []
        self.closed: list[tuple[int, str, str | None]] = []
        self.stopped = ""

    @property
    def shown(self) -> Picture:
        return self._shown

    @shown.setter
    def shown(self, picture: Picture) -> None:
        self._shown = picture
        self._changed()

    def picture(self) -> Picture:
        return self._shown

    def on_change(self, call: Callable[[], None]) -> None:
        self._changed = call

    def choices(self) -> Choices:
        return self.offers

    def start(self, request: Request) -> None:
        self.started.append(request)

    def key(self, word: str, text: str = "") -> None:
        if word == "note":
            self.notes.append(text)
        else:
            self.words.append(f"{word} {text}".strip())

    def close_cup(self, cup: int, how: str, left: str | None) -> None:
        self.closed.append((cup, how, left))

    def stop(self, why: str, *, to_go_on: bool = False) -> None:
        self.stopped = why


class Desk:
    """The window under test, and the keyboard in front of it."""

    def __init__(self, screen: str, shop: Any, request: Request | None, **options: Any) -> None:
        self.shop = shop
        self._screen = screen
        self._display = Display(screen)
        self._tapped_s: dict[str, float] = {}
        self._down: set[str] = set()
        drawn: list[bool] = []
        then = options.pop("on_first_drawn", lambda: None)
        self.window = Window(shop, on_first_drawn=lambda: drawn.append(True) or then(), **options)
        self.window.begin(request)
        self.until(lambda: bool(drawn))
        self.window.root.update()  # the half that is built after the first drawing

    # -- keys ------------------------------------------------------------------------

    def down(self, key: str) -> None:
        self._key(X.KeyPress, key)
        self._down.add(key)

    def up(self, key: str) -> None:
        self._key(X.KeyRelease, key)
        self._down.discard(key)

    def press(self, *keys: str) -> None:
        """One after the other, as a hand does: each is dealt with before the next."""
        for key in keys:
            self._tap(NAMES.get(key, key))
            self.settle()

    def type(self, text: str, gap_ms: int = 1, *, from_ms: int | None = None) -> None:
        """As fast as a scanner does, and faster, or at another pace: each event with the time
        that the server would have stamped on it, however busy this computer is."""
        keys = [NAMES.get(letter, letter) for letter in text]
        if from_ms is None:
            for key in keys:
                self._not_too_soon(key)
        at_ms = _now_ms() if from_ms is None else from_ms
        for key in keys:
            for kind in (event.KeyPress, event.KeyRelease):
                self._send(kind, key, at_ms)
            if from_ms is None:
                self._tapped_s[key] = at_ms / 1000
            at_ms += gap_ms + (2 * BOUNCE_MS if key == "Return" else 0)
        self.settle()
        if from_ms is None:  # what is pressed next comes after it
            self.until(lambda: _now_ms() >= at_ms)

    def _send(self, kind: Any, key: str, at_ms: int) -> None:
        """A key event of this time, by way of the server."""
        window = self._display.create_resource_object("window", self.window.root.winfo_id())
        code = self._display.keysym_to_keycode(XK.string_to_keysym(key))
        where = {"root_x": 1, "root_y": 1, "event_x": 1, "event_y": 1, "state": 0}
        root, none = self._display.screen().root, {"child": X.NONE, "same_screen": 1}
        window.send_event(kind(time=at_ms, root=root, window=window, detail=code, **none, **where))

    def _tap(self, key: str) -> None:
        self._not_too_soon(key)
        self.down(key)
        self.up(key)
        self._tapped_s[key] = time.monotonic()

    def _not_too_soon(self, key: str) -> None:
        """No hand is so fast that it could not be told from a worn contact."""
        if len(key) > 1:
            self.until(
                lambda: time.monotonic() - self._tapped_s.get(key, 0) > 1.2 * BOUNCE_MS / 1000
            )

    def _key(self, kind: int, key: str) -> None:
        code = self._display.keysym_to_keycode(XK.string_to_keysym(key))
        assert code, f"this keyboard has no key {key!r}"
        xtest.fake_input(self._display, kind, code)
        self._display.sync()

    def take_keyboard_away(self) -> None:
        """As when another window comes to the front."""
        self._display.set_input_focus(X.NONE, X.RevertToNone, X.CurrentTime)
        self.settle()

    def close_button(self) -> None:
        """What a window manager sends when the window's cross is clicked."""
        protocols, delete = map(self._display.intern_atom, ("WM_PROTOCOLS", "WM_DELETE_WINDOW"))
        for window in self._display.screen().root.query_tree().children:
            if window.get_full_property(protocols, X.AnyPropertyType):
                data = (32, [delete, X.CurrentTime, 0, 0, 0])
                window.send_event(ClientMessage(window=window, client_type=protocols, data=data))
        self._display.sync()

    # -- time ------------------------------------------------------------------------

    def until(self, true: Callable[[], bool], within_s: float = 30.0) -> None:
        """Let the window run until this is so."""
        limit_s = time.monotonic() + within_s
        while not true():
            assert time.monotonic() < limit_s, f"not within {within_s} s"
            self._turn()

    def _turn(self) -> None:
        if not self.window.root.tk.dooneevent(DONT_WAIT):
            time.sleep(0.002)

    def until_gone(self, within_s: float = 30.0) -> None:
        """Until the window has closed itself."""
        limit_s = time.monotonic() + within_s
        with suppress(tk.TclError):
            while time.monotonic() < limit_s:
                self._turn()
                self.window.root.winfo_exists()
            raise AssertionError("the window is still there")

    def settle(self) -> None:
        """Until every key that was pressed has been dealt with."""
        seen: list[bool] = []
        self.window.root.bind("<<Settled>>", lambda event: seen.append(True))
        self._display.sync()
        self.window.root.update()
        self.window.root.event_generate("<<Settled>>", when="tail")
        self.until(lambda: bool(seen))

    def show(self, picture: Picture) -> None:
        """Until this picture is drawn."""
        self.shop.shown = picture
        self.until(lambda: self.window.scene.picture is picture)
        self.window.root.update()

    # -- what stands there -------------------------------------------------------------

    def canvases(self) -> list[tk.Canvas]:
        """Those that can be seen."""
        return [
            c for c in _below(self.window.root) if isinstance(c, tk.Canvas) and c.winfo_viewable()
        ]

    def fields(self) -> list[tk.Entry]:
        """Those that can be seen."""
        return [
            e for e in _below(self.window.root) if isinstance(e, tk.Entry) and e.winfo_viewable()
        ]

    def widgets(self, *classes: str) -> list[tk.Misc]:
        """Those of these classes that can be seen."""
        return [
            w for w in _below(self.window.root) if w.winfo_class() in classes and w.winfo_viewable()
        ]

    def texts(self) -> list[str]:
        """All that can be read in the panels."""
        return [said for canvas in self.canvases() for _, said in texts_of(canvas)]

    def grab(self, name: str = "") -> Image.Image:
        """What stands on the screen; kept under this name in ``tests/pictures``."""
        root = self.window.root
        root.update()
        box = (root.winfo_width(), root.winfo_height())
        picture = ImageGrab.grab(xdisplay=self._screen).crop((0, 0, *box))
        if name:
            picture.save(PICTURES / f"{name}.png")
        return picture

    def end(self) -> None:
        for key in list(self._down):  # of a test that failed: the next has the same keyboard
            self.up(key)
        self.window.leave("the test is over")
        self._display.close()
        # A Tcl interpreter must go in the thread that made it: a later test's bench thread
        # may be the one that happens to collect garbage. A collection that is already on in
        # another thread makes this one's none. What is frozen by then goes with the process.
        self.shop.on_change(lambda: None)
        del self.window
        gc.collect()


def _now_ms() -> int:
    """The server's own clock."""
    return time.monotonic_ns() // 1_000_000


#: Opens a window on a picture: the desk, and the shop behind it.
Opener = Callable[..., tuple[Desk, FakeShop]]


def texts_of(canvas: tk.Canvas) -> Iterator[tuple[int, str]]:
    """Each text item that is not hidden and not empty."""
    for item in canvas.find_all():
        if canvas.type(item) == "text" and canvas.itemcget(item, "state") != "hidden":
            said = canvas.itemcget(item, "text")
            if said:
                yield item, said


def _below(widget: tk.Misc) -> Iterator[tk.Misc]:
    for child in widget.winfo_children():
        yield child
        yield from _below(child)


@contextmanager
def desk(screen: str, shop: Any, request: Request | None = None, **options: Any) -> Iterator[Desk]:
    """A window for the length of a ``with``. ``DISPLAY`` must be that screen."""
    gc.collect()  # what is left of one before, which no other thread may take away
    opened = Desk(screen, shop, request, **options)
    try:
        yield opened
    finally:
        opened.end()


def by_hand(bench: Desk, *keys: str) -> None:
    """No faster than a hand where that matters: the same key twice, or one with a name."""
    before = keys[0]
    for key in keys:
        if key == before or len(key) > 1:
            time.sleep(1.6 * FAST_MS / 1000)
        bench.press(key)
        before = key
