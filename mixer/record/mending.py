"""A record is carried over to a new file, which then stands in its place.

What finds the facts is built anew there. Nothing is ever written into the file that is found:
it is kept beside, unless it was sound and all that it found was carried over. What is lost is
named by a fact of its own (``mended``), upon a hole in the numbers of the facts where any is
lost, so that no later look takes the record for whole.
"""

from __future__ import annotations

import contextlib
import os
import sqlite3
from contextlib import closing
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from mixer.record import carrying, log, making, opening, projection, schema
from mixer.record.envelope import GENESIS, Entry, RecordError, seal
from mixer.record.lock import WriterLock
from mixer.record.lost import KIND as KIND
from mixer.record.lost import Lost, facts, is_one, newest, perhaps, ranges, what
from mixer.record.opening import Opened
from mixer.record.parts import beside, copy, give_rights, may_be_written
from mixer.record.trouble import (
    APPLICATION_ID,
    look_beside,
    looks_like_ours,
    may_be_damage,
    may_be_ours,
    must_not_be_empty,
    not_writable,
    real_path,
    said,
)

_BUSY_S = 5.0


@dataclass(frozen=True, slots=True)
class Mended:
    """``facts`` is how many were carried over; ``kept`` the name of the old file, empty where
    it was whole."""

    facts: int
    lost: Lost
    kept: str


def mend(record: Path | str, told: Entry, wait_s: float = 1) -> Mended:
    """Carry it over. ``told`` is what the new fact has beside its kind and data.
    :class:`RecordError` where it cannot be; then all is as it was."""
    path = real_path(record)
    lock, part = WriterLock(path), making.part_of(path)
    try:
        _Old(path).close()  # nothing is made beside what is refused
        if not may_be_written(path):  # its folder would let it be replaced all the same
            raise not_writable(path)
        lock.take(wait_s)
        making.clear_away(path)
        name = _free_name(path)
        with closing(_Old(path)) as old:
            with said(path), closing(_new(part)) as new:
                carried = carrying.carry(path, old.opened, new)
                if not carried.facts and old.opened is None:
                    raise old.why
                kept, last = "" if carried.whole else name.name, newest(new)
                if kept:
                    _tell(new, replace(told, kind=KIND, batch=0), carried, kept)
                    if log.damaged(path):
                        log.keep(path, last)
            _on_disk(part)
        _put(part, path, name, whole=carried.whole)
    except OSError as err:
        raise RecordError(
            f"The record {path} cannot be carried over to a new file: {err.strerror}; look at the "
            "rights of its folder and at the room of its disk."
        ) from None
    finally:
        lock.free()
        for left in (part, beside(part, "-journal"), *_copies(part), *_merged(part)):
            with contextlib.suppress(OSError):
                left.unlink(missing_ok=True)
    return Mended(carried.facts, carried.lost, kept)


class _Old:
    """The record as it is found; ``opened`` is None where its pages are all that can be read,
    and ``why`` the reason. Refused is what this program does not write to."""

    def __init__(self, path: Path) -> None:
        self.opened: Opened | None = None
        if not path.is_file():
            raise RecordError(f"There is no record at {path}.")
        look_beside(path)
        must_not_be_empty(path)
        try:
            self.opened = opening.look(path, _BUSY_S)
        except RecordError as err:
            start = _start(path)
            if _is_newer(start) or not (may_be_ours(path) and may_be_damage(err.__context__)):
                raise
            self.why = _beyond(path) if looks_like_ours(start) else err
        refused = making.second_name(path)
        if self.opened is not None and self.opened.layout > schema.SCHEMA:
            refused = schema.newer(path, self.opened.layout)
        if refused:
            self.close()
            raise RecordError(refused)
        if self.opened is not None and self.opened.torn == schema.misread(path):
            self.close()  # it would be read by words that were altered
            self.opened, self.why = None, _beyond(path)

    def close(self) -> None:
        if self.opened is not None:
            self.opened.db.close()


def told(data: dict[str, Any]) -> str:
    """What a fact of this kind says, in a sentence.

    >>> told({"facts": [[37, 41]], "batches": [{"batch": 7}], "traces": [9], "kept": "r-damaged"})
    'Facts 37 to 41 (of batch 7) and weights of batch 9 were lost with a damaged part of the \
file, which is kept as r-damaged.'
    >>> told({"facts": [[9, 9]], "batches": [], "traces": [], "kept": "r-damaged", "sound": True})
    'Fact 9 (of batch nobody knows which) is missing; the file is not damaged, and is kept as \
r-damaged.'
    >>> told({"facts": [[9, None]], "batches": [], "traces": [], "kept": "r-damaged"})
    'Facts from 9 on may have been lost with a damaged part of the file, which is kept as \
r-damaged.'
    """
    try:
        lost, more, kept = what(data), perhaps(data), data["kept"]
        altered = ranges(data.get("altered", ()))
        also = f" What {facts(altered)} said is not known for certain." if altered else ""
        one, said = is_one(lost), " and ".join(lost)
        if not (lost or more):
            said = f"{_BLIND if data.get('blind') else _NOTHING}, and the file as it was is"
        elif data.get("sound"):
            said = f"{said} {'is' if one else 'are'} missing; the file is not damaged, and is"
        else:
            told = [f"{said} {'was' if one else 'were'} lost"] if lost else []
            if more:
                told.append(f"{more} may have been{',' if lost else ' lost'}")
            said = f"{', and '.join(told)} with a damaged part of the file, which is"
        return f"{said[0].upper()}{said[1:]} kept as {kept}.{also}"
    except (KeyError, TypeError, ValueError):  # of another program
        return "Something was lost with a damaged part of the file."


_NOTHING = "Nothing was lost: what finds the facts is built anew"
_BLIND = (
    "No fact is seen to be missing, but what finds them could not be read, so that newer ones may "
    "have been cut off unseen: it is built anew"
)


def _beyond(path: Path) -> RecordError:
    return RecordError(
        f"The record {path} is damaged so that none of its facts can be found, and was left as "
        "it is: move it aside with all that is named like it, and put the newest backup in its "
        "place."
    )


def _start(path: Path) -> bytes:
    with path.open("rb") as file:
        return file.read(making.PAGE)


def _is_newer(start: bytes) -> bool:
    """Of a head that says so (SQLite's file format, 1.3)."""
    layout = int.from_bytes(start[60:64], "big")
    return start[68:72] == APPLICATION_ID.to_bytes(4, "big") and layout > schema.SCHEMA


def _new(part: Path) -> sqlite3.Connection:
    part.touch(mode=0o600)  # it gets the rights of the old one in the end
    db = sqlite3.connect(part, isolation_level=None)
    db.execute(f"PRAGMA page_size = {making.PAGE}")
    db.execute("PRAGMA journal_mode = OFF")
    db.execute("PRAGMA synchronous = OFF")  # it is brought to the disk once it is whole
    return db


def _tell(new: sqlite3.Connection, entry: Entry, carried: carrying.Carried, kept: str) -> None:
    lost = carried.lost
    data = {**lost.about(), "kept": kept}
    data |= {"sound": True} if carried.undamaged else {}
    data |= {} if carried.known else {"blind": True}
    before = "SELECT seq, hash FROM facts WHERE seq < ? ORDER BY seq DESC LIMIT 1"
    data["upon"] = [
        (new.execute(before, [first]).fetchone() or (0, GENESIS))[1].hex()
        for first, _ in lost.facts
    ]
    seq, prev = new.execute(before, [2**63 - 1]).fetchone() or (0, GENESIS)
    for first, last in lost.facts:  # where how many are lost is not known, one at least
        seq = max(seq, first if last is None else last)
    fact = seal(replace(entry, data=data), seq + 1, prev)
    new.execute("BEGIN")
    new.execute(
        "INSERT INTO facts (seq, bytes, prev, hash, batch, kind) VALUES (?, ?, ?, ?, ?, ?)",
        (fact.seq, fact.canonical, fact.prev, fact.hash, 0, KIND),
    )
    projection.follow(new, fact.entry)
    new.execute("COMMIT")


def _free_name(path: Path) -> Path:
    names = (beside(path, f"-damaged{f'-{n}' if n > 1 else ''}") for n in range(1, 1000))
    return next(name for name in names if not (name.exists() or beside(name, "-wal").exists()))


def _copies(part: Path) -> tuple[Path, Path]:
    """What the copies of the file and of its log are called until they are whole."""
    return beside(part, "-kept"), beside(part, "-kept-wal")


def _put(part: Path, path: Path, kept: Path, *, whole: bool) -> None:
    """Keep the file and its log, each whole on the disk before anything is replaced; one that
    was ``whole`` until then alone."""
    made: list[tuple[Path, Path]] = []
    for one, end in zip(_copies(part), ("", "-wal"), strict=True):
        file = beside(path, end)
        if end and not (file.exists() and file.stat().st_size):
            continue
        copy(file, one)
        made.append((one, beside(kept, end)))
    try:
        for one, name in made:
            one.rename(name)
        making.keep_name(path.parent)
        if len(made) > 1:
            _merge(path, kept, _merged(part)[0])
        for end in ("-wal", "-shm"):  # a new file would be read by them
            beside(path, end).unlink(missing_ok=True)
        give_rights(kept, part)
        part.replace(path)
    except OSError:
        if len(made) > 1 and not beside(path, "-wal").exists():
            copy(beside(kept, "-wal"), beside(path, "-wal"))
        _take_away(kept)
        raise
    making.keep_name(path.parent)
    if whole:
        _take_away(kept)


def _merged(part: Path) -> list[Path]:
    return [beside(part, f"-merged{end}") for end in ("", "-wal", "-shm")]


def _merge(path: Path, kept: Path, merged: Path) -> None:
    """Put a copy in its place that has in it what its log holds: so a kill after the log is
    taken away, and before the new file is put there, costs nothing. With the log it reads the
    same. Of one that SQLite cannot open at all there is none."""
    copy(kept, merged)
    copy(beside(kept, "-wal"), beside(merged, "-wal"))
    try:
        with closing(sqlite3.connect(merged, isolation_level=None)) as db:
            if db.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()[0] != 0:
                return
    except sqlite3.Error:
        return
    _on_disk(merged)
    merged.replace(path)
    making.keep_name(path.parent)


def _take_away(kept: Path) -> None:
    for file in (kept, beside(kept, "-wal")):
        with contextlib.suppress(OSError):
            file.unlink(missing_ok=True)


def _on_disk(file: Path) -> None:
    with file.open("rb+") as opened:
        os.fsync(opened.fileno())
