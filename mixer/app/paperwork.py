"""What is done with the record away from the bench: close a cup, export the log."""

from __future__ import annotations

from pathlib import Path

from mixer import units
from mixer.app.clock import Clock
from mixer.record.envelope import Entry, RecordError
from mixer.record.export import rows, write_csv
from mixer.record.journal import Journal
from mixer.record.views import find_live, live_cups

STATION = "desk"


class NotDone(ValueError):
    """It could not be done; the message is one sentence for a person."""


def close_cup(record: Path, cup: int, how: str, left: str | None) -> str:
    """Close a live cup: ``how`` is ``left`` (with a mass), ``used-up`` or ``discard``."""
    left_ug: int | None = None
    clock = Clock()
    try:
        if how == "left":
            left_ug = units.mass_ug(left or "", "left")
        with _existing(record) as journal:
            there = live_cups(journal.entries(having="live", lacking=["closed"]))
            live = find_live(there, cup)
            if live is None:
                numbers = ", ".join(str(c.cup) for c in there) or "none"
                raise NotDone(f"Cup {cup} is not live; live cups: {numbers}.")
            if left_ug is not None and left_ug > live.total_ug:
                raise NotDone(
                    f"left: {left} is more than cup {cup} ever held, {live.total_ug / 1e6:.1f} g."
                )
            data = {"how": how, "left_ug": left_ug}
            at_ms = round(clock.age_s() * 1000)
            entry = Entry("closed", data, at_ms, clock.boot, clock.utc(), live.batch, STATION)
            journal.append([entry])
    except (RecordError, units.UnitsError) as error:
        raise NotDone(str(error)) from None
    return f"Cup {cup} (batch {live.batch}) is closed: {how}."


def export_csv(record: Path, to: Path) -> int:
    """Write the whole record as CSV; the number of batches."""
    try:
        with _existing(record) as journal:
            table = rows(journal.entries())
        write_csv(table, to)
    except RecordError as error:
        raise NotDone(str(error)) from None
    return len(table)


def _existing(record: Path) -> Journal:
    if not record.exists():
        raise NotDone(f"There is no record at {record}.")
    return Journal.open(record)
