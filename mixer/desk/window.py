"""The window: takes each newer picture, has it drawn, and goes in good order.

It decides nothing, never waits for a disk or a scale, and lets no error vanish. What
lies where is in :mod:`mixer.desk.layout`, where the keys go in
:mod:`mixer.desk.keyboard`.
"""

from __future__ import annotations

import sys
import tkinter as tk
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from mixer.app import endings
from mixer.app.picture import Picture
from mixer.app.request import Request
from mixer.desk import look, screen
from mixer.desk.asides import Asides
from mixer.desk.backstage import ON, Shop
from mixer.desk.bell import Bell
from mixer.desk.held import HeldKeys
from mixer.desk.keyboard import Keyboard
from mixer.desk.layout import Layout
from mixer.desk.panel import Scene

LEAVE_MS = 2500  # time to see that it is done


class NoScreen(Exception):
    """There is no screen to open a window on; says so in one sentence."""


class Window:
    """One window on one shop. ``run`` returns when it is closed."""

    def __init__(
        self,
        shop: Shop,
        *,
        leave_when_over: bool = False,
        on_first_drawn: Callable[[], None] | None = None,
        extra_keys: Mapping[str, Callable[[bool], None]] | None = None,
        extra_help: str = "",
    ) -> None:
        try:
            self.root = screen.root()
        except tk.TclError as error:
            raise NoScreen(f"There is no screen to open a window on: {error}.") from error
        self.shop = shop
        self.scene = Scene(shop.picture(), help=extra_help)
        self._leave_when_over = leave_when_over
        self._on_first_drawn = on_first_drawn
        self._gone = False
        self._wants_next = False
        self._unanswered = False
        self._set_up()
        self.asides = Asides(self.root, shop, self._cups, lambda: self._layout.focus(self.scene))
        self._layout = Layout(self.root, shop, self._start, self.asides.ask_close, self._pad)
        self._layout.header.canvas.bind("<Expose>", self._exposed)
        self._keyboard = Keyboard(self, HeldKeys(extra_keys or {}, self.root.after))
        self._bell = Bell(self.root, self._look)
        shop.on_change(self._bell.ring)

    def _pad(self, key: str, at_ms: int, down: bool) -> None:
        (self._keyboard.pad if down else self._keyboard.pad_released)(key, at_ms)

    def _set_up(self) -> None:
        root = self.root
        root.report_callback_exception = self._report
        root.title("cupside")
        root.configure(background=look.PAPER)
        wide, tall = root.winfo_screenwidth(), root.winfo_screenheight()
        width = min(wide, max(look.BASE_WIDTH, wide * 3 // 4))
        height = min(tall, max(look.BASE_HEIGHT, tall * 3 // 4))
        root.geometry(f"{width}x{height}")
        root.minsize(min(wide, 760), min(tall, 440))
        root.protocol("WM_DELETE_WINDOW", lambda: self.leave("window closed"))

    def _exposed(self, event: tk.Event[Any]) -> None:
        self._layout.header.canvas.unbind("<Expose>")
        self.root.after_idle(self._first_drawn)

    def _first_drawn(self) -> None:
        if self._on_first_drawn is not None:
            self._on_first_drawn()
        self.root.after_idle(self._build_rest)

    def _build_rest(self) -> None:
        self._layout.build_rest(self.scene)

    # -- what is shown ---------------------------------------------------

    def begin(self, request: Request | None) -> None:
        """First drawing; with a request, that batch at once."""
        self._layout.asked = request
        if request is not None:
            self.shop.start(request)
        picture = self.shop.picture()
        self._unanswered = request is not None and picture.outcome is None
        self.scene = replace(self.scene, picture=picture, choosing=self._is_choosing(picture))
        self._layout.arrange(self.scene)
        self._layout.focus(self.scene, force=True)
        self.change()

    def _look(self) -> None:
        picture = self.shop.picture()
        if picture is not self.scene.picture:
            self.change(picture=picture)

    def _is_choosing(self, picture: Picture) -> bool:
        if picture.stage != "ready":
            return picture.stage not in ON and self._wants_next
        # Until the app has answered what was asked for at first, there is nothing to choose.
        return not self._unanswered

    def change(self, **what: Any) -> None:
        """The scene with this changed, drawn."""
        before, picture = self.scene, what.get("picture", self.scene.picture)
        what["typed"] = self._keyboard.follow(picture)
        if picture.stage != "ready" or picture.outcome is not None:
            self._unanswered = False
        if picture.stage in ON:
            self._wants_next = False
            self._layout.begun()
        else:
            self._keyboard.keep()
            what["asking"] = False
        over = picture.stage in ("live", "ended") and self._leave_when_over
        if over and not before.leaving:
            what["leaving"] = True
            self.root.after(LEAVE_MS, lambda: self.leave("the batch is over"))
        was = before.picture
        if picture.rings > was.rings or picture.cup_rings > was.cup_rings:
            self.root.bell()
        what["choosing"] = self._is_choosing(picture)
        self.scene = scene = replace(before, **what)
        if scene.choosing and picture.offer is not None and not before.picture.offer:
            self._layout.form.take_up(picture.offer)
        if scene.choosing != before.choosing:
            self._layout.arrange(scene)
        self._layout.show(scene)

    # -- what the keys may ask for -----------------------------------------

    def want_next(self, wanted: bool) -> None:
        """Show the fields of the next batch, or the bench again."""
        self._wants_next = wanted
        self.change()

    def want_kit(self) -> None:
        """A ply kit was scanned, and the next batch is to wet it."""
        self._layout.form.by_kit()
        self.want_next(True)

    def start_as_filled_in(self) -> None:
        """Begin the batch that the fields ask for."""
        self._layout.form.enter()

    def _start(self, request: Request) -> None:
        self.change(trouble="")
        self.shop.start(request)

    def _cups(self) -> tuple[str, ...]:
        oldest_first = sorted(self.scene.picture.live_cups, key=lambda c: -c.age_s)
        return tuple(str(c.cup) for c in oldest_first)

    # -- trouble and the end -----------------------------------------------

    def _report(self, kind: type[BaseException], error: BaseException, trace: object) -> None:
        """An error in this window: one line on stderr, one sentence on the screen, and on."""
        if issubclass(kind, KeyboardInterrupt):
            self._interrupted(error)
            return
        text = f"{kind.__name__}: {error}".replace("\n", " ")
        if text != self.scene.trouble:
            print(f"cupside: the window had trouble: {text}", file=sys.stderr)
            self.scene = replace(self.scene, trouble=text)
            self.root.after(1, lambda: self._layout.show(self.scene))

    def _interrupted(self, ended: BaseException) -> None:
        why = f"interrupted {ended}".strip()
        self.leave(why, to_go_on=endings.is_of_the_system(ended))

    def leave(self, why: str, *, to_go_on: bool = False) -> None:
        """Tell the shop and go."""
        if self._gone:
            return
        self._gone = True
        try:
            self.shop.stop(why, to_go_on=to_go_on)
        finally:
            self._bell.close()
            self.root.destroy()

    def run(self) -> Picture:
        """Until the window is closed; the last picture."""
        try:
            self.root.mainloop()
        except KeyboardInterrupt as ended:
            self._interrupted(ended)
        finally:
            # The window went in some other way, such as with its screen.
            if not self._gone:
                self._gone = True
                self.shop.stop("the window was lost")
        return self.shop.picture()


def open_window(
    shop: Shop,
    request: Request | None = None,
    *,
    leave_when_over: bool = False,
    on_first_drawn: Callable[[], None] | None = None,
    extra_keys: Mapping[str, Callable[[bool], None]] | None = None,
    extra_help: str = "",
) -> Picture:
    """Open the window and return the last picture when it is closed.

    With ``request`` that batch is started at once. With ``leave_when_over`` the
    window closes by itself some two seconds after the batch is live or ended.
    ``extra_keys`` maps key names to a function told ``True`` when the key goes down
    and ``False`` when it comes up, and ``extra_help`` says in the window what they
    do. Raises :class:`NoScreen` where no window can be opened, before anything is
    started.
    """
    window = Window(
        shop,
        leave_when_over=leave_when_over,
        on_first_drawn=on_first_drawn,
        extra_keys=extra_keys,
        extra_help=extra_help,
    )
    window.begin(request)
    return window.run()
