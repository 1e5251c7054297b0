"""The one writer: who makes a batch holds this, and a second program is told so.

A lock of SQLite's own on an empty file beside the record (``<record>-lock``): it works
on every system that the record does, and is free again however its holder ends.
"""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing, suppress
from pathlib import Path

from mixer.record.envelope import RecordError
from mixer.record.parts import beside, may_be_written
from mixer.record.trouble import real_path, said


class Taken(RecordError):
    """Another program has it."""


class WriterLock:
    """Taken with :meth:`take`, held until :meth:`free` or the end of the process.

    >>> import tempfile
    >>> record = Path(tempfile.mkdtemp()) / "record"
    >>> one, two = WriterLock(record), WriterLock(record)
    >>> one.take(wait_s=0)
    >>> two.take(wait_s=0)
    Traceback (most recent call last):
    ...
    mixer.record.lock.Taken: Another cupside is writing to the record record: end \
that one first, or give this one another record.
    >>> one.free(); two.take(wait_s=0); two.free()
    """

    def __init__(self, record: Path) -> None:
        self._record = record
        self._file = beside(real_path(record), "-lock")
        self._held: sqlite3.Connection | None = None
        self._which: tuple[int, int] | None = None

    @property
    def held(self) -> bool:
        return self._held is not None

    def take(self, wait_s: float) -> None:
        """Take it, or wait so many seconds for it; :class:`RecordError` where another has it.

        One that is held is taken anew where its file was deleted: nobody else would see it.
        """
        if self._held is not None:
            if self._which == self._there():
                return
            self.free()
        made = self._there() is None
        with said(self._record):
            db = sqlite3.connect(
                self._file,
                timeout=wait_s,
                isolation_level=None,
                check_same_thread=False,
            )
            try:
                db.execute("BEGIN EXCLUSIVE")
                # Of a file that may only be read SQLite takes no lock, and says nothing.
                if not may_be_written(self._file):
                    raise RecordError(
                        f"The lock of the record {self._record.name}, {self._file.name}, may only "
                        "be read, so that a second program would not be seen: look at its rights."
                    )
            except RecordError:
                db.close()
                raise
            except sqlite3.Error as err:
                db.close()
                if str(getattr(err, "sqlite_errorname", "")).startswith("SQLITE_BUSY"):
                    raise Taken(
                        f"Another cupside is writing to the record {self._record.name}: end that "
                        "one first, or give this one another record."
                    ) from None
                if made:  # a full disk takes the empty file, and not the lock
                    with suppress(OSError):
                        self._file.unlink(missing_ok=True)
                raise
        self._held, self._which = db, self._there()

    def is_another_s(self, wait_s: float) -> bool:
        """Whether another program has it, and keeps it for so many seconds."""
        if self.held or self._there() is None:
            return False
        try:
            self.take(wait_s)
        except Taken:
            return True
        except RecordError:  # nobody can take it
            return False
        self.free()
        return False

    def _there(self) -> tuple[int, int] | None:
        try:
            about = os.stat(self._file)
        except OSError:
            return None
        return about.st_dev, about.st_ino

    def free(self) -> None:
        db, self._held = self._held, None
        if db is not None:
            with closing(db):
                db.rollback()
