"""A screen for all tests of the window."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from support.benches import EASE
from support.desk import Desk, FakeShop, Opener
from support.screen import own_screen

from mixer.app.picture import Picture


@pytest.fixture(scope="session")
def own_display() -> Iterator[str]:
    yield from own_screen()


@pytest.fixture
def screen(own_display: str, monkeypatch: pytest.MonkeyPatch) -> str:
    """The display's name; programs that the test starts open their windows there."""
    monkeypatch.setenv("DISPLAY", own_display)
    return own_display


@pytest.fixture
def opened(screen: str) -> Iterator[Opener]:
    """Opens a window on a picture; it goes with the test."""
    open_ones: list[Desk] = []

    def opener(picture: Picture = EASE, **options: object) -> tuple[Desk, FakeShop]:
        shop = FakeShop(picture)
        open_ones.append(Desk(screen, shop, None, **options))
        return open_ones[0], shop

    yield opener
    open_ones[0].end()
