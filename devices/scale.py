"""A live scale: one thread that asks, reads, stamps and hands on.

For: keeping a scale talking, whatever it does, and saying how fresh its word is. It
must never judge a weight, wait by burning time, or end because a cable was pulled.

The clock is handed in and may run many times faster than real time (a simulated
bench does); ``speed`` says how many of its seconds pass in a real one, so that the
thread, which blocks on a real port, blocks for the right time.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import replace
from enum import StrEnum

from devices.dialects import Dialect
from devices.link import Link, LinkError
from devices.readings import About, Fault, FaultKind, Reading, Said

#: Seconds since the last reading: below the first it is fresh, above the second lost.
FRESH_S, LOST_S = 1.0, 5.0
_REOPEN_S = 1.0
_INTRODUCTION_S = 0.4  # how long a scale may take to begin to tell of itself
# However fast the clock, an answer needs real time to travel and be scheduled.
_LEAST_PATIENCE_REAL_S = 0.02
_INTRODUCTION_REAL_S = 0.1


class Health(StrEnum):
    """How far the newest reading can be believed to be the present."""

    FRESH = "fresh"
    STALE = "stale"
    LOST = "lost"


def health(last_at_s: float | None, now_s: float, *, link_failed: bool = False) -> Health:
    """Health from the newest reading's ``at_s`` (None: there was none) and the time now.

    ``link_failed``: a LINK fault has come since that reading.

    >>> [str(health(10.0, now_s)) for now_s in (10.9, 11.0, 15.0, 15.1)]
    ['fresh', 'stale', 'stale', 'lost']
    >>> str(health(10.0, 10.1, link_failed=True))
    'lost'
    """
    if link_failed or last_at_s is None or now_s - last_at_s > LOST_S:
        return Health.LOST
    return Health.FRESH if now_s - last_at_s < FRESH_S else Health.STALE


class Scale:
    """Starts its thread at once; ``deliver`` is called from it, and must not block.

    ``open_link`` opens the port, at first and after each failure, and raises
    LinkError; ``clock`` gives seconds; ``pace_s`` is the shortest time between two
    asks. What is delivered has ``at_s`` set, and a reading the largest of three divisions:
    the step of its last digit, the one by which the scale says that it counts, and
    ``least_division_ug``, where its owner knows it to count by more than it shows.
    One LINK fault is delivered for each time that the link is gone; then it is tried
    again each second until ``close``.
    """

    def __init__(
        self,
        open_link: Callable[[], Link],
        dialect: Dialect,
        clock: Callable[[], float],
        deliver: Callable[[Said], None],
        pace_s: float = 0.05,
        speed: float = 1.0,
        least_division_ug: int = 0,
    ) -> None:
        self._open_link = open_link
        self._dialect = dialect
        self._clock = clock
        self._deliver = deliver
        self._pace_s = pace_s
        self._speed = speed
        self._patience_s = max(dialect.patience_s, _LEAST_PATIENCE_REAL_S * speed)
        self._least_division_ug = least_division_ug
        self._counts_by_ug: dict[str, int] = {}  # what the scale told last, by unit
        self._closing = threading.Event()
        self._link: Link | None = None
        self._thread = threading.Thread(target=self._run, name="scale", daemon=True)
        self._thread.start()

    def close(self) -> None:
        """End the thread and free the port."""
        self._closing.set()
        link = self._link
        if link is not None:
            link.close()
        if threading.current_thread() is not self._thread:
            self._thread.join()

    def _run(self) -> None:
        failed = False
        while not self._closing.is_set():
            try:
                self._link = self._open_link()
                failed = False
                self._talk(self._link)
            except LinkError as error:
                if not failed and not self._closing.is_set():
                    self._deliver(Fault(FaultKind.LINK, error.kind, error.say, self._clock()))
                failed = True
            finally:
                if self._link is not None:
                    self._link.close()
                    self._link = None
            self._closing.wait(_REOPEN_S / self._speed)

    def _talk(self, link: Link) -> None:
        """Ask and read until closed, or until the link fails (LinkError)."""
        heard: list[Said] = []
        try:
            self._ask_and_read(link, heard)
        finally:
            self._hand_on(heard)

    def _hand_on(self, heard: list[Said]) -> None:
        for said in heard:
            self._deliver(said)
        heard.clear()

    def _ask_and_read(self, link: Link, heard: list[Said]) -> None:
        """What is heard is handed on once the next is asked for, if that is due at once: who
        takes it has the interpreter to himself then."""
        dialect = self._dialect
        dialect.restart()
        # What the scale can weigh is asked for once; one that cannot say stays silent
        # or refuses, and either way the weights are asked for next.
        about = dialect.ask_about()
        link.write(about)
        introduced = awaited = False
        asked_s = since_s = self._clock()
        wait_s = max(_INTRODUCTION_S, _INTRODUCTION_REAL_S * self._speed) if about else 0.0
        while not self._closing.is_set():
            left_s = since_s + wait_s - self._clock()
            if left_s <= 0:
                link.write(dialect.ask())
                introduced = awaited = True
                asked_s = since_s = self._clock()
                wait_s = self._patience_s
                continue
            self._hand_on(heard)
            data = link.read(left_s / self._speed)
            if not data:
                continue
            at_s = self._clock()
            if awaited or not introduced:
                since_s = at_s  # it is talking: patience begins anew
            for said in dialect.feed(data):
                heard.append(self._completed(said, at_s))
                if not introduced:
                    wait_s = 0.0
                elif awaited and not dialect.repeats:
                    # Answered: the next ask is due one pace after this one. A scale
                    # that does not know the command need not hear it so often.
                    refused = isinstance(said, Fault) and said.kind is FaultKind.REFUSED
                    awaited, since_s = False, asked_s
                    wait_s = self._patience_s if refused else self._pace_s
            if more := dialect.follow_up():
                link.write(more)

    def _completed(self, said: Said, at_s: float) -> Said:
        if isinstance(said, About):
            self._counts_by_ug = dict(said.divisions_ug)
        if isinstance(said, Reading):
            told_ug = self._counts_by_ug.get(said.unit, 0)
            division_ug = max(said.division_ug, told_ug, self._least_division_ug)
            return replace(said, at_s=at_s, division_ug=division_ug)
        return replace(said, at_s=at_s)
