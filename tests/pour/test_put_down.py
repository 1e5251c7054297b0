"""How late a scale is, by the way a cup's weight came."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.virtual import VirtualBench

from devices.readings import Reading
from devices.sim.indicator import ScaleSettings
from mixer.pour.inputs import Weighed
from mixer.pour.observe import observe
from mixer.pour.put_down import DELAY_RANGE_S, MOST, Rise, delay_s, risen
from mixer.pour.sight import Sight

G = 1_000_000


def then(rise: Rise, at_s: float, mass_g: float) -> Rise:
    return risen(rise, at_s, round(mass_g * G), G)


@pytest.mark.parametrize("filter_s", [0.15, 0.3, 0.6])
@pytest.mark.parametrize("readings_per_s", [4, 10, 20])
@pytest.mark.parametrize("division_g", [0.01, 0.1])
def test_the_delay_of_two_filters_is_found(
    filter_s: float, readings_per_s: float, division_g: float
) -> None:
    """A steady stream is shown twice their time constant late: theory of linear filters."""
    scale = ScaleSettings(
        division_g, readings_per_s=readings_per_s, repeatability_g=division_g / 2, filter_s=filter_s
    )
    bench, sight = VirtualBench(scale=scale, cup_mass_g=12.0), Sight()
    for said in bench.readings(12):
        assert isinstance(said, Reading)
        sight = observe(sight, Weighed(said), following=False)
        bench.show("place" if bench.t_s > 2 else "wait")
    found = delay_s(sight.rise, 12 * G)
    assert found == pytest.approx(2 * filter_s, abs=0.12)


@given(st.floats(0.06, 0.7), st.floats(0.02, 0.25), st.floats(0, 1), st.floats(6, 200))
def test_it_is_found_whatever_the_cup_and_whenever_it_was_looked_at(
    filter_s: float, every_s: float, first: float, cup_g: float
) -> None:
    rise: Rise = ()
    for n in range(-4, round(8 / every_s)):
        x = max(0.0, (n + first) * every_s) / filter_s
        shown_g = cup_g * (1 - (1 + x) * math.exp(-x))
        rise = then(rise, n * every_s, shown_g)
    found = delay_s(rise, round(cup_g * G))
    assert found is not None
    assert found == pytest.approx(2 * filter_s, abs=0.3 * filter_s + 0.6 * every_s)
    assert len(rise) <= MOST


def test_a_hand_that_dwells_is_not_taken_for_a_scale() -> None:
    rise: Rise = ()
    for n in range(100):
        rise = then(rise, n / 10, min(12.0, 0.9 + n / 8))
    assert delay_s(rise, 12 * G) == DELAY_RANGE_S[1]
    at_once = then(then((), 0, 0), 0.05, 12.0)
    assert delay_s(at_once, 12 * G) == DELAY_RANGE_S[0]


def test_a_cup_that_was_not_seen_to_come_tells_nothing() -> None:
    assert delay_s((), 12 * G) is None
    assert delay_s(then((), 0, 12.0), 12 * G) is None


def test_after_the_cup_was_taken_away_it_begins_anew() -> None:
    rise: Rise = ()
    for n, mass_g in enumerate((0.0, 6.0, 12.0, 0.2, 0.1, 20.0)):
        rise = then(rise, float(n), mass_g)
    assert rise == ((4.0, 100_000), (5.0, 20 * G))


def test_a_hand_that_dwells_tells_no_more_than_the_slowest_scale() -> None:
    slow = ((0.0, 0), (5.0, 6_000_000), (10.0, 12_000_000))
    assert delay_s(slow, 12_000_000) == DELAY_RANGE_S[1] == 1.5
    fast = ((0.0, 0), (0.01, 12_000_000))
    assert delay_s(fast, 12_000_000) == DELAY_RANGE_S[0] == 0.1


def test_a_cup_that_was_not_seen_to_come_or_not_to_its_end_tells_nothing() -> None:
    assert delay_s(((0.0, 6_000_000), (0.5, 12_000_000)), 12_000_000) is None
    assert delay_s(((0.0, 0), (0.5, 6_000_000)), 12_000_000) is None
