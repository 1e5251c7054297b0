"""The margin to the dew point: what is told of it, and what is not."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.command import one_sentence

from mixer.app.bench.damp import LEAST_C, follows, said


def room(air_c: float, rh_pct: float, **more: Any) -> dict[str, Any]:
    return {"air_c": air_c, "rh_pct": rh_pct, **more}


@pytest.mark.parametrize(
    ("about", "begins", "ends"),
    [
        # Dew points of psychrolib: 13.86 at 25 degC 50 %, 26.17 at 30 degC 80 %.
        (room(25, 50, surface_c=12), "The coldest surface, 12 degC, is at the dew point", "first."),
        (room(25, 50, surface_c=22, resin_c=15.5), "The resin, 15.5 degC, is 1.6", "to 3."),
        (room(25, 50, surface_c=20), "The coldest surface, 20 degC, is 6.1", "dew point."),
        (room(30, 80), "The air itself, 30 degC, is 3.8", "of surfaces nothing was said."),
    ],
)
def test_the_coldest_is_told_of(about: dict[str, Any], begins: str, ends: str) -> None:
    told = said(about)
    assert told.startswith(begins)
    assert told.endswith(ends)
    assert one_sentence(f"{told}\n")


figures = st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=2)
NAMES = ("air_c", "rh_pct", "resin_c", "surface_c")


@given(st.fixed_dictionaries({}, optional=dict.fromkeys(NAMES, figures)))
def test_whatever_stands_there_it_says_a_sentence_or_nothing(about: dict[str, Any]) -> None:
    margin_c, told = follows(about)["dew_margin_c"], said(about)
    assert bool(told) == (margin_c is not None)
    assert not told or one_sentence(f"{told}\n")


temps = st.floats(-40, 60)


@given(temps, st.floats(1, 100), temps, temps)
def test_one_more_surface_never_makes_the_margin_larger(
    air_c: float, rh_pct: float, surface_c: float, resin_c: float
) -> None:
    margins = [
        follows(about)["dew_margin_c"]
        for about in (
            room(air_c, rh_pct),
            room(air_c, rh_pct, resin_c=resin_c),
            room(air_c, rh_pct, resin_c=resin_c, surface_c=surface_c),
        )
    ]
    assert margins == sorted(margins, reverse=True)
    assert ("warm it" in said(room(air_c, rh_pct))) == (margins[0] < LEAST_C)
