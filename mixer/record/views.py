"""What the facts say: one row for each batch, and the cups that are alive.

Pure folds over entries in the order of the journal. Facts are read for many years, by
programs older and newer than the one that wrote them: an unknown kind, an unknown key
and a missing key are passed over. Nothing that a fact decided is computed again here.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import Any, Literal

from mixer.record.envelope import Entry

Role = Literal["resin", "hardener"]


@dataclass(frozen=True, slots=True)
class Moment:
    """When a fact became true: UTC, and milliseconds since the boot of this name."""

    utc: str
    at_ms: int
    boot: str


@dataclass(frozen=True, slots=True)
class BatchRow:
    """All that is known of one batch. Masses in micrograms; None = not known (yet).

    ``opened`` is the data of its first fact, as stored. ``amounts_ug`` has one figure
    for each component that was accepted, by its place in the recipe. ``contact`` is
    when hardener first met resin, where it is known: the cup's clock runs from there.
    """

    batch: int
    opened: dict[str, Any] = field(default_factory=dict)
    opened_at: Moment | None = None
    tare_ug: int | None = None
    amounts_ug: dict[int, int] = field(default_factory=dict)
    contact: Moment | None = None
    cup: int | None = None
    live_at: Moment | None = None
    ended_how: str | None = None
    closed_at: Moment | None = None
    closed_how: str | None = None
    left_ug: int | None = None
    verdict: str | None = None
    ratio_target: float | None = None
    ratio_actual: float | None = None
    unproven_because: str | None = None
    doubts: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def components(self) -> list[dict[str, Any]]:
        """The components of the recipe, in its order."""
        recipe = self.opened.get("recipe")
        listed = recipe.get("components") if isinstance(recipe, dict) else None
        return [c for c in listed if isinstance(c, dict)] if isinstance(listed, list) else []

    @property
    def outcome(self) -> str:
        """``open`` while it is made, ``live``, ``closed``; or how it ended without a cup."""
        if self.live_at is None and self.ended_how is not None:
            return self.ended_how
        if self.closed_at is not None:
            return "closed"
        return "open" if self.live_at is None else "live"

    def sum_ug(self, role: Role | None = None) -> int | None:
        """What is in the cup of this role (of all, without one); None if nothing is known."""
        components = self.components
        found = [
            mass_ug
            for index, mass_ug in self.amounts_ug.items()
            if role is None or (index < len(components) and components[index].get("role") == role)
        ]
        return sum(found) if found else None


@dataclass(frozen=True, slots=True)
class LiveCup:
    """A cup whose clock runs.

    Its age is reckoned from ``contact_at_ms``, in milliseconds since the boot named
    ``boot``; after another boot ``contact_utc`` has to do. ``pot_life`` is what the
    batch's first fact said of it.
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


def batch_rows(entries: Iterable[Entry]) -> list[BatchRow]:
    """One row for each batch of these facts, by its number. Batch 0 is no batch."""
    rows: dict[int, BatchRow] = {}
    for entry in entries:
        if entry.batch > 0:
            rows[entry.batch] = fold(rows.get(entry.batch, BatchRow(entry.batch)), entry)
    return [rows[batch] for batch in sorted(rows)]


def fold(row: BatchRow, entry: Entry) -> BatchRow:
    """The row once this fact is known.

    >>> warm = Entry("noted", {"text": "warm"}, 5, "b1", "2024-05-01T08:00:00.000Z", 7, "shop")
    >>> fold(BatchRow(7), warm).notes
    ('warm',)
    """
    data, when = entry.data, Moment(entry.utc, entry.at_ms, entry.boot)
    match entry.kind:
        case "opened":
            return replace(row, opened=data, opened_at=when)
        case "tared":
            return replace(row, tare_ug=_whole(data.get("tare_ug")))
        case "begun" if row.contact is None and _is_hardener(row, data.get("component")):
            return replace(row, contact=when)
        case "accepted":
            return _accepted(row, data)
        case "doubted":
            return replace(row, doubts=(*row.doubts, *_texts(data.get("why"))))
        case "noted":
            return replace(row, notes=(*row.notes, *_texts(data.get("text"))))
        case "live":
            row = replace(row, cup=_whole(data.get("cup")), live_at=when)
            return _judged(row, data)
        case "ended":
            how = data.get("how")
            row = replace(row, ended_how=how if isinstance(how, str) else "ended")
            return _judged(row, data)
        case "closed":
            return replace(
                row,
                closed_at=when,
                closed_how=_text(data.get("how")),
                left_ug=_whole(data.get("left_ug")),
            )
    return row


def live_cups(entries: Iterable[Entry]) -> tuple[LiveCup, ...]:
    """The cups that went live and are not closed, by batch."""
    return tuple(
        _live_cup(row, row.live_at, row.cup)
        for row in batch_rows(entries)
        if row.live_at is not None and row.cup is not None and row.closed_at is None
    )


def free_cup_number(cups: Iterable[LiveCup]) -> int:
    """The smallest positive number that no live cup has."""
    taken = {cup.cup for cup in cups}
    return next(number for number in range(1, len(taken) + 2) if number not in taken)


def find_live(cups: Iterable[LiveCup], cup: int) -> LiveCup | None:
    """The live cup of this number; of two the older one."""
    return next((live for live in cups if live.cup == cup), None)


def _live_cup(row: BatchRow, live_at: Moment, cup: int) -> LiveCup:
    # Without the fact of first contact the batch's opening is the oldest it can be:
    # too old an age is a nuisance, too young a one is a hazard.
    contact = row.contact or row.opened_at or live_at
    pot_life = row.opened.get("pot_life")
    return LiveCup(
        cup=cup,
        batch=row.batch,
        resin_system=_text(row.opened.get("resin_system")) or "",
        contact_at_ms=contact.at_ms,
        boot=contact.boot,
        contact_utc=contact.utc,
        live_utc=live_at.utc,
        total_ug=row.sum_ug() or 0,
        verdict=row.verdict or "unproven",
        pot_life=pot_life if isinstance(pot_life, dict) else None,
    )


def _accepted(row: BatchRow, data: dict[str, Any]) -> BatchRow:
    component, net_ug = _whole(data.get("component")), _whole(data.get("net_ug"))
    if component is None or component < 0 or net_ug is None:
        return row
    return replace(row, amounts_ug={**row.amounts_ug, component: net_ug})


def _judged(row: BatchRow, data: dict[str, Any]) -> BatchRow:
    amounts = data.get("amounts_ug")
    told = dict(enumerate(amounts)) if isinstance(amounts, list) else {}
    known = {index: mass for index, mass in told.items() if _whole(mass) is not None}
    return replace(
        row,
        amounts_ug={**row.amounts_ug, **known},
        verdict=_text(data.get("verdict")) or row.verdict,
        ratio_target=_figure(data.get("ratio_target"), row.ratio_target),
        ratio_actual=_figure(data.get("ratio_actual"), row.ratio_actual),
        unproven_because=_text(data.get("unproven_because")) or row.unproven_because,
    )


def _is_hardener(row: BatchRow, component: object) -> bool:
    index, components = _whole(component), row.components
    if index is None or not 0 <= index < len(components):
        return False
    return components[index].get("role") == "hardener"


def _whole(value: object) -> int | None:
    return value if isinstance(value, int) and not isinstance(value, bool) else None


def _figure(value: object, otherwise: float | None) -> float | None:
    if isinstance(value, int | float) and not isinstance(value, bool):
        return value
    return otherwise


def _text(value: object) -> str | None:
    return value if isinstance(value, str) else None


def _texts(value: object) -> tuple[str, ...]:
    return (value,) if isinstance(value, str) and value else ()
