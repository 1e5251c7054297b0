"""Facts and weights in the pages of a damaged record, found without its tables.

A fact proves itself: by its hash upon its bytes and the hash before it. So it may be taken
wherever it stands: in a page that nothing leads to any more, that says it holds fewer, or
in the log behind a damaged part. It only reads (SQLite's "Database File Format": 1.5 and
1.6, rows and where they run over; 2.1, their values; 4, the log).
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from struct import unpack, unpack_from

from mixer.record.envelope import GENESIS, RecordError, chained, read
from mixer.record.making import PAGE
from mixer.record.parts import beside
from mixer.record.trace import count

_FRAME, _LOG_HEAD = 24, 32  # bytes
_HASH, _TABLE = 32, 13
_START, _END = b'{"at_ms":', b',"v":1}'  # of a fact's bytes: its keys are in their order
_SEQ = re.compile(rb',"seq":(\d{1,16}),"station":"')
_MOST = 1 << 24  # bytes of one row: a length that was altered may tell of any
_VARINT = rb"[\x80-\xff]{0,3}[\x00-\x7f]"
_SIZES = {0: 0, 1: 1, 2: 2, 3: 3, 4: 4, 5: 6, 6: 8, 7: 8, 8: 0, 9: 0}
#: The head of a row of weights: batch, boot, readings, bytes and a hash of 32 bytes.
_BLOCK = re.compile(
    rb"[\x07-\x0f]\x00[\x01-\x06\x08\x09]%b[\x01-\x06\x08\x09]%b\x4c" % (_VARINT, _VARINT)
)

Block = tuple[int, int, str, int, bytes, bytes]


@dataclass(frozen=True, slots=True)
class Found:
    """A fact that proves itself; ``seq`` is the number that its own bytes tell."""

    seq: int
    canonical: bytes
    prev: bytes
    hash: bytes


def number(canonical: bytes) -> int | None:
    """The number that a fact's bytes tell; None where they tell none.

    >>> number(b'{"at_ms":1,"kind":"noted","seq":7,"station":"shop","v":1}')
    7
    """
    found = _SEQ.match(canonical, max(0, canonical.rfind(b',"seq":')))
    return int(found[1]) if found else None


class Pages:
    """The pages of a record and of its log, as they stand; of each file so many bytes at
    ``most``, or all."""

    def __init__(self, record: Path, most: int = -1) -> None:
        with record.open("rb") as file:
            self._raw, self._long = file.read(most), os.fstat(file.fileno()).st_size
        size = int.from_bytes(self._raw[16:18], "big")
        self._size = size if size in (512, 1024, 2048, 4096, 8192, 16384, 32768) else PAGE
        self._log: list[tuple[int, bytes]] = []
        with suppress(FileNotFoundError), beside(record, "-wal").open("rb") as file:
            self._log = _stored(file.read(most), self._size)
        self._newest = dict(self._log)
        self._over: set[int] = set()  # pages that rows run over to
        self._held: dict[int, set[int]] = {}  # by the place of a page, its facts

    def facts(self, *, tables: bool = False) -> Iterator[Found]:
        """Each that proves itself, as often as it stands there; or only those in pages that
        begin as one of a table does (1.6)."""
        loose: dict[int, list[tuple[bytes, bytes, int]]] = {}
        hashes = {0: GENESIS}
        for place, page, at in self._places(_START, tables):
            held = self._held.setdefault(place, set())
            fact = self._fact(place, page, at, loose)
            if fact is not None:
                held.add(fact.seq)
                hashes[fact.seq] = fact.hash
                yield fact
        for seq in sorted(loose):  # of layout 1, which did not repeat the hash before it
            prev = hashes.get(seq - 1)
            for canonical, hash_, place in loose[seq] if prev is not None else ():
                if prev is not None and chained(prev, canonical) == hash_ and _is_one(canonical):
                    hashes[seq] = hash_
                    self._held[place].add(seq)
                    yield Found(seq, canonical, prev, hash_)

    def are_of_a_record(self) -> bool:
        """Whether a fact stands in a page of a table. In a file that only has a record in it, as
        an archive has, such pages lie elsewhere; and one that is no number of pages long does
        not belong to the log that stands beside it."""
        first_of_log = -(-len(self._raw) // self._size)
        for _ in self.facts(tables=True):
            there = [place for place, held in self._held.items() if held]
            if there[0] < first_of_log or self._long % self._size == 0:
                return True
        return False

    def blocks(self) -> Iterator[Block]:
        """Blocks of weights that are as they were packed, by all that can be told of one."""
        for page in self._images():
            for head in _BLOCK.finditer(page):
                at = head.start()
                kinds = _varints(page[at + 1 : head.end()])
                if page[at] != len(head[0]) or kinds[2] % 2 == 0 or kinds[2] < 13:
                    continue
                if kinds[4] % 2 or kinds[4] < 12:
                    continue
                sizes = [_size(kind) for kind in kinds]
                whole = page[at] + sum(sizes)
                block = _before(page, at, whole)
                for row in self._payloads(page, at, whole) if block is not None else ():
                    values, place = [], page[at]
                    for size in sizes:
                        values.append(row[place : place + size])
                        place += size
                    batch, readings = _int(kinds[1], values[1]), _int(kinds[3], values[3])
                    with suppress(RecordError, UnicodeDecodeError):
                        if block and batch > 0 and count(values[4]) == readings:
                            yield block, batch, values[2].decode(), readings, values[4], values[5]
                            break

    def doubtful(self) -> bool:
        """Whether a page of the file may have held facts that were not found. Asked once all
        that can be were (:meth:`facts`, :meth:`blocks`)."""
        told = int.from_bytes(self._raw[28:32], "big")
        if len(self._raw) % self._size or len(self._raw) < told * self._size < _MOST * 16:
            return True
        passed = self._over | self._free()
        for place, page in enumerate(self._images()):
            if place == 0 or place + 1 in passed:
                continue
            if place * self._size >= len(self._raw):
                break
            if page[0] not in (2, 5, 10, 13):
                return True
            head, cells = (8 if page[0] > 5 else 12), int.from_bytes(page[3:5], "big")
            if head + 2 * cells > self._size:
                return True
            starts = unpack_from(f">{cells}H", page, head)
            if any(not head <= at < self._size or not page[at] for at in starts if page[0] > 5):
                return True
            if page[0] == _TABLE and place in self._held and len(self._held[place]) < cells:
                return True
        return False

    def _free(self) -> set[int]:
        """Pages that hold nothing any more, as all of the list of them tells (1.5, the freelist):
        a table that was dropped leaves such. None where that list is not as long as it is told."""
        free: set[int] = set()
        trunk, told = unpack_from(">2I", self._in_file(1), 32)
        while trunk and trunk not in free:
            page = self._in_file(trunk)
            if len(page) < self._size:
                return set()
            after, leaves = unpack_from(">2I", page)
            if leaves > self._size // 4 - 2:
                return set()
            free |= {trunk, *unpack_from(f">{leaves}I", page, 8)}
            trunk = after
        return free if trunk == 0 and len(free) == told else set()

    def _fact(
        self, place: int, page: bytes, at: int, loose: dict[int, list[tuple[bytes, bytes, int]]]
    ) -> Found | None:
        end = page.find(_END, at)
        while end >= 0:  # it needs no head where all of it stands in this page
            end += len(_END)
            canonical = page[at:end]
            prev, hash_ = page[end : end + _HASH], page[end + _HASH : end + 2 * _HASH]
            if len(hash_) == _HASH and chained(prev, canonical) == hash_:
                return _proven(canonical, prev, hash_)
            seq = number(canonical)
            if seq is not None:
                loose.setdefault(seq, []).append((canonical, prev, place))
                break
            end = page.find(_END, end)
        for head in range(7, 16):
            start = at - head
            if start < 0 or page[start] != head or page[start + 1] != 0:
                continue
            kinds = _varints(page[start + 1 : at])
            if len(kinds) < 5 or kinds[1] < 12 or kinds[1] % 2:
                continue
            body = _size(kinds[1])
            for row in self._payloads(page, start, head + sum(map(_size, kinds))):
                canonical, after = row[head : head + body], row[head + body :]
                prev, hash_ = after[:_HASH], after[_HASH : 2 * _HASH]
                if chained(prev, canonical) == hash_:
                    return _proven(canonical, prev, hash_)
                seq = number(canonical)
                if seq is not None:
                    loose.setdefault(seq, []).append((canonical, prev, place))
        return None

    def _images(self) -> Iterator[bytes]:
        for at in range(0, len(self._raw), self._size):
            yield self._raw[at : at + self._size]
        for _, page in self._log:
            yield page

    def _places(self, start: bytes, tables: bool) -> Iterator[tuple[int, bytes, int]]:
        for place, page in enumerate(self._images()):
            at = -1 if tables and page[0] != _TABLE else page.find(start)
            while at >= 0:
                yield place, page, at
                at = page.find(start, at + 1)

    def _payloads(self, page: bytes, start: int, whole: int) -> Iterator[bytes]:
        """The bytes of a row that begins there, by the newest pages that it may run over to,
        and by those of the file."""
        most, least = self._size - 35, (self._size - 12) * 32 // 255 - 23
        if whole <= most:
            yield page[start : start + whole]
            return
        if whole > _MOST:
            return
        here = least + (whole - least) % (self._size - 4)
        here = here if here <= most else least
        ways: list[Callable[[int], bytes]] = [self._in_file]
        if self._newest:
            ways.insert(0, lambda n: self._newest.get(n) or self._in_file(n))
        for way in ways:
            row = bytearray(page[start : start + here])
            further = page[start + here : start + here + 4]
            while len(row) < whole and len(further) == 4:
                (after,) = unpack(">I", further)
                over = way(after)
                if len(over) < self._size:
                    break
                self._over.add(after)
                row += over[4 : 4 + whole - len(row)]
                further = over[:4]
            if len(row) == whole:
                yield bytes(row)

    def _in_file(self, page: int) -> bytes:
        return self._raw[max(page - 1, 0) * self._size : page * self._size] if page else b""


def _stored(log: bytes, size: int) -> list[tuple[int, bytes]]:
    """Its pages with their numbers, but for those of a call that was not brought to an end."""
    frames: list[tuple[int, int, bytes, bytes]] = []
    for at in range(_LOG_HEAD, len(log) - _FRAME - size + 1, _FRAME + size):
        page, end = unpack_from(">2I", log, at)
        frames.append((page, end, log[at + 8 : at + 16], log[at + _FRAME : at + _FRAME + size]))
    last = {salts: n for n, (_, end, salts, _) in enumerate(frames) if end}
    return [
        (page, raw) for n, (page, _, salts, raw) in enumerate(frames) if n <= last.get(salts, -1)
    ]


def _proven(canonical: bytes, prev: bytes, hash_: bytes) -> Found | None:
    seq = number(canonical)
    return Found(seq, canonical, prev, hash_) if seq and _is_one(canonical) else None


def _is_one(canonical: bytes) -> bool:
    try:
        read(canonical)
    except RecordError:
        return False
    return True


def _varints(raw: bytes) -> list[int]:
    found, value = [], 0
    for byte in raw:
        value = value << 7 | byte & 0x7F
        if byte < 0x80:
            found.append(value)
            value = 0
    return found


def _size(kind: int) -> int:
    return _SIZES.get(kind, 0) if kind < 12 else (kind - 12) // 2


def _int(kind: int, raw: bytes) -> int:
    return kind - 8 if kind in (8, 9) else int.from_bytes(raw, "big", signed=True)


def _before(page: bytes, at: int, whole: int) -> int | None:
    """The number of the row that begins there, which stands before it behind its length."""
    length = bytes([whole & 0x7F])
    while whole := whole >> 7:
        length = bytes([whole & 0x7F | 0x80]) + length
    for long in range(1, 6):
        raw = page[max(at - long, 0) : at]
        behind = page[max(at - long - len(length), 0) : at - long] == length
        if behind and len(_varints(raw)) == 1 and raw[-1] < 0x80:
            return _varints(raw)[0]
    return None
