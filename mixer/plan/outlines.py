"""The outlines of plies: their areas, from lengths in millimetres.

Each is flat, as it is cut. This file must never let through an outline that is none: a
dimension that is not above zero, a ring inside out, a polygon that crosses itself.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise

Point = tuple[float, float]
Side = tuple[Point, Point]


class NoOutline(ValueError):
    """``key`` is the dimension at fault; the message says what would be accepted."""

    def __init__(self, key: str, accepted: str) -> None:
        super().__init__(accepted)
        self.key = key


def rectangle_mm2(length_mm: float, width_mm: float) -> float:
    """A tape is one, of the width of its roll.

    >>> rectangle_mm2(1000, 76.2)
    76200.0
    """
    return _above_zero("length", length_mm) * _above_zero("width", width_mm)


def trapezoid_mm2(length_mm: float, root_mm: float, tip_mm: float) -> float:
    """``root`` and ``tip`` are the two sides that run the same way, ``length`` their
    distance: a wing's skin with its chords.

    >>> trapezoid_mm2(2000, 900, 600)
    1500000.0
    """
    sides = _above_zero("root", root_mm) + _above_zero("tip", tip_mm)
    return _above_zero("length", length_mm) * sides / 2


def triangle_mm2(base_mm: float, height_mm: float) -> float:
    """
    >>> triangle_mm2(300, 200)
    30000.0
    """
    return _above_zero("base", base_mm) * _above_zero("height", height_mm) / 2


def disc_mm2(diameter_mm: float) -> float:
    """
    >>> round(disc_mm2(100))
    7854
    """
    return math.pi * _above_zero("diameter", diameter_mm) ** 2 / 4


def ring_mm2(outer_mm: float, inner_mm: float) -> float:
    """Between two circles about one centre, by their diameters.

    >>> round(ring_mm2(100, 50))
    5890
    """
    if not _above_zero("inner", inner_mm) < _above_zero("outer", outer_mm):
        raise NoOutline("inner", "an inner diameter below the outer one")
    return math.pi * (outer_mm**2 - inner_mm**2) / 4


def taper_mm(length_mm: float, shorter_mm: float, count: int) -> tuple[float, ...]:
    """The lengths of a stack that steps down: the first has the full length, each next one
    is shorter by as much.

    >>> taper_mm(1000, 200, 3)
    (1000, 800, 600)
    """
    _above_zero("length", length_mm)
    _above_zero("shorter", shorter_mm)
    if length_mm - (count - 1) * shorter_mm <= 0:
        raise NoOutline("shorter", f"less than {length_mm / max(1, count - 1):g} mm for {count}")
    return tuple(length_mm - i * shorter_mm for i in range(count))


def polygon_mm2(points_mm: Sequence[Point]) -> float:
    """Three corners or more, in order round it, in either sense; not closed by hand.

    The area is that of the shoelace formula. Raises :class:`NoOutline` where sides cross or
    touch: there it would be wrong.

    >>> polygon_mm2([(0, 0), (400, 0), (400, 300), (0, 300)])
    120000.0
    """
    if len(points_mm) < 3:
        raise NoOutline("points", "three corners or more")
    around = [*points_mm, points_mm[0]]
    sides = list(pairwise(around))
    _refuse_crossing(sides)
    x0, y0 = points_mm[0]  # near the corners, so that nothing is lost to large figures
    doubled = sum((ax - x0) * (by - y0) - (bx - x0) * (ay - y0) for (ax, ay), (bx, by) in sides)
    return _above_zero("points", abs(doubled) / 2)


def _refuse_crossing(sides: Sequence[Side]) -> None:
    """Of every two sides: neighbours share their corner and no more, others nothing."""
    for i, (a, b) in enumerate(sides):
        if a == b:
            raise NoOutline("points", f"each corner once: {_spoken(a)} stands twice in a row")
        c = sides[(i + 1) % len(sides)][1]
        ahead = (a[0] - b[0]) * (c[0] - b[0]) + (a[1] - b[1]) * (c[1] - b[1])
        if _turn(a, b, c) == 0 and ahead > 0:
            raise NoOutline("points", f"sides that do not fold back: at {_spoken(b)} they do")
    met = [
        (i, j)
        for i, j in _side_by_side(sides)
        if 1 < j - i < len(sides) - 1 and _meet(sides[i], sides[j])
    ]
    if met:
        one, other = (_spoken(sides[k][0]) for k in min(met))
        raise NoOutline(
            "points", f"sides that do not cross or touch: those from {one} and from {other} do"
        )


def _side_by_side(sides: Sequence[Side]) -> Iterator[tuple[int, int]]:
    """The pairs that a line sees at once which is moved over the outline: along the axis on
    which the sides are short, so that these are few however many corners there are."""
    along = min((0, 1), key=lambda axis: _times_over(sides, axis))
    ends = [sorted((a[along], b[along])) for a, b in sides]
    seen: list[int] = []
    for i in sorted(range(len(sides)), key=lambda k: ends[k][0]):
        seen = [j for j in seen if ends[j][1] >= ends[i][0]]
        yield from ((min(i, j), max(i, j)) for j in seen)
        seen.append(i)


def _times_over(sides: Sequence[Side], axis: int) -> float:
    """How many times all its sides together are as long as the outline, along this axis."""
    at = [a[axis] for a, _ in sides]
    long_mm = max(at) - min(at)
    return math.inf if long_mm == 0 else sum(abs(a[axis] - b[axis]) for a, b in sides) / long_mm


def _meet(one: Side, other: Side) -> bool:
    (a, b), (c, d) = one, other
    for x in (0, 1):  # most pairs, at once
        if max(a[x], b[x]) < min(c[x], d[x]) or max(c[x], d[x]) < min(a[x], b[x]):
            return False
    turns = _turn(a, b, c), _turn(a, b, d), _turn(c, d, a), _turn(c, d, b)
    if turns[0] * turns[1] < 0 and turns[2] * turns[3] < 0:
        return True
    ends = ((one, c), (one, d), (other, a), (other, b))
    return any(turn == 0 and _within(*end) for turn, end in zip(turns, ends, strict=True))


def _turn(a: Point, b: Point, c: Point) -> int:
    """1 for a turn to the left at b, -1 to the right, 0 straight on."""
    crossed = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
    return (crossed > 0) - (crossed < 0)


def _within(side: Side, p: Point) -> bool:
    """Whether a point on the line of a side lies between its ends."""
    (ax, ay), (bx, by) = side
    return min(ax, bx) <= p[0] <= max(ax, bx) and min(ay, by) <= p[1] <= max(ay, by)


def _spoken(p: Point) -> str:
    return f"{p[0]:g} {p[1]:g} mm"


def _above_zero(key: str, value: float) -> float:
    if not 0 < value < math.inf:
        raise NoOutline(key, "a dimension above zero")
    return value
