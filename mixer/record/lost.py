"""What of a damaged record is lost, once all that can be read was carried over.

It is told by all that numbers facts: those that are there, what finds them, and what an
earlier mending named already. A number of which one of them alone tells, far behind all
others, never was one.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from mixer.record import projection, salvage
from mixer.record.envelope import RecordError, read

KIND = "mended"
Range = tuple[int, int | None]


@dataclass(frozen=True, slots=True)
class Lost:
    """``facts`` by the first and last number of each row of them that cannot be read (None for
    the last: nobody knows), ``altered`` the numbers of those that prove nothing and stand as
    they were found, ``batches`` those that either are of, with what was known of them, and
    ``traces`` the batches of which weights are lost (0: nobody knows of which)."""

    facts: tuple[Range, ...] = ()
    batches: tuple[dict[str, Any], ...] = ()
    traces: tuple[int, ...] = ()
    altered: tuple[int, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.facts or self.traces or self.altered)

    @property
    def first(self) -> int | None:
        """The number of the first fact that is lost; None where none is."""
        return self.facts[0][0] if self.facts else None

    def about(self) -> dict[str, Any]:
        """As a fact of this kind tells it."""
        told = {"facts": self.facts, "batches": self.batches, "traces": self.traces}
        return told | ({"altered": self.altered} if self.altered else {})

    def told(self) -> str:
        """What is missing, in words."""
        lost, more = what(self.about()), perhaps(self.about())
        told = [f"{' and '.join(lost)} {'is' if is_one(lost) else 'are'} missing"] * bool(lost)
        told += [f"{more} may be missing"] * bool(more)
        if self.altered:
            told.append(f"what {facts(ranges(self.altered))} said is not known for certain")
        return ", and ".join(told) or "no fact of it is missing"


def what(data: Mapping[str, Any]) -> list[str]:
    """The facts and weights that are lost, in words, of which a fact of this kind tells. Raises
    KeyError, TypeError or ValueError where it is another program's.

    >>> what({"facts": [[9, 9], [12, 14]], "batches": [{"batch": 7}, {"batch": 8}], "traces": []})
    ['facts 9, 12 to 14 (of batch 7, 8)']
    """
    batches = ranges(known["batch"] for known in data["batches"])
    traces = ranges(batch for batch in data["traces"] if batch)
    lost, more = [], perhaps(data)
    if holes := [_told(a, b) for a, b in data["facts"] if not (b is None and more)]:
        lost.append(f"{facts(', '.join(holes))} (of batch {batches or 'nobody knows which'})")
    if data["traces"]:
        lost.append(f"weights of batch {traces or 'nobody knows which'}")
    return lost


def perhaps(data: Mapping[str, Any]) -> str:
    """Those at the end of which nobody knows whether there were any, in words; else empty. Where
    nothing else is lost, batches that are told of are known of by them alone.

    >>> perhaps({"facts": [[9, 9], [12, None]], "batches": [{"batch": 7}]})
    'facts from 12 on'
    >>> perhaps({"facts": [[12, None]], "batches": [{"batch": 7}]})
    ''
    """
    several, known = len(data["facts"]) > 1, data["batches"]
    ends = [first for first, last in data["facts"] if last is None]
    return f"facts {_told(ends[-1], None)}" if ends and (several or not known) else ""


def is_one(lost: Sequence[str]) -> bool:
    """Whether that is one fact alone."""
    return len(lost) == 1 and lost[0].startswith("fact ")


def facts(numbers: str) -> str:
    """The word for them before them.

    >>> [facts("9"), facts("9 to 12")]
    ['fact 9', 'facts 9 to 12']
    """
    return f"fact {numbers}" if numbers.isdigit() else f"facts {numbers}"


def ranges(numbers: Iterable[int]) -> str:
    """Numbers as they are said: of three in a row and more the first and the last.

    >>> ranges([1, 2, 4, 5, 6, 9])
    '1, 2, 4 to 6, 9'
    """
    runs: list[list[int]] = []
    for number in sorted(set(numbers)):
        if runs and runs[-1][-1] == number - 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(
        f"{run[0]} to {run[-1]}" if len(run) > 2 else ", ".join(map(str, run)) for run in runs
    )


def _told(first: int, last: int | None) -> str:
    if last is None:
        return f"from {first} on"
    return str(first) if first == last else f"{first} to {last}"


def find_lost(
    old: sqlite3.Connection | None,
    new: sqlite3.Connection,
    due: dict[int, int] | None,
    altered: dict[int, int],
    *,
    doubtful: bool,
    proven: bool,
    torn_blocks: bool,
) -> Lost:
    """``due`` is of which batch each fact is by what finds them, ``altered`` those that prove
    nothing, by their numbers; ``doubtful`` whether the file may have held more, ``proven``
    whether all that was read proves itself."""
    facts, batches = _lost_facts(new, due, doubtful), list[dict[str, Any]]()
    if facts or altered:
        batches = list(_marks(old, new, due, facts, set(altered.values())))
    elif proven and (batches := _cut_off(old, new)):
        facts = ((newest(new) + 1, None),)
    traces = _lost_traces(old, new, torn_blocks)
    return Lost(facts, tuple(batches), traces, tuple(altered))


def _lost_facts(
    new: sqlite3.Connection, due: dict[int, int] | None, doubtful: bool
) -> tuple[Range, ...]:
    got = [seq for (seq,) in new.execute("SELECT seq FROM facts ORDER BY seq")]
    found: list[Range] = [
        hole
        for a, b in pairwise([0, *got])
        if b > a + 1
        for hole in _without(a + 1, b - 1, sorted(_known_holes(new)))
    ]
    last = got[-1] if got else 0
    highest = run(last, due)
    if highest > last:
        found.append((last + 1, highest))
    elif doubtful:
        found.append((last + 1, None))
    return tuple(found)


def _known_holes(new: sqlite3.Connection) -> Iterator[tuple[int, int]]:
    """Those that an earlier mending told of."""
    for (canonical,) in new.execute("SELECT bytes FROM facts WHERE kind = ?", [KIND]):
        with suppress(RecordError, TypeError, ValueError, KeyError):
            for first, last in read(canonical)[1].data["facts"]:
                if isinstance(first, int):
                    yield first, last if isinstance(last, int) else first


def _without(first: int, last: int, known: Sequence[tuple[int, int]]) -> Iterator[tuple[int, int]]:
    for a, b in known:
        if a <= last and b >= first:
            if a > first:
                yield first, a - 1
            first = max(first, b + 1)
    if first <= last:
        yield first, last


def _knew(old: sqlite3.Connection | None) -> dict[int, tuple[Any, ...]]:
    """What the tables that find facts hold of each batch, as far as they can be read."""
    select = f"SELECT batch, {', '.join(projection.MARKS)} FROM batches"
    try:
        rows = old.execute(select).fetchall() if old is not None else []
    except sqlite3.DatabaseError:
        rows = []
    return {row[0]: row for row in rows if type(row[0]) is int and row[0] > 0}


def _marks(
    old: sqlite3.Connection | None,
    new: sqlite3.Connection,
    due: dict[int, int] | None,
    lost: Sequence[Range],
    altered: set[int],
) -> Iterator[dict[str, Any]]:
    """What these tables knew of the batches of lost and altered facts, and the facts that are
    left do not say: so that a live cup stays one, and a closed one closed, and no number is
    given twice."""
    knew, says = _knew(old), _knew(new)
    gone = {
        batch
        for n, batch in (due or {}).items()
        if any(a <= n and (b is None or n <= b) for a, b in lost)
    }
    other = {batch for batch, row in knew.items() if row != says.get(batch)}
    other &= set(knew) if lost and due is None else altered
    traced = {batch for (batch,) in new.execute("SELECT DISTINCT batch FROM traces")} - says.keys()
    for batch in sorted(gone | other | (traced if lost else set())):
        row = knew.get(batch)
        if batch > 0:
            marks = zip(projection.MARKS, row[1:], strict=True) if row else ()
            known = {mark: value for mark, value in marks if value and type(value) in (int, str)}
            yield {"batch": batch, **known}


def _cut_off(old: sqlite3.Connection | None, new: sqlite3.Connection) -> list[dict[str, Any]]:
    """Batches of which these tables, sound in themselves, know more than the facts say: what
    said it was cut off from the end. Of that only a live cup is taken over, as the tables may
    have been altered: none may be hidden so."""
    says = _knew(new)
    marks = ", ".join(projection.MARKS)
    select = f"SELECT batch, {marks} FROM batches WHERE outcome = {projection.OUTCOME}"
    found: list[dict[str, Any]] = []
    try:
        if old is None or old.execute("PRAGMA integrity_check(1)").fetchone() != ("ok",):
            return found
        for batch, live, closed, ended in old.execute(f"{select} ORDER BY batch").fetchall():
            knew, here = (live, closed, ended), says.get(batch, (batch, 0, 0, None))[1:]
            more = batch not in says or any(a and not b for a, b in zip(knew, here, strict=True))
            if more and not (live and ended) and type(batch) is int and batch > 0:
                found.append({"batch": batch, **({"live": 1} if live else {})})
    except sqlite3.DatabaseError:
        pass
    return found


def _lost_traces(
    old: sqlite3.Connection | None, new: sqlite3.Connection, damaged: bool
) -> tuple[int, ...]:
    """The batches of which blocks cannot be read, by what finds them, or by what facts say."""
    of = salvage.batches(old, salvage.TRACES) if old is not None else None
    got = {block for (block,) in new.execute("SELECT block FROM traces")}
    held = dict(new.execute("SELECT batch, sum(readings) FROM traces GROUP BY batch"))
    lost = {batch for block, batch in (of or {}).items() if block not in got}
    told: set[int] = set()
    for (canonical,) in new.execute("SELECT bytes FROM facts WHERE kind = 'traced' ORDER BY seq"):
        with suppress(RecordError):
            entry = read(canonical)[1]
            if entry.data.get("readings") == held.get(entry.batch):
                lost.discard(entry.batch)
            elif damaged or of is None:
                told.add(entry.batch)
    return tuple(sorted((lost | told) - _known_traces(new)))


def _known_traces(new: sqlite3.Connection) -> set[int]:
    known: set[int] = set()
    for (canonical,) in new.execute("SELECT bytes FROM facts WHERE kind = ?", [KIND]):
        with suppress(RecordError, TypeError, KeyError):
            known.update(read(canonical)[1].data["traces"])
    return known


def run(last: int, due: dict[int, int] | None) -> int:
    """The highest number that what finds facts tells of, without a gap from this one on."""
    while due and last + 1 in due:
        last += 1
    return last


def newest(new: sqlite3.Connection) -> int:
    (last,) = new.execute("SELECT coalesce(max(seq), 0) FROM facts").fetchone()
    return int(last)
