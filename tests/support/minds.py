"""Who thinks in the place of the other process: nobody, or this very process at once."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from mixer.app.life.seer import Seer


class Nobody(Seer):
    """Is asked, and never answers: for tests of which no forecast is a part."""

    def ask(self, key: Any, think: Callable[[], Any]) -> None:
        pass


class Here:
    """Thinks in the thread that asks."""

    def think(self, call: Callable[[], Any]) -> Any:
        return call()

    def rest(self) -> None:
        pass


class AtOnce(Seer):
    """Has answered when it is asked, so that a test in virtual time goes by no other thread."""

    def ask(self, key: Any, think: Callable[[], Any]) -> None:
        try:
            self._told.append((key, think()))
        except Exception as error:
            self._told.append((key, error))
