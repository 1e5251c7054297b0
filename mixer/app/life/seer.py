"""One thread that has things thought out which take too long for the bench thread.

It only waits for another process (:mod:`mixer.app.life.elsewhere`). What is thought out waits here
until the bench takes it, so that it is handed on by the bench's own thread alone. Must never
read or write a record, or keep the program from ending.
"""

from __future__ import annotations

import queue
import threading
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Protocol

IDLE_S = 5.0  # after which the other process is ended


class Mind(Protocol):
    """Where it is thought: :class:`mixer.app.life.elsewhere.Elsewhere`."""

    def think(self, call: Callable[[], Any]) -> Any: ...
    def rest(self) -> None: ...


@dataclass(frozen=True, slots=True)
class Thought:
    """Something was thought out: see :meth:`Seer.take`."""


class Seer:
    """``deliver`` is called from the thread each time that there is something to take. The
    thread is started when it is first asked, and so is the ``mind``.

    >>> from functools import partial
    >>> seer = Seer(lambda thought: None)
    >>> seer.ask("two and two", partial(sum, [2, 2]))
    >>> seer.wait(20)
    >>> seer.take()
    [('two and two', 4)]
    >>> seer.close()
    """

    def __init__(self, deliver: Callable[[object], None], mind: Mind | None = None) -> None:
        self._deliver, self._mind = deliver, mind
        self._asked: queue.SimpleQueue[tuple[Any, Callable[[], Any]] | None] = queue.SimpleQueue()
        self._told: deque[tuple[Any, Any]] = deque()
        self._open = 0
        self._none_open = threading.Condition()
        self._thread: threading.Thread | None = None

    def ask(self, key: Any, think: Callable[[], Any]) -> None:
        """Have this call, which can be pickled, thought out after what was asked before; never
        waits. What it raises is its result."""
        with self._none_open:
            self._open += 1
        self._asked.put((key, think))
        if self._thread is None:
            self._thread = threading.Thread(target=self._run, name="seer", daemon=True)
            self._thread.start()

    def take(self) -> list[tuple[Any, Any]]:
        """Each key with its result, once; never waits."""
        found = []
        while self._told:
            found.append(self._told.popleft())
        return found

    def wait(self, within_s: float) -> None:
        """Until all is thought out, or the time is over."""
        with self._none_open:
            self._none_open.wait_for(lambda: not self._open, within_s)

    def close(self) -> None:
        """No more questions; the other process is ended. Does not wait for it."""
        self._asked.put(None)

    def _run(self) -> None:
        if self._mind is None:
            from mixer.app.life.elsewhere import Elsewhere  # not needed before there is a question

            self._mind = Elsewhere()
        mind = self._mind
        while True:
            try:
                asked = self._asked.get(timeout=IDLE_S)
            except queue.Empty:
                mind.rest()
                asked = self._asked.get()
            if asked is None:
                mind.rest()
                return
            key, think = asked
            try:
                result = mind.think(think)
            except Exception as error:  # the bench goes on without it
                result = error
            self._told.append((key, result))
            with self._none_open:
                self._open -= 1
                self._none_open.notify_all()
            self._deliver(Thought())
