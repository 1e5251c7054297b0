"""Keeps the weight trace of one batch: what the scale showed, for whoever doubts a weight,
and for the next start, which goes on from the last one.

It is evidence, not a fact: a trace that cannot be written must never stop the pour, nor
fill the memory.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from typing import Protocol

from devices.readings import Reading
from mixer.app.clock import Clock
from mixer.pour.sight import Sight
from mixer.record.envelope import RecordError
from mixer.record.trace import Sample

MOVING_S = 2.0  # what a kill may cost while the weight changes
STILL_S = 10.0
AGAIN_S = 10.0  # after a try that failed: each may have waited for the disk
MOST = 4096  # readings that wait, some minutes of them; the oldest go


class TraceBook(Protocol):
    """What takes the trace (:class:`mixer.record.journal.Journal`)."""

    def add_trace(self, batch: int, samples: Sequence[Sample], boot: str) -> None: ...


class TraceKeeper:
    """Feed it each reading; then say where the batch stands, and it writes when it is due."""

    def __init__(self, book: TraceBook, clock: Clock) -> None:
        self._book, self._clock = book, clock
        self._samples: deque[Sample] = deque(maxlen=MOST)
        self._written_s = clock.age_s()
        self._not_before_s = 0.0
        self.trouble = ""  # why it was not written just now, for whoever tells it
        self._rested_s: float | None = None  # since when the last rest that is written

    def keep(self, reading: Reading) -> None:
        """One more reading."""
        at_ms = round(reading.at_s * 1000)
        self._samples.append(Sample(at_ms, reading.mass_ug, reading.text, reading.still))

    def write_if_due(self, batch: int, sight: Sight, now_s: float) -> None:
        """Write at each new rest, often while the weight changes, and seldom else."""
        rest_s = sight.rest.since_s if sight.resting and sight.rest is not None else None
        waited_s = now_s - self._written_s
        new_rest = rest_s is not None and rest_s != self._rested_s
        if new_rest or waited_s >= (MOVING_S if rest_s is None else STILL_S):
            self.write(batch, now_s)
            self._rested_s = rest_s if rest_s is not None else self._rested_s

    def write(self, batch: int, now_s: float) -> None:
        """Write what has come since, as far as the record takes it."""
        self._written_s = now_s
        if not self._samples or now_s < self._not_before_s:
            return
        try:
            self._book.add_trace(batch, list(self._samples), self._clock.boot)
        except RecordError as error:
            self._not_before_s, self.trouble = now_s + AGAIN_S, error.say
        else:
            self._samples.clear()
