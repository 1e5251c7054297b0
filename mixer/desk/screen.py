"""Whether there is a screen to open a window on."""

from __future__ import annotations

import tkinter


def has_screen() -> bool:
    """Try the smallest window there is."""
    try:
        tkinter.Tk().destroy()
    except tkinter.TclError:
        return False
    return True
