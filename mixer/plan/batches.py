"""From a need to a row of batches: as few as the caps allow, of about one size, in time.

What is wetted at once comes from one batch; only what is more than a batch can hold by
itself is divided, evenly. Masses are whole micrograms, so that the batches are exactly
their parts. No batch may ever be more than the cap; a small rest is shared out among the
others as far as that keeps together what is wetted at once.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import accumulate

from mixer.plan.need import Portion

UG_PER_G = 1_000_000
#: Common practice, no source: nobody follows a plan of more.
MOST_BATCHES = 1000


class TooMany(ValueError):
    """More than :data:`MOST_BATCHES` batches."""


@dataclass(frozen=True, slots=True)
class Cap:
    """The most that one batch may be, and what says so."""

    most_ug: int
    by: str


@dataclass(frozen=True, slots=True)
class Part:
    """So much of a batch for one portion, or for a share of it."""

    portion: Portion
    mass_ug: int
    is_whole: bool = True


@dataclass(frozen=True, slots=True)
class Batch:
    """``mix_at_min`` counts from the first batch's resin; ``empty_min`` is when it is used
    up at the method's rate."""

    parts: tuple[Part, ...]
    decided_by: str
    mix_at_min: float
    empty_min: float

    @property
    def mass_ug(self) -> int:
        return _mass_ug(self.parts)


def batches(
    portions: Sequence[Portion], caps: Sequence[Cap], rate_g_min: float, prepare_min: float
) -> tuple[Batch, ...]:
    """The row of them.

    Parameters
    ----------
    portions : in the order of the work.
    caps : of which the least counts; each above 0. None: one batch for all.
    rate_g_min : how fast it is used up, above 0.
    prepare_min : from taking up the resin to the end of the stir, not negative.

    Raises
    ------
    TooMany.
    """
    # Rounded as a running total, so that the batches are the need to the microgram.
    ends_ug = [round(g * UG_PER_G) for g in accumulate(p.mix_g for p in portions)]
    whole = [Part(p, b - a) for p, a, b in zip(portions, [0, *ends_ug], ends_ug, strict=False)]
    cap = min(caps, key=lambda cap: cap.most_ug, default=Cap(max(1, _mass_ug(whole)), ""))
    # A portion that is divided anyway may be so once more, if that shares out a small rest.
    divided = any(part.mass_ug > cap.most_ug for part in whole)
    ways = [_rows(_parts(whole, cap.most_ug, more), cap.most_ug) for more in range(1 + divided)]
    rows = min(ways, key=lambda rows: (len(rows), max(map(_mass_ug, rows), default=0)))
    if len(rows) > MOST_BATCHES:
        raise TooMany
    decided_by = cap.by if len(rows) > 1 else "need"
    found: list[Batch] = []
    for row in rows:
        one = Batch(tuple(row), decided_by, 0.0, 0.0)
        uses_min = one.mass_ug / UG_PER_G / rate_g_min
        if not found:
            found.append(replace(one, empty_min=prepare_min + uses_min))
            continue
        before = found[-1]
        # Fresh as the cup before is empty, but one batch after another on the one scale.
        mix_at_min = max(before.empty_min - prepare_min, before.mix_at_min + prepare_min)
        empty_min = max(before.empty_min, mix_at_min + prepare_min) + uses_min
        found.append(replace(one, mix_at_min=mix_at_min, empty_min=empty_min))
    return tuple(found)


def _mass_ug(parts: Sequence[Part]) -> int:
    return sum(part.mass_ug for part in parts)


def _parts(whole: Sequence[Part], most_ug: int, more: int) -> Sequence[Part]:
    """Each as it is, or where it is more than a batch in as few even ones as will do, and so
    many more."""
    parts: list[Part] = []
    for one in whole:
        shares = -(-one.mass_ug // most_ug)
        shares += more if shares > 1 else 0
        # A share is more than a third of a batch.
        if shares > 3 * MOST_BATCHES or len(parts) > len(whole) + 3 * MOST_BATCHES:
            raise TooMany
        for i in range(shares):
            share_ug = one.mass_ug * (i + 1) // shares - one.mass_ug * i // shares
            parts.append(Part(one.portion, share_ug, shares == 1))
    return parts


def _rows(parts: Sequence[Part], most_ug: int) -> list[list[Part]]:
    """In as few rows as can be, none above the most; of these the largest the least that
    can be, and all of them as even as can be (by the sum of their squares)."""
    if not parts:
        return []
    sums = [0, *accumulate(part.mass_ug for part in parts)]
    count = _count(sums, most_ug)
    low, high = max(part.mass_ug for part in parts), most_ug
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if _count(sums, middle) <= count else (middle + 1, high)
    # From the last part back: rows, squares, and where the first row ends.
    best = [(0, 0, len(parts))] * (len(parts) + 1)
    for first in reversed(range(len(parts))):
        most = bisect_right(sums, sums[first] + low)
        best[first] = min(
            (best[end][0] + 1, best[end][1] + (sums[end] - sums[first]) ** 2, end)
            for end in range(first + 1, most)
        )
    rows, first = [], 0
    while first < len(parts):
        last = best[first][2]
        rows.append(list(parts[first:last]))
        first = last
    return rows


def _count(sums: Sequence[int], most_ug: int) -> int:
    """How many rows it takes, each filled as far as it goes."""
    first, count = 0, 0
    while first < len(sums) - 1:
        first = bisect_right(sums, sums[first] + most_ug) - 1
        count += 1
    return count
