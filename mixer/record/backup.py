"""A copy of the record as of one moment, by SQLite's own means, while it is being written.

The copy is one plain file: it opens from a folder that may not be written to. It must
never leave half a file where a whole one stood, nor write over what is no record, nor show to
anybody what the record does not.
"""

from __future__ import annotations

import contextlib
import os
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING

from mixer.record import verifying
from mixer.record.envelope import RecordError
from mixer.record.lock import WriterLock
from mixer.record.making import clear_away, part_of
from mixer.record.parts import beside, give_rights, owner
from mixer.record.trouble import APPLICATION_ID, look_beside, said

_TRACES = "SELECT 1 FROM sqlite_master WHERE name = 'traces'"

if TYPE_CHECKING:
    from mixer.record.reader import Reader


def copy(source: Reader, db: sqlite3.Connection, to: Path) -> None:
    """Copy the record, open as ``db``, to the file ``to``; one that is not whole is not copied
    over a copy that may be, but where all that is amiss is what was lost and is named, over a
    copy that does not have that either."""
    record = source.path
    try:
        _look_before_writing(record, to)
    except OSError as err:
        raise RecordError(f"The copy cannot be written to {to}: {err.strerror}.") from None
    lock = WriterLock(to)
    lock.take(wait_s=0)
    try:
        if to.exists() and to.stat().st_size:
            if not _is_older_copy(to, db):
                raise RecordError(
                    f"The copy cannot be written to {to}: that record holds facts that this "
                    "record does not; give another name."
                )
            found = source.verify()
            if found.lost and _holds_what_is_lost(to, source, db):
                raise RecordError(
                    f"The copy cannot be written to {to}: it holds what was lost from the record "
                    f"{record} since, and was left as it is; give another name. {found.say}"
                )
            if not (found.ok or found.lost):
                raise RecordError(
                    f"The record {record} is not whole, and was not copied over {to}; give "
                    f"another name. {found.say}"
                )
        clear_away(to)
        _copy(db, record, to)
    finally:
        lock.free()
        with contextlib.suppress(OSError):
            beside(to, "-lock").unlink(missing_ok=True)


def _copy(source: sqlite3.Connection, record: Path, to: Path) -> None:
    part = part_of(to)
    try:
        part.touch(mode=0o600)
        with said(to), closing(sqlite3.connect(part, isolation_level=None)) as target:
            source.backup(target)
            target.execute("PRAGMA journal_mode = DELETE")
            (fit,) = target.execute("PRAGMA integrity_check(1)").fetchone()
        if fit != "ok":
            raise damaged(record, to)
        with part.open("rb+") as file:
            os.fsync(file.fileno())
        give_rights(record, part, least=0o600)  # of a record that nobody may write to, too
        part.replace(to)
        beside(to, "-shm").unlink(missing_ok=True)
        beside(to, "-wal").unlink(missing_ok=True)  # it is empty: see _look_before_writing
    except OSError as err:
        raise RecordError(f"The copy cannot be written to {to}: {err.strerror}.") from None
    finally:
        for left in (part, *(beside(part, kind) for kind in ("-journal", "-wal", "-shm"))):
            with contextlib.suppress(OSError):
                left.unlink(missing_ok=True)


def damaged(record: Path, to: Path) -> RecordError:
    """Why one that lacks something is not copied."""
    return RecordError(
        f"The record {record} is damaged, and was not copied to {to}: record rebuild carries what "
        "can be read of it over to a new file, and keeps the damaged one."
    )


def _is_older_copy(to: Path, source: sqlite3.Connection) -> bool:
    """Whether what stands there has no fact that is not in the record: then its newest, whose
    hash tells of all before it, is one of the record's."""
    newest = "SELECT seq, hash FROM facts ORDER BY seq DESC LIMIT 1"
    with said(to), _opened(to) as old:
        found = old.execute(newest).fetchone()
    if found is None:
        return True
    with said(to):
        same = source.execute("SELECT 1 FROM facts WHERE seq = ? AND hash = ?", found).fetchone()
    return same is not None


def _holds_what_is_lost(to: Path, source: Reader, db: sqlite3.Connection) -> bool:
    """Whether the copy that stands there has facts or weights that were lost since: it is the
    only one that has them."""
    lost = verifying.lost(source)
    facts = "SELECT 1 FROM facts WHERE seq BETWEEN ? AND ?"
    blocks = "SELECT batch, block, hash FROM traces"
    with said(to), _opened(to) as old:
        if any(old.execute(facts, given[:2]).fetchone() for given in lost.facts):
            return True
        if not lost.weighed or not old.execute(_TRACES).fetchone():
            return False
        there = {row for row in old.execute(blocks) if {0, row[0]} & lost.weighed}
    with said(source.path):
        return not there <= set(db.execute(blocks))


def _opened(copy: Path) -> closing[sqlite3.Connection]:
    return closing(sqlite3.connect(f"{copy.as_uri()}?mode=ro&immutable=1", uri=True))


def _look_before_writing(record: Path, to: Path) -> None:
    if not to.parent.is_dir():
        raise RecordError(f"The copy cannot be written to {to}: there is no folder {to.parent}.")
    if used := owner(to):
        raise RecordError(
            f"The copy cannot be written to {to}: that is a part of the record {used.name}."
        )
    look_beside(to)
    if not to.exists():
        return
    if to.samefile(record):
        raise RecordError(f"The copy cannot be written to {to}: that is the record itself.")
    if not to.is_file():
        raise RecordError(f"The copy cannot be written to {to}: that is not a file.")
    log = beside(to, "-wal")
    if log.exists() and log.stat().st_size:
        raise RecordError(
            f"The copy cannot be written to {to}: that record is open, or was cut off and has not "
            "been opened since; give another name, or move it away with all that is named like it."
        )
    with to.open("rb") as file:
        start = file.read(100)
    # SQLite's file format: the application id stands at byte 68 (its documentation, 1.3).
    if start and start[68:72] != APPLICATION_ID.to_bytes(4, "big"):
        raise RecordError(
            f"The copy cannot be written to {to}: what stands there is no record, and was not "
            "overwritten."
        )
