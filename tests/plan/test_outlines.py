"""Areas of outlines against an independent library of plane geometry."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Point, Polygon

from mixer.plan import outlines
from mixer.plan.outlines import (
    NoOutline,
    disc_mm2,
    polygon_mm2,
    rectangle_mm2,
    ring_mm2,
    taper_mm,
    trapezoid_mm2,
    triangle_mm2,
)

MM = st.floats(1, 10_000)
CORNER = st.tuples(st.integers(-20, 20), st.integers(-20, 20))
#: In steps of 10 mm, so that corners that touch a side come up by themselves.
CORNERS = st.lists(CORNER, min_size=3, max_size=9).map(lambda c: [(10 * x, 10 * y) for x, y in c])


@given(MM, MM, MM)
def test_plain_shapes_are_those_polygons(a: float, b: float, c: float) -> None:
    # Independent reference: library shapely.
    rectangle = Polygon([(0, 0), (a, 0), (a, b), (0, b)])
    assert rectangle_mm2(a, b) == pytest.approx(rectangle.area)
    trapezoid = Polygon([(0, 0), (0, b), (a, c), (a, 0)])
    assert trapezoid_mm2(a, b, c) == pytest.approx(trapezoid.area)
    assert triangle_mm2(a, b) == pytest.approx(Polygon([(0, 0), (a, 0), (c, b)]).area)


@settings(max_examples=20)
@given(MM)
def test_a_disc_and_a_ring(outer: float) -> None:
    # Shapely's disc is a polygon of 4 x 500 sides, smaller by 1.6 millionths.
    disc = Point(0, 0).buffer(outer / 2, quad_segs=500)
    assert disc_mm2(outer) == pytest.approx(disc.area, rel=1e-5)
    inner = Point(0, 0).buffer(outer / 5, quad_segs=500)
    assert ring_mm2(outer, outer / 2.5) == pytest.approx(disc.difference(inner).area, rel=1e-5)


@given(CORNERS)
def test_a_polygon_is_measured_or_refused_as_shapely_does(corners: list[tuple[int, int]]) -> None:
    theirs = Polygon(corners)
    repeated = any(a == b for a, b in zip(corners, corners[1:] + corners[:1], strict=True))
    try:
        ours = polygon_mm2(corners)
    except NoOutline:
        assert repeated or not theirs.is_valid or theirs.area == 0
    else:
        assert theirs.is_valid
        assert ours == pytest.approx(theirs.area)


@settings(max_examples=40)
@given(st.lists(st.floats(0.2, 1), min_size=3, max_size=40), MM)
def test_a_star_round_its_middle_is_an_outline(radii: list[float], size: float) -> None:
    turn = 2 * math.pi / len(radii)
    corners = [
        (size * r * math.cos(i * turn), size * r * math.sin(i * turn)) for i, r in enumerate(radii)
    ]
    assert polygon_mm2(corners) == pytest.approx(Polygon(corners).area)
    assert polygon_mm2(corners[::-1]) == pytest.approx(polygon_mm2(corners))


def _round(count: int) -> list[tuple[float, float]]:
    turn = 2 * math.pi / count
    return [(100 * math.cos(i * turn), 60 * math.sin(i * turn)) for i in range(count)]


def _comb(count: int, *, lying: bool) -> list[tuple[float, float]]:
    """Of so many corners, its long sides one beside another."""
    corners = [(float(10 * (i // 2)), 100.0 * ((i + 1) // 2 % 2)) for i in range(count - 2)]
    corners += [(corners[-1][0], -10.0), (-5.0, -10.0)]
    return [(y, x) for x, y in corners] if lying else corners


@pytest.mark.parametrize("lying", [True, False])
@pytest.mark.parametrize("shape", ["round", "comb"])
def test_of_more_corners_few_more_sides_are_held_against_each_other(
    monkeypatch: pytest.MonkeyPatch, shape: str, lying: bool
) -> None:
    held: list[int] = []
    meet = outlines._meet
    monkeypatch.setattr(outlines, "_meet", lambda *both: held.append(1) or meet(*both))
    counts = []
    for count in (102, 402):
        corners = _round(count) if shape == "round" else _comb(count, lying=lying)
        assert Polygon(corners).is_valid
        held.clear()
        polygon_mm2(corners)
        counts.append(len(held) / count)
    assert counts[1] < 1.2 * counts[0] < 6


@settings(max_examples=50)
@given(st.integers(0, 401), st.integers(0, 401), st.booleans(), st.booleans())
def test_one_corner_that_is_moved_in_a_large_outline_is_seen(
    at: int, to: int, comb: bool, lying: bool
) -> None:
    corners = _comb(402, lying=lying) if comb else _round(402)
    corners[at] = tuple(x + 0.1 for x in corners[to])
    theirs = Polygon(corners)
    try:
        assert polygon_mm2(corners) == pytest.approx(theirs.area)
        assert theirs.is_valid
    except NoOutline:
        assert not theirs.is_valid


def test_a_stack_that_steps_down() -> None:
    assert taper_mm(1000, 50, 20) == tuple(range(1000, 0, -50))
    with pytest.raises(NoOutline, match="less than 50 mm for 21"):
        taper_mm(1000, 50, 21)


@pytest.mark.parametrize(
    ("call", "key", "said"),
    [
        (lambda: rectangle_mm2(0, 10), "length", "above zero"),
        (lambda: rectangle_mm2(10, math.nan), "width", "above zero"),
        (lambda: trapezoid_mm2(10, 10, -1), "tip", "above zero"),
        (lambda: triangle_mm2(10, 0), "height", "above zero"),
        (lambda: disc_mm2(math.inf), "diameter", "above zero"),
        (lambda: ring_mm2(10, 10), "inner", "below the outer"),
        (lambda: ring_mm2(10, 0), "inner", "above zero"),
        (lambda: taper_mm(100, 0, 2), "shorter", "above zero"),
        (lambda: polygon_mm2([(0, 0), (1, 1)]), "points", "three corners"),
        (lambda: polygon_mm2([(0, 0), (9, 9), (9, 0), (0, 9)]), "points", "do not cross"),
        (lambda: polygon_mm2([(0, 0), (9, 0), (9, 0), (0, 9)]), "points", "twice in a row"),
        (lambda: polygon_mm2([(0, 0), (9, 0), (4, 0)]), "points", "fold back"),
        (lambda: polygon_mm2([(0, 0), (9, 0), (9, 9), (4, 0), (0, 9)]), "points", "or touch"),
    ],
)
def test_what_is_no_outline_is_refused_by_its_dimension(call, key: str, said: str) -> None:
    with pytest.raises(NoOutline, match=said) as caught:
        call()
    assert caught.value.key == key
