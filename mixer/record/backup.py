"""A copy of the record as of one moment, by SQLite's own means, while it is being written.

The copy is one plain file: it opens from a folder that may not be written to. It must
never leave half a file where a whole one stood, nor write over what is no record.
"""

from __future__ import annotations

import contextlib
import os
import sqlite3
from contextlib import closing
from pathlib import Path

from mixer.record.envelope import RecordError
from mixer.record.schema import APPLICATION_ID
from mixer.record.trouble import said


def copy(source: sqlite3.Connection, record: Path, to: Path) -> None:
    """Copy what is open as ``source``, the record at that path, to the file ``to``."""
    _look_before_writing(record, to)
    part = to.with_name(f".{to.name}.{os.getpid()}.part")
    try:
        with said(to), closing(sqlite3.connect(part, isolation_level=None)) as target:
            source.backup(target)
            target.execute("PRAGMA journal_mode = DELETE")
            (fit,) = target.execute("PRAGMA integrity_check(1)").fetchone()
        if fit != "ok":
            raise RecordError(
                f"The record {record} is damaged, and was not copied over {to}: keep a copy of the "
                "file as it is."
            )
        with part.open("rb+") as file:
            os.fsync(file.fileno())
        part.replace(to)
    except OSError as err:
        raise RecordError(f"The copy cannot be written to {to}: {err.strerror}.") from None
    finally:
        for left in (part, part.with_name(part.name + "-journal")):
            with contextlib.suppress(OSError):
                left.unlink(missing_ok=True)


def _look_before_writing(record: Path, to: Path) -> None:
    if not to.parent.is_dir():
        raise RecordError(f"The copy cannot be written to {to}: there is no folder {to.parent}.")
    if not to.exists():
        return
    if to.samefile(record):
        raise RecordError(f"The copy cannot be written to {to}: that is the record itself.")
    try:
        with to.open("rb") as file:
            start = file.read(100)
    except OSError as err:
        raise RecordError(f"The copy cannot be written to {to}: {err.strerror}.") from None
    # SQLite's file format: the application id stands at byte 68 (its documentation, 1.3).
    if start and start[68:72] != APPLICATION_ID.to_bytes(4, "big"):
        raise RecordError(
            f"The copy cannot be written to {to}: what stands there is no record, and was not "
            "overwritten."
        )
