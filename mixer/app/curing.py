"""What is curing: of the newest laminates, what each is not to be used for yet, and until when.

Found on the bench's thread, and thought out beside it, as the clocks of the cups are
(:mod:`mixer.app.seer`). It must never say that a laminate is ready, and never hold up a batch.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from contextlib import suppress
from datetime import datetime, timedelta
from functools import partial
from typing import Any

from mixer.app.ages import is_time
from mixer.app.clock import Clock
from mixer.record.envelope import RecordError
from mixer.record.reader import Reader
from mixer.record.views import BatchRow, Moment, batch_rows

NEWEST = 12  # batches that are looked at
DAYS = 14.0  # how old a laminate is told of (our choice)
TOLD_H = 24.0  # how long a room is taken to stay as it was told (our choice)
AGAIN_S = 600.0  # between two looks at the same

CURING = "curing"
Ask = Callable[[Any, Callable[[], Any]], None]


class Curing:
    """``lines`` are what is said of them, the newest first, ``batches`` those of which it is."""

    def __init__(self, clock: Clock, ask: Ask) -> None:
        self.lines: tuple[str, ...] = ()
        self.batches: tuple[int, ...] = ()
        self._clock, self._ask = clock, ask
        self._seen: tuple[Any, int] = (None, -1)

    def look(self, record: Reader, head: object) -> None:
        """Ask again where there is something new in the record, or it is a while ago."""
        seen = (head, int(self._clock.age_s() / AGAIN_S))
        if seen == self._seen:
            return
        self._seen = seen
        rows = tuple(_laminates(record, self._clock.now()))
        self.batches = tuple(row.batch for row in rows)
        if rows:
            self._ask((CURING, 0, seen), partial(glance, rows, self._clock.now()))
        else:
            self.lines = ()

    def take(self, seen: object, found: object) -> bool:
        """What was thought out; whether it is anything new."""
        if seen != self._seen or not isinstance(found, tuple) or found == self.lines:
            return False
        self.lines = found
        return True


def glance(rows: Iterable[BatchRow], now: Moment) -> tuple[str, ...]:
    """A line for each layup, or batch without one; takes as long as :mod:`mixer.app.cure_clock`."""
    from mixer.app.cure_clock import of_batch
    from mixer.app.sentence import NotDone

    found: dict[str, list[dict[str, Any]]] = {}
    for row in rows:
        layup = row.about("layup")
        name = layup if isinstance(layup, str) and layup else f"batch {row.batch}"
        with suppress(NotDone):
            one = of_batch(row, now, _told_c(row, now))
            if one["not_before"]:
                found.setdefault(name, []).append(one)
    told = (
        _line(name, batches, datetime.fromisoformat(now.utc)) for name, batches in found.items()
    )
    return tuple(line for line in told if line)


def _line(name: str, batches: list[dict[str, Any]], now: datetime) -> str:
    """What comes next of all that went into it; once nothing does, its witness cup."""
    from mixer.app.cure_times import TIMES

    due: dict[str, tuple[datetime, dict[str, Any]]] = {}
    for one in batches:
        for key, utc in one["not_before"].items():
            when = datetime.fromisoformat(utc)
            if key not in due or when > due[key][0]:
                due[key] = when, one
    to_come = [(when, key, one) for key, (when, one) in due.items() if when > now]
    if to_come:
        when, key, one = min(to_come, key=lambda it: it[0])
        here = when.astimezone()
        assumed = " assumed" if one["from_now_assumed"] else ""
        return (
            f"{name}: {TIMES[key]} not before {here:%a} {here.day} {here:%b %H:%M}, at "
            f"{one['from_now_c']:g} degC{assumed}"
        )
    if all(one["witness"] for one in batches):
        return ""
    return f"{name}: try its witness cup, then cupside record witness"


def _laminates(record: Reader, now: Moment) -> Iterable[BatchRow]:
    """Of the newest batches those whose laminate is still young."""
    if not is_time(now.utc):
        return
    since = datetime.fromisoformat(now.utc) - timedelta(days=DAYS)
    numbers: list[int] = []
    for outcome in ("closed", "entered"):
        with suppress(RecordError):
            numbers += record.batches(outcome, newest=NEWEST)
    for number in sorted(numbers, reverse=True)[:NEWEST]:
        with suppress(RecordError):
            for row in batch_rows(record.entries(number)):
                begun = row.mixed_utc or (row.live_at.utc if row.live_at else "")
                young = is_time(begun) and datetime.fromisoformat(begun) > since
                if young and row.closed_how != "discard":
                    yield row


def _told_c(row: BatchRow, now: Moment) -> float | None:
    """How warm its room was last told to be, where that is not long ago."""
    told = [(when.utc, air_c) for when, air_c in row.measured]
    told += [(one.to_utc, one.degrees[0]) for one in row.later if one.degrees is not None]
    air_c, begun = row.about("air_c"), row.live_at
    if isinstance(air_c, int | float) and begun is not None:
        told.append((begun.utc, float(air_c)))
    latest = max((one for one in told if is_time(one[0])), default=None)
    if latest is None:
        return None
    passed = datetime.fromisoformat(now.utc) - datetime.fromisoformat(latest[0])
    return latest[1] if passed <= timedelta(hours=TOLD_H) else None
