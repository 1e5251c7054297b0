"""Somebody who works the jugs of the simulated bench in person, by keys or typed words.

Nothing here waits for the bench: every doing is queued, so that a window may call it.
Must never touch the program's own keys: going on, holding and dropping are done as at
a real bench.
"""

from __future__ import annotations

import queue
import re
import sys
import threading
from collections.abc import Iterable, Iterator

from mixer.app import words
from mixer.app.picture import Picture
from mixer.practice.hands import CAREFUL, Action

CUP_G = 12.0
POUR_G_S = CAREFUL.warm.fastest_g_s
EASE_G_S = sum(CAREFUL.ease_g_s) / 2
LONGEST_S = 60.0

WORDS = "cup (on or off), pour 5s, ease 2s, an empty line to shut the jug"
_RATES = {"pour": POUR_G_S, "ease": EASE_G_S}


class Visitor:
    """The jug is the one that the picture calls for, and stays the same until it is shut.

    A visitor outlives the benches: each batch has a new one. Streams in grams a second.
    """

    def __init__(self) -> None:
        self._picture = Picture()
        self.arrive(1.0)

    # -- what the bench calls ----------------------------------------------------------

    def arrive(self, speed: float) -> None:
        """A new bench, its clock so much faster than real: no cup on it, all jugs shut."""
        self._speed = speed
        self._doings: queue.Queue[Action | None] = queue.Queue()
        self._cup = "cup"  # the next move of the cup: cup, lift or return
        self._jug: str | None = None  # the one that is open
        self._timer: threading.Timer | None = None

    def has_put_cup(self) -> None:
        """There is a cup on the pan already."""
        self._cup = "lift"

    def see(self, picture: Picture) -> None:
        """What is shown from now on."""
        self._picture = picture

    def doings(self) -> Iterator[Action]:
        """What the visitor does, each as it is done, until :meth:`leave`."""
        return iter(self._doings.get, None)

    def leave(self) -> None:
        """No more doings at this bench."""
        self._forget_timer()
        self._doings.put(None)

    # -- what the visitor does ---------------------------------------------------------

    def pour(self, rate_g_s: float = POUR_G_S) -> None:
        """Open the called jug, or tilt the open one to this stream; nothing if none is called.

        >>> visitor = Visitor()
        >>> visitor.see(Picture(stage="pour", component="resin"))
        >>> visitor.pour(); visitor.shut(); visitor.leave(); list(visitor.doings())
        [{'do': 'pour', 'jug': 'resin', 'rate_g_s': 8.0}, \
{'do': 'pour', 'jug': 'resin', 'rate_g_s': 0.0}]
        """
        self._forget_timer()
        self._jug = self._jug or self._picture.component
        if self._jug is not None:
            self._doings.put({"do": "pour", "jug": self._jug, "rate_g_s": rate_g_s})

    def shut(self) -> None:
        """Tip the open jug back. It drips on for a while, as jugs do."""
        self._forget_timer()
        jug, self._jug = self._jug, None
        if jug is not None:
            self._doings.put({"do": "pour", "jug": jug, "rate_g_s": 0.0})

    def move_cup(self) -> None:
        """Put an empty cup on the scale; after that, lift it and put it back in turn."""
        doing: Action = {"do": self._cup}
        if self._cup == "cup":
            doing["mass_g"] = CUP_G
        self._doings.put(doing)
        self._cup = "return" if self._cup == "lift" else "lift"

    def _forget_timer(self) -> None:
        timer, self._timer = self._timer, None
        if timer is not None:
            timer.cancel()

    # -- the same by typed words -------------------------------------------------------

    def listen(self, lines: Iterable[str]) -> Iterator[str]:
        """Do what the lines say, and hand on those that are for the program.

        Where the lines end before the pouring does, nobody is there to go on: the last
        word is then ``drop``.
        """
        for line in lines:
            word, _, more = line.strip().partition(" ")
            if word in words.WORDS:
                yield line
            elif said := self._hear(word, more):
                print(said, file=sys.stderr)
        if self._picture.stage not in ("stir", "live", "ended"):
            yield "drop"

    def _hear(self, word: str, more: str) -> str:
        if word == "cup" and not more:
            if self._picture.stage == "ready":  # the pan must be seen empty first
                return "The scale is not ready yet: type cup when it is asked for."
            self.move_cup()
        elif not word:
            self.shut()
        elif word in _RATES:
            said = re.fullmatch(r"(\d{1,3}(?:\.\d{1,3})?)\s*s?", more.strip(), re.ASCII)
            for_s = float(said[1]) if said else 0.0
            if not 0 < for_s <= LONGEST_S:
                return f"{word}: for how long? Type such as {word} 5s, at most {LONGEST_S:g} s."
            if self._jug is None and self._picture.component is None:
                return "No jug is called yet: put the cup on the scale and wait."
            self.pour(_RATES[word])
            self._timer = threading.Timer(for_s / self._speed, self.shut)
            self._timer.start()
        else:
            return f"{word[:20]!r} is no word here: {WORDS}; {words.KNOWN}."
        return ""
