"""Rows of a damaged record, past those that lie in a damaged part.

It only reads. Which rows there are is told by what finds them, where that can be read.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from mixer.record.trouble import is_damage, may_be_damage


@dataclass(frozen=True, slots=True)
class Table:
    """``key`` numbers its rows, ``index`` finds them by their batch, and none of them takes
    less than ``least`` bytes of the file."""

    name: str
    key: str
    index: str
    least: int


FACTS = Table("facts", "seq", "facts_by_batch", 150)
TRACES = Table("traces", "block", "traces_by_batch", 80)


def every(
    db: sqlite3.Connection, table: Table, columns: str, torn: Callable[[], None]
) -> Iterator[tuple[object, ...]]:
    """All that can be read, at once as far as nothing is damaged, then one by one; ``torn`` is
    called where something is. ``columns`` begins with the key."""
    last = 0
    try:
        for row in db.execute(f"SELECT {columns} FROM {table.name} ORDER BY {table.key}"):
            if isinstance(row[0], int):
                last = max(last, row[0])
            yield row
    except sqlite3.DatabaseError as err:
        if not may_be_damage(err):
            raise
        torn()
        if is_damage(err):
            yield from rows(db, table, columns, lambda _: None, last + 1)


def rows(
    db: sqlite3.Connection,
    table: Table,
    columns: str,
    lost: Callable[[int], None],
    first: int = 1,
    batch: Sequence[int] = (),
) -> Iterator[tuple[object, ...]]:
    """Those from this number on that can be read, of this batch or of any; ``lost`` is told
    each number that cannot."""
    where = "AND batch = ?" if batch else ""
    select = f"SELECT {columns} FROM {table.name} WHERE {table.key} = ? {where}"
    for number in _places(db, table, first, batch):
        try:
            row = db.execute(select, [number, *batch]).fetchone()
        except sqlite3.DatabaseError:
            lost(number)
            continue
        if row is not None:
            yield row


def batches(db: sqlite3.Connection, table: Table) -> dict[int, int] | None:
    """Of which batch each row is, by its number, as what finds them tells it; None where that
    cannot be read."""
    select = f"SELECT {table.key}, batch FROM {table.name} INDEXED BY {table.index}"
    try:
        found = db.execute(select).fetchall()
    except sqlite3.DatabaseError:
        return None
    return {number: batch for number, batch in found if type(number) is type(batch) is int}


def _places(
    db: sqlite3.Connection, table: Table, first: int, batch: Sequence[int]
) -> Sequence[int]:
    """The numbers from this one on that a row may have."""

    def told(select: str, *given: int) -> list[int]:
        try:
            return [number for (number,) in db.execute(select, given) if isinstance(number, int)]
        except sqlite3.DatabaseError:
            return []

    name, key = table.name, table.key
    if batch and (
        found := told(f"SELECT {key} FROM {name} WHERE batch = ? AND {key} >= ?", *batch, first)
    ):
        return sorted(found)
    (pages,), (size,) = told("PRAGMA page_count"), told("PRAGMA page_size")
    last = told(f"SELECT max({key}) FROM {name}")
    last += told(f"SELECT max({key}) FROM {name} INDEXED BY {table.index}")
    return range(first, min([pages * size // table.least, *([max(last)] if last else [])]) + 1)
