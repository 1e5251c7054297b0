"""What can be read of a record, carried over to a new file.

A fact that proves itself by its hash stands under the number that its own bytes tell,
wherever it was found (:mod:`mixer.record.leaves`); one that does not is carried as it stands,
where no other has its place.
"""

from __future__ import annotations

import sqlite3
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any, cast

from mixer.record import salvage, schema
from mixer.record.chain import Row
from mixer.record.envelope import GENESIS, RecordError, chained, read
from mixer.record.leaves import Pages
from mixer.record.lost import Lost, find_lost, newest, run
from mixer.record.opening import Opened
from mixer.record.stored import as_bytes
from mixer.record.trace import sealed

_FACT = (
    "INSERT OR IGNORE INTO facts (seq, bytes, prev, hash, batch, kind) VALUES (?, ?, ?, ?, ?, ?)"
)
_TRACE = "block, batch, boot, readings, bytes, hash"
_BLOCK = f"INSERT OR IGNORE INTO traces ({_TRACE}) VALUES (?, ?, ?, ?, ?, ?)"
_TYPES = (int, int, str, int, bytes, bytes)


@dataclass(frozen=True, slots=True)
class Carried:
    """``facts`` is how many; ``whole`` whether the old file was sound and said the same;
    ``known`` whether what finds its facts could be read, and so of which batch each is;
    up to the fact ``sound`` nothing was damaged: what is missing there was taken out;
    ``undamaged`` whether that goes for all of the file."""

    facts: int
    lost: Lost
    whole: bool
    known: bool
    sound: int
    undamaged: bool


def carry(path: Path, opened: Opened | None, new: sqlite3.Connection) -> Carried:
    """All of it, to this new record; where it cannot be ``opened``, what its pages hold."""
    old = opened.db if opened is not None else None
    pages = Pages(path)
    new.execute("BEGIN")
    schema.make(new)
    same, loose, sound = _take(opened, new)
    same = not _take_found(pages, new) and same
    due = salvage.batches(old, salvage.FACTS) if old is not None else None
    altered = _take_loose(loose, due, new)
    same = len(altered) == len(loose) and same
    blocks = _take_traces(old, pages, new)
    schema.derive(new)
    doubtful = due is None and not same and pages.doubtful()
    lost = find_lost(
        old, new, due, altered, doubtful=doubtful, proven=not loose, torn_blocks=blocks
    )
    (count,) = new.execute("SELECT count(*) FROM facts").fetchone()
    new.execute("COMMIT")
    undamaged = opened is not None and not (opened.torn or opened.short) and _is_sound(opened.db)
    whole = same and not (lost.facts or lost.traces or blocks)
    whole = whole and undamaged and old is not None and _agrees(old, new, due)
    return Carried(count, lost, whole, due is not None, sound, undamaged)


# -- the facts --------------------------------------------------------------------------------


def _take(opened: Opened | None, new: sqlite3.Connection) -> tuple[bool, list[Row], int]:
    """Those that prove themselves; whether the file is sound so far and each stood as it should,
    the others, and up to which number nothing was damaged."""
    if opened is None:
        return False, [], 0
    loose: list[Row] = []
    columns = f"seq, bytes, {schema.before(opened.layout)}, hash, batch, CAST(kind AS BLOB)"
    same, damaged, sound = True, list[bool](), 0
    for found in salvage.every(opened.db, salvage.FACTS, columns, lambda: damaged.append(True)):
        row = cast(Row, found)
        fact = _proven(row)
        filled_up = fact is None and opened.short and _is_filled_up(row)
        if filled_up or not isinstance(row[0], int) or row[0] <= sound:
            damaged.append(True)
        elif not damaged:
            sound = row[0]
        if fact is not None:
            same = same and tuple(row) == (*fact[:5], str(fact[5]).encode())
            same = new.execute(_FACT, fact).rowcount == 1 and same
        elif not filled_up:
            loose.append(row)
    return same and not (damaged or opened.torn or opened.short), loose, sound


def _is_filled_up(row: Row) -> bool:
    """Whether a part of it was in what was cut off, and reads as zeros: none of its texts ever
    holds one."""
    return any(b"\0" in as_bytes(part) for part in (row[1], row[5]))


def _proven(row: Row) -> tuple[int, bytes, bytes, bytes, int, str] | None:
    _, canonical, prev, hash_, *_ = row
    if not (isinstance(prev, bytes) and isinstance(hash_, bytes)):
        return None
    if chained(prev, as_bytes(canonical)) != hash_:
        return None
    try:
        seq, entry = read(as_bytes(canonical))
    except RecordError:
        return None
    return seq, as_bytes(canonical), prev, hash_, entry.batch, entry.kind


def _take_found(pages: Pages, new: sqlite3.Connection) -> bool:
    """Those that stand somewhere in the file and were not read; whether there were any."""
    several = False
    around = "SELECT seq, prev, hash FROM facts WHERE seq BETWEEN ? AND ?"
    for found in pages.facts():
        beside = {
            seq: (prev, hash_)
            for seq, prev, hash_ in new.execute(around, (found.seq - 1, found.seq + 1))
        }
        before, after = beside.get(found.seq - 1), beside.get(found.seq + 1)
        fits = before is None or before[1] == found.prev
        if found.seq in beside or not fits or (after is not None and after[0] != found.hash):
            continue
        entry = read(found.canonical)[1]
        row = (found.seq, found.canonical, found.prev, found.hash, entry.batch, entry.kind)
        several = new.execute(_FACT, row).rowcount == 1 or several
    return several


def _take_loose(
    rows: list[Row], due: dict[int, int] | None, new: sqlite3.Connection
) -> dict[int, int]:
    """Those that prove nothing, as they stand, where their number is free and may be one; their
    numbers, and of which batch each is."""
    last, taken = run(newest(new), due), dict[int, int]()
    for seq, canonical, prev, hash_, batch, kind in rows:
        if (
            (isinstance(seq, int) and 0 < seq <= last + 1)
            and isinstance(canonical, bytes | str)
            and (isinstance(prev, bytes) and isinstance(hash_, bytes))
        ):
            of = batch if isinstance(batch, int) else 0
            row = (
                seq,
                as_bytes(canonical),
                prev,
                hash_,
                of,
                str(as_bytes(kind), "utf-8", "replace"),
            )
            if new.execute(_FACT, row).rowcount == 1:
                taken[seq], last = of, max(last, seq)
    return taken


# -- the weights ------------------------------------------------------------------------------


def _take_traces(old: sqlite3.Connection | None, pages: Pages, new: sqlite3.Connection) -> bool:
    """All blocks that can be read; whether one could not be by its table."""
    lost: list[int] = []
    with suppress(sqlite3.DatabaseError):
        there = "SELECT 1 FROM sqlite_master WHERE name = 'traces'"
        if old is not None and old.execute(there).fetchone():
            for row in salvage.rows(old, salvage.TRACES, _TRACE, lost.append):
                if tuple(map(type, row)) == _TYPES:
                    new.execute(_BLOCK, row)
                else:
                    lost.append(0)
    found = [new.execute(_BLOCK, block).rowcount == 1 for block in pages.blocks()]
    return _in_order(new) or any(found) or bool(lost)


def _in_order(new: sqlite3.Connection) -> bool:
    """Number the blocks of each batch as each is upon the one before, where all are and only a
    number was altered; whether any was."""
    moved = False
    for (batch,) in new.execute("SELECT DISTINCT batch FROM traces").fetchall():
        select = f"SELECT {_TRACE} FROM traces WHERE batch = ? ORDER BY block"
        stood = new.execute(select, [batch]).fetchall()
        left, chain, head = list(stood), list[tuple[Any, ...]](), GENESIS
        while after := next((b for b in left if sealed(head, batch, b[2], b[4]) == b[5]), None):
            left.remove(after)
            chain.append(after)
            head = after[5]
        if left or chain == stood:
            continue
        moved = True
        new.execute("DELETE FROM traces WHERE batch = ?", [batch])
        for (block, *_), (_, *what) in zip(stood, chain, strict=True):
            new.execute(_BLOCK, [block, *what])
    return moved


# -- whether the old file was whole -----------------------------------------------------------


def _is_sound(old: sqlite3.Connection) -> bool:
    try:
        return bool(old.execute("PRAGMA integrity_check(1)").fetchall() == [("ok",)])
    except sqlite3.DatabaseError:
        return False


def _agrees(old: sqlite3.Connection, new: sqlite3.Connection, due: dict[int, int] | None) -> bool:
    """Whether it finds what was carried over. One of an older layout has no such tables yet."""
    try:
        if due != dict(new.execute("SELECT seq, batch FROM facts")):
            return False
        (layout,) = old.execute("PRAGMA user_version").fetchone()
        if layout != schema.SCHEMA:
            return schema.altered_beside(old) is None
        return all(
            old.execute(select).fetchall() == new.execute(select).fetchall()
            for select in (
                "SELECT batch, live, closed, ended, outcome FROM batches ORDER BY batch",
                "SELECT lot, batch, role FROM lots ORDER BY lot, batch, role",
            )
        )
    except (sqlite3.DatabaseError, RecordError):
        return False
