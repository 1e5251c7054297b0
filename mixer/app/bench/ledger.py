"""What one batch writes into the record: in order, all of one decision or none, nothing twice.

While the record cannot be written, what was decided waits here and is tried again. It
must never count a fact as true before it is on disk.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from mixer.app.clock import Clock
from mixer.pour.facts import Fact, Opened
from mixer.pour.plain import to_plain
from mixer.record.envelope import Entry, RecordError
from mixer.record.journal import Journal

STATION = "bench"
RETRY_S = 0.5  # between two tries to write what the record did not take


class Ledger:
    """``number`` is the batch's in the record, ``None`` until it is known; ``trouble`` why
    the newest facts are not in the record yet, or empty."""

    def __init__(self, journal: Journal, clock: Clock) -> None:
        self.number: int | None = None
        self.trouble = ""
        self._journal, self._clock = journal, clock
        self._waiting: list[tuple[Entry, Fact]] = []
        self._try_at_s = 0.0

    @property
    def waits(self) -> bool:
        """Whether facts wait for a record that does not take them."""
        return bool(self._waiting)

    def may_try(self, now_s: float) -> bool:
        """Whether it is time to try again."""
        return now_s >= self._try_at_s

    def open(self, opened: Opened) -> None:
        """The batch's first fact, and with it its number; :class:`RecordError` if it cannot be."""
        self.number = self._journal.open_batch(self._entry(opened, 0))
        self.trouble = ""

    def put(self, facts: Iterable[Fact], now_s: float) -> list[Fact]:
        """Write these facts; what is on disk now, and so is true."""
        self._waiting += [(self._entry(fact, self.number or 0), fact) for fact in facts]
        return self.write(now_s, at_once=True)

    def write(self, now_s: float, *, at_once: bool = False) -> list[Fact]:
        """Write what waits; what is on disk now, and so is true."""
        if not self._waiting or not (at_once or self.may_try(now_s)):
            return []
        try:
            self._journal.append([entry for entry, _ in self._waiting])
        except RecordError as error:
            self.put_off(error, now_s)
            return []
        written = [fact for _, fact in self._waiting]
        self._waiting, self.trouble = [], ""
        return written

    def put_off(self, error: RecordError, now_s: float) -> None:
        """The record does not take it; not tried again at once."""
        self.trouble, self._try_at_s = error.say, now_s + RETRY_S

    def append_to(self, batch: int, facts: Sequence[Fact]) -> None:
        """Facts of another batch, at once; :class:`RecordError` if it cannot be."""
        self._journal.append([self._entry(fact, batch) for fact in facts])

    def _entry(self, fact: Fact, batch: int) -> Entry:
        return Entry(
            kind=fact.kind,
            data=to_plain(fact),
            at_ms=fact.at_ms,
            boot=self._clock.boot,
            utc=self._clock.utc(),
            batch=batch,
            station=STATION,
        )
