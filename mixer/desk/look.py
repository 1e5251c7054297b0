"""Colours, type sizes and shapes: how the window looks, in one place.

Light paper, dark ink. A state is never told by colour alone: each has its word and
its shape. Sizes are pixels of a window of 1024 by 600 and grow with it.
"""

from __future__ import annotations

import tkinter as tk

BASE_WIDTH = 1024
BASE_HEIGHT = 600

PAPER = "#f6f4ee"  # the ground
SHEET = "#ffffff"  # where figures stand
INK = "#14202b"  # all that matters
QUIET = "#4f5c68"  # captions; 6 to 1 on paper
LINE = "#cbc6ba"  # rules, the cup's empty inside
POURED = "#6f9fb8"  # the component being poured
EARLIER = "#b9c4c9"  # what was in the cup before it
BAND = "#e3ead2"  # the ground of the acceptance band

_family: str | None = None

#: One shape a cue, in a square of 100 by 100. Read from the corner of an eye.
CUE_SHAPES: dict[str, tuple[tuple[int, ...], ...]] = {
    # the outline of a cup
    "place": ((12, 14, 26, 14, 34, 76, 66, 76, 74, 14, 88, 14, 76, 90, 24, 90),),
    # an empty pan, and what lay there going off to both sides
    "clear": (
        (6, 78, 94, 78, 94, 90, 6, 90),
        (4, 42, 28, 18, 28, 34, 44, 34, 44, 50, 28, 50, 28, 66),
        (96, 42, 72, 18, 72, 34, 56, 34, 56, 50, 72, 50, 72, 66),
    ),
    # from one cup into two
    "share": (
        (30, 6, 70, 6, 64, 38, 36, 38),
        (4, 58, 44, 58, 38, 92, 10, 92),
        (56, 58, 96, 58, 90, 92, 62, 92),
    ),
    # grains into a cup
    "fill": (
        (10, 48, 24, 48, 32, 80, 68, 80, 76, 48, 90, 48, 78, 94, 22, 94),
        (30, 8, 42, 8, 42, 20, 30, 20),
        (56, 4, 68, 4, 68, 16, 56, 16),
        (44, 28, 56, 28, 56, 40, 44, 40),
    ),
    # wide arrow down
    "pour": ((34, 8, 66, 8, 66, 48, 92, 48, 50, 94, 8, 48, 34, 48),),
    # thin arrow down
    "ease": ((44, 8, 56, 8, 56, 62, 74, 62, 50, 94, 26, 62, 44, 62),),
    # drops, and a thin arrow's tip
    "trickle": (
        (45, 6, 55, 6, 55, 22, 45, 22),
        (45, 34, 55, 34, 55, 50, 45, 50),
        (50, 94, 30, 62, 70, 62),
    ),
    # an arrow up from the pan
    "lift": (
        (6, 82, 94, 82, 94, 94, 6, 94),
        (50, 6, 88, 46, 64, 46, 64, 72, 36, 72, 36, 46, 12, 46),
    ),
    # full square
    "stop": ((12, 12, 88, 12, 88, 88, 12, 88),),
    # hourglass
    "wait": ((16, 8, 84, 8, 50, 50), (50, 50, 84, 92, 16, 92)),
    # tick
    "in-band": ((8, 52, 24, 36, 42, 56, 78, 14, 94, 28, 42, 88),),
    # arrow up through a bar
    "over": (
        (50, 4, 80, 38, 20, 38),
        (8, 50, 92, 50, 92, 64, 8, 64),
        (40, 72, 60, 72, 60, 96, 40, 96),
    ),
    # arrow to the right
    "next": ((6, 36, 50, 36, 50, 10, 94, 50, 50, 90, 50, 64, 6, 64),),
    # a cup, and a part of it beside it
    "part": (
        (4, 30, 60, 30, 52, 94, 12, 94),
        (66, 62, 96, 62, 92, 94, 70, 94),
        (62, 8, 92, 8, 92, 30, 100, 30, 82, 52, 64, 30, 78, 30, 78, 20, 62, 20),
    ),
    # stick in a cup
    "stir": ((14, 44, 86, 44, 76, 94, 24, 94), (66, 2, 78, 8, 60, 38, 46, 38)),
    # triangle
    "go": ((18, 8, 92, 50, 18, 92),),
}

#: Cues that turn the whole cue panel dark: act now.
LOUD = frozenset({"stop", "over"})


def font(px: float, bold: bool = False) -> tuple[str, int] | tuple[str, int, str]:
    """A font description of that many pixels, in the system's own face for windows."""
    global _family
    if _family is None:
        root = tk._get_default_root("font")  # type: ignore[attr-defined]
        _family = str(root.tk.call("font", "actual", "TkDefaultFont", "-family"))
    size = -max(7, round(px))
    return (_family, size, "bold") if bold else (_family, size)


def scale_of(widget: tk.Misc) -> float:
    """How much larger than 1024 by 600 the window is."""
    top = widget.winfo_toplevel()
    return min(top.winfo_width() / BASE_WIDTH, top.winfo_height() / BASE_HEIGHT)
