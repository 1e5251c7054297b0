"""SQLite's log beside a record: whether facts stand in it behind a damaged part.

A fact is on the disk once it is in the log (``-wal``); it is brought into the record itself
later. When the log is opened after a kill, SQLite reads it up to the first part that is
not as it was written, and drops the rest without a word. That is right for a last call
which a power cut tore; where whole calls stand behind the part, facts are lost. They are
looked for here by the published form of the log (SQLite's "WAL-mode File Format"). The
record's own file is never opened: to close it would free SQLite's locks.

What cannot be seen: damage to the last call alone looks like one that was torn.
"""

from __future__ import annotations

import contextlib
import os
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from shutil import copyfile
from struct import unpack
from typing import BinaryIO

from mixer.record.envelope import RecordError
from mixer.record.parts import beside

_HEAD, _FRAME, _MASK = 32, 24, 0xFFFFFFFF
_ORDERS = {0x377F0682: "<", 0x377F0683: ">"}  # by its first number, how its sums are reckoned
_KEPT = "-wal-damaged-after-"
#: What the bytes of a fact say of its batch and of the cup that it made live.
_BATCH, _CUP = re.compile(rb',"batch":(\d{1,9}),"boot":"'), re.compile(rb'"cup":([1-9]\d{0,8})\b')
Sum = tuple[int, int]


def amiss(record: Path, newest: int) -> str:
    """A sentence where the log of this record, which has facts up to ``newest``, is damaged,
    or a damaged one of before is kept beside it; else empty."""
    log = beside(record, "-wal")
    if damaged(record):
        return (
            f"What belongs to the record {record}, {log.name}, is damaged: facts after "
            f"fact {newest} may be missing; keep a copy of both files as they are."
        )
    for kept in _kept(record):
        return (
            f"Facts after fact {kept.name.rpartition('-')[2]} may be missing from the record "
            f"{record}: its log was damaged, and is kept as {kept.name} until that is moved away."
        )
    return ""


def keep(record: Path, newest: int) -> None:
    """Copy the damaged log to a name beside it, before it is written over."""
    log, kept = beside(record, "-wal"), beside(record, f"{_KEPT}{newest}")
    made: Path | None = None
    try:
        if not (kept.exists() and kept.read_bytes() == log.read_bytes()):
            while kept.exists():  # another one, of the same place
                kept = kept.with_name(kept.name.replace(_KEPT, f"{_KEPT}again-after-", 1))
            made = kept
            copyfile(log, kept)
            with kept.open("rb+") as file:
                os.fsync(file.fileno())
    except OSError as err:
        if made is not None:
            with contextlib.suppress(OSError):
                made.unlink(missing_ok=True)
        raise RecordError(
            f"The log of the record {record} is damaged, and no copy of it can be kept: "
            f"{err.strerror}; nothing was written."
        ) from None


def batches(record: Path) -> int:
    """The highest number of a batch that the damaged logs kept beside it tell of; else 0."""
    return max(_told(record, _BATCH), default=0)


def cups(record: Path) -> set[int]:
    """The numbers of cups that they tell of."""
    return set(_told(record, _CUP))


def damaged(record: Path) -> bool:
    """Whether calls that were stored stand in its log behind a part that is not as it was."""
    log = beside(record, "-wal")
    try:
        found = _look(log)
        # Twice: who writes to it meanwhile does not stay at the same place of it.
        return found is not None and found == _look(log)
    except OSError:  # there is none; or nobody may read it, and whoever opens the record says so
        return False


def _kept(record: Path) -> list[Path]:
    with contextlib.suppress(OSError):
        return sorted(
            one for one in record.parent.iterdir() if one.name.startswith(record.name + _KEPT)
        )
    return []


def _told(record: Path, number: re.Pattern[bytes]) -> Iterator[int]:
    for kept in _kept(record):
        with contextlib.suppress(OSError):
            yield from map(int, number.findall(kept.read_bytes()))


@dataclass(frozen=True, slots=True)
class _Frame:
    """One page as it was stored: ``size`` is not 0 in the last one of a call; ``sums`` are
    those that stand in it, over ``summed`` and all before it."""

    size: int
    salts: bytes
    sums: Sum
    summed: bytes


def _look(log: Path) -> tuple[bytes, int] | None:
    """Its head, and which page is the first that is not as it was written; None where it is
    whole, or torn at its end."""
    with log.open("rb") as file:
        head = file.read(_HEAD)
        if len(head) < _HEAD:
            return None
        magic, _, page = unpack(">3I", head[:12])
        order = _ORDERS.get(magic, "<")
        sums = _sum(order, (0, 0), head[:24])
        if magic in _ORDERS and sums == unpack(">2I", head[24:]):
            bad = _lost(_frames(file, page), order, head[16:24], sums)
            return None if bad is None else (head, bad)
        for size in {page, 4096} & {2**n for n in range(9, 17)}:  # its head is damaged
            file.seek(_HEAD)
            salts = next((frame.salts for frame in _frames(file, size)), b"")
            for each in "<>":
                file.seek(_HEAD)
                if _lost(_frames(file, size), each, salts, None) is not None:
                    return head, 0
    return None


def _frames(file: BinaryIO, page: int) -> Iterator[_Frame]:
    while len(raw := file.read(_FRAME + page)) == _FRAME + page:
        first, second = unpack(">2I", raw[16:24])
        (size,) = unpack(">I", raw[4:8])
        yield _Frame(size, raw[8:16], (first, second), raw[:8] + raw[_FRAME:])


def _lost(frames: Iterator[_Frame], order: str, salts: bytes, sums: Sum | None) -> int | None:
    """The first that does not fit upon those before (``sums``), where behind it a call ends,
    and upon its end fits the first of another: that was not begun before it was stored."""
    bad, ended = None, None
    for number, frame in enumerate(frames):
        ours = frame.salts == salts  # else of an earlier round, and overwritten when its turn comes
        if bad is None:
            if sums is not None and ours:
                sums = _sum(order, sums, frame.summed)
                if sums == frame.sums:
                    continue
            bad = number
        if ours and ended is not None and _sum(order, ended, frame.summed) == frame.sums:
            return bad
        ended = frame.sums if ours and frame.size else None
    return None


def _sum(order: str, sums: Sum, data: bytes) -> Sum:
    """The sums over this, continued."""
    one, two = sums
    words = unpack(f"{order}{len(data) // 4}I", data)
    for first, second in zip(words[::2], words[1::2], strict=True):
        one = one + first + two & _MASK
        two = two + second + one & _MASK
    return one, two
