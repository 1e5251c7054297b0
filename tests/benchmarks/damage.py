"""What damage to a record's files does: bits turned all over the file, cuts of file and log.

``python -m tests.benchmarks.damage [SAMPLE]`` in the checkout; takes some minutes. One of
SAMPLE bits (16 unless given) is turned all over the file of a sample record, and sixteen
times as many, so by itself every one, in the pages that hold the facts. Each must leave a
record of which one of these holds: its chain is said to be broken; what finds its facts is
said to be wrong; it is said in one sentence that it cannot be read; or every fact and every
trace is read as before, to the byte, by batch, by outcome and by lot. Any other outcome is
printed, and the command ends with 1.

The cuts are those of SQLite's log, with the file as it stood beside it, at the border of
each page and at random bytes: of a log of which nothing was moved into the file yet, and
before, at and after each of several checkpoints (SQLite's own at its usual thousand pages,
forced ones of each kind, one that a reader kept from moving all). What a power cut can do,
to take bytes that came after the last that was moved, must leave the record as it was after
the last commit before them. The same holds of a file that is caught while the log is moved
into it. Of a log that lost bytes which had been moved (no power cut does that) SQLite lays
what is left of the log over the newer file: all commits before the cut must be there, or
it must be said that they are not; later ones may be gone, though the file had them. Of a
file that is cut itself, all is there or it is said what is amiss.
"""

from __future__ import annotations

import os
import random
import sqlite3
import sys
import tempfile
import traceback
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from contextlib import closing
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from support.facts import fact, live, poured

from mixer.record.envelope import Entry, RecordError
from mixer.record.journal import Journal
from mixer.record.reader import Reader
from mixer.record.trace import Sample

UTC = "2024-05-01T08:00:00.000Z"
SAMPLE = 16
CUT, LOG = "cut", "cut-wal"

BROKEN, MISLED, NOT_READ = "chain broken", "finding wrong", "not read"
SAME, WHOLE, AMISS, FINDING = "as before", "whole up to there", "says what is amiss", "FINDING"
Table = Counter[tuple[str, str]]


# -- a record, and all that is found in it ----------------------------------------------------


@dataclass(frozen=True)
class Seen:
    """``facts`` is a hash over all of them, as found in each way; ``traces`` are the readings
    of each batch. ``said`` is what is said to be amiss, by its column in the table."""

    said: str
    facts: str = ""
    traces: tuple[tuple[Sample, ...], ...] = ()

    def as_of(self, then: Seen) -> bool:
        """Whether its traces begin like those."""
        pairs = zip(self.traces, then.traces, strict=True)
        return all(now[: len(before)] == before for now, before in pairs)


def calls(batches: int) -> Iterator[list[Entry] | tuple[int, list[Sample]]]:
    """What a bench would store, call by call: live, dropped and closed batches in turn, a lot
    for each two of them, one corrected, and a last batch that is left open."""
    for n in range(1, batches + 1):
        for i, entry in enumerate(poured(n)):
            if entry.kind == "opened":
                entry.data["resin_lot"] = lot(n)
            yield [entry]
            if i in (2, 4):
                yield n, [Sample(i * 100 + j, j * n * 1000, f"{j * n}", j % 3 == 0) for j in range(9)]
        if n == batches:
            return
        yield [live(n)] if n % 3 else [fact("ended", n, how="dropped", verdict="unproven")]
        if n % 3 == 2:
            was = {"field": "resin_lot", "was": lot(n), "value": lot(n + 1), "reason": "misread"}
            yield [fact("closed", n, how="used-up", left_ug=None), fact("corrected", n, **was)]


def lot(batch: int) -> str:
    return f"R-{batch // 2}"


def look(path: Path, batches: int) -> Seen:
    """What is said of the record at this path, and all that is found in it."""
    try:
        with Journal.read(path) as reader:
            said = _said(reader)
            try:
                return Seen(said, *_found(reader, batches))
            except RecordError:
                return Seen(said)
    except RecordError as err:
        return Seen(NOT_READ if err.say.endswith(".") and "\n" not in err.say else FINDING)
    except Exception:
        traceback.print_exc()
        return Seen(FINDING)


def _said(reader: Reader) -> str:
    if not reader.verify().ok:
        return BROKEN
    return MISLED if reader.misled() else ""


def _found(reader: Reader, batches: int) -> tuple[str, tuple[tuple[Sample, ...], ...]]:
    numbers = range(1, batches + 2)
    facts = [
        list(reader.sealed()),
        *(list(reader.sealed(n)) for n in numbers),
        *(list(reader.sealed(outcome=o)) for o in ("open", "live", "closed", "dropped")),
        *(list(reader.sealed(lot=lot(n))) for n in numbers),
    ]
    traces = (tuple(sample for _, sample in reader.trace(n)) for n in numbers)
    return sha256(repr(facts).encode()).hexdigest(), tuple(traces)


def store(journal: Journal, call: list[Entry] | tuple[int, list[Sample]]) -> None:
    if isinstance(call, list):
        journal.append(call)
    else:
        journal.add_trace(*call, "boot-1", UTC)
