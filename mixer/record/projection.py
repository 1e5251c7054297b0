"""The tables that find facts quickly: which batches are open or live, and which used a lot.

Derived from the facts alone, in the transaction that stores them, and built again from
them at will. Nothing is shown from here: these tables say which facts to read, and what
a view shows comes from the facts' own bytes.
"""

from __future__ import annotations

import json
import re
import sqlite3
from collections.abc import Iterator, Mapping
from typing import Any

from mixer.record.envelope import Entry, RecordError, read
from mixer.record.row import ENTRY

Facts = Iterator[Entry]
#: ``outcome`` as :class:`mixer.record.views.BatchRow` tells it.
TABLES = (
    "CREATE {temp}TABLE batches (batch INTEGER PRIMARY KEY, live INTEGER NOT NULL DEFAULT 0,"
    " closed INTEGER NOT NULL DEFAULT 0, ended TEXT, outcome TEXT NOT NULL DEFAULT 'open')",
    "CREATE INDEX {schema}batches_by_outcome ON batches (outcome)",
    "CREATE {temp}TABLE lots (lot TEXT NOT NULL, batch INTEGER NOT NULL, role TEXT NOT NULL,"
    " PRIMARY KEY (lot, batch, role)) WITHOUT ROWID",
    "CREATE INDEX {schema}lots_by_batch ON lots (batch, role)",
)
OUTCOME = (
    "CASE WHEN NOT live AND ended IS NOT NULL THEN ended WHEN closed THEN 'closed'"
    " WHEN live THEN 'live' ELSE 'open' END"
)
MARKS = ("live", "closed", "ended")
_LOTS = ("resin_lot", "hardener_lot")
#: The kinds that say more to these tables than that there is such a batch.
_TELLING = ("opened", "entered", "live", "closed", "ended", "corrected")
#: A text in canonical JSON, where none can hold a quotation mark that is not escaped.
_TEXT = re.compile(rb'"(?:[^"\\]|\\.)*"')
_KEYS = {role: f'"{role}":'.encode() for role in _LOTS}


def create(db: sqlite3.Connection, *, temporary: bool = False) -> None:
    """Make the tables, empty; ``temporary`` ones are this connection's alone."""
    for statement in statements("TEMP ", "temp.") if temporary else statements():
        db.execute(statement)


def statements(temp: str = "", schema: str = "") -> list[str]:
    """What makes the tables."""
    return [statement.format(temp=temp, schema=schema) for statement in TABLES]


def rebuild(db: sqlite3.Connection, entries: Facts) -> None:
    """Build them anew from all the facts."""
    db.execute("DELETE FROM batches")
    db.execute("DELETE FROM lots")
    for entry in entries:
        follow(db, entry)


def follow(db: sqlite3.Connection, entry: Entry) -> None:
    """Bring them to where they are once this fact is known."""
    if entry.kind == "mended":
        follow_known(db, entry.data)
    batch = entry.batch
    if batch < 1:
        return
    _mark(db, batch, _marks(entry.kind, entry.data))
    if entry.kind == "corrected" and (how := _entry(entry.data)):
        select = "SELECT 1 FROM batches WHERE batch = ? AND ended IN (?, ?)"
        if db.execute(select, (batch, *ENTRY)).fetchone():
            _mark(db, batch, {"ended": how})
    for role, lot in _lots(entry.kind, entry.data).items():
        db.execute("DELETE FROM lots WHERE batch = ? AND role = ?", (batch, role))
        if lot:
            db.execute("INSERT INTO lots (lot, batch, role) VALUES (?, ?, ?)", (lot, batch, role))


def _mark(db: sqlite3.Connection, batch: int, marks: Mapping[str, int | str]) -> None:
    db.execute("INSERT OR IGNORE INTO batches (batch) VALUES (?)", (batch,))
    for column, value in marks.items():
        db.execute(f"UPDATE batches SET {column} = ? WHERE batch = ?", (value, batch))
        db.execute(f"UPDATE batches SET outcome = {OUTCOME} WHERE batch = ?", (batch,))


def follow_known(db: sqlite3.Connection, data: Mapping[str, Any]) -> None:
    """What was known of batches whose facts are lost."""
    for batch, marks in _known(data):
        _mark(db, batch, marks)


def _known(data: Mapping[str, Any]) -> Iterator[tuple[int, dict[str, Any]]]:
    for known in data.get("batches", ()):
        if type(known.get("batch")) is not int:  # of another program
            continue
        yield known["batch"], {mark: known[mark] for mark in MARKS if mark in known}


def wrong(db: sqlite3.Connection) -> int | None:
    """A batch of which the tables do not say what the facts do; None where there is none.

    It reads the bytes of those facts alone of which the tables hold more than the batch.
    """
    # What finds the batches may be damaged, and then tell of none.
    there = {_number(b) for (b,) in db.execute("SELECT DISTINCT batch FROM facts WHERE batch > 0")}
    marks: dict[str, dict[int, int | str]] = {mark: {} for mark in MARKS}
    live, closed, ended = marks.values()
    lots: dict[tuple[int, str], str] = {}
    kinds = ", ".join(f"'{kind}'" for kind in _TELLING)
    select = (
        "SELECT batch, kind, CASE WHEN kind IN ('live', 'closed') THEN NULL ELSE bytes END"
        f" FROM facts WHERE batch > 0 AND kind IN ({kinds})"
        " OR batch = 0 AND kind = 'mended' ORDER BY seq"
    )
    for batch, kind, canonical in db.execute(select):
        if kind == "opened":
            named = dict(_opened_lots(canonical))
            for role in _LOTS:
                lots[batch, role] = named.get(role, "")
        elif kind == "live":
            live[batch] = 1
        elif kind == "closed":
            closed[batch] = 1
        elif kind == "mended":
            for known, those in _known(_told(canonical)):
                there.add(known)
                for mark, value in those.items():
                    marks[mark][known] = value
        else:
            data = _told(canonical)
            how = _marks(kind, data).get("ended")
            if kind == "corrected" and ended.get(batch) in ENTRY:
                how = _entry(data) or how
            if how:
                ended[batch] = how
            lots.update({(batch, role): lot for role, lot in _lots(kind, data).items()})
    there.update(*marks.values())
    lots = {use: lot for use, lot in lots.items() if lot}
    select = f"SELECT batch, live, closed, ended, outcome = {OUTCOME} FROM batches"
    for batch, *stands, right in db.execute(select):
        due = [live.get(batch, 0), closed.get(batch, 0), ended.get(batch)]
        if batch not in there or not right or stands != due:
            return _number(batch)
        there.discard(batch)
    for lot, batch, role in db.execute("SELECT lot, batch, role FROM lots"):
        if lots.pop((batch, role), None) != lot:
            return _number(batch)
    return min([*there, *(batch for batch, _ in lots)], default=None)


def _number(batch: object) -> int:
    """Of which batch an altered row is, which may hold anything; 0 where it is of none."""
    return batch if isinstance(batch, int) else 0


def _marks(kind: str, data: Mapping[str, Any]) -> dict[str, int | str]:
    """What a fact sets in the row of its batch."""
    match kind:
        case "live" | "closed":
            return {kind: 1}
        case "ended":
            how = data.get("how")
            return {"ended": how if isinstance(how, str) else "ended"}
        case "entered":  # typed in afterwards: there is nothing to carry on
            return {"ended": "entered"}
    return {}


def _entry(data: Mapping[str, Any]) -> str:
    """What a late entry counts as once this correction is known, where it says that; else
    empty."""
    value = data.get("value")
    return value if data.get("field") == "outcome" and value in ENTRY else ""


def _lots(kind: str, data: Mapping[str, Any]) -> dict[str, str]:
    """The lots that a fact names, by role; an empty one takes away what stood there."""
    if kind == "corrected":
        field = data.get("field")
        told = {field: data.get("value")} if isinstance(field, str) else {}
    elif kind in ("opened", "entered"):
        told = {role: data.get(role) for role in _LOTS}
    else:
        return {}
    return {r: lot if isinstance(lot, str) else "" for r, lot in told.items() if r in _LOTS}


def _told(canonical: bytes) -> Mapping[str, Any]:
    """A fact's data; empty where it cannot be read."""
    try:
        return read(canonical)[1].data
    except RecordError:
        return {}


def _opened_lots(canonical: bytes) -> Iterator[tuple[str, str]]:
    """The lots that a first fact names. What was asked for stands before them, and may name
    some too."""
    for role, key in _KEYS.items():
        at = canonical.rfind(key)
        if at < 0:
            continue
        start = at + len(key)
        end = canonical.find(b'"', start + 1)
        lot = canonical[start + 1 : end]
        if canonical[start : start + 1] == b'"' and b"\\" not in lot:
            yield role, lot.decode()
        elif found := _TEXT.match(canonical, start):
            yield role, json.loads(found[0])
