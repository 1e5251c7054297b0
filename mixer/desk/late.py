"""The window first, the program behind it a moment later.

Loading the program takes longer than drawing the window, so it is loaded when the
window stands. Until then there is a shop that shows an empty picture and keeps what it
is asked for.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Generic, TypeVar

from mixer.app.picture import Picture
from mixer.app.request import Choices, Request
from mixer.desk.backstage import Shop
from mixer.desk.window import open_window

S = TypeVar("S", bound=Shop)


class LateShop(Generic[S]):
    """A shop that ``open_shop`` makes, already started, when :meth:`open` is called."""

    def __init__(self, open_shop: Callable[[], S]) -> None:
        self._open_shop = open_shop
        self._asked: Request | None = None
        self._on_change: Callable[[], None] = lambda: None
        self._nothing_yet = Picture()
        self.shop: S | None = None

    def open(self) -> None:
        """Make the shop, and hand on the batch that was asked for meanwhile."""
        self.shop = self._open_shop()
        self.shop.on_change(self._on_change)
        self._on_change()
        if self._asked is not None:
            self.shop.start(self._asked)

    def picture(self) -> Picture:
        """See :class:`Shop`, as for all that follows."""
        return self.shop.picture() if self.shop else self._nothing_yet

    def on_change(self, call: Callable[[], None]) -> None:
        self._on_change = call

    def choices(self) -> Choices:
        return self.shop.choices() if self.shop else Choices((), (), (), ())

    def start(self, request: Request) -> None:
        if self.shop:
            self.shop.start(request)
        else:
            self._asked = request

    def key(self, word: str, text: str = "") -> None:
        if self.shop:
            self.shop.key(word, text)

    def close_cup(self, cup: int, how: str, left: str | None) -> None:
        if self.shop:
            self.shop.close_cup(cup, how, left)

    def stop(self, why: str, *, to_go_on: bool = False) -> None:
        if self.shop:
            self.shop.stop(why, to_go_on=to_go_on)


def open_window_first(
    open_shop: Callable[[], S], request: Request | None = None, **options: Any
) -> S | None:
    """:func:`open_window` on a shop that is made once the window stands.

    The shop, stopped; ``None`` where the window was closed before it was made.
    """
    late = LateShop(open_shop)
    open_window(late, request, on_first_drawn=late.open, **options)
    return late.shop
