"""The stream against the closed-form answers of a linear system of first order."""

import itertools
import math
import statistics

import pytest
from hypothesis import given
from hypothesis import strategies as st

from devices.sim.plant import TICK_S
from devices.sim.stream import Jug, Stream, drips

CALM = Jug("resin", flutter=0.0, drip_g=0.0)


def pour(stream: Stream, ticks: int, start: int = 0) -> float:
    return sum(stream.tick((start + n) * TICK_S) for n in range(ticks))


@given(
    rate=st.floats(0.1, 12),
    ticks=st.integers(1, 800),
    lag_s=st.floats(0.01, 1.0),
)
def test_opening_pours_the_integral_of_a_first_order_step(rate, ticks, lag_s):
    # Source: first-order linear system; the integral of r (1 - exp(-t/T)) from 0 to t.
    stream = Stream(Jug("resin", opening_s=lag_s, flutter=0.0), 1, TICK_S)
    stream.hold_at(rate, 0.0)
    t = ticks * TICK_S
    expected = rate * (t - lag_s * (1 - math.exp(-t / lag_s)))
    assert pour(stream, ticks) == pytest.approx(expected, rel=1e-9, abs=1e-9)
    assert stream.flow_g_s == pytest.approx(rate * (1 - math.exp(-t / lag_s)))


@given(rate=st.floats(0.1, 12), lag_s=st.floats(0.01, 0.5))
def test_closing_lets_out_flow_times_the_time_constant(rate, lag_s):
    # Source: first-order linear system; the integral of q exp(-t/T) over all time is q T.
    stream = Stream(Jug("resin", closing_s=lag_s, flutter=0.0, drip_g=0.0), 1, TICK_S)
    stream.hold_at(rate, 0.0)
    pour(stream, 2000)
    flow = stream.flow_g_s
    stream.hold_at(0.0, 2000 * TICK_S)
    assert pour(stream, 4000, start=2000) == pytest.approx(flow * lag_s, rel=1e-3, abs=1e-5)
    assert stream.idle


def test_a_gentler_stream_is_reached_at_the_closing_speed():
    stream = Stream(CALM, 1, TICK_S)
    stream.hold_at(8.0, 0.0)
    pour(stream, 2000)
    stream.hold_at(2.0, 2000 * TICK_S)
    pour(stream, 24, start=2000)  # one closing time constant, 0.12 s
    assert stream.flow_g_s == pytest.approx(2 + 6 / math.e, rel=1e-3)


def test_the_tick_is_fine_enough_to_be_left_out_of_the_answer():
    poured = []
    for tick_s in (0.0025, 0.005, 0.01):
        stream = Stream(CALM, 1, tick_s)
        stream.hold_at(5.0, 0.0)
        poured.append(sum(stream.tick(n * tick_s) for n in range(round(3 / tick_s))))
    assert max(poured) - min(poured) < 1e-9


@given(
    drip_g=st.floats(0.01, 2.0),
    drip_s=st.floats(0.1, 20),
    closed_s=st.floats(0, 100),
)
def test_drips_add_up_within_their_time_and_thin_out(drip_g, drip_s, closed_s):
    drops = drips(drip_g, drip_s, closed_s)
    assert sum(g for _, g in drops) == pytest.approx(drip_g)
    times = [at - closed_s for at, _ in drops]
    assert times[0] > 0
    assert times[-1] == pytest.approx(drip_s, abs=1e-6)
    gaps = [b - a for a, b in zip([0.0, *times], times, strict=False)]
    assert all(a < b + 1e-9 for a, b in itertools.pairwise(gaps))


@pytest.mark.parametrize(("drip_g", "drip_s"), [(0.1, 1.0), (0.6, 8.0), (1.2, 8.0)])
def test_after_closing_a_stream_drips_its_whole_drip(drip_g, drip_s):
    # The figures are those fixed for the bench on which pours are judged.
    stream = Stream(Jug("resin", flutter=0.0, drip_g=drip_g, drip_s=drip_s), 1, TICK_S)
    stream.hold_at(3.0, 0.0)
    pour(stream, 1000)
    tail_g = stream.flow_g_s * 0.12
    stream.hold_at(0.0, 5.0)
    early_g = pour(stream, round(drip_s / 2 / TICK_S), start=1000)
    assert not stream.idle
    late_g = pour(stream, round((drip_s + 1) / TICK_S), start=1000 + round(drip_s / 2 / TICK_S))
    assert early_g + late_g == pytest.approx(tail_g + drip_g, abs=1e-4)
    # The tail of the stream itself is all but out after half the drip time.
    assert early_g - tail_g >= late_g - 0.04 * tail_g
    assert stream.idle


def test_opening_again_takes_the_drips_along_and_shutting_a_shut_jug_adds_none():
    stream = Stream(Jug("resin", flutter=0.0, drip_g=0.6, drip_s=8.0, closing_s=0.0), 1, TICK_S)
    stream.hold_at(0.0, 0.0)
    assert stream.idle
    stream.hold_at(3.0, 0.0)
    pour(stream, 400)
    stream.hold_at(0.0, 2.0)
    stream.hold_at(3.0, 2.0)
    pour(stream, 400, start=400)
    stream.hold_at(0.0, 4.0)
    assert pour(stream, 2000, start=800) == pytest.approx(0.6)


def test_a_stream_flutters_by_five_percent_about_its_speed():
    stream = Stream(Jug("resin"), 3, TICK_S)
    stream.hold_at(4.0, 0.0)
    pour(stream, 1000)
    speeds = [stream.tick(n * TICK_S) / TICK_S / 4.0 for n in range(1000, 81_000)]
    # 400 s hold some 1000 independent values (0.2 s of memory each way): the standard
    # error of the mean is 0.05 / sqrt(1000) = 0.0016, that of the deviation 0.0011.
    assert statistics.mean(speeds) == pytest.approx(1.0, abs=4 * 0.0016)
    assert statistics.stdev(speeds) == pytest.approx(0.05, abs=4 * 0.0011)


@pytest.mark.parametrize(
    ("data", "says"),
    [
        ({"name": ""}, "needs a name"),
        ({}, "needs a name"),
        ({"name": "a", "drip_g": -1}, "below zero"),
        ({"name": "a", "fall_s": "x"}, "must be a number"),
        ({"name": "a", "fall_s": float("nan")}, "must be a number"),
        ({"name": "a", "speed": 1}, "it may have name"),
        ("resin", "an object with a name"),
    ],
)
def test_a_wrong_jug_is_refused_with_a_sentence(data, says):
    with pytest.raises(ValueError, match=says):
        Jug.read(data)
