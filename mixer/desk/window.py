"""The window: builds the panels, looks for a newer picture, hands keys on.

It decides nothing, never waits for a disk or a scale, and lets no error vanish.
What is not visible at first is built after the first drawing.
"""

from __future__ import annotations

import sys
import time
import tkinter as tk
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from mixer.app.picture import Picture
from mixer.app.request import Request
from mixer.desk import look
from mixer.desk.asides import Closer, Noter
from mixer.desk.backstage import ON, Shop
from mixer.desk.cautions import Cautions
from mixer.desk.cups import CupsPanel
from mixer.desk.form import Form
from mixer.desk.header import Header
from mixer.desk.keys import CONFIRM_MS, ENTER, WORDS, Keys
from mixer.desk.panel import Panel, Scene
from mixer.desk.strip import Strip

LOOK_MS = 10  # how often a newer picture is looked for
LEAVE_MS = 4000
RELEASE_MS = 30  # a key that is pressed again within this was not let go: autorepeat

_BODY = {"rely": 0.16, "relheight": 0.79}
_NOTE = {"relx": 0.02, "rely": 0.74, "relwidth": 0.62}
_CLOSE = {"relx": 0.36, "rely": 0.74, "relwidth": 0.63}


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
            self.root = tk.Tk(className="Cupside")
        except tk.TclError as error:
            raise NoScreen(f"There is no screen to open a window on: {error}.") from error
        self._shop = shop
        self._leave_when_over = leave_when_over
        self._on_first_drawn = on_first_drawn
        self._extra = dict(extra_keys or {})
        self._extra_down: dict[str, bool] = {}
        self._keys = Keys()
        self._over = False
        self._gone = False
        self._wants_next = False
        self._panels: list[Panel] = []
        self._bench: list[tuple[Panel, dict[str, float]]] = []
        self._form: Form | None = None
        self._closer: Closer | None = None
        self._noter: Noter | None = None
        self._form_shown = False
        self.scene = Scene(shop.picture(), help=extra_help)
        self._build()

    def _build(self) -> None:
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
        root.bind("<KeyPress>", self._pressed)
        root.bind("<KeyRelease>", self._released)
        root.bind("<FocusOut>", self._lost_keyboard)
        header = self._add(Header(root), relx=0, rely=0, relwidth=1, relheight=0.07)
        self._add(Strip(root), relx=0, rely=0.07, relwidth=1, relheight=0.085)
        self._add(Cautions(root), relx=0, rely=0.95, relwidth=1, relheight=0.05)
        header.canvas.bind("<Expose>", lambda event: self._exposed(header))
        self._look_again = root.register(self._tick)

    def _add(self, panel: Panel, **where: float) -> Panel:
        panel.canvas.place(cnf=where)
        self._panels.append(panel)
        return panel

    def _exposed(self, header: Panel) -> None:
        header.canvas.unbind("<Expose>")
        self.root.after_idle(self._first_drawn)

    def _first_drawn(self) -> None:
        if self._on_first_drawn is not None:
            self._on_first_drawn()
        self.root.after_idle(self._build_rest)

    def _build_rest(self) -> None:
        """The half that was not needed for the first drawing."""
        self._build_bench()
        self._build_cups()
        self._build_form()

    def _build_bench(self) -> None:
        if self._bench:
            return
        from mixer.desk.batch import BatchPanel
        from mixer.desk.cue import CuePanel
        from mixer.desk.cup import CupPanel
        from mixer.desk.figure import FigurePanel

        for panel, where in (
            (
                CuePanel(self.root, look.SHEET),
                {"relx": 0.0, "rely": 0.16, "relwidth": 0.43, "relheight": 0.37},
            ),
            (
                FigurePanel(self.root),
                {"relx": 0.0, "rely": 0.54, "relwidth": 0.43, "relheight": 0.41},
            ),
            (
                CupPanel(self.root),
                {"relx": 0.43, "rely": 0.16, "relwidth": 0.22, "relheight": 0.79},
            ),
            (
                BatchPanel(self.root),
                {"relx": 0.65, "rely": 0.16, "relwidth": 0.35, "relheight": 0.35},
            ),
        ):
            self._bench.append((panel, where))
            self._panels.append(panel)
        if not self.scene.choosing:
            self._show_bench()

    def _build_cups(self) -> None:
        if not any(isinstance(panel, CupsPanel) for panel in self._panels):
            cups = CupsPanel(self.root, self.ask_close)
            self._add(cups, relx=0.65, rely=0.51, relwidth=0.35, relheight=0.44).show(self.scene)

    def _build_form(self) -> Form:
        if self._form is None:
            self._form = Form(self.root, self._shop.choices, self._start)
            self._panels.append(self._form.answer)
        return self._form

    # -- what is shown ---------------------------------------------------

    def begin(self, request: Request | None) -> None:
        """First drawing; with a request, that batch at once."""
        if request is not None:
            self._build_bench()
            self._shop.start(request)
            self.root.after_idle(lambda: self._build_form().fill(request))
        else:
            self._build_form()
        self.scene = replace(self.scene, picture=self._shop.picture())
        # With a request, the fields come up only once the app has answered it.
        self._arrange(choosing=self.scene.picture.stage == "ready" and request is None)
        self.root.focus_force()
        self._show()
        self.root.tk.call("after", LOOK_MS, self._look_again)

    def _tick(self) -> None:
        if self._gone:
            return
        self.root.tk.call("after", LOOK_MS, self._look_again)
        picture = self._shop.picture()
        if picture is self.scene.picture:
            return
        self._change(picture=picture)

    def _change(self, **what: Any) -> None:
        scene = self.scene = replace(self.scene, **what)
        stage = scene.picture.stage
        if stage in ON:
            self._wants_next = False
        else:
            self._keys.keep()
            self.scene = scene = replace(scene, asking=False)
        choosing = stage == "ready" or (stage not in ON and self._wants_next)
        if choosing != scene.choosing:
            self._arrange(choosing)
        self._show()
        if stage in ("live", "ended") and not self._over and self._leave_when_over:
            self._over = True
            self._change(leaving=True)
            self.root.after(LEAVE_MS, lambda: self.leave("the batch is over"))

    def _show(self) -> None:
        for panel in self._panels:
            panel.show(self.scene)

    def _arrange(self, choosing: bool) -> None:
        """Fields or bench; the keyboard goes along."""
        self.scene = replace(self.scene, choosing=choosing)
        if choosing:
            for panel, _ in self._bench:
                panel.canvas.place_forget()
            form = self._build_form()
            form.frame.place(relx=0, relwidth=0.65, **_BODY)  # type: ignore[arg-type]
            form.focus()
        else:
            if self._form is not None:
                self._form.frame.place_forget()
            self._build_bench()
            self._show_bench()
            self.root.focus_set()

    def _show_bench(self) -> None:
        for panel, where in self._bench:
            panel.canvas.place(cnf=where)
            panel.show(self.scene)

    # -- keys ------------------------------------------------------------

    def _pressed(self, event: tk.Event[Any]) -> None:
        at_ms = int(event.time) or int(time.monotonic() * 1000)
        key, char = str(event.keysym), str(event.char)
        if key in self._extra and not self._typing():
            self._extra_press(key)
            return
        stage = self.scene.picture.stage
        if stage not in ON or (self._typing() and key not in ("Escape", "F2", "F3", *ENTER)):
            if self._keys.fresh(key, at_ms):
                self._elsewhere(key)
            return
        word = self._card() if key in ENTER else None
        if word is None and self._aside_open() and (key in ENTER or key in ("F2", "F3")):
            letters = self._keys.on_batch(key, char, at_ms)
            if letters in WORDS:
                self._shop.key(letters)
            elif letters is None:
                self._elsewhere(key)
            return
        word = word or self._keys.on_batch(key, char, at_ms)
        if word is None:
            if key in ("F2", "F3"):
                self._elsewhere(key)
        elif word == "ask":
            self.root.after(CONFIRM_MS, self._stop_asking)
        elif word == "hold" and key == "Escape":
            self._close_asides()
            if self.scene.picture.held is None:
                self._shop.key("hold")
        else:
            self._shop.key(word)
        self._change(asking=self._keys.asking(at_ms))

    def _elsewhere(self, key: str) -> None:
        """Keys that do not speak to a batch."""
        bench_at_rest = not self.scene.choosing and self.scene.picture.stage not in ON
        if key == "F2":
            self._toggle_closer()
        elif key == "F3" and self.scene.picture.stage in ON:
            self._toggle_noter()
        elif key == "Escape":
            if self._aside_open():
                self._close_asides()
            elif self._wants_next:
                self._wants_next = False
                self._change()
        elif key in ENTER and self._aside_open():
            self._enter_aside()
        elif key in ENTER and self.scene.choosing and self._form is not None:
            self._form.enter()
        elif bench_at_rest and (key == "space" or key in ENTER):
            self._wants_next = True
            self._change()

    def _released(self, event: tk.Event[Any]) -> None:
        key = str(event.keysym)
        self._keys.release(key, int(event.time) or int(time.monotonic() * 1000))
        if key in self._extra and self._extra_down.get(key):
            self._extra_down[key] = False
            self.root.after(RELEASE_MS, lambda: self._extra_release(key))

    def _extra_press(self, key: str) -> None:
        told = key in self._extra_down
        self._extra_down[key] = True
        if not told:
            self._extra[key](True)

    def _extra_release(self, key: str) -> None:
        if self._extra_down.get(key) is False:
            del self._extra_down[key]
            self._extra[key](False)

    def _lost_keyboard(self, event: tk.Event[Any]) -> None:
        if event.widget is self.root:
            self._keys.forget()
            for key in list(self._extra_down):
                self._extra_down[key] = False
                self._extra_release(key)

    def _typing(self) -> bool:
        focus = self.root.focus_get()
        return (
            isinstance(focus, tk.Entry)
            and str(focus.cget("state")) == "normal"
            and bool(focus.winfo_viewable())
        )

    def _card(self) -> str | None:
        """A command card scanned while a text field had the keyboard."""
        focus = self.root.focus_get()
        if isinstance(focus, tk.Entry) and self._typing():
            word = focus.get().strip().lower()
            if word in WORDS:
                focus.delete(0, "end")
                return word
        return None

    def _stop_asking(self) -> None:
        if self.scene.asking:
            self._keys.keep()
            self._change(asking=False)

    # -- asides ----------------------------------------------------------

    def _cups(self) -> tuple[str, ...]:
        return tuple(
            str(c.cup) for c in sorted(self.scene.picture.live_cups, key=lambda c: -c.age_s)
        )

    def ask_close(self, cup: int) -> None:
        """Ask how this live cup ended."""
        self._close_asides()
        if self._closer is None:
            self._closer = Closer(self.root, self._cups)
        self._closer.show(cup, **_CLOSE)

    def _toggle_closer(self) -> None:
        cups = self._cups()
        if (self._closer is not None and self._closer.open) or not cups:
            self._close_asides()
        else:
            self.ask_close(int(cups[0]))

    def _toggle_noter(self) -> None:
        was_open = self._noter is not None and self._noter.open
        self._close_asides()
        if not was_open:
            if self._noter is None:
                self._noter = Noter(self.root)
            self._noter.show(**_NOTE)

    def _aside_open(self) -> bool:
        return any(aside is not None and aside.open for aside in (self._closer, self._noter))

    def _close_asides(self) -> None:
        for aside in (self._closer, self._noter):
            if aside is not None and aside.open:
                aside.hide()
                if self.scene.choosing and self._form is not None:
                    self._form.focus()
                else:
                    self.root.focus_set()

    def _enter_aside(self) -> None:
        if self._closer is not None and self._closer.open:
            self._shop.close_cup(*self._closer.answer())
        elif self._noter is not None and self._noter.field.text:
            self._shop.key("note", self._noter.field.text)
        self._close_asides()

    # -- beginning and end -----------------------------------------------

    def _start(self, request: Request) -> None:
        self._change(trouble="")
        self._shop.start(request)

    def _report(self, kind: type[BaseException], error: BaseException, trace: object) -> None:
        """An error in this window: one line on stderr, one sentence on the screen, and on."""
        if issubclass(kind, KeyboardInterrupt):
            self.leave("interrupted")
            return
        text = f"{kind.__name__}: {error}".replace("\n", " ")
        if text != self.scene.trouble:
            print(f"cupside: the window had trouble: {text}", file=sys.stderr)
            self.scene = replace(self.scene, trouble=text)
            self.root.after(1, self._show)

    def leave(self, why: str) -> None:
        """Tell the shop and go."""
        if self._gone:
            return
        self._gone = True
        try:
            self._shop.stop(why)
        finally:
            self.root.destroy()

    def run(self) -> Picture:
        """Until the window is closed; the last picture."""
        try:
            self.root.mainloop()
        except KeyboardInterrupt:
            self.leave("interrupted")
        finally:
            # The window went in some other way, such as with its screen.
            if not self._gone:
                self._gone = True
                self._shop.stop("the window was lost")
        return self._shop.picture()


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
    window closes by itself some four seconds after the batch is live or ended.
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
