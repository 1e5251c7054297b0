"""The computer is asked to stay awake, and its screen on, while a batch is on or a cup lives.

A computer that sleeps warns nobody of a cup that heats itself. Each system is asked in its own
way (wakepy knows them), in a thread of its own, as some take long to answer. Must never keep
a batch from being poured: where a system will not hear, that is told, and all goes on.
"""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, ExitStack, contextmanager, suppress
from dataclasses import dataclass

END_S = 1.0  # for a system to be told that it may sleep again
#: Within it the computer is kept awake; what it gives is whether the system has agreed.
Keep = Callable[[], AbstractContextManager[bool]]


@dataclass(frozen=True, slots=True)
class Answered:
    """The system has answered: see :attr:`Awake.may_sleep`."""


class Awake:
    """Used by the bench thread; ``deliver`` is called from another when there is an answer.

    >>> from contextlib import nullcontext
    >>> answers = queue.SimpleQueue()
    >>> awake = Awake(answers.put, keep=lambda: nullcontext(False))
    >>> awake.want(True)
    >>> answers.get(timeout=20), awake.may_sleep
    (Answered(), True)
    >>> awake.close()
    """

    def __init__(self, deliver: Callable[[object], None], keep: Keep | None = None) -> None:
        self._deliver, self._keep = deliver, keep or _as_the_system_has_it
        self._wanted = self._refused = False
        self._turns: queue.SimpleQueue[bool | None] = queue.SimpleQueue()
        self._thread: threading.Thread | None = None

    @property
    def may_sleep(self) -> bool:
        """Whether the system was asked to keep the computer awake, and has not agreed."""
        return self._wanted and self._refused

    def want(self, wanted: bool) -> None:
        """Whether it is to stay awake from now on; never waits, and costs nothing where that
        is as it was."""
        if wanted == self._wanted:
            return
        self._wanted = wanted
        self._turns.put(wanted)
        if self._thread is None:
            self._thread = threading.Thread(target=self._run, name="awake", daemon=True)
            self._thread.start()

    def close(self) -> None:
        """It may sleep as it likes; waits a little for the system to hear that."""
        self.want(False)
        self._turns.put(None)
        if self._thread is not None:
            self._thread.join(END_S)

    def _run(self) -> None:
        while self._turns.get():  # each wish for it is followed by one that it end
            with suppress(Exception), ExitStack() as held:  # whatever a system does
                agreed = False
                with suppress(Exception):
                    agreed = held.enter_context(self._keep())
                self._refused = not agreed
                self._deliver(Answered())
                self._turns.get()


@contextmanager
def _as_the_system_has_it() -> Iterator[bool]:
    from wakepy import keep  # half the systems are asked by a library of its own

    with keep.presenting(on_fail="pass") as mode:
        yield mode.active
