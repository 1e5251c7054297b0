"""The record away from the bench: open it, close a cup.

Every refusal is :class:`NotDone` with one sentence. Nothing here may make a record
where there was none; only a batch that begins or is entered does.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from mixer import units
from mixer.app.book.record_path import must_be_there
from mixer.app.clock import Clock
from mixer.app.life.live import Live, look
from mixer.app.sentence import NotDone, sentence
from mixer.record.envelope import Entry, RecordError
from mixer.record.journal import Journal
from mixer.record.views import find_live

STATION = "desk"


def open_record(path: Path, *, make: bool = True) -> Journal:
    """The record at this path; made where there is none, if it may be. Raises
    :class:`NotDone`."""
    try:
        return Journal.open(path, make=make)
    except RecordError as error:
        raise NotDone(error.say) from None
    except OSError as error:
        raise NotDone(f"The record {path} cannot be opened: {sentence(error)}") from None


@contextmanager
def writing(record: Path) -> Iterator[Journal]:
    """The record that is there, to be added to; what it cannot do is :class:`NotDone`."""
    must_be_there(record)
    try:
        with open_record(record, make=False) as journal:
            yield journal
    except RecordError as error:
        raise NotDone(error.say) from None


def fact(kind: str, data: dict[str, Any], batch: int, clock: Clock) -> Entry:
    """A fact that became true at this desk, now."""
    at_ms = round(clock.age_s() * 1000)
    return Entry(kind, data, at_ms, clock.boot, clock.utc(), batch, STATION)


def close_cup(journal: Journal, cup: int, how: str, left: str | None) -> str:
    """Close a live cup, and say so in one sentence.

    ``how`` is ``left`` (with ``left``, a mass in words such as ``"9 g"``), ``used-up``
    or ``discard``. :class:`NotDone` where there is no such live cup, where the mass is
    none or more than the cup ever held, or where the record cannot be written. Of a cup
    that cannot be read nobody knows what it held: it is closed all the same.
    """
    clock = Clock()
    try:
        left_ug = units.mass_ug(left or "", "left") if how == "left" else None
        there = look(journal, journal.path)
        live = find_live(there.cups, cup)
        batch = there.batch_of(cup) if live is None else live.batch
        if batch is None:
            numbers = ", ".join(str(c.cup) for c in there.cups) or "none"
            raise NotDone(f"Cup {cup} is not live; live cups: {numbers}. {there.say}".strip())
        weighed = live is not None and not live.filler  # else more than the mix may be left
        if live is not None and weighed and left_ug is not None and left_ug > live.total_ug:
            raise NotDone(
                f"left: {units.shown(left or '')} is more than cup {cup} ever held, "
                f"{live.total_ug / 1e6:.1f} g."
            )
        journal.append([fact(*_end(there, batch, cup, how, left_ug), batch, clock)])
    except (RecordError, units.UnitsError) as error:
        raise NotDone(sentence(error)) from None
    return f"Cup {cup} (batch {batch}) is closed: {how}."


def _end(
    there: Live, batch: int, cup: int, how: str, left_ug: int | None
) -> tuple[str, dict[str, Any]]:
    """Kind and data of the fact: a batch is closed with the last of its cups."""
    data: dict[str, Any] = {"how": how, "left_ug": left_ug}
    live = find_live(there.cups, cup)
    others = there.others_of(batch, cup)
    if others or (live is not None and live.split):
        data["cup"] = cup
    return "emptied" if others else "closed", data
