"""What can be read of a record, carried over to a new file, and what of it is lost.

A fact that proves itself by its hash stands under the number that its own bytes tell,
wherever it was found (:mod:`mixer.record.leaves`); one that does not is carried as it stands,
where no other has its place. What is lost is told by all that numbers facts; a number of
which one of them alone tells, far behind all others, never was one.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

from mixer.record import projection, salvage, schema
from mixer.record.chain import Row
from mixer.record.envelope import RecordError, chained, read
from mixer.record.leaves import Pages
from mixer.record.reader import Reader, as_bytes
from mixer.record.trouble import is_damage

KIND = "mended"
Range = tuple[int, int | None]
_FACT = (
    "INSERT OR IGNORE INTO facts (seq, bytes, prev, hash, batch, kind) VALUES (?, ?, ?, ?, ?, ?)"
)
_TRACE = "block, batch, boot, readings, bytes, hash"
_BLOCK = f"INSERT OR IGNORE INTO traces ({_TRACE}) VALUES (?, ?, ?, ?, ?, ?)"
_TYPES = (int, int, str, int, bytes, bytes)


@dataclass(frozen=True, slots=True)
class Lost:
    """``facts`` by the first and last number of each row of them that cannot be read (None for
    the last: nobody knows), ``altered`` the numbers of those that prove nothing and stand as
    they were found, ``batches`` those that either are of, with what was known of them, and
    ``traces`` the batches of which weights are lost (0: nobody knows of which)."""

    facts: tuple[Range, ...] = ()
    batches: tuple[dict[str, Any], ...] = ()
    traces: tuple[int, ...] = ()
    altered: tuple[int, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.facts or self.traces or self.altered)


@dataclass(frozen=True, slots=True)
class Carried:
    """``facts`` is how many; ``whole`` whether the old file was sound and said the same."""

    facts: int
    lost: Lost
    whole: bool


def carry(path: Path, reader: Reader | None, new: sqlite3.Connection) -> Carried:
    """All of it, to this new record; without a ``reader``, where it cannot be opened, what its
    pages hold."""
    old = reader._db if reader is not None else None
    pages = Pages(path)
    new.execute("BEGIN")
    schema.make(new)
    same, loose = _take(reader, new)
    same = not _take_found(pages, new) and same
    due = salvage.batches(old, salvage.FACTS) if old is not None else None
    altered = _take_loose(loose, due, new)
    same = len(altered) == len(loose) and same
    blocks = _take_traces(old, pages, new)
    schema.derive(new)
    read_whole = same and reader is not None and not reader.torn
    doubtful = due is None and not read_whole and pages.doubtful()
    facts = _lost_facts(new, due, doubtful)
    batches = list(_marks(old, new, due, facts, set(altered.values()))) if facts or altered else []
    if not (facts or loose) and (batches := _cut_off(old, new)):
        facts = (((_last(new) + 1), None),)
    traces = _lost_traces(old, new, blocks)
    lost = Lost(facts, tuple(batches), traces, tuple(altered))
    (count,) = new.execute("SELECT count(*) FROM facts").fetchone()
    new.execute("COMMIT")
    whole = same and not (facts or traces) and reader is not None and not reader.torn and not blocks
    return Carried(count, lost, whole and old is not None and _agrees(old, new, due))


# -- the facts --------------------------------------------------------------------------------


def _take(reader: Reader | None, new: sqlite3.Connection) -> tuple[bool, list[Row]]:
    """Those that prove themselves; whether each stood as it should, and the others."""
    same, loose = True, []
    for row in _rows(reader) if reader is not None else ():
        fact = _proven(row)
        if fact is None:
            loose.append(row)
            continue
        same = same and tuple(row) == (*fact[:5], str(fact[5]).encode())
        same = new.execute(_FACT, fact).rowcount == 1 and same
    return same, loose


def _rows(reader: Reader) -> Iterator[Row]:
    try:
        yield from reader.rows()
    except RecordError as err:
        if not may_be_damage(err):
            raise
        reader.torn = reader.torn or err.say


def may_be_damage(err: RecordError) -> bool:
    """Whether it came of what the file holds, and not of its disk, its rights or its room."""
    cause = err.__context__
    name = str(getattr(cause, "sqlite_errorname", "SQLITE_ERROR"))
    ours = not isinstance(cause, OSError) and name.startswith(("SQLITE_ERROR", "SQLITE_NOTADB"))
    return ours or is_damage(cause)


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
    last, taken = _run(_last(new), due), dict[int, int]()
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


def _last(new: sqlite3.Connection) -> int:
    (last,) = new.execute("SELECT coalesce(max(seq), 0) FROM facts").fetchone()
    return int(last)


def _run(last: int, due: dict[int, int] | None) -> int:
    """The highest number that what finds facts tells of, without a gap from this one on."""
    while due and last + 1 in due:
        last += 1
    return last


# -- what is lost -----------------------------------------------------------------------------


def _lost_facts(
    new: sqlite3.Connection, due: dict[int, int] | None, doubtful: bool
) -> tuple[Range, ...]:
    got = [seq for (seq,) in new.execute("SELECT seq FROM facts ORDER BY seq")]
    found: list[Range] = [
        hole
        for a, b in pairwise([0, *got])
        if b > a + 1
        for hole in _without(a + 1, b - 1, sorted(_known_holes(new)))
    ]
    last = got[-1] if got else 0
    highest = _run(last, due)
    if highest > last:
        found.append((last + 1, highest))
    elif doubtful:
        found.append((last + 1, None))
    return tuple(found)


def _known_holes(new: sqlite3.Connection) -> Iterator[tuple[int, int]]:
    """Those that an earlier mending told of."""
    for (canonical,) in new.execute("SELECT bytes FROM facts WHERE kind = ?", [KIND]):
        with suppress(RecordError, TypeError, ValueError, KeyError):
            for first, last in read(canonical)[1].data["facts"]:
                if isinstance(first, int):
                    yield first, last if isinstance(last, int) else first


def _without(first: int, last: int, known: Sequence[tuple[int, int]]) -> Iterator[tuple[int, int]]:
    for a, b in known:
        if a <= last and b >= first:
            if a > first:
                yield first, a - 1
            first = max(first, b + 1)
    if first <= last:
        yield first, last


def _knew(old: sqlite3.Connection | None) -> dict[int, tuple[Any, ...]]:
    """What the tables that find facts hold of each batch, as far as they can be read."""
    select = f"SELECT batch, {', '.join(projection.MARKS)} FROM batches"
    try:
        rows = old.execute(select).fetchall() if old is not None else []
    except sqlite3.DatabaseError:
        rows = []
    return {row[0]: row for row in rows if type(row[0]) is int and row[0] > 0}


def _marks(
    old: sqlite3.Connection | None,
    new: sqlite3.Connection,
    due: dict[int, int] | None,
    lost: Sequence[Range],
    altered: set[int],
) -> Iterator[dict[str, Any]]:
    """What these tables knew of the batches of lost and altered facts, and the facts that are
    left do not say: so that a live cup stays one, and a closed one closed, and no number is
    given twice."""
    knew, says = _knew(old), _knew(new)
    gone = {
        batch
        for n, batch in (due or {}).items()
        if any(a <= n and (b is None or n <= b) for a, b in lost)
    }
    other = {batch for batch, row in knew.items() if row != says.get(batch)}
    other &= set(knew) if lost and due is None else altered
    traced = {batch for (batch,) in new.execute("SELECT DISTINCT batch FROM traces")} - says.keys()
    for batch in sorted(gone | other | (traced if lost else set())):
        row = knew.get(batch)
        if batch > 0:
            marks = zip(projection.MARKS, row[1:], strict=True) if row else ()
            known = {mark: value for mark, value in marks if value and type(value) in (int, str)}
            yield {"batch": batch, **known}


def _cut_off(old: sqlite3.Connection | None, new: sqlite3.Connection) -> list[dict[str, Any]]:
    """Batches of which these tables, sound in themselves, know more than the facts say: what
    said it was cut off from the end. Of that only a live cup is taken over, as the tables may
    have been altered: none may be hidden so."""
    says = _knew(new)
    marks = ", ".join(projection.MARKS)
    select = f"SELECT batch, {marks} FROM batches WHERE outcome = {projection._OUTCOME}"
    found: list[dict[str, Any]] = []
    try:
        if old is None or old.execute("PRAGMA integrity_check(1)").fetchone() != ("ok",):
            return found
        for batch, live, closed, ended in old.execute(f"{select} ORDER BY batch").fetchall():
            knew, here = (live, closed, ended), says.get(batch, (batch, 0, 0, None))[1:]
            more = batch not in says or any(a and not b for a, b in zip(knew, here, strict=True))
            if more and not (live and ended) and type(batch) is int and batch > 0:
                found.append({"batch": batch, **({"live": 1} if live else {})})
    except sqlite3.DatabaseError:
        pass
    return found


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
    return any(found) or bool(lost)


def _lost_traces(
    old: sqlite3.Connection | None, new: sqlite3.Connection, damaged: bool
) -> tuple[int, ...]:
    """The batches of which blocks cannot be read, by what finds them, or by what facts say."""
    of = salvage.batches(old, salvage.TRACES) if old is not None else None
    got = {block for (block,) in new.execute("SELECT block FROM traces")}
    held = dict(new.execute("SELECT batch, sum(readings) FROM traces GROUP BY batch"))
    lost = {batch for block, batch in (of or {}).items() if block not in got}
    told: set[int] = set()
    for (canonical,) in new.execute("SELECT bytes FROM facts WHERE kind = 'traced' ORDER BY seq"):
        with suppress(RecordError):
            entry = read(canonical)[1]
            if entry.data.get("readings") == held.get(entry.batch):
                lost.discard(entry.batch)
            elif damaged or (old is not None and of is None):
                told.add(entry.batch)
    return tuple(sorted((lost | told) - _known_traces(new)))


def _known_traces(new: sqlite3.Connection) -> set[int]:
    known: set[int] = set()
    for (canonical,) in new.execute("SELECT bytes FROM facts WHERE kind = ?", [KIND]):
        with suppress(RecordError, TypeError, KeyError):
            known.update(read(canonical)[1].data["traces"])
    return known


# -- whether the old file was whole -----------------------------------------------------------


def _agrees(old: sqlite3.Connection, new: sqlite3.Connection, due: dict[int, int] | None) -> bool:
    """Whether it is sound, and finds what was carried over. One of an older layout has no such
    tables yet."""
    try:
        if old.execute("PRAGMA integrity_check").fetchall() != [("ok",)]:
            return False
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
