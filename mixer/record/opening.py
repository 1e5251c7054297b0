"""How the file of a record is opened, and which file it is.

A file that was taken away is still open to whoever had it, and a second one may stand at its
place: which one is which is told by what the system numbers them with.
"""

from __future__ import annotations

import os
import sqlite3
import tempfile
from pathlib import Path
from shutil import copyfile

from mixer.record import schema
from mixer.record.trouble import said

#: Which file SQLite's log is, and which its index; None where it is not there.
Notes = tuple[tuple[int, int] | None, tuple[int, int] | None]


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
    """A connection that can write, to a file that is there, of the present layout."""
    with said(path):
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
        except BaseException:
            db.close()
            raise
    return db


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
