"""What damage to a record's file does: every bit turned, every cut of its log.

``python -m tests.benchmarks.damage [SAMPLE]`` in the checkout; takes some minutes, and
with SAMPLE looks only at every so manieth bit and byte. Each bit of the pages that hold
the facts of a sample record is turned: the look through the chain must find it, unless
what is read is the same to the byte (a bit in the free space of a page). Each cut of
SQLite's log, at every page and at random bytes, and each cut of the file, must leave a
record that holds all facts of the commits that are whole, or one that says it is torn.
Ends with 1 where a change was missed or a fact lost.
"""

from __future__ import annotations

import random
import sqlite3
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from support.facts import live, poured

from mixer.record import schema
from mixer.record.envelope import Entry, RecordError
from mixer.record.journal import Journal
from mixer.record.reader import Reader
from mixer.record.trace import Sample

UTC = "2024-05-01T08:00:00.000Z"
_JOURNAL_MODE_AT = 18, 20  # SQLite's file format, 1.3: 1 is a file without a log


def calls() -> Iterator[list[Entry]]:
    """What a bench would store, call by call: two batches, the first one live."""
    for entry in [*poured(1), live(1), *poured(2)]:
        yield [entry]


def sample(path: Path) -> list[tuple[int, int]]:
    """Make the record; the length of its log and the number of facts after each commit."""
    log = path.with_name(path.name + "-wal")
    commits: list[tuple[int, int]] = []
    with Journal.open(path) as journal:
        journal._db.execute("PRAGMA wal_autocheckpoint = 0")
        commits.append((log.stat().st_size, 0))
        for n, entries in enumerate(calls()):
            if n == 5:
                readings = [Sample(i, i * 1000, f"{i / 1000:.1f} g", False) for i in range(50)]
                journal.add_trace(1, readings, "boot-1", UTC)
            journal.append(entries)
            commits.append((log.stat().st_size, journal.head()[0]))
        copy = path.with_name("copy")
        copy.write_bytes(path.read_bytes())
        copy.with_name("copy-wal").write_bytes(log.read_bytes())
    return commits


def fact_pages(path: Path) -> list[int]:
    """Which pages of the file hold the facts, from 1 on."""
    with closing(sqlite3.connect(path)) as db:
        found = db.execute("SELECT pageno FROM dbstat WHERE name = 'facts' ORDER BY pageno")
        return [page for (page,) in found]


def bits(path: Path, step: int) -> Counter[str]:
    """Turn each bit of those pages, one at a time; what came of it, counted."""
    raw = bytearray(path.read_bytes())
    first, last = _JOURNAL_MODE_AT
    raw[first:last] = b"\x01\x01"  # so that it can be opened from memory
    before = _seen(bytes(raw))
    size = int.from_bytes(raw[16:18], "big") or 1
    came: Counter[str] = Counter()
    for page in fact_pages(path):
        start = 100 if page == 1 else 0
        for bit in range(8 * start, 8 * size, step):
            at = (page - 1) * size + bit // 8
            raw[at] ^= 1 << bit % 8
            seen = _seen(bytes(raw))
            raw[at] ^= 1 << bit % 8
            if seen is None:
                came["found"] += 1
            elif seen == before:
                came["no part of a fact"] += 1
            else:
                came["MISSED"] += 1
                print(f"missed: page {page}, bit {bit}")
    return came


def _seen(raw: bytes) -> list[tuple[int, bytes]] | None:
    """All facts of a record whose chain is whole, else ``None``."""
    db = sqlite3.connect(":memory:", isolation_level=None)
    try:
        db.deserialize(raw)
        reader = Reader(db, Path("sample"), schema.SCHEMA)
        return list(reader.sealed()) if reader.verify().ok else None
    except (RecordError, sqlite3.Error):
        return None
    finally:
        db.close()


def cuts(folder: Path, commits: list[tuple[int, int]], step: int) -> Counter[str]:
    """Cut the log at every page and at random bytes, and then the file; what came of it."""
    whole, log = (folder / "copy").read_bytes(), (folder / "copy-wal").read_bytes()
    kept = (folder / "record").read_bytes()  # as it is when all stands in the file
    page = int.from_bytes(kept[16:18], "big")
    frame = page + 24  # SQLite's file format, 4.1: a log has a head of 32 bytes, a frame of 24
    rng = random.Random(1)
    came: Counter[str] = Counter()
    target = folder / "cut"
    for place in sorted({*range(32, len(log) + 1, frame), *_some(rng, log, step)}):
        target.write_bytes(whole)
        target.with_name("cut-wal").write_bytes(log[:place])
        came[_judge(target, [facts for size, facts in commits if size <= place][-1:])] += 1
    for place in sorted({*range(0, len(kept), page), *_some(rng, kept, step)}):
        target.write_bytes(kept[:place])
        target.with_name("cut-wal").unlink(missing_ok=True)
        came[_judge(target, None)] += 1
    return came


def _some(rng: random.Random, raw: bytes, step: int) -> list[int]:
    return rng.sample(range(len(raw)), min(len(raw), 2000 // step))


def _judge(path: Path, due: list[int] | None) -> str:
    """``due`` is how many facts must be there: exactly so many (none: no record yet), or,
    of a file that was cut itself, ``None``: whatever it is, it must be said."""
    for note in path.parent.glob("cut-shm"):
        note.unlink()
    try:
        with Journal.read(path) as reader:
            found = reader.verify()
    except RecordError:
        return "says what is amiss" if not due else "LOST"
    if due is None:
        return "says what is amiss" if not found.ok else "UNSEEN"
    return "whole up to the cut" if found.ok and [found.facts] == due else "LOST"


def main() -> int:
    step = int(sys.argv[1]) if len(sys.argv) > 1 else 1
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        commits = sample(folder / "record")
        turned = bits(folder / "record", step)
        cut = cuts(folder, commits, step)
    print(f"bits turned in the pages of the facts: {_told(turned)}")
    print(f"cuts of the log and of the file: {_told(cut)}")
    return 1 if turned["MISSED"] or cut["LOST"] or cut["UNSEEN"] else 0


def _told(came: Counter[str]) -> str:
    return ", ".join(f"{n} {what}" for what, n in came.most_common())


if __name__ == "__main__":
    raise SystemExit(main())
