"""The keys with which a visitor pours at the simulated bench, in the window.

Arrow keys, because a scanned card or a pedal never sends them.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from mixer.app.bench.visitor import EASE_G_S, POUR_G_S, Visitor

HELP = "Hold ↓ pour, → gently; ↑ cup on/off"
_RATES = {"Down": POUR_G_S, "Right": EASE_G_S}


def keys(visitor: Visitor) -> dict[str, Callable[[bool], None]]:
    """What each key does when it goes down (``True``) and comes up.

    Of two that are held the later counts; letting go of it brings the other back.

    >>> sorted(keys(Visitor()))
    ['Down', 'Right', 'Up']
    """
    held: list[float] = []

    def pour(rate_g_s: float, down: bool) -> None:
        if rate_g_s in held:
            held.remove(rate_g_s)
        if down:
            held.append(rate_g_s)
        if held:
            visitor.pour(held[-1])
        else:
            visitor.shut()

    def cup(down: bool) -> None:
        if down:
            visitor.move_cup()

    return {"Up": cup, **{key: partial(pour, rate) for key, rate in _RATES.items()}}
