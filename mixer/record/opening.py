"""How the file of a record is opened, and which file it is.

A file that was taken away is still open to whoever had it, and a second one may stand at its
place: which one is which is told by what the system numbers them with.
"""

from __future__ import annotations

import os
import sqlite3
import tempfile
from contextlib import closing
from pathlib import Path
from shutil import copyfile
from typing import NamedTuple

from mixer.record import cut, making, newest, schema
from mixer.record.envelope import RecordError, chained
from mixer.record.trouble import look_beside, must_not_be_empty, no_record, said

#: Which file SQLite's log is, and which its index; None where it is not there.
Notes = tuple[tuple[int, int] | None, tuple[int, int] | None]

_NEWEST = "SELECT seq, prev, bytes, hash FROM facts ORDER BY seq DESC LIMIT 1"
#: What SQLite says of a head that is none, or of tables that it cannot make out.
_AT_THE_START = ("SQLITE_NOTADB", "SQLITE_CORRUPT", "SQLITE_ERROR")


class Opened(NamedTuple):
    """A record that is looked at: ``torn`` is a sentence where its start is damaged, else empty;
    ``short`` whether the file was cut off."""

    db: sqlite3.Connection
    layout: int
    torn: str = ""
    short: bool = False


def look(path: Path, busy_s: float) -> Opened:
    """A connection that cannot write to the record that stands there; :class:`RecordError` where
    it is none."""
    if not path.is_file():
        raise RecordError(f"There is no record at {path}.")
    look_beside(path)
    must_not_be_empty(path)
    with said(path):
        torn, part = "", cut.open_cut(path)
        try:
            db = to_read(path, busy_s) if part is None else part
        except sqlite3.DatabaseError as err:
            found = None
            if str(getattr(err, "sqlite_errorname", "")) in _AT_THE_START:
                found, torn = cut.open_without_head(path), left(path, "is damaged in its head")
            if found is None:
                raise
            db = found
        try:
            layout = schema.version(db, path)
        except RecordError:
            db.close()
            found = cut.open_without_head(path)
            if found is None:
                raise
            db, torn = found, left(path, "is damaged in its head")
            layout = schema.version(db, path)
        try:
            if not schema.has_facts(db):
                newer = layout > schema.SCHEMA
                raise RecordError(schema.too_new(path, layout)) if newer else no_record(path)
            torn = torn or schema.altered(db, path, layout) or making.second_name(path)
            torn = torn or strange_log(path, db)
        except BaseException:
            db.close()
            raise
    # Text changed behind our back may not even be UTF-8; it must still be read to be found.
    db.text_factory = lambda raw: str(raw, "utf-8", "replace")
    return Opened(db, layout, torn, part is not None)


def left(path: Path, how: str) -> str:
    """What is said of a record that can be read in part."""
    return (
        f"The record {path} {how}; what can be read of it is read, and record rebuild carries that "
        "over to a new file."
    )


def to_read(path: Path, busy_s: float) -> sqlite3.Connection:
    """A connection that cannot write.

    Where not even SQLite's own notes beside the file can be made, a file without a log is
    opened as one that nobody changes, and one with a log by way of a copy.
    """

    def connect(uri: str) -> sqlite3.Connection:
        db = sqlite3.connect(
            uri, uri=True, timeout=busy_s, isolation_level=None, check_same_thread=False
        )
        try:
            db.execute("SELECT count(*) FROM sqlite_master").fetchone()
        except BaseException:
            db.close()
            raise
        return db

    try:
        return connect(f"{path.as_uri()}?mode=ro")
    except sqlite3.OperationalError as err:
        name = str(getattr(err, "sqlite_errorname", ""))
        notes = ("SQLITE_CANTOPEN", "SQLITE_READONLY", "SQLITE_IOERR_SHM", "SQLITE_FULL")
        if not name.startswith(notes):
            raise
    log = path.with_name(path.name + "-wal")
    if not log.exists() or not log.stat().st_size:
        return connect(f"{path.as_uri()}?immutable=1")
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        copy = Path(folder) / path.name
        copyfile(path, copy)
        copyfile(log, copy.with_name(log.name))
        memory = sqlite3.connect(":memory:", isolation_level=None, check_same_thread=False)
        source = sqlite3.connect(copy)
        try:
            source.backup(memory)
        finally:
            source.close()
        return memory


def to_write(path: Path, busy_s: float) -> sqlite3.Connection:
    """A connection that can write, to a file that is there, of the present layout, and whose
    newest facts can be found."""
    if cut.missing(path):
        raise RecordError(f"Nothing was stored. {left(path, 'was cut off')}")
    with said(path):
        if size_of_log(path):  # whoever can write brings it into the file when he closes it
            with closing(to_read(path, busy_s)) as looked:
                say = strange_log(path, looked)
            if say:
                raise RecordError(f"Nothing was stored. {say}")
        # The thread that opens it may hand it on to the bench thread.
        db = sqlite3.connect(
            f"{path.as_uri()}?mode=rw",
            uri=True,
            timeout=busy_s,
            isolation_level=None,
            check_same_thread=False,
        )
        try:
            schema.prepare(db, path)
            with schema.one_moment(db):  # others may write
                say = newest.amiss(db, path)
            if say:
                raise RecordError(f"Nothing was stored. {say}")
        except BaseException:
            db.close()
            raise
    return db


def strange_log(path: Path, db: sqlite3.Connection) -> str:
    """A sentence where the log beside a record, with which ``db`` reads it, is not its own: the
    newest fact in the file itself, without the log, is none of those that are read. A copy that
    was put in the place of a record is hidden by that one's log, and written over by it."""
    if not size_of_log(path):
        return ""
    try:
        with closing(sqlite3.connect(f"{path.as_uri()}?mode=ro&immutable=1", uri=True)) as alone:
            seq, *fact = alone.execute(_NEWEST).fetchone() or (0, b"", b"", b"")
        # One that does not prove itself stands in a page that was half written.
        if not all(isinstance(part, bytes) for part in fact) or chained(*fact[:2]) != fact[2]:
            return ""
        if db.execute("SELECT 1 FROM facts WHERE seq = ? AND hash = ?", (seq, fact[2])).fetchone():
            return ""
    except sqlite3.DatabaseError:  # it has no facts yet, or is damaged, which is told elsewhere
        return ""
    return (
        f"What lies beside the record {path}, {path.name}-wal, is not its own: it is read with "
        f"that, and what is shown is another record's. The file itself has a fact {seq}: copy "
        f"it alone to another folder to read it, and keep {path.name}-wal as it is."
    )


def notes_of(path: Path) -> Notes:
    """Which files SQLite's log and its index are, where they are there."""

    def which(end: str) -> tuple[int, int] | None:
        try:
            return identity(f"{path}{end}")
        except OSError:
            return None

    return which("-wal"), which("-shm")


def size_of_log(path: Path) -> int:
    """Of SQLite's log, in bytes; 0 where there is none."""
    try:
        return os.stat(f"{path}-wal").st_size
    except OSError:
        return 0


def identity(path: Path | str) -> tuple[int, int]:
    """Which file stands there now. Raises OSError where there is none."""
    about = os.stat(path)
    return about.st_dev, about.st_ino
