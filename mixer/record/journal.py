"""The journal: facts in one SQLite file, appended, chained, and on disk before they count.

What it promises: when `append` has returned, its facts survive a killed process and a
power cut; either all facts of one call are in the record or none; two programs that
write the same file keep one chain; a fact is never changed or taken away.

The bytes of a fact are the truth (see `envelope`). The columns beside them only find
facts quickly; they are derived from the bytes in the same transaction and can be built
again from them. The chain shows a fact that was altered, removed, moved or put in
behind the program's back; it cannot show a tail cut off, nor a record rewritten whole.

It must never be used by two threads at once, and never reads a clock.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any, Self

from mixer.record.chain import columns, first_bad
from mixer.record.envelope import GENESIS, Entry, RecordError, Sealed, seal, unseal

#: The layout of the tables, in the file's `user_version`.
SCHEMA = 1
#: Says that a SQLite file is a record of ours, in its `application_id` ("cup1").
_APPLICATION_ID = 0x63757031
_TABLES = (
    "CREATE TABLE facts (seq INTEGER PRIMARY KEY, bytes BLOB NOT NULL, hash BLOB NOT NULL,"
    " batch INTEGER NOT NULL, kind TEXT NOT NULL, utc TEXT NOT NULL,"
    " at_ms INTEGER NOT NULL, boot TEXT NOT NULL)",
    "CREATE INDEX facts_by_batch ON facts (batch)",
    "CREATE INDEX facts_by_kind ON facts (kind, batch)",
    f"PRAGMA application_id = {_APPLICATION_ID}",
    f"PRAGMA user_version = {SCHEMA}",
)
_COLUMNS = "seq, bytes, hash, batch, kind, utc, at_ms, boot"
_CHUNK = 1000  # rows fetched at once, so that no read stays open between two facts


class Journal:
    """An open record. Made by :meth:`open`; used by one thread at a time."""

    def __init__(
        self, db: sqlite3.Connection, path: Path, before_commit: Callable[[], None] | None
    ) -> None:
        self._db = db
        self.path = path
        self._before_commit = before_commit

    @classmethod
    def open(
        cls,
        path: Path | str,
        *,
        busy_s: float = 5.0,
        before_commit: Callable[[], None] | None = None,
    ) -> Self:
        """Open the record at ``path``, made with its folders if it is not there.

        ``busy_s`` is how long to wait, in seconds, for another program that is writing.
        ``before_commit`` is called within each transaction just before it is made
        durable: a slow disk for tests.
        """
        path = Path(path).absolute()  # so that ":memory:" is a file like any other
        if path.exists() and not path.is_file():
            raise RecordError(f"The record {path} cannot be opened: that is not a file.")
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
        except OSError as err:
            raise RecordError(
                f"No folder for the record can be made at {path.parent}: {err.strerror}."
            ) from None
        with _said(path):
            # The thread that opens it may hand it on to the bench thread.
            db = sqlite3.connect(
                path, timeout=busy_s, isolation_level=None, check_same_thread=False
            )
        try:
            with _said(path):
                _prepare(db, path)
        except BaseException:
            db.close()
            raise
        return cls(db, path, before_commit)

    def close(self) -> None:
        """Let go of the file. Nothing is lost if this is never called."""
        with _said(self.path):
            self._db.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def append(self, entries: Sequence[Entry]) -> list[Sealed]:
        """Store these facts, all or none; returns once they are on disk."""
        if not entries:
            return []
        with self._transaction():
            return self._write(entries)

    def open_batch(self, entry: Entry) -> int:
        """Store the first fact of a new batch, and return the number it was given.

        ``entry.batch`` is replaced. The number is taken within the transaction, so no
        other program can be given the same one.
        """
        with self._transaction():
            (last,) = self._db.execute("SELECT coalesce(max(batch), 0) FROM facts").fetchone()
            self._write([replace(entry, batch=last + 1)])
        return int(last) + 1

    def entries(
        self, batch: int | None = None, *, having: str | None = None, lacking: Sequence[str] = ()
    ) -> Iterator[Entry]:
        """The facts in their order: all, or those of one batch, or of some batches.

        ``having`` keeps the batches in which a fact of that kind stands, ``lacking``
        those in which none of these kinds does: the live cups of a long record are
        found without reading it whole by ``having="live", lacking=["closed"]``.
        """
        where = "seq > ?"
        given: list[int | str] = []
        if batch is not None:
            where += " AND batch = ?"
            given.append(batch)
        if having is not None:
            where += " AND batch IN (SELECT batch FROM facts WHERE kind = ?)"
            given.append(having)
        if lacking:
            kinds = ", ".join("?" * len(lacking))
            where += f" AND batch NOT IN (SELECT batch FROM facts WHERE kind IN ({kinds}))"
            given.extend(lacking)
        for seq, canonical in self._rows("seq, bytes", where, given):
            try:
                yield unseal(canonical)[1]
            except RecordError as err:
                raise RecordError(f"Fact {seq} in {self.path} cannot be read. {err.say}") from None

    def check_chain(self) -> int | None:
        """The number of the first fact that is not as it was stored, or None."""
        return first_bad(self._rows(_COLUMNS, "seq > ?", []))

    def _rows(self, which: str, where: str, given: list[int | str]) -> Iterator[tuple[Any, ...]]:
        select = f"SELECT {which} FROM facts WHERE {where} ORDER BY seq LIMIT {_CHUNK}"
        last = -(2**63)  # a row put in by hand may have any number
        while True:
            with _said(self.path):
                rows = self._db.execute(select, [last, *given]).fetchall()
            yield from rows
            if len(rows) < _CHUNK:
                return
            last = rows[-1][0]

    @contextmanager
    def _transaction(self) -> Iterator[None]:
        with _said(self.path):
            self._db.execute("BEGIN IMMEDIATE")  # no other program can write until the end
            try:
                yield
                if self._before_commit is not None:
                    self._before_commit()
                self._db.execute("COMMIT")
            except BaseException:
                if self._db.in_transaction:
                    self._db.execute("ROLLBACK")
                raise

    def _write(self, entries: Sequence[Entry]) -> list[Sealed]:
        # The head is read here, inside the transaction: another program may have moved it.
        head = self._db.execute("SELECT seq, hash FROM facts ORDER BY seq DESC LIMIT 1").fetchone()
        seq, prev = head or (0, GENESIS)
        stored: list[Sealed] = []
        for entry in entries:
            stored.append(seal(entry, seq := seq + 1, prev))
            prev = stored[-1].hash
        self._db.executemany(
            f"INSERT INTO facts ({_COLUMNS}) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            [(fact.seq, fact.canonical, fact.hash, *columns(fact.entry)) for fact in stored],
        )
        return stored


def _prepare(db: sqlite3.Connection, path: Path) -> None:
    # Text changed behind our back may not even be UTF-8; it must still be read to be found.
    db.text_factory = lambda raw: str(raw, "utf-8", "replace")
    # Looked at first: another program's file must not be touched, not even its mode.
    if _is_blank(db):
        db.execute("BEGIN IMMEDIATE")
        if _is_blank(db):  # still: a second program may have been quicker
            for statement in _TABLES:
                db.execute(statement)
        db.execute("COMMIT")
    (application,) = db.execute("PRAGMA application_id").fetchone()
    (schema,) = db.execute("PRAGMA user_version").fetchone()
    if application != _APPLICATION_ID:
        raise _no_record(path)
    if schema != SCHEMA:
        raise RecordError(
            f"The record {path} was written by another version of the program (layout {schema}; "
            f"this one knows {SCHEMA}); use that version, nothing in it was changed."
        )
    (mode,) = db.execute("PRAGMA journal_mode = WAL").fetchone()
    if mode != "wal":
        raise RecordError(
            f"The record {path} cannot be kept safely there (SQLite offers only “{mode}”); "
            "choose a folder on a disk of this computer."
        )
    db.execute("PRAGMA synchronous = FULL")
    db.execute("PRAGMA fullfsync = ON")  # on macOS a plain fsync stops at the drive's cache


def _is_blank(db: sqlite3.Connection) -> bool:
    (application,) = db.execute("PRAGMA application_id").fetchone()
    (schema,) = db.execute("PRAGMA user_version").fetchone()
    (things,) = db.execute("SELECT count(*) FROM sqlite_master").fetchone()
    return (application, schema, things) == (0, 0, 0)


def _no_record(path: Path) -> RecordError:
    return RecordError(f"{path} is not a build record but some other file; it was not changed.")


@contextmanager
def _said(path: Path) -> Iterator[None]:
    """What SQLite has to say, as one sentence for a person."""
    try:
        yield
    except sqlite3.Error as err:
        name = str(getattr(err, "sqlite_errorname", ""))
        if name.startswith("SQLITE_NOTADB"):
            raise _no_record(path) from None
        reasons = {
            "SQLITE_FULL": "the disk is full; what was stored before is safe, make room",
            "SQLITE_BUSY": "another program is writing to it; try again",
            "SQLITE_READONLY": "it may not be written to; look at the rights of file and folder",
            "SQLITE_CANTOPEN": "it cannot be opened; look at the rights of file and folder",
            "SQLITE_PERM": "it may not be written to; look at the rights of file and folder",
            "SQLITE_CORRUPT": "the file is damaged; keep a copy of it as it is",
        }
        reason = next((say for key, say in reasons.items() if name.startswith(key)), str(err))
        raise RecordError(
            f"The record {path} could not be read or written, and nothing new was stored: {reason}."
        ) from None
