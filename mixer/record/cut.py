"""A record whose file was cut off, or is damaged in its head: opened as far as it goes.

SQLite refuses a file that is shorter than its head says. Read into memory and filled up
with nothing it can be looked at: what stood in the part that is there can be found, and
each look at the part that is not says so. A head that no longer is one is made anew in
memory. The file itself is not touched.
"""

from __future__ import annotations

import sqlite3
from pathlib import Path
from struct import pack

from mixer.record.trouble import APPLICATION_ID, looks_like_ours

_PAGE = 4096
_TRACES = b"CREATE TABLE traces (block"
_HEAD = 100  # bytes; SQLite's file format, 1.3: page size at 16, versions at 18, pages at 28

_MOST = 1 << 28  # bytes filled up; a head that was altered may ask for anything


def open_cut(path: Path) -> sqlite3.Connection | None:
    """What is there of the file at ``path``; None where it was not cut off."""
    raw = path.read_bytes()
    log = path.with_name(path.name + "-wal")
    if len(raw) < _HEAD or (log.exists() and log.stat().st_size):
        return None  # with a log, what the head says is not how long the file must be
    page = int.from_bytes(raw[16:18], "big")
    page = 65_536 if page == 1 else page
    missing = page * int.from_bytes(raw[28:32], "big") - len(raw)
    if page < 512 or not 0 < missing <= _MOST:
        return None
    db = sqlite3.connect(":memory:", isolation_level=None, check_same_thread=False)
    # 1 for the versions: what is in memory has no log beside it.
    db.deserialize(raw[:18] + b"\1\1" + raw[20:] + bytes(missing))
    return db


def open_without_head(path: Path) -> sqlite3.Connection | None:
    """What is there behind a head that is none; None where it is no record of ours.

    What the head tells is known of every record, or told by the file's length (SQLite's
    file format, 1.3), but for its layout.
    """
    try:
        raw, log = path.read_bytes(), path.with_name(path.name + "-wal")
        if not looks_like_ours(raw) or len(raw) % _PAGE or (log.exists() and log.stat().st_size):
            return None
    except OSError:
        return None
    layout = 2 if _TRACES in raw[:_PAGE] else 1
    head = b"SQLite format 3\0" + pack(">H6B", _PAGE, 1, 1, 0, 64, 32, 32)
    head += pack(">12I", 1, len(raw) // _PAGE, 0, 0, 1, 4, 0, 0, 1, layout, 0, APPLICATION_ID)
    head += bytes(20) + pack(">2I", 1, sqlite3.sqlite_version_info[0] * 1_000_000)
    db = sqlite3.connect(":memory:", isolation_level=None, check_same_thread=False)
    db.deserialize(head + raw[_HEAD:])
    return db
