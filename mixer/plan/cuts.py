"""Where batches end along the row of what is wetted, measured in micrograms of mix. Pure.

The row is of spans, one after another: a solid one is never cut, but for a crumb where it may
be, a fluid one anywhere. This file must never let a batch be more than the most, nor make one
more of them than must be.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise

#: One step of a usual display (our choice): nobody wets anything with less of a span than that.
TRIFLE_UG = 100_000


class TooManyCuts(ValueError):
    """More batches than were allowed."""


@dataclass(frozen=True, slots=True)
class Span:
    """From ``start`` to ``end``; ``fluid``: it may be cut; ``for_crumb``: where a crumb would be
    left otherwise."""

    start: int
    end: int
    fluid: bool
    for_crumb: bool = False


def cuts(
    spans: Sequence[Span], first: int, last: int, most: int, allowed: int, least: int = 0
) -> list[int]:
    """The ends of the batches from ``first`` to ``last``, the last end among them.

    Each solid span in there is at most ``most``. As few as can be; of these those that fall
    short of ``least`` by as little as was found (by the sum of the squares, so that of two
    that fall short none is a crumb for the other's sake); then the largest as small as can
    be, and all as even (by the sum of their squares); all this but for a trifle
    (:data:`TRIFLE_UG`), by which a cut goes to the edge of a span as far as the most allows it.
    Raises :class:`TooManyCuts`.

    >>> cuts([Span(0, 60, False), Span(60, 190, True), Span(190, 250, False)], 0, 250, 100, 9)
    [83, 166, 250]
    """
    if last <= first:
        return []
    if last - first > allowed * most:
        raise TooManyCuts
    row = _Row(spans, first, last)
    count = len(row.filled(most))
    if count > allowed:
        raise TooManyCuts
    low, high = max(-(-(last - first) // count), row.solid), most
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if len(row.filled(middle)) <= count else (middle + 1, high)
    found = row.best(low, count, least)
    if low < most and row.cost(found, least)[0]:
        found = min(found, row.best(most, count, least), key=lambda one: row.cost(one, least)[0])
    return on_edges(spans, [first, *found], most)[1:]


def filled(spans: Sequence[Span], first: int, last: int, most: int) -> list[int]:
    """The ends where each batch is filled as far as it goes: no way has fewer."""
    return _Row(spans, first, last).filled(most)


def on_edges(spans: Sequence[Span], places: Sequence[int], most: int) -> list[int]:
    """The same with each cut on the edge of a span that is but a trifle away."""
    edges = sorted({edge for span in spans for edge in (span.start, span.end)})
    places, moved = list(places), True
    while moved:  # one that was moved may leave room for the one before
        moved = False
        for at in range(1, len(places) - 1):
            right = bisect_left(edges, places[at])
            edge = min(edges[max(0, right - 1) : right + 1], key=lambda e: abs(e - places[at]))
            sizes = (edge - places[at - 1], places[at + 1] - edge)
            near = 0 < abs(edge - places[at]) < TRIFLE_UG
            if near and min(sizes) > 0 and max(sizes) <= most:
                places[at], moved = edge, True
    return places


def shared_out(
    spans: Sequence[Span], places: Sequence[int], most: int, crumb: int, limit: int = 0
) -> tuple[list[int], list[int]]:
    """The same places with no batch below ``crumb``, as far as a span may be cut for it: it is
    shared out to the batches on both sides, or else evened with one of them: where it is cut
    anyway, and with the fuller. A first batch that ends by the limit still does. And which of the
    batches those are that are left.

    >>> g = 1_000_000
    >>> ply, slurry = Span(0, 99 * g, False, for_crumb=True), Span(99 * g, 101 * g, False)
    >>> shared_out([ply, slurry], [0, 99 * g, 101 * g], 100 * g, 5 * g)
    ([0, 50500000, 101000000], [0, 1])
    """
    starts, ends = [span.start for span in spans], [span.end for span in spans]
    places, left, at = list(places), list(range(len(places) - 1)), 1
    first_most = limit if len(places) > 1 and places[1] <= limit else most
    while at < len(places):
        low, high = places[at - 1 : at + 1]
        ways = list[tuple[int, int, Span]]()  # one place for those from here to before there
        if high - low < crumb:
            inside = spans[bisect_right(starts, low) - 1 : bisect_left(ends, high) + 1]
            is_last = at + 1 == len(places)
            if at > 1:
                ways.append((at - 1, at, spans[bisect_left(ends, low)]))
            if not is_last:
                ways.append((at, at + 1, spans[bisect_right(starts, high) - 1]))
            if at > 1 and not is_last:
                ways += [(at - 1, at + 1, span) for span in inside]
        found = [
            (first - past, not span.fluid, a - b, abs(a + b - 2 * place), first, past, place)
            for first, past, span in ways
            for a, b in [(places[first - 1], places[past])]
            for place in [_parting(span, a, b, most, crumb, first_most if first == 1 else most)]
            if place is not None
        ]
        if found:
            *_, first, past, place = min(found)
            places[first:past] = [place]
            del left[first : past - 1]
        at += 1
    return places, left


def _parting(span: Span, a: int, b: int, most: int, crumb: int, before: int) -> int | None:
    """Where in this span, if anywhere, two batches from a to b part most evenly; the one before
    is at most so much."""
    if not (span.fluid or span.for_crumb):
        return None
    low = max(span.start, b - most, a + crumb)
    high = min(span.end, a + min(most, before), b - crumb)
    place = min(max((a + b) // 2, low), high)
    for edge in (span.start, span.end):
        if abs(edge - place) < TRIFLE_UG:
            place = edge
    return place if low <= place <= high else None


class _Row:
    """The part of the row that is looked at."""

    def __init__(self, spans: Sequence[Span], first: int, last: int) -> None:
        inside = [
            Span(max(s.start, first), min(s.end, last), s.fluid)
            for s in spans
            if s.start < last and s.end > first
        ]
        # Of two fluid ones that touch the edge between them is no place of its own.
        self._spans = list[Span]()
        for fluid, run in groupby(inside, key=lambda span: span.fluid):
            some = list(run)
            self._spans += [Span(some[0].start, some[-1].end, True)] if fluid else some
        self._starts = [span.start for span in self._spans]
        self._ends = [span.end for span in self._spans]
        self._first, self._last = first, last
        self.solid = max((s.end - s.start for s in self._spans if not s.fluid), default=0)

    def filled(self, most: int) -> list[int]:
        """The ends where each batch is filled as far as it goes: no way has fewer."""
        ends, at = list[int](), self._first
        while at < self._last:
            at = min(at + most, self._last)
            span = self._spans[bisect_left(self._ends, at)]
            if not span.fluid and at < span.end:
                at = span.start
            ends.append(at)
        return ends

    def best(self, most: int, count: int, least: int) -> list[int]:
        """Of so many batches, none above the most, those that fall least short of the least
        and the most even."""
        found = self._chosen(most, least)
        even = self._evened(found)
        fits = max(b - a for a, b in pairwise([self._first, *even])) <= most
        return min(found, even, key=lambda ends: self.cost(ends, least)) if fits else found

    def cost(self, ends: Sequence[int], least: int) -> tuple[int, int]:
        """How far they fall short of the least, and how large they are, in squares."""
        sizes = [b - a for a, b in pairwise([self._first, *ends])]
        return sum(shortfall(size, least) for size in sizes), sum(size**2 for size in sizes)

    def _chosen(self, most: int, least: int) -> list[int]:
        """The best of all ways through the edges, and through some places in what is fluid."""
        filled, starts = self.filled(most), self._filled_from_behind(most)[::-1]
        places = {*self._ends, *filled, *starts}
        whole = self._last - self._first
        even = (self._first + whole * i // len(filled) for i in range(1, len(filled)))
        places.update(at for at in even if self._spans[bisect_left(self._ends, at)].fluid)
        for span in self._spans:
            if span.fluid:  # by itself, in as few as it takes
                size, parts = span.end - span.start, -(-(span.end - span.start) // most)
                places.update(span.start + size * i // parts for i in range(1, parts))
        # No row of the fewest has an end but where so many reach it from both sides.
        some, reached = sorted(places), {self._first, self._last}
        for low, high in zip(starts[1:], filled[:-1], strict=True):
            reached.update(some[bisect_left(some, low) : bisect_right(some, high)])
        nodes = sorted(reached)
        # From the last place back: batches, how far they fall short, squares, the first end.
        best = [(0, 0, 0, len(nodes) - 1)] * len(nodes)
        for i in reversed(range(len(nodes) - 1)):
            best[i] = min(
                (
                    best[j][0] + 1,
                    best[j][1] + shortfall(nodes[j] - nodes[i], least),
                    best[j][2] + (nodes[j] - nodes[i]) ** 2,
                    j,
                )
                for j in range(i + 1, bisect_right(nodes, nodes[i] + most))
            )
        ends, i = list[int](), 0
        while i < len(nodes) - 1:
            i = best[i][3]
            ends.append(nodes[i])
        return ends

    def _filled_from_behind(self, most: int) -> list[int]:
        starts, at = list[int](), self._last
        while at > self._first:
            at = max(at - most, self._first)
            span = self._spans[bisect_right(self._starts, at) - 1]
            if not span.fluid and at > span.start:
                at = span.end
            starts.append(at)
        return starts

    def _evened(self, ends: Sequence[int]) -> list[int]:
        """The same with the places in each fluid span spread evenly between those before and
        after it, as far as the span goes."""
        places = [self._first, *ends]
        for _ in range(8):  # of neighbours each moves the other's
            for span in self._spans:
                if span.fluid:
                    low = max(1, bisect_left(places, span.start))
                    high = min(len(places) - 1, bisect_right(places, span.end))
                    _spread(places, low, high, span)
        return places[1:]


def shortfall(size: int, least: int) -> int:
    """By how much it is less than the least, squared.

    >>> shortfall(51, 73), shortfall(80, 73)
    (484, 0)
    """
    return max(0, least - size) ** 2


def _spread(places: list[int], low: int, high: int, span: Span) -> None:
    """Those from ``low`` to before ``high``, between the place before and the one after."""
    while low < high:
        a, b, parts = places[low - 1], places[high], high - low + 1
        if a + (b - a) // parts < span.start:
            places[low] = span.start
            low += 1
        elif b - (b - a) // parts > span.end:
            places[high - 1] = span.end
            high -= 1
        else:
            for i in range(1, parts):
                places[low + i - 1] = a + (b - a) * i // parts
            return
