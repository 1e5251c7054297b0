"""How near damp air is to wetting what is worked on, from what was said of the room. Pure.

One sentence as a batch begins, and two figures in the record. It must never keep a batch from
being poured, nor call a surface dry of which nothing was said.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from mixer.science.humidity import dew_margin_c, dew_point_c

#: So much warmer than the dew point a surface is to be: ISO 8502-4 for paint, taken over by the
#: trade.
LEAST_C = 3.0

#: What may be the coldest, by its name in the record; the air itself where nothing else is known.
_NAMES = {"surface_c": "The coldest surface", "resin_c": "The resin", "air_c": "The air itself"}


def follows(about: Mapping[str, Any]) -> dict[str, float | None]:
    """What follows from the room that was said: dew point and margin to the coldest, to a tenth.

    >>> follows({"air_c": 25, "rh_pct": 50, "resin_c": 21, "surface_c": 15})
    {'dew_point_c': 13.9, 'dew_margin_c': 1.1}
    >>> follows({"air_c": 25})
    {'dew_point_c': None, 'dew_margin_c': None}
    """
    air_c, rh_pct = _figure(about, "air_c"), _figure(about, "rh_pct")
    nothing = {"dew_point_c": None, "dew_margin_c": None}
    if air_c is None or rh_pct is None:
        return dict(nothing)
    try:
        _, coldest_c = _coldest(about)
        return {
            "dew_point_c": round(dew_point_c(air_c, rh_pct), 1),
            "dew_margin_c": round(dew_margin_c(coldest_c, air_c, rh_pct), 1),
        }
    except ValueError:  # outside the formula's range: nothing, rather than a made-up number
        return dict(nothing)


def said(about: Mapping[str, Any]) -> str:
    """What is said of it as a batch begins; empty where it cannot be known.

    >>> said({"air_c": 25, "rh_pct": 50, "surface_c": 15})
    'The coldest surface, 15 degC, is 1.1 degC above the dew point: warm it or dry the air, to 3.'
    >>> said({"air_c": 25, "rh_pct": 50})
    'The air itself, 25 degC, is 11.1 degC above the dew point; of surfaces nothing was said.'
    """
    margin_c = follows(about)["dew_margin_c"]
    if margin_c is None:
        return ""
    name, coldest_c = _coldest(about)
    told = f"{_NAMES[name]}, {coldest_c:g} degC, is"
    if margin_c <= 0:
        return f"{told} at the dew point or below it: it is wet, warm it and dry it first."
    told += f" {margin_c:g} degC above the dew point"
    if margin_c < LEAST_C:
        return f"{told}: warm it or dry the air, to {LEAST_C:g}."
    return f"{told}{'; of surfaces nothing was said' if name == 'air_c' else ''}."


def _coldest(about: Mapping[str, Any]) -> tuple[str, float]:
    known = [(c, name) for name in _NAMES if (c := _figure(about, name)) is not None]
    coldest_c, name = min(known, key=lambda one: one[0])
    return name, coldest_c


def _figure(about: Mapping[str, Any], name: str) -> float | None:
    """Of another program's, anything may stand there."""
    value = about.get(name)
    return value if isinstance(value, int | float) and not isinstance(value, bool) else None
