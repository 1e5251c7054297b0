"""Where no figure may be given a cup is warned of: from the nearest that was checked on."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mixer.science.plain_rule import caution
from mixer.science.pot_life import Label, Point, estimate, unchecked

LABEL = Label((Point(100, 25, 25),), "usable", 1.1)
SLOW = Label((Point(100, 25, 120),), "gel", 1.1)


@pytest.mark.parametrize("label", [LABEL, SLOW])
@pytest.mark.parametrize(
    ("edge", "beyond"),
    [
        ((500, 25, 25), (502, 25, 25)),
        ((5, 25, 25), (4.98, 25, 25)),
        ((100, 40, 40), (100, 40.05, 40.05)),
        ((100, 10, 10), (100, 9.95, 9.95)),
        ((100, 20, 30), (100, 19.95, 30)),
        ((100, 30, 20), (100, 30.05, 20)),
        ((500, 40, 40), (501, 40.05, 40.05)),
    ],
)
def test_just_beyond_what_was_checked_the_warning_does_not_leap(
    label: Label, edge: tuple[float, ...], beyond: tuple[float, ...]
) -> None:
    assert unchecked(label, *edge) is None
    assert unchecked(label, *beyond) is not None
    figure, warned = estimate(label, *edge), caution(label, *beyond)
    assert figure.range_s is not None
    assert warned.low_s == pytest.approx(figure.range_s[0], rel=0.02)
    for at_s, told_s in ((warned.warm_s, figure.warm_s), (warned.hot_s, figure.hot_s)):
        assert at_s == (None if told_s is None else pytest.approx(told_s, rel=0.03))


@pytest.mark.parametrize("label", [LABEL, SLOW])
def test_farther_off_it_halves_as_the_rule_has_it(label: Label) -> None:
    at_500, at_40 = (
        estimate(label, *cup).range_s or (0, 0) for cup in ((500, 25, 25), (100, 40, 40))
    )
    assert caution(label, 1000, 25, 25).low_s <= at_500[0] / 2 * 1.001
    assert caution(label, 100, 50, 50).low_s <= at_40[0] / 2 * 1.001
    assert caution(label, 1000, 50, 50).low_s <= at_40[0] / 4


@settings(max_examples=7, deadline=None)
@given(
    st.sampled_from([LABEL, SLOW]),
    st.floats(1, 3000),
    st.floats(-5, 55),
    st.floats(-10, 15),
    st.floats(1.0, 2.0),
    st.floats(0, 8),
)
def test_more_and_warmer_is_never_warned_of_later(
    label: Label, mass_g: float, air_c: float, apart_c: float, larger: float, warmer_c: float
) -> None:
    less = caution(label, mass_g, air_c, air_c + apart_c)
    air_c += warmer_c
    more = caution(label, mass_g * larger, air_c, air_c + apart_c)
    assert 0 < more.low_s <= less.low_s * 1.03
    for early, late in ((more.warm_s, less.warm_s), (more.hot_s, less.hot_s)):
        assert late is None or (early is not None and early <= late * 1.03)
