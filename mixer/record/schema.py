"""The layout of the record's tables, by version, and the way from each to the next.

A layout is named by the file's ``user_version``. Facts are carried over byte for byte:
no way may change one, nor its place in the chain.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path

from mixer.record import projection
from mixer.record.envelope import RecordError, read
from mixer.record.trouble import APPLICATION_ID, no_record

SCHEMA = 2

_FACTS = (
    "CREATE TABLE facts (seq INTEGER PRIMARY KEY, bytes BLOB NOT NULL, prev BLOB NOT NULL,"
    " hash BLOB NOT NULL, batch INTEGER NOT NULL, kind TEXT NOT NULL)"
)
_FACTS_BY_BATCH = "CREATE INDEX facts_by_batch ON facts (batch)"
_TRACES = (
    "CREATE TABLE traces (block INTEGER PRIMARY KEY, batch INTEGER NOT NULL, boot TEXT NOT NULL,"
    " readings INTEGER NOT NULL, bytes BLOB NOT NULL, hash BLOB NOT NULL)"
)
_TRACES_BY_BATCH = "CREATE INDEX traces_by_batch ON traces (batch)"
#: By layout, the words that SQLite keeps of how it was made, and reads its tables by.
_WORDS = {
    1: (
        "CREATE TABLE facts (seq INTEGER PRIMARY KEY, bytes BLOB NOT NULL, hash BLOB NOT NULL,"
        " batch INTEGER NOT NULL, kind TEXT NOT NULL, utc TEXT NOT NULL, at_ms INTEGER NOT NULL,"
        " boot TEXT NOT NULL)",
        _FACTS_BY_BATCH,
        "CREATE INDEX facts_by_kind ON facts (kind, batch)",
    ),
    2: (_FACTS, _FACTS_BY_BATCH, _TRACES, _TRACES_BY_BATCH, *projection.statements()),
}


def prepare(db: sqlite3.Connection, path: Path) -> None:
    """Bring an older record up to date, or refuse the file."""
    # Looked at first: another program's file must not be touched, not even its mode.
    schema = may_be_written(db, path)
    keep_safely(db, path)
    for old, step in _STEPS.items():
        if schema <= old:
            _in_one_piece(db, step, partial(_has, old))


def version(db: sqlite3.Connection, path: Path) -> int:
    """The layout of the file; :class:`RecordError` where it is no record."""
    (application,) = db.execute("PRAGMA application_id").fetchone()
    schema = _user_version(db)
    if application != APPLICATION_ID or schema < 1:
        raise no_record(path)
    return schema


def may_be_written(db: sqlite3.Connection, path: Path) -> int:
    """The layout of the file; :class:`RecordError` where this program must not write to it."""
    schema = version(db, path)
    if schema > SCHEMA:
        raise RecordError((newer if has_facts(db) else too_new)(path, schema))
    if say := altered(db, path, schema):
        raise RecordError(say)
    return schema


def has_facts(db: sqlite3.Connection) -> bool:
    """Whether the table that every layout so far keeps its facts in is there."""
    there = "SELECT 1 FROM sqlite_master WHERE name = 'facts'"
    return db.execute(there).fetchone() is not None


def altered(db: sqlite3.Connection, path: Path, layout: int) -> str:
    """A sentence where its tables are no longer told as they were made, else empty: with one
    letter another, SQLite may find no fact at all, and say nothing; and a trigger may
    take each new one away."""
    told = "SELECT CAST(sql AS BLOB), lower(type) FROM sqlite_master"
    kept = dict(db.execute(told))
    as_made = all(words.encode() in kept for words in _WORDS.get(layout, ()))
    ours = layout in _WORDS
    if as_made and not (ours and set(kept.values()) - {"table", "index"}):
        return ""
    return misread(path)


def misread(path: Path) -> str:
    """What is said where its tables are not those that they are told to be."""
    return (
        f"The record {path} is damaged where it says how its tables are to be read, and facts may "
        "not be found: keep a copy of the file as it is."
    )


def newer(path: Path, schema: int) -> str:
    """What is said of a record from a program newer than this one."""
    return (
        f"The record {path} was written by a newer version of the program (layout {schema}; this "
        f"one knows {SCHEMA}): it can be read here, but only that version may write to it."
    )


def too_new(path: Path, schema: int) -> str:
    """What is said where it has no facts that this program could find."""
    return (
        f"The record {path} was written by a newer version of the program (layout {schema}; this "
        f"one knows {SCHEMA}), and only that version can read it."
    )


def keep_safely(db: sqlite3.Connection, path: Path) -> None:
    """A commit that has returned is on the disk."""
    # A copy has no log yet; to change that one page needs no journal beside it, which a kill
    # would leave there.
    if db.execute("PRAGMA journal_mode").fetchone() != ("wal",):
        db.execute("PRAGMA journal_mode = MEMORY")
    (mode,) = db.execute("PRAGMA journal_mode = WAL").fetchone()
    if mode != "wal":
        raise RecordError(
            f"The record {path} cannot be kept safely there (SQLite offers only “{mode}”); "
            "choose a folder on a disk of this computer."
        )
    db.execute("PRAGMA synchronous = FULL")
    db.execute("PRAGMA wal_autocheckpoint = 0")  # the journal keeps its log short
    db.execute("PRAGMA fullfsync = ON")  # on macOS a plain fsync stops at the drive's cache


def _in_one_piece(
    db: sqlite3.Connection,
    do: Callable[[sqlite3.Connection], None],
    still: Callable[[sqlite3.Connection], bool],
) -> None:
    db.execute("BEGIN IMMEDIATE")
    try:
        if still(db):  # a second program may have been quicker
            do(db)
        db.execute("COMMIT")
    except BaseException:
        if db.in_transaction:
            db.execute("ROLLBACK")
        raise


def make(db: sqlite3.Connection) -> None:
    """What a new record has in it."""
    for statement in (_FACTS, _FACTS_BY_BATCH, _TRACES, _TRACES_BY_BATCH):
        db.execute(statement)
    projection.create(db)
    db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    db.execute(f"PRAGMA user_version = {SCHEMA}")


def _from_1(db: sqlite3.Connection) -> None:
    """Layout 1 had three columns more beside the bytes, did not repeat the hash before
    each fact, and had no traces and nothing by lot."""
    db.execute("DROP INDEX facts_by_batch")
    db.execute("DROP INDEX facts_by_kind")
    db.execute("ALTER TABLE facts RENAME TO facts_1")
    db.execute(_FACTS)
    db.execute(
        f"INSERT INTO facts SELECT seq, bytes, {before(1, 'facts_1')}, hash, batch, kind"
        " FROM facts_1 ORDER BY seq"
    )
    db.execute("DROP TABLE facts_1")
    for statement in (_FACTS_BY_BATCH, _TRACES, _TRACES_BY_BATCH):
        db.execute(statement)
    projection.create(db)
    derive(db)
    db.execute("PRAGMA user_version = 2")


_STEPS = {1: _from_1}


def derive(db: sqlite3.Connection) -> None:
    """Build the tables that find facts from the facts; one that cannot be read finds none."""

    def entries() -> projection.Facts:
        for (canonical,) in db.execute("SELECT bytes FROM facts ORDER BY seq"):
            try:
                yield read(canonical)[1]
            except (RecordError, AttributeError, TypeError):
                continue

    projection.rebuild(db, entries())


def _has(schema: int, db: sqlite3.Connection) -> bool:
    return _user_version(db) == schema


def altered_beside(db: sqlite3.Connection) -> int | None:
    """Of layout 1: the first fact that is not what its columns more repeat of it."""
    for seq, canonical, *beside in db.execute(
        "SELECT seq, bytes, utc, at_ms, boot FROM facts ORDER BY seq"
    ):
        entry = read(canonical)[1]
        if beside != [entry.utc, entry.at_ms, entry.boot]:
            return int(seq)
    return None


def before(layout: int, table: str = "facts") -> str:
    """The hash before each fact, as a column or, where a layout did not repeat it, worked out."""
    if layout > 1:
        return "prev"
    found = f"SELECT hash FROM {table} AS f WHERE f.seq = {table}.seq - 1"
    return f"coalesce(({found}), zeroblob(32))"


def _user_version(db: sqlite3.Connection) -> int:
    (schema,) = db.execute("PRAGMA user_version").fetchone()
    return int(schema)


@contextmanager
def one_moment(db: sqlite3.Connection) -> Iterator[None]:
    """Within, all that is read is as of one moment, whoever else writes."""
    db.execute("BEGIN")
    try:
        yield
    finally:
        if db.in_transaction:  # a full disk may have ended it, and is what is to be said
            db.execute("ROLLBACK")
