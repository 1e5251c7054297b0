"""What the window needs of the program behind it, and no more.

The window knows the app through this protocol only, so that a test can hand it a
made-up bench. Nothing here may block, but for :meth:`Shop.stop`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Protocol

from mixer.app.picture import Picture
from mixer.app.request import Choices, Request

#: Stages in which a batch is on: Space, Escape and the command cards act.
ON = ("cup", "pour", "stir")


def believed(p: Picture) -> Picture:
    """The picture without the masses that nobody can vouch for just now.

    While a pour is held because its weight cannot be followed, as with the cup off the
    scale, gross minus tare is no content of any cup.

    >>> believed(Picture(held="lifted", net_ug=-70_400_000)).net_ug is None
    True
    >>> believed(Picture(held="by-hand", net_ug=9_500_000)).net_ug
    9500000
    """
    if p.held is None or p.held == "by-hand":
        return p
    rows = tuple(replace(r, net_ug=None) if r.name == p.component else r for r in p.rows)
    return replace(p, net_ug=None, total_ug=None, rows=rows)


class Shop(Protocol):
    """The program as the window sees it; every method is called from the window's thread."""

    def picture(self) -> Picture:
        """The newest picture. The same object until something changed."""
        ...

    def on_change(self, call: Callable[[], None]) -> None:
        """From now on call this, from whatever thread, when there is a newer picture."""
        ...

    def choices(self) -> Choices:
        """The names that can be chosen. Cheap: asked again at each arrow key."""
        ...

    def start(self, request: Request) -> None:
        """Begin a batch. A refusal shows as ``picture.say`` at stage ``ready``."""
        ...

    def key(self, word: str, text: str = "") -> None:
        """``"go"``, ``"hold"``, ``"drop"``, or ``"note"`` with its text."""
        ...

    def close_cup(self, cup: int, how: str, left: str | None) -> None:
        """Close a live cup: ``how`` is ``"left"`` (``left="9g"``), ``"used-up"``, ``"discard"``."""
        ...

    def stop(self, why: str) -> None:
        """The window goes away; the journal says why. May wait for a disk, at most ten seconds."""
        ...
