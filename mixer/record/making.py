"""A new record: made whole beside its place, and then put there.

So no kill leaves half a record, nor a journal of SQLite's that would undo what is later
put in its place. It must never put one where a file stands.
"""

from __future__ import annotations

import glob
import os
import re
import sqlite3
from contextlib import closing, suppress
from pathlib import Path

from mixer.record import schema
from mixer.record.envelope import RecordError
from mixer.record.lock import WriterLock
from mixer.record.trouble import said

PAGE = 4096  # bytes


def make(path: Path, busy_s: float) -> bool:
    """Whether an empty record was put there; not where another program was quicker."""
    part = part_of(path)
    clear_away(path)
    try:
        with part.open("xb") as file:
            file.write(_empty(path))
            file.flush()
            os.fsync(file.fileno())
        made = _put(part, path, busy_s)
        if made:
            keep_name(path.parent)
    except OSError as err:
        raise RecordError(
            f"The record {path} cannot be opened, as none can be made there: {err.strerror}; look "
            "at the rights of file and folder and at the room of its disk, and whether its name is "
            "too long for what stands beside it."
        ) from None
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)
    return made


def part_of(path: Path) -> Path:
    """What a file is called until it is whole."""
    return path.with_name(f".{path.name}.{os.getpid()}.part")


def clear_away(path: Path) -> None:
    """What programs left behind that were killed while they made this file."""
    left = re.compile(
        rf"\.{re.escape(path.name)}\.(\d+)\.part(-kept|-merged)?(-journal|-wal|-shm)?"
    )
    with suppress(OSError):
        for part in list(path.parent.iterdir()):
            found = left.fullmatch(part.name)
            if found and not _runs(int(found[1])):
                part.unlink(missing_ok=True)


def second_name(path: Path) -> str:
    """A sentence where this record has another name on its disk besides, else empty.

    Each name would have a log and a lock of its own. One that was left by a program that was
    killed while it made this record is taken away. A disk on which each new file has several
    names, or none, counts something else.
    """
    if _names(path) < 2:
        return ""
    for part in path.parent.glob(f".{glob.escape(path.name)}.*.part"):
        with suppress(OSError):
            if part.samefile(path):
                part.unlink(missing_ok=True)
    if _names(path) < 2 or _names_of_a_new_file(path) != 1:
        return ""
    return (
        f"The record {path} has a second name on its disk (a hard link), and what is written under "
        "one is not seen under the other: delete the one beside which the smaller log (-wal) "
        "stands, or either where both logs are empty or none is there, for nothing more is written "
        "until then."
    )


def _names(path: Path) -> int:
    try:
        return path.stat().st_nlink
    except OSError:
        return 0


def _names_of_a_new_file(path: Path) -> int:
    part = part_of(path)
    try:
        with part.open("xb"):
            return _names(part)
    except OSError:  # nothing may be made there
        return 1
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)


def _runs(program: int) -> bool:
    if program == os.getpid():
        return False
    try:
        os.kill(program, 0) if os.name == "posix" else None
    except ProcessLookupError:
        return False
    except OSError:
        return True
    return os.name == "posix"


def _empty(path: Path) -> bytes:
    with said(path), closing(sqlite3.connect(":memory:", isolation_level=None)) as db:
        db.execute(f"PRAGMA page_size = {PAGE}")
        schema.make(db)
        raw = db.serialize()
    return raw[:18] + b"\2\2" + raw[20:]  # as one with a log (SQLite's file format, 1.3.3)


def _put(part: Path, path: Path, busy_s: float) -> bool:
    try:
        os.link(part, path)
    except FileExistsError:
        return False
    except OSError:  # a stick may know no second name for a file
        lock = WriterLock(path)
        lock.take(busy_s)
        try:
            if path.exists():
                return False
            part.rename(path)
        finally:
            lock.free()
    return True


def keep_name(folder: Path) -> None:
    """Bring the names in this folder to the disk."""
    with suppress(OSError):  # not every system opens a folder
        number = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(number)
        finally:
            os.close(number)
