"""The record as it is looked at: never written to, and read as far as it can be.

These work while a pour is on, on a folder that may not be written to, and on a record
that is newer, torn or has a broken chain: what can be read is shown, and ``trouble``
says in a sentence what is wrong with it.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from mixer.app.paperwork import writing
from mixer.app.record_path import must_be_there
from mixer.app.sentence import NotDone, sentence
from mixer.record.chain import Finding
from mixer.record.envelope import Entry, RecordError
from mixer.record.export import Stand, row_of, write_csv
from mixer.record.journal import Journal
from mixer.record.reader import Reader
from mixer.record.stored import Stored, stored
from mixer.record.views import BatchRow, batch_rows

_MOST = 2**53 - 1


@dataclass(frozen=True, slots=True)
class Table:
    """Batches, their rows with the keys of the CSV, and where the record stands."""

    batches: list[BatchRow]
    stand: Stand

    @property
    def rows(self) -> list[dict[str, Any]]:
        return [row_of(batch, self.stand) for batch in self.batches]


@dataclass(frozen=True, slots=True)
class Shown:
    """All that the record holds of one batch. ``weights``: of its trace."""

    row: dict[str, Any]
    batch: BatchRow
    facts: list[Stored]
    weights: int
    stand: Stand


@contextmanager
def reading(record: Path) -> Iterator[Reader]:
    """The record, to be looked at; what it cannot show is :class:`NotDone`."""
    must_be_there(record)
    try:
        with Journal.read(record) as journal:
            yield journal
    except RecordError as error:
        raise NotDone(error.say) from None
    except OSError as error:
        raise NotDone(f"The record {record} cannot be read: {sentence(error)}") from None


def table(record: Path, lot: str | None = None) -> Table:
    """Every batch, or those of which a component came from this lot."""
    with reading(record) as journal:
        stand, until = _stand(journal)
        try:
            return Table(batch_rows(_entries(journal, lot, until)), stand)
        except RecordError:
            if lot is None:
                raise
        # The table of lots is damaged: all batches are looked at instead.
        batches = batch_rows(_entries(journal, None, until))
        return Table([batch for batch in batches if lot in _lots(batch)], stand)


def export_csv(record: Path, to: Path) -> Table:
    """Write the whole record as CSV.

    :class:`NotDone` where there is no record, or where the file cannot be written; what
    stood there before is then still there.
    """
    found = table(record)
    if found.stand.trouble and not found.batches:
        raise NotDone(f"Nothing was exported, and {to} not touched. {found.stand.trouble}")
    try:
        write_csv(found.rows, to)
    except RecordError as error:
        raise NotDone(sentence(error)) from None
    return found


def show(record: Path, batch: int) -> Shown:
    """One batch, whole."""
    with reading(record) as journal:
        stand, _ = _stand(journal)
        facts = list(stored(journal.rows(batch)))
        if not facts:
            if stand.trouble:  # it may have stood in the part that is lost
                raise NotDone(f"Batch {batch} cannot be read. {stand.trouble}")
            raise no_batch(batch, record)
        found = batch_rows(fact.entry for fact in facts if fact.entry is not None)
        row = found[0] if found else BatchRow(batch)
        weights = 0
        with suppress(RecordError):  # a block that cannot be read: the trouble says so
            for _ in journal.trace(batch):
                weights += 1
    return Shown(row_of(row, stand), row, facts, weights, stand)


def verify(record: Path, head: bytes | None) -> Finding:
    """Look through the whole chain, and at what finds its facts; with a head, also for that."""
    with reading(record) as journal:
        found = journal.verify(head)
        misled = journal.misled() if found.ok else ""
        if misled:
            return replace(found, ok=False, say=misled)
        return replace(found, say=f"{found.say} {journal.newer}".strip())


def rebuild(record: Path) -> Stand:
    """Build the tables that find facts anew from the facts."""
    with writing(record) as journal:
        journal.rebuild()
        return _stand(journal)[0]


def backup(record: Path, to: Path) -> Stand:
    """Copy the record as it stands, also while it is written."""
    with reading(record) as journal:
        journal.backup(to)
    with reading(to) as copy:
        return _stand(copy)[0]


def batch_number(text: str) -> int:
    """The number of a batch as typed. Raises :class:`NotDone`.

    >>> batch_number("3")
    3
    """
    if text.isascii() and text.isdigit() and len(text) < 17 and 0 < int(text) <= _MOST:
        return int(text)
    read = repr(text if len(text) <= 40 else text[:40] + "…")
    raise NotDone(f"batch: {read} was read; give the number of a batch, such as 3.")


def head(text: str) -> bytes:
    """A head as typed. Raises :class:`NotDone`."""
    read = text.strip()
    if len(read) == 64 and set(read.lower()) <= set("0123456789abcdef"):
        return bytes.fromhex(read)
    shown = repr(text if len(text) <= 70 else text[:70] + "…")
    raise NotDone(
        f"head: {shown} was read; give the 64 figures 0 to 9 and a to f that stand as "
        "record_head on an export."
    )


def no_batch(batch: int, record: Path) -> NotDone:
    """Why a batch cannot be shown or corrected."""
    return NotDone(
        f"There is no batch {batch} in the record {record}; cupside record list shows those "
        "that are there."
    )


def _stand(journal: Reader) -> tuple[Stand, int]:
    """Where the record stands, and up to which fact it is to be read for that."""
    try:
        # The head is taken first: what a pour adds from here on is left out.
        facts, head = journal.head()
    except RecordError:  # its end is damaged: how far it is whole is all that is known
        finding = journal.verify()
        return Stand(finding.facts, finding.head, finding.say), _MOST
    finding = journal.verify()
    said = [journal.newer, journal.misled() if finding.ok else finding.say]
    return Stand(facts, head, " ".join(filter(None, said))), facts


def _lots(batch: BatchRow) -> tuple[Any, Any]:
    return batch.about("resin_lot"), batch.about("hardener_lot")


def _entries(journal: Reader, lot: str | None, until: int) -> Iterator[Entry]:
    for fact in stored(journal.rows(lot=lot)):
        if fact.entry is not None and fact.seq <= until:
            yield fact.entry
