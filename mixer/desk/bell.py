"""Wakes the window from another thread, so that it need not look all the time.

Tk belongs to its own thread. A byte in a pipe that its loop waits for anyway is the one
safe way in; where a system cannot wait so (Windows), the window looks often instead.
"""

from __future__ import annotations

import _tkinter
import contextlib
import os
import signal
import threading
import tkinter as tk
from collections.abc import Callable

LOOK_MS = 15  # where there is no pipe to wait for


class Bell:
    """``answer`` is called in the window's thread soon after each :meth:`ring`; once for
    several that came together. Where there is no pipe it is called every 15 ms. A signal rings
    too: Python heeds it in the window's thread, which Tk may hold for as long as nothing else
    happens."""

    def __init__(self, root: tk.Tk, answer: Callable[[], None]) -> None:
        self._root, self._answer = root, answer
        self._ears = self._cord = self._signals = -1
        self._next_look = ""
        self._lock = threading.Lock()  # nobody may pull a cord whose number was given away
        if hasattr(root, "createfilehandler"):
            self._ears, self._cord = os.pipe()
            os.set_blocking(self._ears, False)
            os.set_blocking(self._cord, False)
            root.createfilehandler(self._ears, tk.READABLE, self._heard)
            if threading.current_thread() is threading.main_thread():
                self._signals = signal.set_wakeup_fd(self._cord, warn_on_full_buffer=False)
        else:
            self._look()

    def ring(self) -> None:
        """From any thread; never waits."""
        with self._lock, contextlib.suppress(BlockingIOError):  # full: it rings already
            if self._cord >= 0:
                os.write(self._cord, b"!")

    def _heard(self, file: object, mask: int) -> None:
        with contextlib.suppress(BlockingIOError):
            os.read(self._ears, 4096)
        self._answer()
        # Tk draws once it is idle, which it finds out by a round through a thread of its own.
        self._root.tk.dooneevent(_tkinter.IDLE_EVENTS)

    def _look(self) -> None:
        self._next_look = self._root.after(LOOK_MS, self._look)
        self._answer()

    def close(self) -> None:
        """No more answers. Before the window is destroyed."""
        if self._next_look:
            self._root.after_cancel(self._next_look)
        with self._lock:
            if self._cord >= 0:
                if threading.current_thread() is threading.main_thread():
                    signal.set_wakeup_fd(self._signals)
                self._root.deletefilehandler(self._ears)
                os.close(self._ears)
                os.close(self._cord)
                self._cord = -1
