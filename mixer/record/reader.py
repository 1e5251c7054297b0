"""An open record, for looking only.

It works while another program writes, from a folder that may not be written to, of a
file that is damaged in part, and of one from a newer program; what is amiss is told
(`newer`, `torn`), and all that can be read is read. It must never write to the record.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import Any, Self, TypeVar, cast

from mixer.record import chain, matching, opening, projection, schema
from mixer.record.envelope import GENESIS, Entry, RecordError, read
from mixer.record.lost import Lost
from mixer.record.row import Moment
from mixer.record.stored import as_bytes, moment, stored
from mixer.record.trace import Sample, unpack
from mixer.record.trouble import is_damage, real_path, said

_CHUNK = 500  # rows fetched at once, so that no read stays open while they are looked at
T = TypeVar("T")
_BLOCK = "boot, bytes, hash, batch, block, readings"  # of a weight trace


class Reader:
    """Made by :meth:`look`; used by one thread at a time.

    ``newer`` is a sentence where the record is of a newer program, else empty; ``torn``
    one where the file was cut off, or a part that was asked for could not be read. Then all is
    read as a rebuild reads it (:mod:`mixer.record.carrying`), into memory, and ``missing`` is
    what is; None where nobody has looked for that.
    """

    def __init__(self, db: sqlite3.Connection, path: Path, layout: int) -> None:
        self.path = path
        self.newer = schema.newer(path, layout) if layout > schema.SCHEMA else ""
        self.torn = ""
        self.missing: Lost | None = None
        self._short, self._known, self._sound = False, True, 0
        self._read_from(db, layout)

    def _read_from(self, db: sqlite3.Connection, layout: int) -> None:
        self._db = db
        self._layout, self._derived = layout, False
        self._columns = f"seq, bytes, {schema.before(layout)}, hash, batch, CAST(kind AS BLOB)"
        self._select = f"SELECT {self._columns} FROM facts"

    @classmethod
    def look(cls, path: Path | str, *, busy_s: float = 5.0) -> Reader:
        """Open the record at ``path`` to be read; :class:`RecordError` where it is none."""
        path = real_path(path)
        opened = opening.look(path, busy_s)
        reader = Reader(opened.db, path, opened.layout)
        reader.torn, reader._short = opened.torn, opened.short
        if opened.short:
            with said(path):
                reader._carry()
        return reader

    def close(self) -> None:
        """Let go of the file. Nothing is lost if this is never called."""
        with said(self.path):
            self._db.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def entries(
        self, batch: int | None = None, *, outcome: str | None = None, lot: str | None = None
    ) -> Iterator[Entry]:
        """The facts: all in their order, or those of one batch, or batch by batch those of
        the batches with this outcome or of which a component came from this lot.

        ``outcome`` is as :class:`mixer.record.views.BatchRow` tells it; ``open`` is a pour
        that was not brought to an end, ``live`` a cup whose clock runs.
        """
        for seq, canonical in self.sealed(batch, outcome=outcome, lot=lot):
            try:
                yield read(canonical)[1]
            except RecordError as err:
                say = f"Fact {seq} in {self.path} cannot be read. {err.say}"
                raise RecordError(say) from None

    def sealed(
        self, batch: int | None = None, *, outcome: str | None = None, lot: str | None = None
    ) -> Iterator[tuple[int, bytes]]:
        """The same as numbers and bytes."""
        for seq, canonical, *_ in self.rows(batch, outcome=outcome, lot=lot):
            yield int(str(seq)), as_bytes(canonical)

    def rows(
        self, batch: int | None = None, *, outcome: str | None = None, lot: str | None = None
    ) -> Iterator[chain.Row]:
        """The same as they stand in the file, whatever they hold."""
        if outcome is None and lot is None:
            batches: Sequence[int | None] = [batch]
        else:
            found = self.batches(outcome, lot)
            batches = [b for b in found if batch is None or b == batch]
        for one in batches:
            where, given = ("", []) if one is None else ("AND batch = ?", [one])
            for rows in self._several(where, given):
                yield from rows

    def batches(
        self, outcome: str | None = None, lot: str | None = None, *, newest: int | None = None
    ) -> list[int]:
        """The numbers of the batches with this outcome, or of this lot (see :meth:`entries`); or
        of the ``newest`` of them alone, from the last one back."""
        if self._layout != schema.SCHEMA and not self._derived:
            self._derive()
        where: list[str] = []
        given: list[str | int] = []
        if outcome is not None:
            where.append("outcome = ?")
            given.append(outcome)
        if lot is not None:
            where.append("batch IN (SELECT batch FROM lots WHERE lot = ?)")
            given.append(lot)
        select = f"SELECT batch FROM batches WHERE {' AND '.join(where)} ORDER BY batch"
        if newest is not None:
            select += " DESC LIMIT ?"
            given.append(newest)
        with self._said():
            return [batch for (batch,) in self._db.execute(select, given)]

    def as_far_as(self, batch: int) -> tuple[list[chain.Row], bool]:
        """The facts of one batch that can be read, and whether those are all of them, as they
        were stored: from the fact before its first to that after its last none may be gone."""
        rows: list[chain.Row] = []
        try:
            rows.extend(self.rows(batch))
            if self.newer:  # how its facts are chained is not known here
                whole = all(fact.entry is not None for fact in stored(rows))
            else:
                whole = chain.altered(rows) is None and self._is_gapless(batch, rows)
        except RecordError:
            whole = False
        return rows, whole and batch not in self._torn()

    def lacking(self) -> frozenset[int]:
        """The batches of which facts are missing, or may be: of a torn record, and of one from
        which some were lost that a fact names since."""
        from mixer.record.verifying import lost

        return lost(self).batches | self._torn()

    def _torn(self) -> frozenset[int]:
        if self.missing is None:
            return frozenset()
        of = frozenset[int](known["batch"] for known in self.missing.batches)
        return of | (frozenset() if self._known else self._beside_holes())

    def _beside_holes(self) -> frozenset[int]:
        """Those with a fact before a hole, or beside it, and one after; and the last before one
        that has no end."""
        found: set[int] = set()
        select = "SELECT batch FROM facts GROUP BY batch HAVING min(seq) <= ? AND max(seq) >= ?"
        for first, last in self.missing.facts if self.missing is not None else ():
            after = first if last is None else last
            with self._said():
                found.update(b for (b,) in self._db.execute(select, [after + 1, first - 1]))
        return frozenset(found) - {0}

    def _is_gapless(self, batch: int, rows: Sequence[chain.Row]) -> bool:
        """Whether no fact is gone around and between these."""
        numbers = [seq for seq, *_ in rows if isinstance(seq, int)]
        if not numbers:
            return False
        first, last = max(1, min(numbers) - 1), min(max(numbers) + 1, self.head()[0])
        select = f"{self._select} WHERE seq BETWEEN ? AND ? ORDER BY seq"
        with self._said():
            around = self._db.execute(select, [first, last]).fetchall()
        return len(around) == last - first + 1 and chain.gapless(around, batch)

    def newest(self, most: int = 96) -> list[tuple[int, Moment]]:
        """When the newest facts became true, by their numbers, as far as that can be read."""
        select = "SELECT seq, bytes FROM facts ORDER BY seq DESC LIMIT ?"
        try:
            with self._said():
                rows = self._db.execute(select, [most]).fetchall()
        except RecordError:  # a damaged part: then less is known
            return []
        found = [(seq, moment(as_bytes(canonical))) for seq, canonical in reversed(rows)]
        return [(seq, when) for seq, when in found if when is not None and isinstance(seq, int)]

    def head(self) -> tuple[int, bytes]:
        """The number of facts, and the hash of the newest; 0 and 32 zero bytes for none."""

        def newest() -> tuple[object, object]:
            with self._said():
                row = self._db.execute("SELECT seq, hash FROM facts ORDER BY seq DESC LIMIT 1")
                return row.fetchone() or (0, GENESIS)

        seq, hash_ = self._past_damage(newest)
        number = seq if isinstance(seq, int) else 0  # of an altered layout anything comes
        return number, hash_ if isinstance(hash_, bytes) else GENESIS

    def verify(self, head: bytes | None = None) -> chain.Finding:
        """Look through the chain; ``head`` is what an export or a note says that one of its
        facts had: with it, a tail that was cut off is seen too."""
        from mixer.record.verifying import verify

        return verify(self, head)

    def mended(self) -> list[str]:
        """What was lost when damaged files were carried over, in a sentence each."""
        from mixer.record.verifying import mended

        return mended(self)

    def misled(self) -> str:
        """A sentence where the tables that find facts are not what the facts say, else empty.

        Of a record whose chain is whole: then a batch that is in the record may be missed.
        """
        return matching.misled(self._db, self.path, self._layout)

    def knows_traces(self) -> bool:
        """Whether it can read the weight traces: a newer program may keep them otherwise."""
        if self.newer:
            try:
                self._db.execute(f"SELECT {_BLOCK} FROM traces LIMIT 0")
            except sqlite3.OperationalError:
                return False
        return True

    def trace(self, batch: int) -> Iterator[tuple[str, Sample]]:
        """What the scale showed while this batch was made: boot and reading, in order."""
        for boot, block, *_ in self._blocks(batch):
            for sample in unpack(block):
                yield boot, sample

    def backup(self, to: Path | str) -> None:
        """Copy the record, whole and as of one moment, to a file of this name.

        Also while another program writes. A file that is there is replaced if it is an
        older copy and this record is whole; it stands until the copy is on the disk.
        """
        from mixer.record.backup import copy, damaged

        if self.missing:
            raise damaged(self.path, real_path(to))
        copy(self, self._db, real_path(to))

    # -- how it is read --------------------------------------------------------------

    def _several(self, where: str, given: list[int]) -> Iterator[Sequence[chain.Row]]:
        """Rows, some hundred at once."""
        first, last = -(2**63), 2**63 - 1  # a row put in by hand may have any number

        def chunk() -> list[chain.Row]:
            select = f"{self._select} WHERE seq >= ? {where} ORDER BY seq LIMIT {_CHUNK}"
            with self._said():
                return self._db.execute(select, [first, *given]).fetchall()

        while True:
            rows = self._past_damage(chunk)
            if rows and cast(int, rows[-1][0]) < first:
                return  # a damaged page: it would be read round and round
            yield rows
            if len(rows) < _CHUNK or rows[-1][0] == last:
                return
            first = cast(int, rows[-1][0]) + 1

    def _past_damage(self, ask: Callable[[], T]) -> T:
        """What is asked of the file; where a part of it is damaged, of all that can be read."""
        try:
            return ask()
        except RecordError as err:
            if type(self) is not Reader or self.missing is not None:
                raise
            if not is_damage(err.__context__):
                raise
            with said(self.path):
                self._carry()
            return ask()

    def _carry(self) -> None:
        """Read all that can be, as a rebuild does, and go on with that."""
        from mixer.record import carrying

        new = sqlite3.connect(":memory:", isolation_level=None, check_same_thread=False)
        opened = opening.Opened(self._db, self._layout, self.torn, self._short)
        carried = carrying.carry(self.path, opened, new)
        projection.follow_known(new, carried.lost.about())
        self._db.close()
        self._read_from(new, schema.SCHEMA)
        self.missing, self._known, self._sound = carried.lost, carried.known, carried.sound
        how = "was cut off" if self._short else "is damaged"
        self.torn = opening.left(self.path, f"{how}: {carried.lost.told()}")

    def _derive(self) -> None:
        """A record of another layout: find its batches by tables of this connection's own."""
        with self._said():
            self._db.execute("PRAGMA temp_store = MEMORY")
            projection.create(self._db, temporary=True)
            facts = stored(self.rows())
            projection.rebuild(self._db, (fact.entry for fact in facts if fact.entry is not None))
        self._derived = True

    def _blocks(self, batch: int | None) -> Iterator[tuple[Any, ...]]:
        with self._said():
            there = "SELECT 1 FROM sqlite_master WHERE name = 'traces'"
            if not self._db.execute(there).fetchone() or not self.knows_traces():
                return
            where, given = ("", []) if batch is None else ("WHERE batch = ?", [batch])
            select = f"SELECT {_BLOCK} FROM traces {where} ORDER BY block"
            for row in self._db.execute(select, given):
                yield row if type(row[1]) is bytes else (row[0], as_bytes(row[1]), *row[2:])

    @contextmanager
    def _said(self) -> Iterator[None]:
        """As :func:`said`, and where there is no such table or column, why that may be."""
        try:
            with said(self.path):
                yield
        except RecordError as err:
            unknown = getattr(err.__context__, "sqlite_errorname", "") == "SQLITE_ERROR"
            if not unknown:
                raise
            say = schema.too_new(self.path, self._layout) if self.newer else self.torn
            raise RecordError(say or schema.misread(self.path)) from None
