"""The cups whose clocks run, as the record has them: each is read by itself.

A damaged one must not hide the others, nor may its number be given to another cup. It
only reads, also what may not be written to.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from mixer.pour.cups import MOST_SHARES
from mixer.pour.words import grams
from mixer.record import log
from mixer.record.chain import Row
from mixer.record.cups import KINDS
from mixer.record.envelope import Entry, RecordError
from mixer.record.journal import Journal
from mixer.record.reader import Reader
from mixer.record.stored import stored
from mixer.record.views import LiveCup, Moment, after, batch_rows, free_cup_number, live_cups

STEP_UG = 100_000  # to which a cup's mass is told
#: The number of a cup in the bytes of a fact that is no longer one.
_CUP = re.compile(rb'"cup":([1-9]\d{0,8})\b')


@dataclass(frozen=True, slots=True)
class Live:
    """``cups`` can be read; ``taken`` are the numbers that cups which cannot be read may
    have, and ``unread`` those of each such batch, ``guessed`` where no fact tells them; ``say``
    tells of what is damaged, or is empty; ``sharing`` are the cups that were being shared out at
    the bench, each of its batch, as the program was cut off.

    >>> Live(taken=frozenset({1})).free_number()
    2
    """

    cups: tuple[LiveCup, ...] = ()
    taken: frozenset[int] = frozenset()
    say: str = ""
    unread: Mapping[int, frozenset[int]] = field(default_factory=dict)
    guessed: frozenset[int] = frozenset()
    sharing: tuple[int, ...] = ()

    def share_on(self) -> str:
        """What was cut off: which cups are taken down, and how the rest is shared out; empty
        where nothing was.

        >>> Live(sharing=(3,)).share_on()[:63]
        'Cup 3 was being shared out when the program ended. No other cup'
        """
        return " ".join(
            f"Cup {cup} was being shared out when the program ended. {self._taken_down(cup)}: go "
            f"on by F2, or by cupside split {cup} --into 30g ('?' for a share that is not "
            "weighed); fillers by cupside fill."
            for cup in self.sharing
        )

    def _taken_down(self, own: int) -> str:
        """The cups that are told apart of the batch of this one."""
        batches = {cup.batch for cup in self.cups if cup.cup == own}
        known = [cup for cup in self.cups if cup.batch in batches]
        if not any(cup.cup != own or cup.filler for cup in known):
            return "No other cup of it was taken down, nor a filler"
        told = ", ".join(_told(cup) for cup in known)
        return f"Taken down are {told}. What else stands there was not"

    def batch_of(self, cup: int) -> int | None:
        """The batch of a cup that cannot be read, where only one can have that number."""
        batches = [batch for batch, numbers in self.unread.items() if cup in numbers]
        return batches[0] if len(batches) == 1 else None

    def others_of(self, batch: int, cup: int) -> bool:
        """Whether another cup of this batch is live, or is not known to be closed.

        >>> Live(unread={7: frozenset({1, 2})}).others_of(7, 1)
        True
        """
        numbers = {one.cup for one in self.cups if one.batch == batch}
        if batch not in self.guessed:
            numbers |= self.unread.get(batch, frozenset())
        return bool(numbers - {cup})

    def free_number(self) -> int:
        """The smallest that is surely no live cup's."""
        return free_cup_number(self.cups, self.taken)


def look(journal: Journal | None, record: Path) -> Live:
    """The live cups of the record that is open, or that stands at this path; where it is
    damaged, as far as it can be read. :class:`RecordError` where it cannot."""
    if journal is not None:
        try:
            found = _found(journal)
        except RecordError:
            found = None
        if found is not None and not found.say:
            return found
    with Reader.look(record) as reader:  # it reads past what is damaged
        return _found(reader)


def _found(record: Reader) -> Live:
    cups, taken, said = [], set[int](), []
    unread: dict[int, frozenset[int]] = {}
    guessed, sharing = set[int](), list[int]()
    batches, highest = _batches(record)
    if lost := log.cups(record.path):
        taken |= lost
        several = ", ".join(map(str, sorted(lost)))
        said.append(
            f"A damaged log is kept beside the record. No other cup is given a number that stands "
            f"in it ({several}): one may be live."
        )
    if highest:
        highest += _shares(record)
        taken.update(range(1, highest + 1))
        said.append(
            f"A live cup may be missing here: what finds them is damaged, and so are facts. No "
            f"other is given a number up to {highest}."
        )
    newest = record.newest() if batches else []
    for batch in batches:
        rows, whole = record.as_far_as(batch)
        found = _live(rows, whole, newest)
        cups.extend(found)
        sharing.extend(_cut_off(rows, found))
        if whole:
            continue
        numbers, split = _numbers(rows), any(row[5] in KINDS for row in rows)
        missing = frozenset(numbers - _known(rows))
        if split or not (found or numbers):
            numbers |= set(range(1, batch + _shares(record) + 1))
        taken |= numbers
        if missing:
            unread[batch] = missing
        elif not found:
            unread[batch] = frozenset(numbers)
            guessed.add(batch)
        if found:
            said.append(_damaged(batch, found, split))
        else:
            none = "its number" if len(numbers) == 1 else f"a number up to {max(numbers)}"
            said.append(
                f"Batch {batch} is a live cup that cannot be read: no other is given {none}."
            )
    return Live(
        tuple(cups), frozenset(taken), " ".join(said), unread, frozenset(guessed), tuple(sharing)
    )


def _batches(record: Reader) -> tuple[Sequence[int], int]:
    """Those that are live; and where some may be missing, the highest that there is."""
    known: Sequence[int] = ()
    try:
        known = record.batches(outcome="live")
        if record.missing is None or not record.missing.facts:
            return known, 0
    except RecordError:  # what finds them is damaged: all facts are looked at instead
        pass
    facts = list(stored(record.rows()))
    rows = batch_rows(fact.entry for fact in facts if fact.entry is not None)
    lost = bool(record.torn) or any(fact.entry is None for fact in facts)
    live = {*known, *(row.batch for row in rows if row.outcome == "live")}
    return sorted(live), max((row.batch for row in rows), default=0) if lost else 0


def _shares(record: Reader) -> int:
    """By how much a number may be above that of its batch: for each share one, and those of a
    batch whose facts are lost, where any batch here was split."""
    try:
        kinds = [row[5] for row in record.rows() if row[5] in KINDS]
    except RecordError:
        return MOST_SHARES
    return kinds.count(b"shared") + MOST_SHARES if kinds else 0


def _damaged(batch: int, cups: Sequence[LiveCup], split: bool) -> str:
    many = len(cups) > 1
    numbers = ", ".join(str(cup.cup) for cup in cups)
    return (
        f"Cup{'s' if many else ''} {numbers} (batch {batch}) may be older than is shown: "
        f"{'their' if many else 'its'} facts are not as they were stored."
        + (" Another cup of it may be missing." if split else "")
    )


def _live(rows: Sequence[Row], whole: bool, newest: Sequence[tuple[int, Moment]]) -> list[LiveCup]:
    """The cups of these facts; the newest of the record tell how long the computer ran on."""
    facts = [(fact.seq, fact.entry) for fact in stored(rows) if fact.entry is not None]
    cups = live_cups(entry for _, entry in facts)
    if not whole:
        cups = tuple(_older(cup, facts[0][1]) for cup in cups)
    own = {seq: Moment(entry.utc, entry.at_ms, entry.boot) for seq, entry in facts}
    moments = {seq: when for seq, when in newest if facts and seq > facts[0][0]} | own
    told = [moments[seq] for seq in sorted(moments)]
    return [replace(cup, later=after(cup.contact, told)) for cup in cups]


def _told(cup: LiveCup) -> str:
    """Which it is, and what is in it, in a few words."""
    most = "at most " if cup.at_most else ""
    filler = f" and {cup.filler}" if cup.filler else ""
    return f"cup {cup.cup} with {most}{grams(cup.total_ug, STEP_UG)}{filler}"


def _cut_off(rows: Sequence[Row], cups: Sequence[LiveCup]) -> list[int]:
    """The batch's own cup, where it is live and nobody said yet that all is shared."""
    entries = _entries(rows) if any(row[5] == b"splitting" for row in rows) else []
    if any(one.kind == "divided" and one.data.get("how") == "go" for one in entries):
        return []
    own = [one.data.get("cup") for one in entries if one.kind == "live"]
    return [cup.cup for cup in cups if cup.cup in own]


def _entries(rows: Sequence[Row]) -> list[Entry]:
    return [fact.entry for fact in stored(rows) if fact.entry is not None]


def _known(rows: Sequence[Row]) -> set[int]:
    """The numbers of cups of which it can be read what became of them."""
    return {
        number
        for row in batch_rows(_entries(rows))
        for number in (*(c.number for c in row.cups), *(one[0] for one in row.cups_told.closed))
    }


def _older(cup: LiveCup, first: Entry) -> LiveCup:
    """Where it may be the fact of first contact that is lost: since the batch began."""
    return replace(cup, contact_at_ms=first.at_ms, boot=first.boot, contact_utc=first.utc)


def _numbers(rows: Sequence[Row]) -> set[int]:
    """Those that its facts give to cups."""
    found = [
        _CUP.search(canonical)
        for _, canonical, _, _, _, kind in rows
        if kind in (b"live", b"shared") and isinstance(canonical, bytes)
    ]
    return {int(one[1]) for one in found if one is not None}
