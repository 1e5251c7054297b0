"""What is asked of the seer, asked again where it gave no answer.

The other process may die, or never come back. A cup is warned of all the same, so that whoever
asked is told of a failure as soon as there is one, and of an answer whenever it comes. Must never
wait, nor ask without end for what cannot be had.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from mixer.app.life.seer import Seer

#: How long after each failure it is asked again; after the last there is no answer (our choice).
AGAIN_S = (5.0, 30.0, 120.0, 600.0)
LATE_S = 30.0  # from then on what has not been answered is told as a failure too (our choice)

#: What it is, of which, and the question itself; a new question about the same takes its place.
Key = tuple[str, Any, Any]


@dataclass(frozen=True, slots=True)
class _Open:
    key: Key
    think: Callable[[], Any]
    asked_s: float
    failures: int = 0
    again_s: float | None = None  # when it is to be asked again; None while it is thought out
    told_late: bool = False


class Asking:
    """``age_s`` is the clock that it goes by."""

    def __init__(self, seer: Seer, age_s: Callable[[], float]) -> None:
        self._seer, self._age_s = seer, age_s
        self._open: dict[tuple[str, Any], _Open] = {}

    def ask(self, key: Key, think: Callable[[], Any]) -> None:
        """Never waits. What it raises is its result (see :meth:`take`)."""
        self._open[key[:2]] = _Open(key, think, self._age_s())
        self._seer.ask(key, think)

    def has(self, key: Key) -> bool:
        """Whether it was asked, and was not answered yet, or failed too often."""
        one = self._open.get(key[:2])
        return one is not None and one.key == key

    def pending(self) -> list[Key]:
        """What is being thought out."""
        return [one.key for one in self._open.values() if one.again_s is None]

    def take(self) -> list[tuple[Key, Any]]:
        """What was answered, or failed once more; what failed is asked again when it is time. Of
        what nobody wants to know any more nothing. Never waits."""
        found, now_s = [], self._age_s()
        for key, result in self._seer.take():
            one = self._open.get(key[:2])
            if one is None or one.key != key:
                continue
            found.append((key, result))
            if isinstance(result, Exception):
                after_s = (*AGAIN_S, math.inf)[min(one.failures, len(AGAIN_S))]
                failures, again_s = one.failures + 1, now_s + after_s
                self._open[key[:2]] = replace(one, failures=failures, again_s=again_s)
            else:
                del self._open[key[:2]]
        for which, one in list(self._open.items()):
            if one.again_s is not None and now_s >= one.again_s:
                self._open[which] = replace(one, asked_s=now_s, again_s=None)
                self._seer.ask(one.key, one.think)
            elif one.again_s is None and now_s - one.asked_s >= LATE_S and not one.told_late:
                self._open[which] = replace(one, told_late=True)
                found.append((one.key, TimeoutError()))
        return found

    def wait(self, within_s: float) -> None:
        """Until all is thought out, or the time is over."""
        self._seer.wait(within_s)

    def close(self) -> None:
        """No more questions."""
        self._seer.close()
