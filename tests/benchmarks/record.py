"""What the record costs: a fact to disk, a look through the chain, and growing large.

``python -m tests.benchmarks.record [BATCHES]`` (100 000 unless given) in the checkout;
takes some minutes and half a gigabyte for a while. Ratios are of medians that take turns
in one run. Ends with 1 where a figure does not hold.
"""

from __future__ import annotations

import sqlite3
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from hashlib import sha256
from pathlib import Path
from statistics import median

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from support.facts import fact, live, poured

from mixer.record.envelope import GENESIS, Entry
from mixer.record.export import rows, write_csv
from mixer.record.journal import Journal
from tests.benchmarks.figures import Figure, load, machine, table

CHUNK = 500  # batches stored in one call while a long record is made


def batch(number: int) -> list[Entry]:
    """One batch, live and closed, from a lot that some dozen others share."""
    opening, *rest = poured(number)
    opening.data["resin_lot"] = f"R-{number // 12}"
    closed = fact("closed", number, 2_000_000, how="used-up", left_ug=None)
    return [opening, *rest, live(number), *([closed] if number % 1000 else [])]


def timed(do: Callable[[], object]) -> float:
    began = time.perf_counter()
    do()
    return time.perf_counter() - began


def to_disk(folder: Path, count: int) -> Figure:
    """A fact, sealed, chained and found again, against its bare bytes in a bare table."""
    entries = [e for n in range(1, count) for e in batch(n)][:count]
    bare = sqlite3.connect(folder / "bare", isolation_level=None)
    for pragma in ("journal_mode = WAL", "synchronous = FULL", "fullfsync = ON"):
        bare.execute(f"PRAGMA {pragma}")
    bare.execute("CREATE TABLE facts (seq INTEGER PRIMARY KEY, bytes BLOB NOT NULL)")

    def insert(canonical: bytes) -> None:
        bare.execute("BEGIN IMMEDIATE")
        bare.execute("INSERT INTO facts (bytes) VALUES (?)", (canonical,))
        bare.execute("COMMIT")

    ours_s, bare_s = [], []
    with closing(bare), Journal.open(folder / "ours") as journal:
        journal.claim()  # as the bench does for the length of a batch
        for entry in entries:
            stored: list[bytes] = []
            ours_s.append(
                timed(lambda e=entry, s=stored: s.extend(f.canonical for f in journal.append([e])))
            )
            bare_s.append(timed(lambda s=stored: insert(s[0])))
    return Figure(
        "a fact to disk, against a bare insert of the same bytes",
        median(ours_s) / median(bare_s), 1.5, "times",
        f"{median(ours_s) * 1e6:.0f} us to {median(bare_s) * 1e6:.0f} us, medians of {count}",
    )  # fmt: skip


def look_through(path: Path, turns: int) -> Figure:
    ours_s, bare_s = [], []
    for _ in range(turns):
        with Journal.read(path) as reader:
            ours_s.append(timed(lambda: _sure(reader.verify().ok)))
        with closing(sqlite3.connect(path)) as db:
            bare_s.append(timed(lambda: _bare_chain(db)))
    return Figure(
        "verify, against a plain select and chained hash",
        median(ours_s) / median(bare_s), 2, "times",
        f"{median(ours_s):.2f} s to {median(bare_s):.2f} s, medians of {turns}",
    )  # fmt: skip


def _bare_chain(db: sqlite3.Connection) -> None:
    prev = GENESIS
    for canonical, hash_ in db.execute("SELECT bytes, hash FROM facts ORDER BY seq"):
        prev = sha256(prev + canonical).digest()
        _sure(prev == hash_)


def _sure(true: bool) -> None:
    if not true:
        raise RuntimeError("the record that was measured is not whole")


def opening(path: Path, empty: Path, turns: int) -> Figure:
    """Opened to be written to, and its live cups looked for, as the window does."""

    def look(path: Path) -> None:
        with Journal.open(path) as journal:
            list(journal.entries(outcome="open"))

    ours_s, empty_s = [], []
    for _ in range(turns):
        ours_s.append(timed(lambda: look(path)))
        empty_s.append(timed(lambda: look(empty)))
    return Figure(
        "opening, against an empty record",
        median(ours_s) / median(empty_s), 1.2, "times",
        f"{median(ours_s) * 1e3:.2f} ms to {median(empty_s) * 1e3:.2f} ms, medians of {turns}",
    )  # fmt: skip


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
        verify_s = timed(lambda: _sure(reader.verify().ok))
        export_s = timed(lambda: write_csv(rows(reader.entries()), folder / "batches.csv"))
    return verify_s / batches * 1e6, export_s / batches * 1e6


def main() -> int:
    most = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    loads, figures = [load()], []
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        figures.append(to_disk(folder, 400))
        empty, few, many = folder / "empty", folder / "few", folder / "many"
        Journal.open(empty).close()
        few_batches = max(1, most // 100)
        make(few, few_batches)
        make(many, most)
        size = many.stat().st_size
        figures.append(opening(many, empty, 40))
        figures += finding(many, most)
        figures.append(look_through(few, 9))
        per_batch(few, few_batches, folder)  # pandas is loaded by it
        short, long = per_batch(few, few_batches, folder), per_batch(many, most, folder)
        for what, before, after in zip(("verify", "export"), short, long, strict=True):
            figures.append(
                Figure(
                    f"time of {what} for each batch, of {most} against {few_batches}",
                    after / before,
                    1.25,
                    "times",
                    f"{after:.0f} us to {before:.0f} us a batch",
                )
            )
        loads.append(load())
    print(table(figures))
    print(f"\n{most} batches are {size / 1e6:.0f} MB. {machine()}; load {', '.join(loads)}.")
    return 0 if all(figure.held for figure in figures) else 1


if __name__ == "__main__":
    raise SystemExit(main())
