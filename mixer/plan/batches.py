"""From a need to a row of batches: as few as the caps allow, of about one size, in time.

What is wetted at once comes from one batch; only what is more than a batch can hold by
itself is divided. Masses are whole micrograms, so that the batches are exactly their parts.
No batch may ever be more than the cap; a small rest is shared out among the others. For a crumb
one ply by itself, slurry, a joint or peel ply is divided too, whatever step it is of: half a ply
from a second cup is wetted all the same, and 2 g of mix are none that anybody can weigh right.
At the bench none is: its kit would be scanned again as a whole.
Plies that are wetted together never are: where they alone lie beside a crumb, it stays a batch.
Where the ends of batches may lie is the affair of :mod:`mixer.plan.cuts`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate, pairwise

from mixer.plan.cuts import (
    TRIFLE_UG,
    Span,
    TooManyCuts,
    cuts,
    filled,
    on_edges,
    shared_out,
    shortfall,
)
from mixer.plan.need import Portion

UG_PER_G = 1_000_000
#: What makes less of a rest would mostly cling to its cup: no batch is made of it (our choice).
CRUMB_UG = 5 * UG_PER_G
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
    portions: Sequence[Portion],
    caps: Sequence[Cap],
    rate_g_min: float,
    prepare_min: float,
    *,
    lot: Cap | None = None,
    least_ug: int = 0,
    at_bench: bool = False,
) -> tuple[Batch, ...]:
    """The row of them: one of the fewest, and of these as even as can be, then without the
    crumbs that can be shared out.

    Parameters
    ----------
    portions : in the order of the work.
    caps : of which the least counts; each above 0. None: one batch for all.
    rate_g_min : how fast it is used up, above 0.
    prepare_min : from taking up the resin to the end of the stir, not negative.
    lot : all that the first batches together may be, of what is left of the lots; the others
        are of fresh ones. It divides nothing that a batch can hold. As much of it is used as
        makes the row no longer than one full batch of it would, and no batch that falls shorter
        of the least; nothing of it where that leaves fewer crumbs, or proves more of what was
        to be shared out.
    at_bench : only the first of them is mixed now, and no more for its portions. Where the lot
        is not enough for the first portion, that is divided all the same; none is for a crumb.
    least_ug : what falls short of so much is to fall short by as little as can be.

    Raises
    ------
    TooMany.
    """
    # Rounded as a running total, so that the batches are the need to the microgram.
    ends_ug = [0, *(round(g * UG_PER_G) for g in accumulate(p.mix_g for p in portions))]
    cap = min(caps, key=lambda cap: cap.most_ug, default=Cap(max(1, ends_ug[-1]), ""))
    spans = [
        Span(a, b, b - a > cap.most_ug, for_crumb=len(portion.plies) < 2 and not at_bench)
        for (a, b), portion in zip(pairwise(ends_ug), portions, strict=True)
    ]
    if at_bench and lot and spans and spans[0].end > lot.most_ug:
        spans[0] = Span(0, spans[0].end, True)
    turn_ug = _turn_ug(spans, lot) if lot else 0
    if turn_ug < CRUMB_UG:
        turn_ug = 0

    def ends(first_ug: int, last_ug: int) -> list[int]:
        return cuts(spans, first_ug, last_ug, cap.most_ug, MOST_BATCHES, least_ug)

    def turned(at_ug: int) -> tuple[list[int], list[str]]:
        of_it, others = ends(0, at_ug), ends(at_ug, ends_ug[-1])
        # Where more of the lot is left than a batch may be, it is the cap that ends the batch.
        by = [
            lot.by if lot and lot.most_ug - start < cap.most_ug else cap.by
            for start in [0, *of_it][: len(of_it)]
        ]
        by += [cap.by if len(others) > 1 else "need"] * len(others)
        return [0, *of_it, *others], by

    def cost(row: tuple[list[int], list[str]]) -> tuple[int, int]:
        return len(row[1]), sum(shortfall(b - a, least_ug) for a, b in pairwise(row[0]))

    def shared(row: tuple[list[int], list[str]], limit_ug: int) -> tuple[list[int], list[str]]:
        edges, left = shared_out(spans, row[0], cap.most_ug, CRUMB_UG, limit_ug)
        by = [row[1][number] for number in left]
        for number, end_ug in enumerate(edges[1:]):
            if lot and by[number] == lot.by and end_ug > lot.most_ug:
                by[number] = cap.by
        if len(by) > 1 and edges[-1] - edges[-2] < CRUMB_UG:  # what is left over
            by[-1] = "need"
        return edges, by

    def crumbs(row: tuple[list[int], list[str]]) -> int:
        return sum(b - a < CRUMB_UG for a, b in pairwise(row[0]))

    try:
        found = turned(turn_ug)
        if lot and turn_ug:
            # Filled one after another no way has fewer: only the last of them, which is no
            # fuller than what is left, can be one too many.
            if but_last := filled(spans, 0, turn_ug, cap.most_ug)[:-1]:
                full = turned(but_last[-1])
                found = min(found, (on_edges(spans, full[0], cap.most_ug), full[1]), key=cost)
            if cost(found)[1]:  # less of it may make the row more even
                free = ends(0, ends_ug[-1])
                if free[0] <= lot.most_ug:
                    found = min(found, ([0, *free], [cap.by] * len(free)), key=cost)
                elif spans[0].fluid:
                    even_ug = min(turn_ug, ends_ug[-1] // len(found[1]))
                    found = min(found, turned(even_ug), key=cost)
        rows = [shared(found, lot.most_ug if lot and turn_ug else 0)]
        if turn_ug and crumbs(found) and not at_bench:
            rows.append(shared(turned(0), 0))
        found = min(rows, key=lambda row: (crumbs(row), cost(row)[1]))
    except TooManyCuts:
        raise TooMany from None
    if len(found[1]) > MOST_BATCHES:
        raise TooMany
    row: list[Batch] = []
    for by, parts in zip(found[1], _parts(portions, spans, found[0]), strict=True):
        mix_at_min, ready_min = 0.0, prepare_min
        if row:
            before = row[-1]
            # Fresh as the cup before is empty, but one batch after another on the one scale.
            mix_at_min = max(before.empty_min - prepare_min, before.mix_at_min + prepare_min)
            ready_min = max(before.empty_min, mix_at_min + prepare_min)
        empty_min = ready_min + _mass_ug(parts) / UG_PER_G / rate_g_min
        row.append(Batch(parts, by, mix_at_min, empty_min))
    return tuple(row)


def _mass_ug(parts: Sequence[Part]) -> int:
    return sum(part.mass_ug for part in parts)


def _turn_ug(spans: Sequence[Span], lot: Cap) -> int:
    """Where the lots that are left end and fresh ones begin; 0 where they are enough for all,
    or for nothing that is wetted at once."""
    if not spans or spans[-1].end <= lot.most_ug:
        return 0
    first = next(span for span in spans if span.end > lot.most_ug)
    of_it_ug = lot.most_ug - first.start
    return lot.most_ug if first.fluid and of_it_ug >= TRIFLE_UG else first.start


def _parts(
    portions: Sequence[Portion], spans: Sequence[Span], edges: Sequence[int]
) -> list[tuple[Part, ...]]:
    """What each batch is for, between these edges."""
    rows: list[tuple[Part, ...]] = []
    at = 0
    for first_ug, last_ug in pairwise(edges):
        row: list[Part] = []
        while at < len(spans):
            span, portion = spans[at], portions[at]
            low, high = max(first_ug, span.start), min(last_ug, span.end)
            if span.start >= last_ug and last_ug != edges[-1]:
                break
            if low < high or span.start == span.end:
                whole = (low, high) == (span.start, span.end)
                row.append(Part(portion, high - low, whole))
            if span.end > last_ug:
                break
            at += 1
        rows.append(tuple(row))
    return rows
