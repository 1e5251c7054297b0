"""Room in SQLite's log, made before a batch needs it.

Where the log need not grow, the file system has no new length to bring to the disk with each
fact, which takes as long as the fact itself; and a disk that fills up in mid-pour still takes
the rest of the batch. What is written are zero bytes behind the end of the log: SQLite reads
it up to the first page that is none (its "WAL-mode File Format"). Nothing that stands in it is
ever written over here, and the record's own file is never opened: to close it would free
SQLite's locks.
"""

from __future__ import annotations

import os
from pathlib import Path

from mixer.record.parts import beside

#: A guided batch stores some sixty calls of two or three pages; twice that.
ROOM_BYTES = 1 << 20


def make(record: Path) -> None:
    """See to it that at least half of it is there. Only for the one writer; where it cannot be
    had, the log grows with each fact, as it would without."""
    try:
        with beside(record, "-wal").open("rb+") as log:
            end = log.seek(0, os.SEEK_END)
            half = bytes(ROOM_BYTES // 2)
            if end >= len(half):
                log.seek(end - len(half))
                if log.read() == half:
                    return
            log.seek(end)
            try:
                log.write(bytes(ROOM_BYTES))
                log.flush()
                os.fsync(log.fileno())
            except OSError:  # what was had of the last room on the disk is needed for facts
                log.truncate(end)
    except OSError:
        return
