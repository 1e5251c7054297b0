"""The cups of one batch: its own, and those that shares of it went into.

Pure, and forgiving as :mod:`mixer.record.folding` is. Each cup has the ratio, the lots and the
clock of its batch; mass, filler and end are its own.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from mixer.record.row import BatchRow, Moment

#: The kinds of facts that a batch has only where its cups are told apart.
KINDS = (b"splitting", b"shared", b"filled", b"emptied", b"divided")


@dataclass(frozen=True, slots=True)
class Fill:
    """A filler that went in; ``mass_ug`` is None where it was not weighed, else ``weights`` is
    ``scale`` or ``typed``."""

    filler: str
    mass_ug: int | None
    weights: str | None


@dataclass(frozen=True, slots=True)
class Cup:
    """One cup of a batch. ``mass_ug`` is the mix in it without filler, as far as it is known,
    ``most_ug`` the most that it can be. ``of`` is the cup that it came from, None of the
    batch's own. ``weights`` says where its mass is from: ``scale`` or ``typed``, of the cup
    that the shares came from ``rest``, or None where a share was not weighed. ``course`` is
    what else there was: the most that stood together with this from each moment on, and
    whether it was in the batch's own cup; before the first of them it was the whole batch.
    ``layup`` is its own, None where it has the batch's."""

    number: int
    mass_ug: int | None
    most_ug: int
    of: int | None = None
    weights: str | None = None
    fills: tuple[Fill, ...] = ()
    moved_utc: str | None = None
    closed_at: Moment | None = None
    closed_how: str | None = None
    left_ug: int | None = None
    course: tuple[tuple[Moment, int, bool], ...] = ()
    layup: str | None = None


@dataclass(frozen=True, slots=True)
class Told:
    """What the facts say of the cups, in their order: shares as (cup, of, mass, weights, when),
    the rest by number, of layups the newest; 0 stands for the batch's own cup before it had a
    number."""

    shares: tuple[tuple[int, int, int | None, str | None, Moment], ...] = ()
    fills: tuple[tuple[int, Fill], ...] = ()
    moved: tuple[tuple[int, str], ...] = ()
    closed: tuple[tuple[int, Moment, str | None, int | None], ...] = ()
    layups: tuple[tuple[int, str | None], ...] = ()


def follow(told: Told, kind: str, data: dict[str, Any], when: Moment) -> Told:
    """The same once this fact is known."""
    cup, mass_ug = _number(data.get("cup")), _mass(data.get("mass_ug"))
    weights = data.get("weights") if data.get("weights") in ("scale", "typed") else None
    match kind:
        case "shared" if cup is not None:
            share = (cup, _number(data.get("of")) or 0, mass_ug, weights, when)
            told = replace(told, shares=(*told.shares, share))
            return corrected(told, f"layup-{cup}", data["layup"]) if data.get("layup") else told
        case "filled" if cup is not None:
            fill = Fill(str(data.get("filler") or "filler"), mass_ug, weights)
            return replace(told, fills=(*told.fills, (cup, fill)))
        case "moved":
            return replace(told, moved=(*told.moved, (cup or 0, when.utc)))
        case "emptied" | "closed":
            how, left_ug = data.get("how"), _mass(data.get("left_ug"))
            one = (cup or 0, when, how if isinstance(how, str) else None, left_ug)
            return replace(told, closed=(*told.closed, one))
    return told


def corrected(told: Told, field: str, value: object) -> Told:
    """The same once ``share-2`` or ``layup-2`` was corrected so; of a share that was weighed by
    the scale the mass stays.

    >>> one = Told(shares=((2, 1, 30_000_000, "typed", None), (3, 1, 5_000_000, "scale", None)))
    >>> corrected(one, "share-2", 3_000_000).shares[0], corrected(one, "share-3", 1) == one
    ((2, 1, 3000000, 'typed', None), True)
    """
    what, _, number = field.partition("-")
    cup = int(number) if number.isascii() and number.isdigit() else 0
    if what == "layup" and cup and (value is None or isinstance(value, str)):
        others = tuple(one for one in told.layups if one[0] != cup)
        return replace(told, layups=(*others, (cup, value or None)))
    mass_ug = _mass(value)
    if what != "share" or (mass_ug is None and value is not None):
        return told
    weights = None if mass_ug is None else "typed"
    shares = tuple(
        (number, of, mass_ug, weights, when) if number == cup and how != "scale" else one
        for one in told.shares
        for number, of, _, how, when in (one,)
    )
    return replace(told, shares=shares)


def held_ug(told: Told, own: int, total_ug: int) -> dict[int, int]:
    """What is left in each cup whose mass is known, once what went on from it is gone; below
    nothing where that cannot be.

    >>> held_ug(Told(shares=((2, 1, 30, "typed", None), (3, 2, 40, "typed", None))), 1, 60)
    {1: 30, 2: -10, 3: 40}
    """
    held = {own: total_ug}
    for cup, of, mass_ug, _, _ in told.shares:
        of = of if of in held else own
        if mass_ug is not None:
            held[cup] = mass_ug
            held[of] -= mass_ug
    return held


def cups_of(row: BatchRow) -> tuple[Cup, ...]:
    """The cups of a batch, its own first; none where it never was live."""
    if row.cup is None:
        return ()
    told, total_ug = row.cups_told, row.sum_ug() or 0
    most = {row.cup: total_ug}  # of a number that was given twice the later one counts
    known: dict[int, int | None] = {row.cup: total_ug}
    made: dict[int, tuple[int | None, str | None]] = {
        row.cup: (None, "rest" if told.shares else None)
    }
    course: dict[int, tuple[tuple[Moment, int, bool], ...]] = {row.cup: ()}
    for cup, of, mass_ug, weights, when in told.shares:
        of = of if of in made else row.cup
        known[cup], most[cup] = mass_ug, most[of] if mass_ug is None else mass_ug
        before = known[of]
        known[of] = None if mass_ug is None or before is None else max(0, before - mass_ug)
        most[of] = max(0, most[of] - (mass_ug or 0))
        made[cup] = (of, weights)
        course[cup] = (*course[of], (when, most[cup], False))
        if cup != of:
            own = of == row.cup and not any(one in (0, of) for one, _ in told.moved)
            course[of] = (*course[of], (when, most[of], own))
    return tuple(
        _ended(
            Cup(
                number,
                known[number],
                most[number],
                of,
                weights if known[number] is not None else None,
                tuple(fill for cup, fill in told.fills if (cup or row.cup) == number),
                next((utc for cup, utc in told.moved if (cup or row.cup) == number), None),
                course=course[number],
                layup=dict(told.layups).get(number),
            ),
            row,
        )
        for number, (of, weights) in made.items()
    )


def _ended(cup: Cup, row: BatchRow) -> Cup:
    """With how this cup ended, if it did: a fact that names no cup is of all that are left."""
    for number, when, how, left_ug in row.cups_told.closed:
        if number in (0, cup.number):
            left_ug = left_ug if number or cup.number == row.cup else None
            return replace(cup, closed_at=when, closed_how=how, left_ug=left_ug)
    return cup


def _number(value: object) -> int | None:
    whole = isinstance(value, int) and not isinstance(value, bool)
    return value if whole and isinstance(value, int) and value > 0 else None


def _mass(value: object) -> int | None:
    whole = isinstance(value, int) and not isinstance(value, bool)
    return value if whole and isinstance(value, int) and value >= 0 else None
