"""The board on which the newest picture hangs: one writes, any number of faces look."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import replace
from typing import Any

from mixer.app.picture import Picture

#: An equal picture within this time is no news. Not longer: a script is promised five lines
#: a second while the weight changes, however slowly the scale speaks.
SAME_S = 0.1


class Board:
    """``newest`` never waits, and is the same object until something changed or a tenth
    of a second is over.

    >>> board = Board(Picture(say="Choose."))
    >>> board.publish(Picture(say="Pour."), t_s=2.5)
    >>> board.publish(Picture(say="Pour."), t_s=2.55)
    >>> shown = board.wait(0, timeout_s=1.0)
    >>> shown.say, shown.serial, shown.t_s
    ('Pour.', 1, 2.5)
    """

    def __init__(self, first: Picture) -> None:
        self.newest = first
        self.on_change: Callable[[], None] = lambda: None  # called after each change
        self._changed = threading.Condition()

    def publish(self, picture: Picture, t_s: float, **more: Any) -> None:
        """Hang it up with what ``more`` is seen, numbered and stamped with the time in seconds;
        wake who waits."""
        with self._changed:
            last = self.newest
            picture = replace(picture, serial=last.serial + 1, t_s=t_s, **more)
            if picture == last and t_s - last.t_s < SAME_S:
                return
            self.newest = picture
            self._changed.notify_all()
        self.on_change()

    def wait(self, serial: int, timeout_s: float) -> Picture:
        """The newest, as soon as it is newer than ``serial``, or after the real time."""
        with self._changed:
            self._changed.wait_for(lambda: self.newest.serial > serial, timeout_s)
        return self.newest
