"""The ways in which a program is told to end, as one: a ``KeyboardInterrupt``.

Ctrl-C, a polite kill, and a terminal window that is closed each come as a signal; what
is on must then be recorded as it stands, which :func:`undisturbed` protects. The polite
kill is the system's (it shuts down), not the builder's: after it a pour goes on.
Signals belong to the main thread; elsewhere both do nothing.
"""

from __future__ import annotations

import contextlib
import signal
import threading
from collections.abc import Iterator
from types import FrameType
from typing import Any

_ENDINGS = [
    getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)
]


@contextlib.contextmanager
def heeded() -> Iterator[None]:
    """Within, each of the signals raises ``KeyboardInterrupt`` with the signal's name.

    One that was ignored from the start (``nohup``) stays ignored.

    >>> with heeded():
    ...     try:
    ...         signal.raise_signal(signal.SIGTERM)
    ...     except KeyboardInterrupt as ended:
    ...         print(ended)
    SIGTERM
    """

    def end(number: int, frame: FrameType | None) -> None:
        raise KeyboardInterrupt(signal.Signals(number).name)

    with _handled(end):
        yield


def is_of_the_system(ended: BaseException) -> bool:
    """Whether this end came from the system, and not from the builder.

    >>> is_of_the_system(KeyboardInterrupt("SIGTERM")), is_of_the_system(KeyboardInterrupt())
    (True, False)
    """
    return str(ended) == "SIGTERM"


@contextlib.contextmanager
def undisturbed() -> Iterator[None]:
    """Within, none of them ends anything: for what must be finished, and is short."""
    with _handled(signal.SIG_IGN):
        yield


@contextlib.contextmanager
def _handled(handler: Any) -> Iterator[None]:
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = {number: signal.getsignal(number) for number in _ENDINGS}
    try:
        for number, old in before.items():
            if old is not signal.SIG_IGN:
                signal.signal(number, handler)
        yield
    finally:
        for number, old in before.items():
            signal.signal(number, old)
