"""What is curing: of each laminate of late, what each is not to be used for yet, and until when.

Found on the bench's thread, and thought out beside it, as the clocks of the cups are
(:mod:`mixer.app.life.seer`). It must never say that a laminate is ready, and never hold up a batch.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from contextlib import suppress
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path
from typing import Any

from mixer.app.clock import Clock
from mixer.app.life.ages import is_time
from mixer.record.envelope import RecordError
from mixer.record.later import USED
from mixer.record.reader import Reader
from mixer.record.views import BatchRow, Moment, batch_rows

MOST = 48  # batches that are looked at: more than one shop mixes within that time
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


def of_late(record: Path, air: str | None) -> dict[str, Any]:
    """The same for a person who asks, ready for JSON; ``air`` is what the room has from now on, as
    typed, else it is taken to be cold, as where one batch is asked for. Raises :class:`NotDone`
    with one sentence."""
    from mixer.app.book import looking
    from mixer.app.life.life import temperature_c

    then_c, now = temperature_c(air, "air"), Clock().now()
    with looking.reading(record) as journal:
        rows = tuple(_laminates(journal, now))
    return {"now_utc": now.utc, "curing": list(glance(rows, now, lambda *_: then_c))}


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


def glance(
    rows: Iterable[BatchRow],
    now: Moment,
    room_c: Callable[[BatchRow, Moment], float | None] = _told_c,
) -> tuple[str, ...]:
    """A line for each layup, or batch without one; ``room_c`` is what the room has from now on,
    None for cold; takes as long as :mod:`mixer.app.life.cure_clock`."""
    from mixer.app.life.cure_clock import of_batch
    from mixer.app.sentence import NotDone

    found: dict[str, list[dict[str, Any]]] = {}
    spelled: dict[str, str] = {}
    for row in rows:
        layups = _layups(row) or [f"batch {row.batch}"]
        with suppress(NotDone):
            one = of_batch(row, now, room_c(row, now), how_far=False)
            for layup in layups:
                spelled.setdefault(layup.lower(), layup)
                found.setdefault(layup.lower(), []).append(one)
    told = (
        _line(spelled[name], batches, datetime.fromisoformat(now.utc))
        for name, batches in found.items()
    )
    return tuple(line for line in told if line)


def _line(name: str, batches: list[dict[str, Any]], now: datetime) -> str:
    """What comes next of all that went into it; once nothing does, its witness cup. One that is
    not hard stays, and so does a batch of which no time is known."""
    from mixer.app.files.cure_times import TIMES, is_soft, latest, untimed, without
    from mixer.app.life.cup_life import off_told

    due = latest(batches)
    if off := [one for one in batches if one["off"]]:
        far = max(off, key=lambda one: abs(one["off_ratio"]))
        told = f"batch {far['batch']} was weighed with {off_told(far['off'])}"
        return f"{name}: {told}: it may never cure, do not load it"
    if soft := [one for one in batches if one["witness"] and is_soft(one["witness"][-1])]:
        numbers = ", ".join(str(one["batch"]) for one in soft)
        whose = "its witness cup" if len(batches) == 1 else f"the witness cup of batch {numbers}"
        words = " and ".join(sorted({one["witness"][-1] for one in soft}))
        return f"{name}: {whose} was {words}: it is not there, whatever the clock says"
    if unknown := untimed(batches):
        if len(unknown) == len(batches):
            return ""
        return f"{name}: no time can be told, as none is known of batch {unknown[0]}"
    to_come = {key: one for key, one in due.items() if one and one[0] > now}
    if to_come:
        key = min(to_come, key=lambda it: to_come[it][0])
        when, one = to_come[key]
        here = when.astimezone()
        room = f"{one['from_now_c']:g} degC"
        room = f"at {room} assumed" if one["from_now_assumed"] else f"if it stays at {room}"
        year = f" {here:%Y}" if when - now > timedelta(days=300) else ""  # else one knows which
        when_told = f"{TIMES[key]} not before {here:%a} {here.day} {here:%b}{year} {here:%H:%M}"
        when_told += f", {room}"
        lacks = "".join(f"; batch {number} tells none" for number in without(batches, key)[:1])
        return f"{name}: {when_told}{lacks}"
    if all(one["witness"] and not one["witness_early"] for one in batches):
        return ""
    return f"{name}: try its witness cup, then cupside record witness"


def _laminates(record: Reader, now: Moment) -> Iterable[BatchRow]:
    """The batches whose laminate is still young, the newest first; those of live cups too, which
    are being laid up."""
    if not is_time(now.utc):
        return
    since = datetime.fromisoformat(now.utc) - timedelta(days=DAYS)
    numbers: list[int] = []
    for outcome in USED:
        with suppress(RecordError):
            numbers += record.batches(outcome, newest=MOST)
    for number in sorted(numbers, reverse=True)[:MOST]:
        with suppress(RecordError):
            for row in batch_rows(record.entries(number)):
                begun = row.mixed_utc or (row.live_at.utc if row.live_at else "")
                young = is_time(begun) and datetime.fromisoformat(begun) > since
                if young and not _is_thrown_away(row):
                    yield row


def _is_thrown_away(row: BatchRow) -> bool:
    """Whether none of it went anywhere else: of several cups one may have been used."""
    hows = {cup.closed_how for cup in row.cups} or {row.closed_how}
    return hows == {"discard"}


def _layups(row: BatchRow) -> list[str]:
    """All that it went into, but for what none of its cups but a discarded one had."""
    kept = [cup.layup for cup in row.cups if cup.closed_how != "discard"] or [None]
    said = [row.about("layup") if layup is None else layup for layup in kept]
    names = (name.strip() for one in said for name in str(one or "").split(";"))
    return list({name.lower(): name for name in names if name}.values())
