"""What stands beside a record and belongs to it: SQLite's log and index, and the lock.

Whoever writes over one of them takes facts away, or lets a second program write.
"""

from __future__ import annotations

from pathlib import Path

KINDS = ("-journal", "-wal", "-shm", "-lock")
#: How each file of its begins (SQLite's file format, 1.3).
SQLITE = b"SQLite format 3\0"


def beside(record: Path, kind: str) -> Path:
    """The part of this kind.

    >>> beside(Path("builds/wing.cupside"), "-wal").name
    'wing.cupside-wal'
    """
    return record.with_name(record.name + kind)


def owner(path: Path) -> Path | None:
    """The record that a file at ``path`` would be a part of; None where there is none.

    >>> owner(Path("no-such-record-wal")) is None
    True
    """
    for kind in KINDS:
        record = path.with_name(path.name[: -len(kind)] or path.name)
        if path.name.endswith(kind) and record.is_file() and _may_be_one(record):
            return record
    return None


def _may_be_one(record: Path) -> bool:
    """Also where it is empty, with all that it holds in its log, or is not shown to us."""
    try:
        with record.open("rb") as file:
            return file.read(len(SQLITE)) in (SQLITE, b"")
    except OSError:
        return True
