"""Outlines as they are written in a layup: a shape and its dimensions, to areas.

This file must never take a dimension for granted, but for the width of a tape, which its
roll has.
"""

from __future__ import annotations

import re

from mixer import units
from mixer.app.files.toml_table import Table
from mixer.plan import outlines
from mixer.plan.outlines import NoOutline, Point

SHAPES = ("rectangle", "tape", "taper", "trapezoid", "triangle", "disc", "ring", "polygon")
#: Every key that an outline may have, for the columns of a table.
DIMENSIONS = (
    *("length", "width", "root", "tip", "base", "height"),
    *("diameter", "outer", "inner", "shorter", "points"),
)
#: So much of its roll's width a tape may have: 3 in are written of one of 76 mm (our choice).
ROLL_OFF = 1.02
#: A bond line has no less; a millionth of a metre is a slip of the unit (our choice).
LEAST_MM = 0.01
SPAN = f"{LEAST_MM} mm to 100 m"
LEAST_MM2 = 1.0  # nobody cuts or fills less (our choice)
POINTS = "three corners or more in order, such as '0 0, 400 0, 400 300 mm'"
LONGEST_POINTS = 10_000
_POINT = re.compile(r"\s*(-?[0-9.]{1,40})\s+(-?[0-9.]{1,40})\s*")
_LAST = re.compile(r"(.*[0-9.])\s*([A-Za-z]{1,20})\s*")


def areas_m2(
    table: Table, count: int, roll_mm: float | None = None, *, is_tape: bool = False
) -> tuple[float, ...]:
    """The area of each of ``count`` plies of this outline; of a taper each is smaller than
    the one before. Only ``is_tape`` has the width of its roll where none is written. Raises
    :class:`ProfileError`."""
    shape = table.choice("shape", SHAPES)
    try:
        each_mm2 = _mm2(table, shape, count, roll_mm, is_tape)
    except NoOutline as error:
        raise table.wrong(error.key, table.resolved.get(error.key, ""), str(error)) from None
    if min(each_mm2) < LEAST_MM2:
        key, what = ("points", "corners round") if shape == "polygon" else ("shape", "one of")
        accepted = f"{what} {LEAST_MM2:g} mm2 or more, here {min(each_mm2):.2g} mm2"
        raise table.wrong(key, table.resolved[key], accepted)
    return tuple(mm2 / 1e6 for mm2 in each_mm2)


def dimension_mm(table: Table, key: str) -> float:
    """A length that somebody can cut or fill. Raises :class:`ProfileError`."""
    value = table.quantity(key, units.length_mm, 0, 1e5, SPAN)
    if value < LEAST_MM * (1 - 1e-6):
        raise table.wrong(key, table.resolved[key], SPAN)
    return value


def _mm2(table: Table, shape: str, count: int, roll_mm: float | None, is_tape: bool) -> list[float]:
    if shape == "taper":
        lengths = outlines.taper_mm(
            dimension_mm(table, "length"), dimension_mm(table, "shorter"), count
        )
        width_mm = _width_mm(table, roll_mm, is_tape)
        return [outlines.rectangle_mm2(length, width_mm) for length in lengths]
    return [_one_mm2(table, shape, roll_mm, is_tape)] * count


def _one_mm2(table: Table, shape: str, roll_mm: float | None, is_tape: bool) -> float:
    def said(key: str) -> float:
        return dimension_mm(table, key)

    if shape == "rectangle":
        return outlines.rectangle_mm2(said("length"), said("width"))
    if shape == "tape":
        return outlines.rectangle_mm2(said("length"), _width_mm(table, roll_mm, is_tape))
    if shape == "trapezoid":
        return outlines.trapezoid_mm2(said("length"), said("root"), said("tip"))
    if shape == "triangle":
        return outlines.triangle_mm2(said("base"), said("height"))
    if shape == "disc":
        return outlines.disc_mm2(said("diameter"))
    if shape == "ring":
        return outlines.ring_mm2(said("outer"), said("inner"))
    return outlines.polygon_mm2(_points_mm(table))


def _width_mm(table: Table, roll_mm: float | None, is_tape: bool) -> float:
    """Of a tape, or of tapers that are cut from one: no more than its roll."""
    if is_tape and roll_mm and not table.has("width"):
        return roll_mm
    width_mm = dimension_mm(table, "width")
    if roll_mm and width_mm > roll_mm * ROLL_OFF:
        accepted = (
            f"up to {roll_mm:g} mm, which is its roll; what is laid side by side is a rectangle"
        )
        raise table.wrong("width", table.resolved["width"], accepted)
    return width_mm


def _points_mm(table: Table) -> list[Point]:
    text = table.text("points", longest=LONGEST_POINTS)
    last = _LAST.fullmatch(text)
    if last is None:
        raise table.wrong("points", text, f"{POINTS}, with their unit at the end")
    try:
        unit_mm = units.length_mm(f"1 {last[2]}", "points")
        pairs = [_POINT.fullmatch(pair) for pair in last[1].split(",")]
        points = [(float(p[1]) * unit_mm, float(p[2]) * unit_mm) for p in pairs if p]
    except (units.UnitsError, ValueError):
        raise table.wrong("points", text, POINTS) from None
    if len(points) < len(pairs) or len(points) > 500:
        raise table.wrong("points", text, f"up to 500, {POINTS}")
    if any(abs(x) > 1e5 for point in points for x in point):
        raise table.wrong("points", text, f"corners within 100 m, {POINTS}")
    return points
