"""A damaged record is carried over to a new file: what can be read of it, as it stands.

What cannot is named by a fact of its own (``mended``), upon a hole in the numbers of the
facts where any is lost, so that no later look takes the record for whole. The damaged
file is kept beside it. It must never change a fact, nor a file that is whole.
"""

from __future__ import annotations

import contextlib
import os
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from shutil import copyfile
from typing import Any

from mixer.record import making, projection, salvage, schema
from mixer.record.envelope import GENESIS, Entry, RecordError, read, seal
from mixer.record.lock import WriterLock
from mixer.record.parts import beside
from mixer.record.reader import Reader
from mixer.record.trouble import is_damage, real_path, said

KIND = "mended"
_TRACE = "block, batch, boot, readings, bytes, hash"


@dataclass(frozen=True, slots=True)
class Lost:
    """``facts`` by the first and last number of each row of them that cannot be read (None for
    the last: nobody knows), ``batches`` those that they are of, with what was known of them, and
    ``traces`` the batches of which weights are lost (0: nobody knows of which)."""

    facts: tuple[tuple[int, int | None], ...]
    batches: tuple[dict[str, Any], ...]
    traces: tuple[int, ...]


def mend(record: Path | str, told: Entry, wait_s: float = 1) -> Lost | None:
    """Carry it over; None where nothing is damaged, and then nothing is done. ``told`` is
    what the new fact has beside its kind and data. :class:`RecordError` where it cannot be."""
    path = real_path(record)
    lock, part = WriterLock(path), making.part_of(path)
    try:
        _must_be_ours(path)
        lock.take(wait_s)
        making.clear_away(path)
        with Reader.look(path) as reader, said(path), closing(_new(part)) as new:
            lost = _carry(reader, new)
            if not (reader.torn or lost.facts or lost.traces) and _sound(reader._db):
                return None
            kept = _free_name(path)
            _tell(new, replace(told, kind=KIND, batch=0), lost, kept.name)
        _put(part, path, kept)
    except RecordError as err:
        if not is_damage(err.__context__):
            raise
        raise RecordError(
            f"The record {path} is damaged so that none of its facts can be found, and was left as "
            "it is: move it aside with all that is named like it, and put the newest backup in its "
            "place."
        ) from None
    except OSError as err:
        raise RecordError(
            f"The record {path} cannot be carried over to a new file: {err.strerror}; look at the "
            "rights of its folder and at the room of its disk."
        ) from None
    finally:
        lock.free()
        for left in (part, beside(part, "-journal")):
            with contextlib.suppress(OSError):
                left.unlink(missing_ok=True)
    return lost


def _must_be_ours(path: Path) -> None:
    """Refused is what this program does not write to, or cannot make out."""
    with Reader.look(path) as reader:
        altered = reader.torn if reader.torn == schema.misread(path) else ""
    if why := reader.newer or altered or making.second_name(path):
        raise RecordError(why)


def told(data: dict[str, Any]) -> str:
    """What a fact of this kind says, in a sentence.

    >>> told({"facts": [[37, 41]], "batches": [{"batch": 7}], "traces": [9], "kept": "r-damaged"})
    'Facts 37 to 41 (of batch 7) and weights of batch 9 were lost with a damaged part of the \
file, which is kept as r-damaged.'
    """
    try:
        facts = [_rows(first, last) for first, last in data["facts"]]
        batches = ", ".join(str(one["batch"]) for one in data["batches"])
        traces = ", ".join(str(batch or "nobody knows which") for batch in data["traces"])
        what = [f"facts {', '.join(facts)} (of batch {batches or 'nobody knows which'})"]
        what = [*(what if facts else []), *([f"weights of batch {traces}"] if traces else [])]
        kept = f"with a damaged part of the file, which is kept as {data['kept']}."
        if not what:
            return f"Nothing was lost {kept}"
        lost = " and ".join(what)
        return f"{lost[0].upper()}{lost[1:]} were lost {kept}"
    except (KeyError, TypeError, ValueError):  # of another program
        return "Something was lost with a damaged part of the file."


def _rows(first: int, last: int | None) -> str:
    if last is None:
        return f"from {first} on"
    return str(first) if first == last else f"{first} to {last}"


def _sound(db: sqlite3.Connection) -> bool:
    """Whether all else can be read too: a way to the present layout walks through it."""
    try:
        return bool(db.execute("PRAGMA integrity_check(1)").fetchone() == ("ok",))
    except sqlite3.DatabaseError:
        return False


def _new(part: Path) -> sqlite3.Connection:
    db = sqlite3.connect(part, isolation_level=None)
    db.execute(f"PRAGMA page_size = {making.PAGE}")
    db.execute("PRAGMA journal_mode = OFF")
    db.execute("PRAGMA synchronous = OFF")  # it is brought to the disk once it is whole
    return db


def _carry(reader: Reader, new: sqlite3.Connection) -> Lost:
    old = reader._db
    new.execute("BEGIN")
    schema.make(new)
    new.executemany(
        "INSERT OR IGNORE INTO facts (seq, bytes, prev, hash, batch, kind)"
        " VALUES (?, ?, ?, ?, ?, CAST(? AS TEXT))",
        reader.rows(),
    )
    lost_blocks: list[int] = []
    traced = old.execute("SELECT 1 FROM sqlite_master WHERE name = 'traces'").fetchone()
    if traced:
        blocks = salvage.rows(old, salvage.TRACES, _TRACE, lost_blocks.append)
        new.executemany(
            f"INSERT OR IGNORE INTO traces ({_TRACE}) VALUES (?, ?, ?, ?, ?, ?)", blocks
        )
    schema.derive(new)
    facts, batches = _lost_facts(reader, new)
    new.execute("COMMIT")
    return Lost(facts, batches, _lost_traces(old, new, bool(lost_blocks)) if traced else ())


def _lost_facts(
    reader: Reader, new: sqlite3.Connection
) -> tuple[tuple[tuple[int, int | None], ...], tuple[dict[str, Any], ...]]:
    got = [seq for (seq,) in new.execute("SELECT seq FROM facts WHERE seq > 0 ORDER BY seq")]
    due = salvage.batches(reader._db, salvage.FACTS)
    found: list[tuple[int, int | None]] = [
        (a + 1, b - 1) for a, b in pairwise([0, *got]) if b > a + 1
    ]
    last, highest = got[-1] if got else 0, max(due or (), default=0)
    if highest > last:
        found.append((last + 1, highest))
    elif due is None and reader.torn:
        found.append((last + 1, None))
    if not found:
        return (), ()
    there = set(got)
    of = None if due is None else {batch for seq, batch in due.items() if seq not in there}
    return tuple(found), tuple(_marks(reader._db, new, of))


def _marks(
    old: sqlite3.Connection, new: sqlite3.Connection, of: set[int] | None
) -> Iterator[dict[str, Any]]:
    """What the tables that find facts knew of these batches, and the facts that are left do
    not say: so that a live cup stays one, and no number is given twice."""
    select = "SELECT batch, live, closed, ended FROM batches"
    try:
        rows: Sequence[tuple[Any, ...]] = old.execute(select).fetchall()
    except sqlite3.DatabaseError:
        rows = ()
    knew = {row[0]: row for row in rows if type(row[0]) is int}
    says = {row[0]: row for row in new.execute(select)}
    traced = {batch for (batch,) in new.execute("SELECT DISTINCT batch FROM traces")} - says.keys()
    for batch in sorted({*(knew if of is None else of), *traced}):
        row = knew.get(batch)
        if batch > 0 and (of is not None or batch in traced or row != says.get(batch)):
            marks = zip(projection.MARKS, row[1:], strict=True) if row else ()
            yield {"batch": batch, **{mark: value for mark, value in marks if value}}


def _lost_traces(
    old: sqlite3.Connection, new: sqlite3.Connection, damaged: bool
) -> tuple[int, ...]:
    """The batches of which blocks cannot be read, by what finds them, or by what facts say."""
    of = salvage.batches(old, salvage.TRACES)
    got = {block for (block,) in new.execute("SELECT block FROM traces")}
    lost = {batch for block, batch in (of or {}).items() if block not in got}
    if of is None:
        held = dict(new.execute("SELECT batch, sum(readings) FROM traces GROUP BY batch"))
        for (canonical,) in new.execute("SELECT bytes FROM facts WHERE kind = 'traced'"):
            with contextlib.suppress(RecordError, TypeError, AttributeError):
                entry = read(canonical)[1]
                if entry.data.get("readings") != held.get(entry.batch):
                    lost.add(entry.batch)
    return tuple(sorted(lost or ({0} if damaged else set())))


def _tell(new: sqlite3.Connection, entry: Entry, lost: Lost, kept: str) -> None:
    data = {"facts": lost.facts, "batches": lost.batches, "traces": lost.traces, "kept": kept}
    row = new.execute("SELECT seq, hash FROM facts ORDER BY seq DESC LIMIT 1").fetchone()
    seq, prev = row or (0, GENESIS)
    for first, last in lost.facts:  # where how many are lost is not known, one at least
        seq = max(seq, first if last is None else last)
    fact = seal(replace(entry, data=data), seq + 1, prev)
    new.execute("BEGIN")
    new.execute(
        "INSERT INTO facts (seq, bytes, prev, hash, batch, kind) VALUES (?, ?, ?, ?, ?, ?)",
        (fact.seq, fact.canonical, fact.prev, fact.hash, 0, KIND),
    )
    projection.follow(new, fact.entry)
    new.execute("COMMIT")


def _free_name(path: Path) -> Path:
    names = (beside(path, f"-damaged{f'-{n}' if n > 1 else ''}") for n in range(1, 1000))
    return next(name for name in names if not name.exists())


def _put(part: Path, path: Path, kept: Path) -> None:
    """Keep the damaged file and its log, each whole on the disk before anything is replaced."""
    _on_disk(part)
    for end in ("", "-wal"):
        file = beside(path, end)
        if end and not (file.exists() and file.stat().st_size):
            continue
        copyfile(file, beside(kept, end))
        _on_disk(beside(kept, end))
    making.keep_name(path.parent)
    for end in ("-wal", "-shm"):  # a new file would be read by them
        beside(path, end).unlink(missing_ok=True)
    part.replace(path)
    making.keep_name(path.parent)


def _on_disk(file: Path) -> None:
    with file.open("rb+") as opened:
        os.fsync(opened.fileno())
