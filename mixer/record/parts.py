"""What stands beside a record and belongs to it: SQLite's log and index, and the lock.

Whoever writes over one of them takes facts away, or lets a second program write.
"""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path
from shutil import copyfile
from stat import S_IMODE

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


def copy(file: Path, to: Path) -> None:
    """On the disk when it returns, and never to be read by more people than the file itself."""
    to.touch(mode=0o600)
    copyfile(file, to)
    with to.open("rb+") as opened:
        os.fsync(opened.fileno())
    give_rights(file, to)


def give_rights(of: Path, to: Path, least: int = 0) -> None:
    """Those of that file, and its owner and its group, where the system lets us; ``least`` are
    given besides."""
    about = of.stat()
    for owner, group in ((-1, about.st_gid), (about.st_uid, -1)):
        with suppress(OSError, AttributeError):  # not every system has them
            os.chown(to, owner, group)
    with suppress(OSError):
        to.chmod(S_IMODE(about.st_mode) | least)


def may_be_written(path: Path) -> bool:
    """Asked without opening it: to close a file again would free SQLite's locks upon it."""
    return os.access(path, os.W_OK, effective_ids=os.access in os.supports_effective_ids)
