"""SQLite's log beside a record: whether facts stand in it behind a damaged part.

A fact is on the disk once it is in the log (``-wal``); it is brought into the record itself
later. When the log is opened after a kill, SQLite reads it up to the first part that is
not as it was written, and drops the rest without a word. That is right for a last call
which a power cut tore; where whole calls stand behind the part, facts are lost. They are
looked for here by the published form of the log (SQLite's "WAL-mode File Format"). The
record's own file is never opened: to close it would free SQLite's locks.

What cannot be seen: damage to the last call alone looks like one that was torn, and so does
damage to calls before it too where the last one's pages could all be of one call.
"""

from __future__ import annotations

import contextlib
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from struct import unpack
from typing import BinaryIO

from mixer.record.envelope import RecordError
from mixer.record.parts import beside, copy

_HEAD, _FRAME, _MASK = 32, 24, 0xFFFFFFFF
_ORDERS = {0x377F0682: "<", 0x377F0683: ">"}  # by its first number, how its sums are reckoned
_SIZES = [2**n for n in range(9, 17)]  # that a page can have
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
            copy(log, kept)
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
    """One page as it was stored: ``page`` is its number, ``size`` is not 0 in the last one of
    a call; ``sums`` are those that stand in it, over ``summed`` and all before it."""

    page: int
    size: int
    salts: bytes
    sums: Sum
    summed: bytes

    @property
    def is_room(self) -> bool:
        """Whether nothing was written here yet (see :mod:`mixer.record.room`)."""
        return self.sums == (0, 0) and not any(self.salts) and not self.summed.strip(b"\0")


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
        for size in dict.fromkeys((page, 4096, *_SIZES)):
            if size not in _SIZES:
                continue
            for salts in _often(file, size):  # its head is damaged: any page has them too
                for each in "<>":
                    file.seek(_HEAD)
                    if _lost(_frames(file, size), each, salts, None) is not None:
                        return head, 0
    return None


def _often(file: BinaryIO, page: int) -> list[bytes]:
    """The salts that stand in most pages, where pages are of this size."""
    file.seek(_HEAD)
    found = Counter(frame.salts for frame in _frames(file, page) if any(frame.salts))
    return [salts for salts, _ in found.most_common(3)]


def _frames(file: BinaryIO, page: int) -> Iterator[_Frame]:
    while len(raw := file.read(_FRAME + page)) == _FRAME + page:
        number, size = unpack(">2I", raw[:8])
        first, second = unpack(">2I", raw[16:24])
        yield _Frame(number, size, raw[8:16], (first, second), raw[:8] + raw[_FRAME:])


def _lost(frames: Iterator[_Frame], order: str, salts: bytes, sums: Sum | None) -> int | None:
    """The first that does not fit upon those before (``sums``; None where the head that they
    begin with is damaged), where a page after it shows that what was there was stored.

    A call's pages are written once that before it is on the disk. So one that fits upon the
    end of another call shows that this was stored; so do two calls behind one another of
    which that end is gone. One call has each page once, in the order of their numbers (the
    list that SQLite writes is sorted): fewer or others than that are of two calls.
    """
    bad = None if sums is not None else 0
    told: Sum | None = None  # by the page before
    ended, several = False, False
    whole = sums is None  # all of it so far, behind a damaged head
    room = 1  # the number that a page of the same call has at least, less its place
    for number, frame in enumerate(frames):
        if frame.is_room:  # nor does any fit upon it
            bad = number if bad is None else bad
            told, sums, ended, whole = (0, 0), (0, 0), False, False
            continue
        here = None if sums is None else _sum(order, sums, frame.summed)
        ours = frame.salts == salts  # else of an earlier round, and overwritten when its turn comes
        fits = here == frame.sums
        if not fits and told is not None and told != sums:
            fits = _sum(order, told, frame.summed) == frame.sums
        whole = whole and ours and (fits or number == 0)
        if bad is None and not (fits and ours):
            bad = number
        if bad is not None:
            several = several or (ours and frame.page - number < room)
            if ours and fits and ended:
                return bad
            if ours and frame.size and (several or whole):
                return bad
        ended = frame.size != 0
        if ended and bad is None:
            room = -number
        elif ours:
            room = max(room, frame.page - number)
        told, sums = frame.sums, frame.sums if fits else here
    return None


def _sum(order: str, sums: Sum, data: bytes) -> Sum:
    """The sums over this, continued."""
    one, two = sums
    words = unpack(f"{order}{len(data) // 4}I", data)
    for first, second in zip(words[::2], words[1::2], strict=True):
        one = one + first + two & _MASK
        two = two + second + one & _MASK
    return one, two
