"""A record whose file was cut off, or is damaged in its head: opened as far as it goes.

SQLite refuses a file that is shorter than its head says. Read into memory and filled up
with nothing it can be looked at: what stood in the part that is there can be found, and
each look at the part that is not says so. A head that no longer is one is made anew in
memory. The file itself is not touched.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from struct import pack
from tempfile import TemporaryDirectory

from mixer.record import schema
from mixer.record.trouble import APPLICATION_ID, looks_like_ours

_PAGE = 4096
_TRACES = b"CREATE TABLE traces (block"
_HEAD = 100  # bytes; SQLite's file format, 1.3: page size at 16, versions at 18, pages at 28

_SAME = (0, 8)  # a table or index of one page (13, 10), or one that has grown (5, 2; 1.6)
_MOST = 1 << 28  # bytes filled up; a head that was altered may ask for anything


def missing(path: Path) -> int:
    """How many bytes the file is shorter than its head says; 0 where it is not. SQLite opens
    one that ends within its last page, and reads nothing there as zeros."""
    if _has_log(path):  # then what the head says is not how long the file must be
        return 0
    with path.open("rb") as file:
        head = file.read(_HEAD)
    short = _page_size(head) * int.from_bytes(head[28:32], "big") - path.stat().st_size
    told = head[24:28] == head[92:96]  # else whoever wrote it last did not tell its length (1.3.7)
    return short if told and short > 0 and not _has_log(path) else 0


def _page_size(head: bytes) -> int:
    """In bytes; 0 where that is none."""
    size = int.from_bytes(head[16:18], "big")
    size = 65_536 if size == 1 else size
    return size if size >= 512 and size & size - 1 == 0 else 0


def _has_log(path: Path) -> bool:
    log = path.with_name(path.name + "-wal")
    return log.exists() and log.stat().st_size > 0


def open_cut(path: Path) -> sqlite3.Connection | None:
    """What is there of the file at ``path``; None where it was not cut off."""
    short = missing(path)
    if path.stat().st_size < _HEAD or not 0 < short <= _MOST:
        return None
    raw = path.read_bytes()
    db = sqlite3.connect(":memory:", isolation_level=None, check_same_thread=False)
    # 1 for the versions: what is in memory has no log beside it.
    db.deserialize(raw[:18] + b"\1\1" + raw[20:] + bytes(short))
    return db


def open_without_head(path: Path) -> sqlite3.Connection | None:
    """What is there behind a start that is none; None where it is no record of ours.

    What the head tells is known of every record, or told by the file's length (SQLite's
    file format, 1.3), but for its layout. Where the rest of the first page is damaged too,
    which says how the tables are to be read and where each begins, that of a new record is
    tried, as it was made and as it is once it was written anew: most have one of the two.
    """
    try:
        with path.open("rb") as file:
            if not looks_like_ours(file.read(_PAGE)):
                return None
        raw = path.read_bytes()
        log = path.with_name(path.name + "-wal")
        logged = log.read_bytes() if log.exists() else b""
    except OSError:
        return None
    if len(raw) % _PAGE:
        return None
    layout = 2 if _TRACES in raw[:_PAGE] else 1
    for start in (_head(raw, layout) + raw[_HEAD:_PAGE], *_starts(raw)):
        db = _opened(start + raw[_PAGE:], logged)
        if db is not None:
            return db
    return None


def _head(raw: bytes, layout: int) -> bytes:
    head = b"SQLite format 3\0" + pack(">H6B", _PAGE, 2, 2, 0, 64, 32, 32)
    head += pack(">12I", 1, len(raw) // _PAGE, 0, 0, 1, 4, 0, 0, 1, layout, 0, APPLICATION_ID)
    return head + bytes(20) + pack(">2I", 1, sqlite3.sqlite_version_info[0] * 1_000_000)


def _starts(raw: bytes) -> Iterator[bytes]:
    """First pages of new records whose tables begin at pages that are such here too."""
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as new:
        new.execute(f"PRAGMA page_size = {_PAGE}")
        schema.make(new)
        for statement in ("SELECT 1", "VACUUM"):
            new.execute(statement)
            made = new.serialize()
            pages = range(_PAGE, len(made), _PAGE)
            if all(made[at] - raw[at] in _SAME for at in pages if at < len(raw)):
                yield _head(raw, schema.SCHEMA) + made[_HEAD:_PAGE]


def _opened(raw: bytes, log: bytes) -> sqlite3.Connection | None:
    """These bytes as a record in memory, with what stands in its log; None where its tables
    hold what none of ours does."""
    db = sqlite3.connect(":memory:", isolation_level=None, check_same_thread=False)
    try:
        if log:
            with TemporaryDirectory(ignore_cleanup_errors=True) as folder:
                copy = Path(folder) / "record"
                copy.write_bytes(raw)
                copy.with_name("record-wal").write_bytes(log)
                with closing(sqlite3.connect(copy)) as source:
                    source.backup(db)
        else:  # 1 for the versions: what is in memory has no log beside it
            db.deserialize(raw[:18] + b"\1\1" + raw[20:])
        if _reads_as_ours(db):
            return db
    except sqlite3.DatabaseError:
        pass
    db.close()
    return None


def _reads_as_ours(db: sqlite3.Connection) -> bool:
    (layout,) = db.execute("PRAGMA user_version").fetchone()
    facts = f"SELECT bytes, {schema.before(layout)}, hash, batch, CAST(kind AS BLOB) FROM facts"
    held: list[tuple[str, list[type]]] = [(facts, [bytes, bytes, bytes, int, bytes])]
    if layout > 1:
        traces = "SELECT bytes, hash, batch, boot, readings FROM traces"
        held.append((traces, [bytes, bytes, int, str, int]))
    return all(
        list(map(type, row)) == types
        for select, types in held
        for row in db.execute(f"{select} LIMIT 1")
    )
