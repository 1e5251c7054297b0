"""What SQLite has to say, as one sentence for a person."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from mixer.record.envelope import RecordError
from mixer.record.parts import SQLITE, beside

#: Says that a SQLite file is a record of ours, in its `application_id` ("cup1").
APPLICATION_ID = 0x63757031
#: How its first table is told, on its first page.
_TABLE = b"CREATE TABLE facts (seq INTEGER PRIMARY KEY, bytes BLOB NOT NULL, "
#: How far a file that does not begin as a record is looked through for facts, in bytes.
_FAR = 1 << 20
_REASONS = {
    "SQLITE_FULL": "the disk is full; what was stored before is safe, make room",
    "SQLITE_BUSY": "another program is writing to it; try again",
    "SQLITE_READONLY": "it may not be written to; look at the rights of file and folder",
    "SQLITE_CANTOPEN": "it cannot be opened; look at the rights of file and folder, and whether "
    "its name is too long for what stands beside it",
    "SQLITE_PERM": "it may not be written to; look at the rights of file and folder",
    "SQLITE_IOERR_SHM": "there is no room beside it, or no right to write; make room on its disk",
    "SQLITE_IOERR": "its disk does not answer; what was stored before is safe, look at the disk",
    "SQLITE_CORRUPT": "the file is damaged; keep a copy of it as it is, then try record rebuild",
}


def real_path(path: Path | str) -> Path:
    """The file itself where a link to it is given: SQLite keeps its log and index beside that.

    Absolute, so that ``:memory:`` is a file like any other.
    """
    return Path(os.path.realpath(path))


def looks_like_ours(raw: bytes) -> bool:
    """Whether a file that begins so is a record: by its tables, or where these are damaged by
    its head (SQLite's file format, 1.3)."""
    return _TABLE in raw[:4096] or raw[68:72] == APPLICATION_ID.to_bytes(4, "big")


def may_be_ours(path: Path) -> bool:
    """Whether that file is a record by its first page, or may be one that lost it: then facts
    that prove themselves stand in its pages or in its log. What begins as a file of SQLite's
    and as no record is another program's."""
    from mixer.record.leaves import Pages

    try:
        with path.open("rb") as file:
            start = file.read(4096)
        if looks_like_ours(start) or start.startswith(SQLITE):
            return looks_like_ours(start)
        return Pages(path, _FAR).are_of_a_record()
    except OSError:
        return False


def no_record(path: Path) -> RecordError:
    """Why it is none; one that is damaged in its head must not be taken for another file."""
    if may_be_ours(path):
        return RecordError(
            f"The record {path} is damaged in its head, and was not changed: keep a copy of the "
            "file as it is, then try record rebuild."
        )
    return RecordError(f"{path} is not a build record but some other file; it was not changed.")


def look_beside(path: Path) -> None:
    """:class:`RecordError` where opening this record would take facts away, or what is not
    its own: SQLite undoes what a journal beside it says, or deletes that, and deletes a log
    beside a record that is gone or empty, with every fact that is in it. A record has a
    log from its making, and never a journal."""
    with suppress(OSError):
        journal = beside(path, "-journal")
        if journal.stat().st_size:
            raise RecordError(
                f"Beside the record {path} stands {journal.name}, which is none of its parts and "
                "could undo it: nothing was read or written; move that file elsewhere."
            )
    log = beside(path, "-wal")
    try:
        if log.stat().st_size == 0:
            return
    except OSError:
        return
    try:  # looked at last: a record that is just made has its log after it
        if path.stat().st_size:
            return
    except FileNotFoundError:
        pass
    except OSError:
        return
    raise RecordError(
        f"The record {path} is gone or empty, but what belongs to it, {log.name}, is there and "
        "holds facts: put the record back, or move that file elsewhere."
    )


def must_not_be_empty(path: Path) -> None:
    """:class:`RecordError` where it is: no record ever was, but for one that its disk lost."""
    with suppress(OSError):
        if not path.stat().st_size:
            raise RecordError(
                f"The record {path} is an empty file, as a disk leaves one that fails: put the "
                "record or a copy of it back, or delete the file to begin a new one."
            )


def is_damage(err: BaseException | None) -> bool:
    """Whether this part of the file cannot be read, and another part perhaps can."""
    name = str(getattr(err, "sqlite_errorname", ""))
    return name.startswith(("SQLITE_CORRUPT", "SQLITE_IOERR_SHORT_READ"))


def may_be_damage(err: BaseException | None) -> bool:
    """Whether it came of what the file holds, and not of its disk, its rights or its room."""
    name = str(getattr(err, "sqlite_errorname", "SQLITE_ERROR"))
    ours = not isinstance(err, OSError) and name.startswith(("SQLITE_ERROR", "SQLITE_NOTADB"))
    return ours or is_damage(err)


def not_writable(path: Path) -> RecordError:
    """The same that SQLite's own word for it becomes."""
    return _not_done(path, _REASONS["SQLITE_READONLY"])


@contextmanager
def said(path: Path) -> Iterator[None]:
    """Within, an error of SQLite's becomes a :class:`RecordError`."""
    try:
        yield
    except sqlite3.Error as err:
        name = str(getattr(err, "sqlite_errorname", ""))
        if name.startswith("SQLITE_NOTADB") or "unsupported file format" in str(err):
            raise no_record(path) from None
        reason = next((say for key, say in _REASONS.items() if name.startswith(key)), str(err))
        raise _not_done(path, reason) from None
    except UnicodeDecodeError:  # what SQLite would say names a damaged part of the file
        raise _not_done(path, _REASONS["SQLITE_CORRUPT"]) from None


def _not_done(path: Path, reason: str) -> RecordError:
    return RecordError(
        f"The record {path} could not be read or written, and nothing new was stored: {reason}."
    )
