"""The record as it is looked at: never written to, and read as far as it can be.

These work while a pour is on, on a folder that may not be written to, and on a record
that is newer, torn or has a broken chain: what can be read is shown, and ``trouble``
says in a sentence what is wrong with it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, TypeVar

from mixer.app.book import paperwork
from mixer.app.book.record_path import must_be_there
from mixer.app.clock import Clock
from mixer.app.sentence import NotDone, sentence
from mixer.record.chain import Finding
from mixer.record.csv_file import write_csv
from mixer.record.envelope import Entry, RecordError
from mixer.record.export import Stand, rows_of
from mixer.record.journal import Journal
from mixer.record.log import amiss
from mixer.record.making import second_name
from mixer.record.mending import KIND as MENDED
from mixer.record.mending import mend
from mixer.record.reader import Reader
from mixer.record.stored import Stored, stored
from mixer.record.views import BatchRow, batch_rows

_MOST = 2**53 - 1
T = TypeVar("T")
Found = Callable[[T], None]


def _wait(found: object) -> None:
    """All of it is shown at once, in the end."""


@dataclass(frozen=True, slots=True)
class Table:
    """Batches, their rows with the keys of the CSV, and where the record stands."""

    batches: list[BatchRow]
    stand: Stand

    @property
    def rows(self) -> list[dict[str, Any]]:
        return [row for batch in self.batches for row in rows_of(batch, self.stand)]


@dataclass(frozen=True, slots=True)
class Shown:
    """All that the record holds of one batch. ``weights``: of its trace; None where a newer
    program keeps that in a way which is not known here."""

    batch: BatchRow
    facts: list[Stored]
    weights: int | None


@dataclass(frozen=True, slots=True)
class Rebuilt:
    """``facts`` is how many were carried over; ``say`` what became of the old file, where that
    is kept, else empty; ``lost`` whether anything was, or may have been."""

    facts: int
    stand: Stand
    say: str
    lost: bool


@contextmanager
def reading(record: Path) -> Iterator[Reader]:
    """The record, to be looked at; what it cannot show is :class:`NotDone`."""
    must_be_there(record)
    try:
        journal = Journal.read(record)
    except RecordError as error:
        raise NotDone(error.say) from None
    except OSError as error:
        raise NotDone(f"The record {record} cannot be read: {sentence(error)}") from None
    try:  # what is shown meanwhile may fail too, and that is no trouble of the record's
        with journal:
            yield journal
    except RecordError as error:
        raise NotDone(error.say) from None


def table(record: Path, lot: str | None = None, found: Found[list[BatchRow]] = _wait) -> Table:
    """Every batch, or those of which a component came from this lot.

    ``found`` is given them as soon as they are: the look through the whole record, which
    takes as long as the record is, comes after it.
    """
    if lot is not None and not lot.strip():
        raise NotDone("lot: nothing was given; give the lot as it stands on the label.")
    if lot is not None and any("\ud800" <= letter <= "\udfff" for letter in lot):  # no text
        read = repr(lot if len(lot) <= 40 else lot[:40] + "…")
        raise NotDone(f"lot: {read} was read; give the lot as it stands on the label.")
    with reading(record) as journal:
        now = journal.head()
        try:
            batches = batch_rows(_entries(journal, lot, now[0]))
        except RecordError:
            if lot is None:
                raise
            # The table of lots is damaged: all batches are looked at instead.
            every = batch_rows(_entries(journal, None, now[0]))
            batches = [batch for batch in every if lot in _lots(batch)]
        batches = _marked(journal, batches)
        found(batches)
        return Table(batches, _stand(journal, now))


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


def show(record: Path, batch: int, found: Found[Shown] = _wait) -> tuple[Shown, Stand]:
    """One batch, whole, and where the record stands; ``found`` as in :func:`table`."""
    with reading(record) as journal:
        now = journal.head()
        facts = [fact for fact in stored(journal.rows(batch)) if fact.seq <= now[0]]
        if not facts:
            stand = _stand(journal, now)
            if stand.trouble:  # it may have stood in the part that is lost
                raise NotDone(f"Batch {batch} cannot be read. {stand.trouble}")
            raise no_batch(batch, record)
        rows = batch_rows(fact.entry for fact in facts if fact.entry is not None)
        weights = 0
        with suppress(RecordError):  # a block that cannot be read: the trouble says so
            for _ in journal.trace(batch):
                weights += 1
        known = weights if journal.knows_traces() else None
        (row,) = _marked(journal, rows or [BatchRow(batch)])
        shown = Shown(row, facts, known)
        found(shown)
        return shown, _stand(journal, now)


def verify(record: Path, head: bytes | None) -> Finding:
    """Look through the whole chain, and at what finds its facts; with a head, also for that."""
    with reading(record) as journal:
        found = _looked_through(journal, head)
        if journal.newer in found.say:
            return found
        return replace(found, say=f"{found.say} {journal.newer}")


def trouble(record: Path) -> str:
    """What is wrong with the record that was written to, once all of it was looked through."""
    try:
        with reading(record) as journal:
            return _stand(journal, journal.head()).trouble
    except NotDone as error:  # what was written is written
        return str(error)


def rebuild(record: Path) -> Rebuilt:
    """Carry all that can be read over to a new file, in which the tables that find facts are
    built anew (:func:`mixer.record.mending.mend`)."""
    must_be_there(record)
    try:
        mended = mend(record, paperwork.fact(MENDED, {}, 0, Clock()))
    except RecordError as error:
        raise NotDone(error.say) from None
    with reading(record) as journal:
        say = journal.mended()[-1] if mended.kept else ""
        return Rebuilt(mended.facts, _stand(journal, journal.head()), say, bool(mended.lost))


def backup(record: Path, to: Path) -> tuple[Stand, bool]:
    """Copy the record as it stands, also while it is written; where the copy stands, and
    whether it is whole."""
    with reading(record) as journal:
        journal.backup(to)
        lost = second_name(journal.path) or amiss(journal.path, journal.head()[0])
    with reading(to) as copy:
        stand = _stand(copy, copy.head())
        whole = not lost and stand.whole
    return replace(stand, trouble=" ".join(filter(None, (stand.trouble, lost)))), whole


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


def _marked(journal: Reader, batches: list[BatchRow]) -> list[BatchRow]:
    """The same, and of which of them facts are missing."""
    lacking = journal.lacking()
    return [replace(b, lacking=True) if b.batch in lacking else b for b in batches]


def _looked_through(journal: Reader, head: bytes | None = None) -> Finding:
    """The look through all of it, and at what finds its facts."""
    found = journal.verify(head)
    misled = journal.misled() if found.ok or found.lost else ""
    if not misled:
        return found
    return replace(found, ok=False, lost=False, say=" ".join([misled, *journal.mended()]))


def _stand(journal: Reader, now: tuple[int, bytes]) -> Stand:
    """Where the record stood then, once the whole of it was looked through."""
    finding = _looked_through(journal)
    said = "" if finding.ok else finding.say
    newer = "" if journal.newer in said else journal.newer
    return Stand(*now, " ".join(filter(None, (newer, said))), finding.ok)


def _lots(batch: BatchRow) -> tuple[Any, Any]:
    return batch.about("resin_lot"), batch.about("hardener_lot")


def _entries(journal: Reader, lot: str | None, until: int) -> Iterator[Entry]:
    for fact in stored(journal.rows(lot=lot)):
        if fact.entry is not None and fact.seq <= until:
            yield fact.entry
