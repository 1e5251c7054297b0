"""What the facts say: one row for each batch, and the cups that are alive.

Pure folds over entries in the order of the journal; how one fact changes a row is in
:mod:`mixer.record.folding`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import dropwhile
from typing import Any

from mixer.record.cups import Cup
from mixer.record.envelope import Entry
from mixer.record.folding import fold
from mixer.record.row import BatchRow, Moment

__all__ = [
    "BatchRow",
    "LiveCup",
    "Moment",
    "after",
    "batch_rows",
    "find_live",
    "fold",
    "free_cup_number",
    "live_cups",
]


@dataclass(frozen=True, slots=True)
class LiveCup:
    """A cup whose clock runs.

    Its age is reckoned from ``contact_at_ms``, in milliseconds since the boot named
    ``boot``; after another boot ``contact_utc`` has to do, but what passed until the moments
    in ``later`` is known to have passed since: of each boot the first and the last that
    facts tell of. ``pot_life`` is what the batch's first fact said of it,
    ``row`` all that is known of its batch.
    Of a batch that was split each cup is one, with the batch's clock: ``total_ug`` is the most
    of the mix that can be in it, without the ``filler`` that went in; ``split``: it is, or was,
    one of several; ``at_most``: nobody weighed what is in it.
    """

    cup: int
    batch: int
    resin_system: str
    contact_at_ms: int
    boot: str
    contact_utc: str
    live_utc: str
    total_ug: int
    verdict: str
    pot_life: dict[str, Any] | None
    later: tuple[Moment, ...] = ()
    filler: str = ""
    split: bool = False
    at_most: bool = False
    row: BatchRow = field(default_factory=lambda: BatchRow(0), compare=False)

    @property
    def contact(self) -> Moment:
        """When hardener first met resin, as its age counts from."""
        return Moment(self.contact_utc, self.contact_at_ms, self.boot)

    @property
    def own_foretold(self) -> dict[str, Any]:
        """What was foretold of this cup alone since its batch was split, where a time could be
        told; else nothing, and it goes by its batch, as does one that may hold all of it."""
        if self.total_ug >= (self.row.sum_ug() or 0):
            return {}
        told = self.row.shares_foretold.get(self.cup, {})
        return told if isinstance(told.get("low_s"), int | float) else {}

    @property
    def foretold(self) -> dict[str, Any]:
        """What its clock runs against."""
        return self.own_foretold or self.row.foretold

    @property
    def thickened_s(self) -> float | None:
        """How old it was when the builder first said that it thickens."""
        return self.row.thickened.get(self.cup)


def batch_rows(entries: Iterable[Entry]) -> list[BatchRow]:
    """One row for each batch of these facts, by its number. Batch 0 is no batch."""
    rows: dict[int, BatchRow] = {}
    for entry in entries:
        if entry.batch > 0:
            rows[entry.batch] = fold(rows.get(entry.batch, BatchRow(entry.batch)), entry)
    return [rows[batch] for batch in sorted(rows)]


def live_cups(entries: Iterable[Entry]) -> tuple[LiveCup, ...]:
    """The cups that went live and are not closed, by batch."""
    entries = list(entries)
    moments: dict[int, list[Moment]] = {}
    for entry in entries:
        moments.setdefault(entry.batch, []).append(Moment(entry.utc, entry.at_ms, entry.boot))
    return tuple(
        _live_cup(row, row.live_at, cup, moments[row.batch])
        for row in batch_rows(entries)
        if row.outcome == "live" and row.live_at is not None
        for cup in row.cups
        if cup.closed_at is None
    )


def free_cup_number(cups: Iterable[LiveCup], more: Iterable[int] = ()) -> int:
    """The smallest positive number that no live cup has, and that is none of ``more``."""
    taken = {*(cup.cup for cup in cups), *more}
    return next(number for number in range(1, len(taken) + 2) if number not in taken)


def after(contact: Moment, moments: Iterable[Moment]) -> tuple[Moment, ...]:
    """Of these, which are in the order of the journal: the first and the last of each boot
    that are not before contact.

    >>> moments = [Moment("", ms, boot) for boot, ms in (("a", 1), ("b", 5), ("b", 7), ("c", 2))]
    >>> [(m.boot, m.at_ms) for m in after(Moment("", 6, "b"), moments)]
    [('b', 7), ('c', 2)]
    """
    since = dropwhile(lambda m: m.boot != contact.boot or m.at_ms < contact.at_ms, moments)
    boots: dict[str, list[Moment]] = {}
    for moment in since:
        boots.setdefault(moment.boot, []).append(moment)
    return tuple(
        one for several in boots.values() for one in dict.fromkeys((several[0], several[-1]))
    )


def find_live(cups: Iterable[LiveCup], cup: int) -> LiveCup | None:
    """The live cup of this number; of two the older one."""
    return next((live for live in cups if live.cup == cup), None)


def _live_cup(row: BatchRow, live_at: Moment, cup: Cup, moments: list[Moment]) -> LiveCup:
    # Without the fact of first contact the batch's opening is the oldest it can be:
    # too old an age is a nuisance, too young a one is a hazard.
    contact = row.contact or row.opened_at or live_at
    system, pot_life = row.opened.get("resin_system"), row.opened.get("pot_life")
    return LiveCup(
        cup=cup.number,
        batch=row.batch,
        resin_system=system if isinstance(system, str) else "",
        contact_at_ms=contact.at_ms,
        boot=contact.boot,
        contact_utc=contact.utc,
        live_utc=live_at.utc,
        total_ug=cup.most_ug,
        verdict=row.verdict or "unproven",
        pot_life=pot_life if isinstance(pot_life, dict) else None,
        later=after(contact, moments),
        filler=", ".join(fill.filler for fill in cup.fills),
        split=len(row.cups) > 1,
        at_most=cup.mass_ug is None,
        row=row,
    )
