"""A screen for all tests of the window."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from support.screen import own_screen


@pytest.fixture(scope="session")
def own_display() -> Iterator[str]:
    yield from own_screen()


@pytest.fixture
def screen(own_display: str, monkeypatch: pytest.MonkeyPatch) -> str:
    """The display's name; programs that the test starts open their windows there."""
    monkeypatch.setenv("DISPLAY", own_display)
    return own_display
