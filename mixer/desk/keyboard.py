"""Where each key goes: to the batch, to the fields, or to a small box over the window.

Written as one table (:meth:`Keyboard._mean`). While somebody types into a field, a
letter, a blank and Delete belong to the field alone, and Escape only leaves the box.
A command card or a tag scanned into a field still counts. Where the weights are typed in,
digits, BackSpace and the arrows are of the figure, which goes along with the word that ends it.
While a batch is split, letters and Enter are the name of a filler; before the cup and in the
stir that of a component, whose jug is to be weighed. Where dry cloth is asked for all that is
typed is a line, its weight as a rule, and none of its blanks is the pedal.
"""

from __future__ import annotations

import time
import tkinter as tk
from typing import TYPE_CHECKING, Any

from mixer.app.picture import Display, Picture
from mixer.app.words import is_kit, tag_in
from mixer.desk.backstage import ON
from mixer.desk.held import HeldKeys
from mixer.desk.into import Into
from mixer.desk.keys import COMMANDS, CONFIRM_MS, ENTER, WAS, Keys
from mixer.desk.line import Line, cloth_in
from mixer.desk.typed import STEPS, Typing

if TYPE_CHECKING:
    from mixer.desk.window import Window

SHIFT = 1  # Tk's bit for it
FOREIGN = 8  # so many characters and Enter are a code that somebody scanned (our choice)
_EVEN_TYPING = ("Escape", "F2", "F3", "F4", "F5", "F6", "F7", "F8", "F9", *ENTER)


class Keyboard:
    """The keyboard of one window, with pedal and scanner, which look like one."""

    def __init__(self, window: Window, held: HeldKeys) -> None:
        self._window = window
        self._held = held
        self._keys = Keys()
        self._typing = Typing()
        self._line = Line()
        root = window.root
        self._into = Into(root)
        root.bind("<KeyPress>", self._pressed)
        root.bind("<KeyRelease>", self._released)
        root.bind("<FocusOut>", self._lost)

    def keep(self) -> None:
        """The batch is kept, or is no longer there to be dropped."""
        self._keys.keep()

    def _pressed(self, event: tk.Event[Any]) -> None:
        at_ms = _time_ms(event)
        key, char = str(event.keysym), str(event.char)
        field = self._typed_into()
        if field is None and key in self._held:
            self._held.press(key)
            return
        if field is None and self._is_of_figure(event, at_ms):
            self._window.change(asking=False, typed=self._typing.text)
            return
        if field is None and self._is_of_line(key, char, at_ms):
            self._window.change(asking=self._keys.asking(at_ms))
            return
        text = "" if field is None else field.get().strip().lower()
        if not "drop".startswith(text):
            self._keys.keep()  # somebody types on: that is no answer to the question
        if field is not None and key not in _EVEN_TYPING:
            self._keys.fresh(key, at_ms)
        else:
            word = self._keys.word(key, char, at_ms)
            card = self._card_in(text, at_ms) if key in ENTER else ""
            if field is not None and card:
                self._into.take_out(field, card)
                window = self._window
                starts = card == "go" and window.scene.choosing and not window.asides.open
                word = self._keys.card(card, at_ms) if word == "enter" and not starts else word
            if word is not None:
                self._mean(word)
        if self._on():
            self._window.change(asking=self._keys.asking(at_ms))
        else:
            self._keys.keep()

    def _mean(self, word: str) -> None:
        window, scene = self._window, self._window.scene
        asides = window.asides
        match word:
            case "close":
                asides.toggle_closer()
            case "note" if self._on():
                asides.toggle_noter()
            case "air" if self._on() or scene.picture.live_cups:
                asides.toggle_airer()
            case "thick":
                asides.toggle_thickener()
            case "escape" | "enter" if asides.open:
                asides.enter() if word == "enter" else asides.close()
            case "enter" if scene.choosing:
                window.start_as_filled_in()
            case "go" | "enter" if not self._on() and not scene.choosing:
                window.want_next(True)
            case "escape" if not self._on():
                window.want_next(False)
            case "go" if self._line.text:
                window.root.bell()  # a pedal or a card beside a line that nobody has ended
            case "escape" if self._line.text:
                self._line.take()
            case "ask" if self._on():
                window.root.after(CONFIRM_MS, self._stop_asking)
            case "escape" if scene.picture.held is None:  # Space goes on, Escape never does
                window.shop.key("hold")
            case "enter" if self._wanted() is not None and self._typing.ready:
                window.shop.key("go", self._typing.send())
            case "go" | "use" | "part" if self._wanted() is not None:
                window.shop.key(word, self._typing.send())
            case "go" | "hold" | "use" | "part" | "drop" | "split" | "moved" if self._on():
                window.shop.key(word)
            case "next" if not self._on():
                window.want_next(True)
            case "next":  # it is said that this is no time for it
                window.shop.key("next")
            case "usedup":
                asides.used_up()
            case "typed":  # that is said: who typed it goes by it
                window.shop.key(word, self._keys.read)
            case "" if scene.picture.stage in ("cup", "stir") and self._is_component():
                window.shop.key("weigh", self._keys.read)
            case "" if self._on() and self._keys.read.startswith(f"{WAS} "):
                window.shop.key(WAS, self._keys.read.removeprefix(f"{WAS} "))
            case "" if scene.picture.stage == "split" and not self._is_tag():
                window.shop.key("filler", self._keys.read)
            case "" if scan := self._scanned(self._keys.read):
                window.shop.key("jug", scan)
                if not self._on() and is_kit(scan):
                    window.want_kit()

    def follow(self, picture: Picture) -> str:
        """The figure or line that is being typed, at this picture."""
        self._typing.follow(picture.display if picture.stage in ON else None)
        self._line.follow(_asks_cloth(picture))
        return self._line.text or self._typing.text

    def pad(self, key: str, at_ms: int) -> None:
        """A button of the pad on the screen: a key of the same name, or ``go``."""
        if not self._keys.fresh(f"pad {key}", at_ms):
            return
        self._keys.keep()
        display = self._wanted()
        if key == "go":
            word = self._keys.card("go", at_ms)
            if word is not None:
                self._mean(word)
        elif display is not None:
            self._edit(key, key, at_ms, display)
        self._window.change(asking=False, typed=self._typing.text)

    def pad_released(self, key: str, at_ms: int) -> None:
        self._keys.release(f"pad {key}", at_ms)

    def _wanted(self) -> Display | None:
        """The display that a figure is to be typed off now."""
        display = self._window.scene.picture.display
        return display if self._on() and display is not None and display.wanted else None

    def _is_of_figure(self, event: tk.Event[Any], at_ms: int) -> bool:
        """Whether this key is for the figure, and what it makes of it."""
        display = self._wanted()
        key, char = str(event.keysym), str(event.char)
        if display is None or self._window.asides.open:
            return False
        if key in ENTER and (scan := self._keys.scanned(at_ms))[1]:
            self._typing.put_back(scan[0])
            self._window.change(typed=self._typing.text)
        if label := self._typing.label(key, char, at_ms):
            self._keys.begin_card(label, at_ms)
            self._window.change(typed=self._typing.text)
            return False
        digit = self._typing.character(key, char)
        if digit and not (self._keys.scanning(at_ms) or self._keys.says_was(at_ms)):
            self._keys.keep()
            self._typing.put(digit, at_ms, new=self._keys.fresh(key, at_ms), read=char)
            return True
        if key not in ("BackSpace", *STEPS):
            return False
        self._keys.keep()
        if self._keys.fresh(key, at_ms):
            coarse = int(event.state) & SHIFT and key in ("Up", "Down")
            self._edit({"Up": "Prior", "Down": "Next"}[key] if coarse else key, "", at_ms, display)
        return True

    def _is_of_line(self, key: str, char: str, at_ms: int) -> bool:
        """Whether this key is for the line where dry cloth is asked for, and what it makes of
        it."""
        line = self._line
        if not _asks_cloth(self._window.scene.picture) or self._window.asides.open:
            return False
        if key == "BackSpace":
            if self._keys.fresh(key, at_ms):
                line.back()
            if not line.text:
                self._keys.begin_card("", at_ms)
            return True
        if key in ENTER:
            return self._ends_line(key, at_ms)
        char = line.character(key, char)
        if not char or (char == " " and not line.text and not self._keys.begun(at_ms)):
            return False
        line.put(char, at_ms, new=self._keys.fresh(key, at_ms))
        self._keys.letter(char, at_ms)
        return True

    def _ends_line(self, key: str, at_ms: int) -> bool:
        """Enter: a scan goes where every scan does, and so does a word; a weight of cloth, and
        what is neither, to the bench."""
        if card := self._keys.scanned(at_ms)[1]:
            self._line.take_out(card)
            return False
        if scan := self._line.scanned(at_ms):
            self._keys.begin_card(scan, at_ms)
            return False
        text = self._line.take()
        if text.lower() in COMMANDS:
            self._keys.begin_card(text.lower(), at_ms)
            return False
        if not text:
            return False
        tag = tag_in(self._keys.read) if self._keys.word(key, "", at_ms) == "" else ""
        self._window.shop.key("jug" if tag else "kit", tag or cloth_in(text) or text)
        return True

    def _edit(self, key: str, char: str, at_ms: int, display: Display) -> None:
        if key == "BackSpace":
            if self._typing.back():
                self._window.shop.key("shows", "")
        elif key in STEPS:
            division_ug = self._window.scene.picture.division_ug or 100_000
            self._typing.step(STEPS[key], display, division_ug)
        else:
            self._typing.put(char, at_ms)

    def _card_in(self, text: str, at_ms: int) -> str:
        """The card or tag in a field: a tag of ours, wherever the cursor stood, and a card that
        no hand has typed, too; one of the resin's only where nothing stands before it, and not
        what may be a figure."""
        if ours := tag_in(self._into.typed) or tag_in(text):
            return ours
        tags = self._window.scene.picture.tags if self._on() else ()
        card = self._into.scanned(at_ms, (*COMMANDS, *tags))
        of_batch = card == text and not _is_figure(card)
        return card if card in COMMANDS or of_batch else ""

    def _scanned(self, text: str) -> str:
        """What is answered of a card that is no command: one that is no tag of the resin's is
        said too; a key that was hit before a tag of ours is no part of it."""
        tags = self._window.scene.picture.tags
        looked_at = self._on() and (bool(tags) or len(text) >= FOREIGN)
        return text if text in tags else tag_in(text) or (text if looked_at else "")

    def _is_tag(self) -> bool:
        """Whether it is a tag of the resin's or of ours, and no word."""
        return self._keys.read in self._window.scene.picture.tags or bool(tag_in(self._keys.read))

    def _is_component(self) -> bool:
        """Whether the letters before Enter are the name of what a jug holds."""
        rows = self._window.scene.picture.rows
        return self._keys.read in [row.name.lower() for row in rows] and not self._is_tag()

    def _on(self) -> bool:
        return self._window.scene.picture.stage in ON

    def _released(self, event: tk.Event[Any]) -> None:
        key = str(event.keysym)
        self._keys.release(key, _time_ms(event))
        self._held.release(key)

    def _lost(self, event: tk.Event[Any]) -> None:
        if event.widget is self._window.root:
            self._keys.forget()
            self._held.forget()

    def _typed_into(self) -> tk.Entry | None:
        """The field that letters go into, if there is one."""
        focus = self._window.root.focus_get()
        if not isinstance(focus, tk.Entry) or not focus.winfo_viewable():
            return None
        return focus if str(focus.cget("state")) == "normal" else None

    def _stop_asking(self) -> None:
        if self._window.scene.asking:
            self._keys.keep()
            self._window.change(asking=False)


def _asks_cloth(picture: Picture) -> bool:
    return picture.asks_cloth and picture.stage in ON


def _is_figure(text: str) -> bool:
    return text.replace(".", "").isdigit()


def _time_ms(event: tk.Event[Any]) -> int:
    return int(event.time) or int(time.monotonic() * 1000)
