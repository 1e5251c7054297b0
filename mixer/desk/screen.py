"""Whether there is a screen, and the bare window on it.

Opening a window takes longer than all that is done before it, so the one that was opened
to find out is the one that is used.
"""

from __future__ import annotations

try:
    import tkinter
except ImportError:  # some systems have Python without it: there is the terminal
    HAS_TK = False
else:
    HAS_TK = True

_kept: list[tkinter.Tk] = []


def has_screen() -> bool:
    """Whether a window can be opened here. What was opened for it is kept for :func:`root`."""
    if not HAS_TK:
        return False
    try:
        _kept.append(root())
    except tkinter.TclError:
        return False
    return True


def root() -> tkinter.Tk:
    """A bare window that nobody sees before its loop runs; TclError where there is no screen."""
    return _kept.pop() if _kept else tkinter.Tk(className="Cupside")
