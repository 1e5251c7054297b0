"""The tables that find facts quickly: which batches are open or live, and which used a lot.

Derived from the facts alone, in the transaction that stores them, and built again from
them at will. Nothing is shown from here: these tables say which facts to read, and what
a view shows comes from the facts' own bytes.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator

from mixer.record.envelope import Entry

Facts = Iterator[Entry]
#: ``outcome`` as :class:`mixer.record.views.BatchRow` tells it.
TABLES = (
    "CREATE {temp} TABLE batches (batch INTEGER PRIMARY KEY, live INTEGER NOT NULL DEFAULT 0,"
    " closed INTEGER NOT NULL DEFAULT 0, ended TEXT, outcome TEXT NOT NULL DEFAULT 'open')",
    "CREATE INDEX {schema}batches_by_outcome ON batches (outcome)",
    "CREATE {temp} TABLE lots (lot TEXT NOT NULL, batch INTEGER NOT NULL, role TEXT NOT NULL,"
    " PRIMARY KEY (lot, batch, role)) WITHOUT ROWID",
    "CREATE INDEX {schema}lots_by_batch ON lots (batch, role)",
)
_OUTCOME = (
    "UPDATE batches SET outcome = CASE WHEN NOT live AND ended IS NOT NULL THEN ended"
    " WHEN closed THEN 'closed' WHEN live THEN 'live' ELSE 'open' END WHERE batch = ?"
)
_LOTS = ("resin_lot", "hardener_lot")


def create(db: sqlite3.Connection, *, temporary: bool = False) -> None:
    """Make the tables, empty; ``temporary`` ones are this connection's alone."""
    for statement in TABLES:
        temp, schema = ("TEMP", "temp.") if temporary else ("", "")
        db.execute(statement.format(temp=temp, schema=schema))


def rebuild(db: sqlite3.Connection, entries: Facts) -> None:
    """Build them anew from all the facts."""
    db.execute("DELETE FROM batches")
    db.execute("DELETE FROM lots")
    for entry in entries:
        follow(db, entry)


def follow(db: sqlite3.Connection, entry: Entry) -> None:
    """Bring them to where they are once this fact is known."""
    batch, data = entry.batch, entry.data
    if batch < 1:
        return
    match entry.kind:
        case "live":
            _set(db, batch, "live", 1)
        case "closed":
            _set(db, batch, "closed", 1)
        case "ended":
            how = data.get("how")
            _set(db, batch, "ended", how if isinstance(how, str) else "ended")
        case "opened" | "entered":
            _know(db, batch)
            for role in _LOTS:
                _use(db, batch, role, data.get(role))
            if entry.kind == "entered":  # typed in afterwards: there is nothing to carry on
                _set(db, batch, "ended", "entered")
        case "corrected" if data.get("field") in _LOTS:
            _use(db, batch, str(data["field"]), data.get("value"))
        case _:
            _know(db, batch)


def _know(db: sqlite3.Connection, batch: int) -> None:
    db.execute("INSERT OR IGNORE INTO batches (batch) VALUES (?)", (batch,))


def _set(db: sqlite3.Connection, batch: int, what: str, value: int | str) -> None:
    _know(db, batch)
    db.execute(f"UPDATE batches SET {what} = ? WHERE batch = ?", (value, batch))
    db.execute(_OUTCOME, (batch,))


def _use(db: sqlite3.Connection, batch: int, role: str, lot: object) -> None:
    _know(db, batch)
    db.execute("DELETE FROM lots WHERE batch = ? AND role = ?", (batch, role))
    if isinstance(lot, str) and lot:
        db.execute("INSERT INTO lots (lot, batch, role) VALUES (?, ?, ?)", (lot, batch, role))
