"""What damage to a record's files does: bits turned all over, cuts of the log and the file.

``python -m tests.benchmarks.damage [SAMPLE]`` in the checkout; takes some minutes. Prints
a table of what came of it, and ends with 1 where there is a finding.

**Bits.** In a record at rest one of SAMPLE bits (16 unless given) is turned, one at a
time, all over the file, and sixteen times as many in the pages that hold the facts:
there, unless more is given, each. One of these must come of it: the chain is said to be
broken; what finds the facts is said to be wrong; one sentence says that the file cannot
be read; or each fact and each trace is read as before, to the byte, and found as before,
by batch, by outcome and by lot. All else is a finding, also any error but RecordError.

**Rebuilt.** In the same record one of SAMPLE bits is turned where SQLite is told what lies
in a page: in its head, in the places of its cells, in the first bytes of each cell. No fact
is changed by that. After ``record rebuild`` each is there as it was, and none other but the
one that tells of it; it has said that nothing was lost, but where weights were, and a look
through the record finds it whole.

**Cuts.** Both files as they stood after some call, the log cut at each border of a page
and at random bytes: before, at and after checkpoints of each kind, the journal's own at
4 MB among them, and one that a reader kept from moving all.

- Cut after what had been moved into the file, as a power cut may: the record is as it
  was after the last whole commit before the cut, no more and no less.
- Cut within what had been moved, which no power cut does, for it was on the disk by
  then: what is left of the log hides newer pages of the file. All commits before the cut
  are there, or it is said what is amiss. Later ones may be hidden unsaid, like any facts
  that are cut off from the end ("whole, but older"): only a head kept elsewhere shows it.
- The file half written by a checkpoint, with its log, which is emptied only once the file
  is on the disk: nothing is missing.
- The file cut, whatever log stands beside it: nothing is missing, or it is said.
"""

from __future__ import annotations

import io
import random
import sqlite3
import sys
import tempfile
import traceback
from collections import Counter
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from support.facts import fact, live, poured

from mixer.record.envelope import Entry, RecordError
from mixer.record.journal import Journal
from mixer.record.mending import mend
from mixer.record.reader import Reader
from mixer.record.trace import Sample

SAMPLE = 16
AT_REST, LONG = 3, 40  # batches of the record whose bits are turned, and of the one that is cut
#: After which calls a checkpoint is asked for, and while which a reader stands in its way.
CHECKPOINTS = {8: "PASSIVE", 14: "FULL", 20: "RESTART", 26: "TRUNCATE", 34: "PASSIVE"}
READER = 30, 36
AFTER = 4  # calls after a checkpoint: the log has been begun anew
MOST = 10_000  # facts; a record that has more of them is read round and round
RANDOM = 100  # bytes at which each file is cut, beside the borders of its pages

BROKEN, MISLED, REFUSED = "chain broken", "finding wrong", "cannot be read"
SAME, OLDER, AMISS, FINDING = "as it was", "whole, but older", "says what is amiss", "FINDING"
POWER_CUT, CUT_BACK = "log cut after what was moved", "log cut within what was moved"
HALF_MOVED, FILE_CUT = "file half written by a checkpoint", "file cut"

Call = list[Entry] | tuple[int, list[Sample]]
Came = Counter[tuple[str, str]]  # what was damaged, and what came of it


# -- a record, and all that is found in it ----------------------------------------------------


def calls(batches: int) -> Iterator[Call]:
    """What a bench would store, call by call, with two blocks of trace for each batch. One
    batch is live, the next closed, its lot corrected, a third dropped; the last stays open."""
    for n in range(1, batches + 1):
        for i, entry in enumerate(poured(n)):
            yield [entry]
            if i in (2, 5):
                yield n, [Sample(i * 100 + j, j * n * 1000, f"{j * n}", j > 6) for j in range(9)]
        if n < batches:
            yield ending(n)


def ending(n: int) -> list[Entry]:
    if n % 3 == 0:
        return [fact("ended", n, how="dropped", verdict="unproven")]
    if n % 3 == 1:
        return [live(n)]
    read = fact("corrected", n, field="resin_lot", was="R-17", value=f"R-{n}", reason="misread")
    return [live(n), fact("closed", n, how="used-up", left_ug=None), read]


def store(journal: Journal, call: Call) -> None:
    if isinstance(call, list):
        journal.append(call)
    else:
        journal.add_trace(*call, "boot-1")


@dataclass(frozen=True)
class Seen:
    """What is said to be amiss; all facts, by each way that finds some; each batch's trace."""

    said: str
    facts: tuple[Any, ...] = ()
    traces: tuple[list[Sample], ...] = ()


def look(path: Path, batches: int) -> Seen:
    try:
        with Journal.read(path) as reader:
            whole = reader.verify().ok
            said = (MISLED if reader.misled() else "") if whole else BROKEN
            try:
                return Seen(said, *found(reader, batches))
            except RecordError:
                return Seen(said)
    except RecordError as error:
        return Seen(REFUSED if error.say.endswith(".") and "\n" not in error.say else FINDING)
    except Exception:
        traceback.print_exc(limit=-1)
        return Seen(FINDING)


def found(reader: Reader, batches: int) -> tuple[tuple[Any, ...], tuple[list[Sample], ...]]:
    numbers = range(1, batches + 2)
    ways: list[dict[str, Any]] = [{}, *({"batch": n} for n in numbers)]
    ways += [{"outcome": told} for told in ("open", "live", "closed", "dropped")]
    ways += [{"lot": told} for told in ("R-17", *(f"R-{n}" for n in numbers))]
    facts = tuple(hash(_all(reader.sealed(**way))) for way in ways)
    return facts, tuple([sample for _, sample in reader.trace(n)] for n in numbers)


def _all(facts: Iterator[tuple[int, bytes]]) -> tuple[tuple[int, bytes], ...]:
    some = tuple(islice(facts, MOST))
    if len(some) == MOST:
        raise RuntimeError("reading does not end")
    return some


def _stored_at_rest(path: Path) -> list[tuple[int, int, str]]:
    """A record is made there; the size, the number and the owner of each of its pages."""
    with Journal.open(path) as journal:
        for call in calls(AT_REST):
            store(journal, call)
    with closing(sqlite3.connect(path)) as db:
        pages = db.execute("SELECT pgsize, pageno, name FROM dbstat ORDER BY pageno")
        return list(pages)


# -- bits -------------------------------------------------------------------------------------


def bits(folder: Path, sample: int) -> Came:
    """Turn bits of a record at rest; what came of them, by what their page holds."""
    path, came, rng = folder / "bits", Came(), random.Random(1)
    pages = _stored_at_rest(path)
    before = look(path, AT_REST)
    assert before.said == ""
    assert len(pages) * pages[0][0] == path.stat().st_size
    with path.open("r+b", buffering=0) as file:
        for size, page, name in pages:
            step = max(1, sample // SAMPLE) if name == "facts" else sample
            for bit in rng.sample(range(8 * size), 8 * size // step):
                at = (page - 1) * size + bit // 8
                turn(file, at, bit % 8)
                seen = look(path, AT_REST)
                turn(file, at, bit % 8)
                what = seen.said or (SAME if seen == before else FINDING)
                came["head of the file" if at < 100 else f"page of {name}", what] += 1
                if what == FINDING:
                    print(f"finding: bit {bit % 8} of byte {at}, in a page of {name}")
    return came


def turn(file: io.FileIO, at: int, bit: int) -> None:
    file.seek(at)
    (byte,) = file.read(1)
    file.seek(at)
    file.write(bytes([byte ^ 1 << bit]))


# -- rebuilt ----------------------------------------------------------------------------------


def rebuilds(folder: Path, sample: int) -> Came:
    """Turn bits of what says where things lie in each page; what a rebuild makes of it."""
    path, came, rng = folder / "rebuilt", Came(), random.Random(1)
    pages = _stored_at_rest(path)
    raw = path.read_bytes()
    with Journal.read(path) as reader:
        before = dict(reader.sealed())
    for size, page, name in pages:
        for bit in sorted(_sampled(rng, _telling(raw, (page - 1) * size, page == 1), sample)):
            for old in path.parent.glob(f"{path.name}*"):
                old.unlink()
            turned = bytearray(raw)
            turned[bit // 8] ^= 1 << bit % 8
            path.write_bytes(turned)
            what = _rebuilt(path, before)
            came[f"rebuilt, page of {name}", what] += 1
            if what == FINDING:
                print(f"finding: rebuilt with bit {bit % 8} of byte {bit // 8}, a page of {name}")
    return came


def _telling(raw: bytes, start: int, first: bool) -> list[int]:
    """The bits of a page that say where things lie in it (SQLite's file format, 1.6)."""
    head = start + 100 if first else start
    cells = int.from_bytes(raw[head + 3 : head + 5], "big")
    places = head + (8 if raw[head] > 5 else 12)
    bytes_ = {*range(head, places + 2 * cells)}
    for at in range(places, places + 2 * cells, 2):
        cell = start + int.from_bytes(raw[at : at + 2], "big")
        bytes_.update(range(cell, cell + 4))
    return [8 * at + bit for at in bytes_ if at < len(raw) for bit in range(8)]


def _sampled(rng: random.Random, all_of_them: list[int], sample: int) -> list[int]:
    return rng.sample(all_of_them, max(1, len(all_of_them) // sample))


def _rebuilt(path: Path, before: dict[int, bytes]) -> str:
    try:
        mended = mend(path, fact("mended"))
        with Journal.read(path) as reader:
            after = dict(reader.sealed())
            told = reader.verify()
    except Exception:
        traceback.print_exc(limit=-1)
        return FINDING
    more = 1 if mended.kept else 0
    if before.items() <= after.items() and len(after) == len(before) + more:
        if told.ok and not mended.lost:
            return SAME
        if mended.lost.traces and not mended.lost.facts:
            return AMISS
    return FINDING


# -- cuts -------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Files:
    """The record's file and its log, after so many calls."""

    file: bytes
    log: bytes
    calls: int

    @classmethod
    def of(cls, path: Path, calls: int) -> Files:
        return cls(path.read_bytes(), path.with_name(path.name + "-wal").read_bytes(), calls)


class Emptying(Journal):
    """A journal that is looked at in each call once its facts are stored, just before it may
    bring its log into the record: a power cut then finds the whole log."""

    calls = 0
    stored: Files | None = None

    def _keep_log_short(self) -> None:
        self.stored = Files.of(self.path, self.calls)
        super()._keep_log_short()


@dataclass(frozen=True)
class History:
    """What was seen in a record after each call; its files at some moments, and before and
    after each checkpoint."""

    batches: int
    states: list[Seen]
    moments: list[Files]
    moves: list[tuple[Files, Files]]


def history(path: Path, batches: int) -> History:
    with Emptying.open(path) as ours, closing(sqlite3.connect(path, isolation_level=None)) as other:
        known = History(batches, [look(path, batches)], [], [])
        last, moved_at = Files.of(path, 0), batches * 100
        for n, call in enumerate(calls(batches), 1):
            ours.calls = n
            store(ours, call)
            known.states.append(look(path, batches))
            now = [*filter(None, [ours.stored]), Files.of(path, n)]
            if n in CHECKPOINTS:
                ours._db.execute(f"PRAGMA wal_checkpoint({CHECKPOINTS[n]})").fetchall()
                now.append(Files.of(path, n))
            for files in now:
                if files.file != last.file:
                    known.moves.append((last, files))
                    known.moments.extend((last, files))
                    moved_at = n
                last = files
            if n == moved_at + AFTER:
                known.moments.append(last)
            if n == READER[0]:
                other.execute("BEGIN")
                other.execute("SELECT count(*) FROM facts").fetchone()
            elif n == READER[1]:
                other.execute("ROLLBACK")
    return known


def cuts(folder: Path, batches: int, sample: int) -> Came:
    known, came = history(folder / "history", batches), Came()
    path, rng, step = folder / "cut", random.Random(1), max(1, sample // SAMPLE)
    page = int.from_bytes(known.moments[0].file[16:18], "big")

    def places(raw: bytes, first: int, each: int) -> list[int]:
        borders = range(first, len(raw) + 1, each)
        some = rng.sample(range(len(raw)), min(len(raw), RANDOM))
        return [*borders[rng.randrange(step) :: step], *some[::step]]

    def judge(what: str, file: bytes, log: bytes, due: int, had: int = 0) -> None:
        seen, exact = _look_at(path, file, log, batches), what in (POWER_CUT, HALF_MOVED)
        outcome = _judged(known.states, seen, due, had, exact)
        came[what, outcome] += 1
        if outcome == FINDING:
            print(f"finding: {what}, file {len(file)}, log {len(log)}, after call {due}")

    for files in known.moments:
        moved = known.states.index(_look_at(path, files.file, b"", batches))
        ends = commits(files.log)
        for place in places(files.log, 32, page + 24):
            due = files.calls - sum(end > place for end in ends)
            what = POWER_CUT if due >= moved else CUT_BACK
            judge(what, files.file, files.log[:place], due, moved)
        for place in places(files.file, 0, page):
            judge(FILE_CUT, files.file[:place], files.log, files.calls)
    for before, after in known.moves:
        for place in places(after.file, 0, page):
            file = after.file[:place] + before.file[place:]
            judge(HALF_MOVED, file, before.log, after.calls)
    return came


def commits(log: bytes) -> list[int]:
    """Where each commit ends in a log, of those since it was begun anew (SQLite's file
    format, 4.1: a head of 32 bytes, before each page 24, the size of the file with the last
    page of a commit, and in head and frames the salt of this beginning)."""
    frame, found = int.from_bytes(log[8:12], "big") + 24, []
    for at in range(32, len(log) - frame + 1, frame):
        if log[at + 8 : at + 16] != log[16:24]:
            break
        if any(log[at + 4 : at + 8]):
            found.append(at + frame)
    return found


def _look_at(path: Path, file: bytes, log: bytes, batches: int) -> Seen:
    path.write_bytes(file)
    path.with_name(path.name + "-wal").write_bytes(log)
    path.with_name(path.name + "-shm").unlink(missing_ok=True)
    return look(path, batches)


def _judged(states: list[Seen], seen: Seen, due: int, had: int, exact: bool) -> str:
    """``due``: all that these calls stored must be there; ``exact``: and nothing else.
    ``had``: so many of them stood in the file."""
    if seen.said:
        return FINDING if exact or seen.said == FINDING else AMISS
    if exact:
        return SAME if seen == states[due] else FINDING
    traced = all(
        now[: len(then)] == then and now == last[: len(now)]
        for now, then, last in zip(seen.traces, states[due].traces, states[-1].traces, strict=True)
    )
    alike = [n for n, state in enumerate(states) if n >= due and state.facts == seen.facts]
    if not traced or not alike:
        return FINDING
    return SAME if alike[-1] >= had else OLDER


def table(came: Came) -> str:
    columns = (SAME, BROKEN, MISLED, REFUSED, AMISS, OLDER, FINDING)
    rows: list[tuple[str, ...]] = [("", *columns)]
    for what in dict.fromkeys(what for what, _ in came):
        rows.append((what, *(str(came[what, column] or "") for column in columns)))
    wide = [max(map(len, column)) for column in zip(*rows, strict=True)]
    rows.insert(1, tuple("-" * width for width in wide))
    return "\n".join(
        f"| {' | '.join(cell.ljust(width) for cell, width in zip(row, wide, strict=True))} |"
        for row in rows
    )


def main() -> int:
    sample = int(sys.argv[1]) if len(sys.argv) > 1 else SAMPLE
    with tempfile.TemporaryDirectory() as name:
        came = bits(Path(name), sample) + rebuilds(Path(name), sample)
        came += cuts(Path(name), LONG, sample)
    print(table(came))
    return 1 if any(outcome == FINDING for _, outcome in came) else 0


if __name__ == "__main__":
    raise SystemExit(main())
