"""The journal: facts in one SQLite file, appended, chained, and on disk before they count.

What it promises: when `append` has returned, its facts survive a killed process and a
power cut; either all facts of one call are in the record or none; one program writes at
a time, and a second is told so; a fact is never changed or taken away.

The bytes of a fact are the truth (see `envelope`). The tables that find facts quickly
are derived from them in the same transaction and can be built again from them (see
`projection`). The chain shows a fact that was altered, removed, moved or put in behind
the program's back; it cannot show a tail cut off, nor a record rewritten whole, unless
its head was kept elsewhere.

It must never be used by two threads at once, and never reads a clock.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import replace
from pathlib import Path
from typing import Self

from mixer.record import log, making, opening, projection, room, schema
from mixer.record.envelope import GENESIS, Entry, RecordError, Sealed, seal
from mixer.record.lock import WriterLock
from mixer.record.parts import owner
from mixer.record.reader import Reader
from mixer.record.trace import Sample, pack, sealed
from mixer.record.trouble import is_damage, look_beside, must_not_be_empty, real_path, said
from mixer.record.watched import Watched

SCHEMA = schema.SCHEMA
IMPATIENT_S = 0.2
LOG_MAX_BYTES = 4_000_000  # of SQLite's log, before it is brought into the record
CLAIM_S = 1.0  # who has it for a batch keeps it for minutes: there is no use in waiting
_ENDS = ("live", "ended")  # with these a batch is weighed no more


class Journal(Watched):
    """An open record. Made by :meth:`open`; used by one thread at a time.

    ``lost`` is a sentence where facts were lost before it was opened, else empty; ``new``
    whether it was made then.
    """

    def __init__(
        self,
        db: sqlite3.Connection,
        path: Path,
        busy_s: float,
        before_commit: Callable[[], None] | None,
    ) -> None:
        super().__init__(db, path, busy_s)
        self.lost = ""
        self.new = False
        self._patient_s = busy_s
        self._before_commit = before_commit
        self._lock = WriterLock(path)

    @classmethod
    def open(
        cls,
        path: Path | str,
        *,
        busy_s: float = 5.0,
        before_commit: Callable[[], None] | None = None,
        make: bool = True,
    ) -> Self:
        """Open the record at ``path``, made with its folders if it is not there; with
        ``make`` false one that is there.

        One of an older layout is brought up to date; of a newer one only :meth:`read`
        takes notice. ``busy_s`` is how long to wait, in seconds, for another program
        that is writing. ``before_commit`` is called within each transaction just before
        it is made durable: a slow disk for tests.
        """
        folder = Path(path).absolute().parent  # none is made where a link points to
        path = real_path(path)
        if path.exists() and not path.is_file():
            raise RecordError(f"The record {path} cannot be opened: that is not a file.")
        if used := owner(path):
            raise RecordError(f"{path} is a part of the record {used.name}: give that one.")
        look_beside(path)
        must_not_be_empty(path)
        try:
            if make:
                folder.mkdir(parents=True, exist_ok=True)
        except OSError as err:
            raise RecordError(
                f"No folder for the record can be made at {folder}: {err.strerror}."
            ) from None
        new = make and not path.exists() and making.make(path, busy_s)
        _must_have_one_name(path)
        hurt = log.damaged(path)
        if hurt:
            with Reader.look(path, busy_s=busy_s) as reader:
                log.keep(path, reader.head()[0])
        try:
            journal = cls(opening.to_write(path, busy_s), path, busy_s, before_commit)
        except RecordError as err:
            raise _with_what_is_missing(path, err) from None
        if hurt:  # what stands in it behind the damage is not to be taken for this log's
            with said(path):
                journal._db.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
        journal.new = new
        journal.lost = log.amiss(path, journal.head()[0])
        return journal

    @staticmethod
    def read(path: Path | str, *, busy_s: float = 5.0) -> Reader:
        """Open the record at ``path`` for looking only (see :class:`Reader`)."""
        return Reader.look(path, busy_s=busy_s)

    def close(self) -> None:
        """Let go of the file. Nothing is lost if this is never called."""
        self._lock.free()
        super().close()

    def claim(self) -> None:
        """Be the one writer until :meth:`release`; :class:`RecordError` where another is.

        Meanwhile nothing waits for long: whoever else has locked the file, the bench must
        go on looking at its scale, and tries again.
        """
        _must_have_one_name(self.path)
        self._lock.take(min(self._busy_s, CLAIM_S))
        self._wait_up_to(min(self._busy_s, IMPATIENT_S))
        room.make(self.path)

    def is_claimed(self) -> bool:
        """Whether another program has claimed it: then what is not ended was not cut off."""
        return self._lock.is_another_s(IMPATIENT_S)

    def release(self) -> None:
        """Let others write again."""
        self._lock.free()
        self._wait_up_to(self._patient_s)

    def _wait_up_to(self, busy_s: float) -> None:
        self._busy_s = busy_s
        with said(self.path):
            self._db.execute(f"PRAGMA busy_timeout = {round(busy_s * 1000)}")

    def append(self, entries: Sequence[Entry]) -> list[Sealed]:
        """Store these facts, all or none; returns once they are on disk."""
        if not entries:
            return []
        with self._transaction():
            return self._write(entries)

    def open_batch(self, entry: Entry) -> int:
        """Store the first fact of a new batch, and return the number it was given.

        ``entry.batch`` is replaced. The number is taken within the transaction, so no
        other program can be given the same one; nor is one that a damaged log tells of.
        """
        with self._transaction():
            (last,) = self._db.execute("SELECT coalesce(max(batch), 0) FROM batches").fetchone()
            number = 1 + max(int(last), log.batches(self.path) if self.lost else 0)
            self._write([replace(entry, batch=number)])
        return number

    def add_trace(self, batch: int, samples: Sequence[Sample], boot: str) -> None:
        """Store one more block of a batch's weight trace; returns once it is on disk."""
        if not samples:
            return
        block = pack(samples)
        with self._transaction():
            here = sealed(self._trace_head(batch)[1], batch, boot, block)
            self._insert(
                "INSERT INTO traces (batch, boot, readings, bytes, hash) VALUES (?, ?, ?, ?, ?)",
                [(batch, boot, len(samples), block, here)],
            )

    # -- how it is written ----------------------------------------------------------

    @contextmanager
    def _transaction(self) -> Iterator[None]:
        self._look_at_file()
        self._written: tuple[int, bytes] | None = None
        held = self._lock.held
        self._lock.take(self._busy_s)
        try:
            with said(self.path):
                self._db.execute("BEGIN IMMEDIATE")
                try:
                    self._look_at_newest()
                    yield
                    if self._before_commit is not None:
                        self._before_commit()
                    self._db.execute("COMMIT")
                except BaseException as err:
                    if str(getattr(err, "sqlite_errorname", "")).startswith("SQLITE_IOERR"):
                        self._failed = True
                    if self._db.in_transaction:
                        self._db.execute("ROLLBACK")
                    raise
                self._newest = self._written or self._newest
                if self._notes is None or None in self._notes:  # what is known stays so: whoever
                    self._notes = opening.notes_of(self.path)  # takes it away meanwhile is seen
                self._keep_log_short()
        finally:
            if not held:
                self._lock.free()

    def _keep_log_short(self) -> None:
        """Bring a long log into the record and empty it in one step: left to itself SQLite lets
        it stand, and what is left of such a log when it is cut off or damaged lays old pages
        over newer ones. Waits for nobody: a reader is over soon, and the next call tries."""
        if opening.size_of_log(self.path) < LOG_MAX_BYTES:
            return
        with suppress(sqlite3.Error):  # what was to be stored is stored
            self._db.execute("PRAGMA busy_timeout = 0")
            self._db.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
            room.make(self.path)
        self._db.execute(f"PRAGMA busy_timeout = {round(self._busy_s * 1000)}")

    def _write(self, entries: Sequence[Entry]) -> list[Sealed]:
        seq, prev = self._newest
        stored: list[Sealed] = []
        for entry in self._with_traces(entries):
            stored.append(seal(entry, seq := seq + 1, prev))
            prev = stored[-1].hash
        self._written = seq, prev
        self._insert(
            "INSERT INTO facts (seq, bytes, prev, hash, batch, kind) VALUES (?, ?, ?, ?, ?, ?)",
            [(f.seq, f.canonical, f.prev, f.hash, f.entry.batch, f.entry.kind) for f in stored],
        )
        for fact in stored:
            projection.follow(self._db, fact.entry)
        return stored

    def _insert(self, statement: str, rows: Sequence[tuple[object, ...]]) -> None:
        if self._db.executemany(statement, rows).rowcount != len(rows):
            raise RecordError(
                f"The record {self.path} did not take what was to be stored, and nothing new was "
                "stored: keep a copy of the file as it is."
            )

    def _with_traces(self, entries: Sequence[Entry]) -> Iterator[Entry]:
        """These, and before the end of a batch that has a weight trace, what that was."""
        for entry in entries:
            if entry.kind in _ENDS:
                readings, head = self._trace_head(entry.batch)
                if readings:
                    yield replace(
                        entry, kind="traced", data={"readings": readings, "hash": head.hex()}
                    )
            yield entry

    def _trace_head(self, batch: int) -> tuple[int, bytes]:
        row = self._db.execute(
            "SELECT total(readings), max(block) FROM traces WHERE batch = ?", (batch,)
        )
        readings, block = row.fetchone()
        if block is None:
            return 0, GENESIS
        (head,) = self._db.execute("SELECT hash FROM traces WHERE block = ?", (block,)).fetchone()
        return int(readings), head


def _must_have_one_name(path: Path) -> None:
    if say := making.second_name(path):
        raise RecordError(say)


def _with_what_is_missing(path: Path, err: RecordError) -> RecordError:
    """Why it is not opened: where its file was cut off or is damaged, in the words of whoever
    looks."""
    with suppress(RecordError), Reader.look(path) as reader:
        if is_damage(err.__context__):
            reader.verify()
        if reader.missing is not None:
            return RecordError(f"Nothing was stored. {reader.torn}")
    return err
