"""The cups whose clocks run, as the record has them: each is read by itself.

A damaged one must not hide the others, nor may its number be given to another cup. It
only reads, also what may not be written to.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from mixer.record import log
from mixer.record.chain import Row
from mixer.record.envelope import Entry, RecordError
from mixer.record.journal import Journal
from mixer.record.reader import Reader
from mixer.record.stored import stored
from mixer.record.views import LiveCup, Moment, after, batch_rows, free_cup_number, live_cups

#: The number of a cup in the bytes of a fact that is no longer one.
_CUP = re.compile(rb'"cup":([1-9]\d{0,8})\b')


@dataclass(frozen=True, slots=True)
class Live:
    """``cups`` can be read; ``taken`` are the numbers that cups which cannot be read may
    have, and ``unread`` those of each such batch; ``say`` tells of what is damaged, or is
    empty.

    >>> Live(taken=frozenset({1})).free_number()
    2
    """

    cups: tuple[LiveCup, ...] = ()
    taken: frozenset[int] = frozenset()
    say: str = ""
    unread: Mapping[int, frozenset[int]] = field(default_factory=dict)

    def batch_of(self, cup: int) -> int | None:
        """The batch of a cup that cannot be read, where only one can have that number."""
        batches = [batch for batch, numbers in self.unread.items() if cup in numbers]
        return batches[0] if len(batches) == 1 else None

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
    batches, highest = _batches(record)
    if lost := log.cups(record.path):
        taken |= lost
        several = ", ".join(map(str, sorted(lost)))
        said.append(
            f"A damaged log is kept beside the record. No other cup is given a number that stands "
            f"in it ({several}): one may be live."
        )
    if highest:
        taken.update(range(1, highest + 1))
        said.append(
            f"A live cup may be missing here: what finds them is damaged, and so are facts. No "
            f"other is given a number up to {highest}."
        )
    newest = record.newest() if batches else []
    for batch in batches:
        rows, whole = record.as_far_as(batch)
        cup = _live(rows, whole, newest)
        if cup is not None:
            cups.append(cup)
            if not whole:
                said.append(
                    f"Cup {cup.cup} (batch {batch}) may be older than is shown: its facts are not "
                    "as they were stored."
                )
        elif not whole:
            unread[batch] = numbers = frozenset(_numbers(rows) or range(1, batch + 1))
            taken |= numbers
            none = "its number" if len(numbers) == 1 else f"a number up to {batch}"
            said.append(
                f"Batch {batch} is a live cup that cannot be read: no other is given {none}."
            )
    return Live(tuple(cups), frozenset(taken), " ".join(said), unread)


def _batches(record: Reader) -> tuple[Sequence[int], int]:
    """Those that are live; and where some may be missing, the highest that there is."""
    try:
        return record.batches(outcome="live"), 0
    except RecordError:  # what finds them is damaged: all facts are looked at instead
        facts = list(stored(record.rows()))
    rows = batch_rows(fact.entry for fact in facts if fact.entry is not None)
    lost = bool(record.torn) or any(fact.entry is None for fact in facts)
    live = [row.batch for row in rows if row.outcome == "live"]
    return live, max((row.batch for row in rows), default=0) if lost else 0


def _live(rows: Sequence[Row], whole: bool, newest: Sequence[tuple[int, Moment]]) -> LiveCup | None:
    """The cup of these facts; the newest of the record tell how long the computer ran on."""
    facts = [(fact.seq, fact.entry) for fact in stored(rows) if fact.entry is not None]
    cup = next(iter(live_cups(entry for _, entry in facts)), None)
    if cup is None:
        return None
    if not whole:
        cup = _older(cup, facts[0][1])
    own = {seq: Moment(entry.utc, entry.at_ms, entry.boot) for seq, entry in facts}
    moments = {seq: when for seq, when in newest if seq > facts[0][0]} | own
    return replace(cup, later=after(cup.contact, (moments[seq] for seq in sorted(moments))))


def _older(cup: LiveCup, first: Entry) -> LiveCup:
    """Where it may be the fact of first contact that is lost: since the batch began."""
    return replace(cup, contact_at_ms=first.at_ms, boot=first.boot, contact_utc=first.utc)


def _numbers(rows: Sequence[Row]) -> set[int]:
    found = [
        _CUP.search(canonical)
        for _, canonical, _, _, _, kind in rows
        if kind == b"live" and isinstance(canonical, bytes)
    ]
    return {int(one[1]) for one in found if one is not None}
