"""What the window needs of the program behind it, and no more.

The window knows the app through this protocol only, so that a test can hand it a
made-up bench. Nothing here may block, but for :meth:`Shop.stop`.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

from mixer.app.picture import Picture
from mixer.app.request import Choices, Request

#: Stages in which a batch is on: Space, Escape and the command cards act.
ON = ("cup", "pour", "stir", "split")


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
        """``"go"``, ``"hold"``, ``"drop"``, ``"split"``, ``"moved"``, ``"note"`` with its text,
        ``"jug"`` with the tag that was scanned, ``"filler"``, ``"weigh"`` or ``"was"`` with a name,
        ``"air"`` with its temperature or ``"thick"`` with the cup, and ``"next"`` or
        ``"usedup"`` where they mean nothing, for the sentence, as ``"typed"`` with a word that
        stands for a card and was typed by hand; with ``"go"``, ``"use"`` and
        ``"part"`` goes the figure off a scale with no cable, if one was typed."""
        ...

    def close_cup(self, cup: int, how: str, left: str | None) -> None:
        """Close a live cup: ``how`` is ``"left"`` (``left="9g"``), ``"used-up"``, ``"discard"``;
        or ``"share"``: so much of it, ``left``, is in a cup of its own."""
        ...

    def stop(self, why: str, *, to_go_on: bool = False) -> None:
        """The window goes away; the journal says why, and with ``to_go_on`` a pour stays open
        for the next start. May wait for a disk, at most ten seconds."""
        ...
