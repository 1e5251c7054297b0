"""What the record costs: a fact to disk, a look through the chain, and growing large.

``python -m tests.benchmarks.record [BATCHES]`` (100 000 unless given) in the checkout;
takes some minutes and half a gigabyte for a while. Ratios are of medians that take turns
in one run; verify and export, which wait for no disk, are measured by the processor's time.
Ends with 1 where a figure does not hold.

Opening is what the window and the words of the command line do at their start: the record
opened to be written to, its live cups found, what was cut off found with its last weights,
and a first picture of it. How many cups are live and how many batches open has to do with
the bench and with who closes cups, not with the age of the record: a share of all batches,
such as one in a thousand, would be none in a short record and a hundred in a long one,
which no bench has room for. So they are the same in both records: none, where the least
that grows shows most, and then two live cups and a batch that was cut off. A cup that
nobody closes stays live for ever, though; what each costs at a start is told beside.
"""

from __future__ import annotations

import sqlite3
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import replace
from functools import partial
from hashlib import sha256
from pathlib import Path
from statistics import mean, median

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from support.facts import fact, live, poured

from mixer.app.bench.bench import Bench
from mixer.app.bench.board import Board
from mixer.app.clock import Clock
from mixer.app.picture import Picture
from mixer.record.csv_file import write_csv
from mixer.record.envelope import GENESIS, Entry
from mixer.record.export import rows
from mixer.record.journal import Journal
from mixer.record.trace import Sample
from tests.benchmarks.figures import Figure, load, machine, table

CHUNK = 500  # batches stored in one call while a long record is made


def batch(number: int) -> list[Entry]:
    """One batch, live and closed, from a lot that some dozen others share."""
    opening, *rest = poured(number)
    opening.data["resin_lot"] = f"R-{number // 12}"
    closed = fact("closed", number, 2_000_000, how="used-up", left_ug=None)
    return [opening, *rest, live(number), closed]


def at_the_bench(path: Path) -> None:
    """Two live cups more, and one more batch that was cut off in the hardener's stream."""
    with Journal.open(path) as journal:
        for cup in (1, 2):
            forget(journal, cup)
        number = journal.open_batch(poured()[0])
        journal.append([replace(entry, batch=number) for entry in poured()[1:-1]])
        for block in range(20):
            readings = [Sample(i * 100, i * 10_000, f"{i / 100} g", False) for i in range(20)]
            journal.add_trace(number, readings, f"boot-{block}")


def forget(journal: Journal, cup: int) -> None:
    """One more live cup, which nobody closes."""
    number = journal.open_batch(poured()[0])
    rest = [*poured()[1:], live(cup=cup)]
    journal.append([replace(entry, batch=number) for entry in rest])


def timed(do: Callable[[], object]) -> float:
    began = time.perf_counter()
    do()
    return time.perf_counter() - began


def worked(do: Callable[[], object]) -> float:
    """By the processor, so that what else the machine does counts not."""
    began = time.process_time()
    do()
    return time.process_time() - began


def to_disk(folder: Path, batches: int) -> Figure:
    """A fact, sealed, chained and found again, against its bare bytes in a bare table; they
    take turns by the batch, as a file system has more to do for who writes after another."""
    bare = sqlite3.connect(folder / "bare", isolation_level=None)
    for pragma in ("journal_mode = WAL", "synchronous = FULL", "fullfsync = ON"):
        bare.execute(f"PRAGMA {pragma}")
    bare.execute("CREATE TABLE facts (seq INTEGER PRIMARY KEY, bytes BLOB NOT NULL)")

    def insert(canonical: bytes) -> None:
        bare.execute("BEGIN IMMEDIATE")
        bare.execute("INSERT INTO facts (bytes) VALUES (?)", (canonical,))
        bare.execute("COMMIT")

    ours_s: list[float] = []
    bare_s: list[float] = []
    with closing(bare), Journal.open(folder / "ours") as journal:
        for number in range(1, batches + 1):
            stored: list[bytes] = []
            journal.claim()  # as the bench does for the length of a batch
            for entry in batch(number):
                store = partial(_store, journal, entry, stored)
                ours_s.append(timed(store))
            journal.release()
            bare_s += [timed(partial(insert, canonical)) for canonical in stored]
    return Figure(
        "a fact to disk, against a bare insert of the same bytes",
        median(ours_s) / median(bare_s), 1.5, "times",
        f"{median(ours_s) * 1e6:.0f} us to {median(bare_s) * 1e6:.0f} us, medians of "
        f"{len(ours_s)}; means {mean(ours_s) * 1e6:.0f} us to {mean(bare_s) * 1e6:.0f} us",
    )  # fmt: skip


def _store(journal: Journal, entry: Entry, stored: list[bytes]) -> None:
    stored.extend(fact.canonical for fact in journal.append([entry]))


def as_poured(path: Path, batches: int) -> None:
    """A record of batches as two minutes at the scale leave them: a score of facts, and a block
    of the weight trace for every two seconds."""
    with Journal.open(path) as journal:
        journal.claim()
        for number in range(1, batches + 1):
            *facts, alive, closed = batch(number)
            held = [
                fact("held", number, 50_000 + n, why="lifted", say="x" * 200) for n in range(11)
            ]
            journal.append([*facts, *held])
            for block in range(52):
                readings = [Sample(n * 100, n * 9_000, f"{n / 100} g", n % 3 == 0)
                            for n in range(20 * block, 20 * block + 20)]  # fmt: skip
                journal.add_trace(number, readings, "boot-1")
            journal.append([alive, closed])


def look_through(what: str, path: Path, turns: int) -> tuple[Figure, Figure]:
    """The look through the chain and the traces, and all that the command looks at. Both are
    held against a select of the bytes and hash of each fact and each block of a trace, with
    its chained hash; without a start of the program."""
    ours_s, whole_s, bare_s = [], [], []
    for _ in range(turns):
        with Journal.read(path) as reader:
            ours_s.append(worked(lambda: _sure(reader.verify().ok)))
            whole_s.append(ours_s[-1] + worked(lambda: _sure(not reader.misled())))
        with closing(sqlite3.connect(path)) as db:
            bare_s.append(worked(lambda: (_bare_chain(db), _bare_traces(db))))
    bare = median(bare_s)
    chain, whole = (
        Figure(
            f"{of}, against a plain select and chained hash; {what}",
            median(taken_s) / bare, 2, "times",
            f"{median(taken_s):.2g} s to {bare:.2g} s, medians of {turns}",
        )
        for of, taken_s in (("verify's look", ours_s), ("all of record verify", whole_s))
    )  # fmt: skip
    return chain, whole


def _bare_chain(db: sqlite3.Connection) -> None:
    prev = GENESIS
    for canonical, hash_ in db.execute("SELECT bytes, hash FROM facts ORDER BY seq"):
        prev = sha256(prev + canonical).digest()
        _sure(prev == hash_)


def _bare_traces(db: sqlite3.Connection) -> None:
    heads: dict[int, bytes] = {}
    for batch, boot, block, hash_ in db.execute(
        "SELECT batch, boot, bytes, hash FROM traces ORDER BY block"
    ):
        prev = heads.get(batch, GENESIS)
        heads[batch] = sha256(prev + f"{batch}\n{boot}\n".encode() + block).digest()
        _sure(heads[batch] == hash_)


def _sure(true: bool) -> None:
    if not true:
        raise RuntimeError("the record that was measured is not whole")


def opening(what: str, path: Path, other: Path, turns: int) -> Figure:
    ours_s, others_s = [], []
    for _ in range(turns):
        ours_s.append(start(path))
        others_s.append(start(other))
    return Figure(
        f"opening, against an empty record; {what}",
        median(ours_s) / median(others_s), 1.2, "times",
        f"{median(ours_s) * 1e3:.2f} ms to {median(others_s) * 1e3:.2f} ms, medians of {turns}",
    )  # fmt: skip


def start(path: Path) -> float:
    """What the program does with its record at a start, in seconds."""
    bench = Bench(path, Clock(), Board(Picture()), lambda said: None, None, None)
    taken_s = timed(bench.look_for_record)
    bench.end("")
    return taken_s


def forgotten(path: Path, cups: int) -> str:
    """What cups that nobody closed cost at a start."""
    before_s = median(start(path) for _ in range(9))
    with Journal.open(path) as journal:
        for cup in range(3, 3 + cups):
            forget(journal, cup)
    after_s = median(start(path) for _ in range(9))
    each_ms = (after_s - before_s) / cups * 1e3
    return f"each cup that was never closed {each_ms:.2f} ms at a start, by {cups} of them"


def finding(path: Path, batches: int) -> Iterator[Figure]:
    with Journal.read(path) as reader:
        for what, find, turns in (
            ("one batch found", lambda n: list(reader.entries(n)), 50),
            (
                "the batches of one lot found",
                lambda n: list(reader.entries(lot=f"R-{n // 12}")),
                50,
            ),
        ):
            taken_s = []
            for turn in range(turns):
                number = 1 + turn * 7919 % batches
                taken_s.append(timed(lambda f=find, n=number: _sure(bool(f(n)))))
            yield Figure(
                what, max(taken_s) * 1e3, 50, "ms",
                f"longest of {turns}; median {median(taken_s) * 1e3:.2f} ms",
            )  # fmt: skip


def make(path: Path, batches: int) -> None:
    with Journal.open(path) as journal:
        journal.claim()
        for first in range(1, batches + 1, CHUNK):
            numbers = range(first, min(first + CHUNK, batches + 1))
            journal.append([entry for n in numbers for entry in batch(n)])


def per_batch(path: Path, batches: int, folder: Path) -> tuple[float, float]:
    """Microseconds a batch to verify and to export."""
    with Journal.read(path) as reader:
        verify_s = worked(lambda: _sure(reader.verify().ok))
        export_s = worked(lambda: write_csv(rows(reader.entries()), folder / "batches.csv"))
    return verify_s / batches * 1e6, export_s / batches * 1e6


def main() -> int:
    most = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    loads, figures = [load()], []
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        figures.append(to_disk(folder, 45))
        empty, few, many = folder / "empty", folder / "few", folder / "many"
        Journal.open(empty).close()
        few_batches = max(1, most // 100)
        make(few, few_batches)
        make(many, most)
        size = many.stat().st_size
        figures.append(opening("nothing live", many, empty, 40))
        figures += finding(many, most)
        of_pours = folder / "as poured"
        as_poured(of_pours, 100)
        figures += look_through("batches as poured", of_pours, 9)
        typed, all_typed = look_through("batches without traces", few, 9)
        figures.append(typed)
        per_batch(few, few_batches, folder)  # pandas is loaded by it
        short, long = per_batch(few, few_batches, folder), per_batch(many, most, folder)
        for what, before, after in zip(("verify", "export"), short, long, strict=True):
            over = f"time of {what} for each batch, of {most} against {few_batches}"
            note = f"{after:.0f} us to {before:.0f} us a batch"
            figures.append(Figure(over, after / before, 1.25, "times", note))
        for path in (empty, many):
            at_the_bench(path)
        figures.append(opening("in both two live cups and one cut off", many, empty, 40))
        cups = forgotten(many, 100)
        loads.append(load())
    print(table(figures))
    print(f"\nWithout a limit: {all_typed.what}: {all_typed.value:.2f} times; {cups}.")
    print(f"\n{most} batches are {size / 1e6:.0f} MB. {machine()}; load {', '.join(loads)}.")
    return 0 if all(figure.held for figure in figures) else 1


if __name__ == "__main__":
    raise SystemExit(main())
