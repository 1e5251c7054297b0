"""An open record, for looking only.

It works while another program writes, from a folder that may not be written to, of a
file that is damaged in part, and of one from a newer program; what is amiss is told
(`newer`, `torn`), and all that can be read is read. It must never write to the record.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import Any, Self, cast

from mixer.record import chain, matching, opening, projection, salvage, schema
from mixer.record.envelope import GENESIS, Entry, RecordError, read
from mixer.record.row import Moment
from mixer.record.stored import moment, stored
from mixer.record.trace import Sample, unpack
from mixer.record.trouble import is_damage, real_path, said

_CHUNK = 500  # rows fetched at once, so that no read stays open while they are looked at
_BLOCK = "boot, bytes, hash, batch, block, readings"  # of a weight trace


class Reader:
    """Made by :meth:`look`; used by one thread at a time.

    ``newer`` is a sentence where the record is of a newer program, else empty; ``torn``
    one where a part that was asked for could not be read.
    """

    def __init__(self, db: sqlite3.Connection, path: Path, layout: int) -> None:
        # Text changed behind our back may not even be UTF-8; it must still be read to be found.
        db.text_factory = lambda raw: str(raw, "utf-8", "replace")
        self._db = db
        self._layout, self._derived = layout, False
        self.path = path
        self.newer = schema.newer(path, layout) if layout > schema.SCHEMA else ""
        self.torn = ""
        self.torn_from: int | None = None  # the first fact that could not be read
        before = schema.before(layout)
        self._columns = f"seq, bytes, {before}, hash, batch, CAST(kind AS BLOB)"
        self._select = f"SELECT {self._columns} FROM facts"

    @classmethod
    def look(cls, path: Path | str, *, busy_s: float = 5.0) -> Reader:
        """Open the record at ``path`` to be read; :class:`RecordError` where it is none."""
        path = real_path(path)
        db, layout, torn = opening.look(path, busy_s)
        reader = Reader(db, path, layout)
        reader.torn = torn
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
        torn, self.torn = self.torn, ""
        rows: list[chain.Row] = []
        try:
            rows.extend(self.rows(batch))
            if self.newer:  # how its facts are chained is not known here
                whole = all(fact.entry is not None for fact in stored(rows))
            else:
                whole = chain.altered(rows) is None and self._is_gapless(batch, rows)
            whole = whole and not self.torn
        except RecordError:
            whole = False
        finally:
            self.torn = torn or self.torn
        return rows, whole

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
        with self._said():
            row = self._db.execute("SELECT seq, hash FROM facts ORDER BY seq DESC LIMIT 1")
            seq, hash_ = row.fetchone() or (0, GENESIS)
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
        from mixer.record.backup import copy

        copy(self, self._db, real_path(to))

    # -- how it is read --------------------------------------------------------------

    def _several(self, where: str, given: list[int]) -> Iterator[Sequence[chain.Row]]:
        """Rows, some hundred at once."""
        select = f"{self._select} WHERE seq >= ? {where} ORDER BY seq LIMIT {_CHUNK}"
        first, last = -(2**63), 2**63 - 1  # a row put in by hand may have any number
        while True:
            try:
                with self._said():
                    rows = self._db.execute(select, [first, *given]).fetchall()
            except RecordError as err:
                if not self._may_salvage(err):
                    raise
                for row in self._salvage(max(first, 1), given):
                    yield [row]
                return
            if rows and rows[-1][0] < first:
                return  # a damaged page: it would be read round and round
            yield rows
            if len(rows) < _CHUNK or rows[-1][0] == last:
                return
            first = rows[-1][0] + 1

    def _may_salvage(self, err: RecordError) -> bool:
        return (
            type(self) is Reader
            and isinstance(err.__context__, sqlite3.DatabaseError)
            and (is_damage(err.__context__))
        )

    def _salvage(self, first: int, given: list[int]) -> Iterator[chain.Row]:
        """Fact by fact, past those that lie in a damaged part."""
        self.torn_from = None

        def lost(number: int) -> None:
            if self.torn_from is None:
                self.torn_from = number
                self.torn = opening.left(self.path, f"is damaged from fact {number} on")

        for row in salvage.rows(self._db, salvage.FACTS, self._columns, lost, first, given):
            yield cast(chain.Row, row)
        if self.torn_from is None:
            self.torn = opening.left(self.path, "is damaged at its end")

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
            for boot, block, *more in self._db.execute(select, given):
                yield boot, as_bytes(block), *more

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


def as_bytes(value: object) -> bytes:
    """Of a value that may have been altered to another type."""
    return value if isinstance(value, bytes) else str(value).encode()
