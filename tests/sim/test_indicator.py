"""The way from load to figure, against closed forms and the law of its noise."""

import math
import random
import statistics

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from devices.sim.indicator import Display, Indicator, ScaleSettings
from devices.sim.plant import TICK_S

QUIET = ScaleSettings(repeatability_g=0.0)


def indicator(**given) -> Indicator:
    return Indicator(ScaleSettings(**{"repeatability_g": 0.0, **given}), 1, TICK_S)


@given(
    load_g=st.floats(0.1, 500),
    ticks=st.integers(0, 2000),
    filter_s=st.sampled_from([0.15, 0.3, 0.6]),
)
def test_a_load_shows_as_the_step_answer_of_two_equal_first_order_filters(load_g, ticks, filter_s):
    # Source: linear systems; 1 - (1 + t/T) exp(-t/T) for two equal lags in a row.
    one_by_one, at_once = indicator(filter_s=filter_s), indicator(filter_s=filter_s)
    for _ in range(ticks):
        one_by_one.feed(load_g)
    at_once.feed(load_g, ticks)
    t = ticks * TICK_S / filter_s
    expected = load_g * (1 - (1 + t) * math.exp(-t))
    assert one_by_one.gross_g == pytest.approx(expected, abs=1e-7)
    assert at_once.gross_g == pytest.approx(expected, abs=1e-7)


@pytest.mark.parametrize("filter_s", [0.15, 0.3, 0.6])
def test_a_growing_load_is_shown_late_by_both_time_constants(filter_s):
    # Source: linear systems; a ramp through two lags comes out later by their sum.
    scale = indicator(filter_s=filter_s)
    for tick in range(4000):
        scale.feed(3.0 * (tick + 0.5) * TICK_S)
    assert scale.gross_g == pytest.approx(3.0 * (4000 * TICK_S - 2 * filter_s), abs=1e-3)


def test_without_a_filter_the_load_shows_at_once():
    scale = indicator(filter_s=0.0)
    scale.feed(12.0)
    assert scale.gross_g == 12.0


@pytest.mark.parametrize("filter_s", [0.0, 0.15, 0.6])
def test_the_noise_has_the_repeatability_and_the_memory_of_the_filters(filter_s):
    scale = Indicator(ScaleSettings(filter_s=filter_s, repeatability_g=0.05), 5, TICK_S)
    noise = []
    for n in range(40_000):
        scale.read(n / 10)
        noise.append(scale.gross_g)
    # Memory of some 2.5 T each way leaves this many independent values.
    independent = 40_000 / max(1.0, 5 * filter_s * 10)
    assert statistics.mean(noise) == pytest.approx(0, abs=5 * 0.05 / math.sqrt(independent))
    assert statistics.stdev(noise) == pytest.approx(0.05, rel=5 / math.sqrt(2 * independent))
    # Source: white noise through two equal lags has the autocorrelation
    # (1 + t/T) exp(-t/T).
    t = 0.1 / filter_s if filter_s else math.inf
    expected = (1 + t) * math.exp(-t) if filter_s else 0.0
    assert statistics.correlation(noise, noise[1:] + noise[:1]) == pytest.approx(expected, abs=0.03)


def test_rounding_to_the_division_errs_by_the_rectangular_law():
    # Source: GUM (JCGM 100:2008) F.2.2.1: u = d / sqrt(12) = 0.29 d.
    rng = random.Random(2)
    errors = []
    for _ in range(4000):
        scale, load_g = indicator(filter_s=0.0, division_g=0.1), rng.uniform(0, 100)
        scale.feed(load_g)
        errors.append(scale.read(0.1).value - load_g)
    assert max(map(abs, errors)) <= 0.05 + 1e-9
    assert statistics.pstdev(errors) == pytest.approx(0.1 / math.sqrt(12), rel=0.03)


@given(st.lists(st.floats(0, 0.4), min_size=8, max_size=60))
def test_still_means_eight_readings_within_one_division(loads):
    scale = indicator(filter_s=0.0, division_g=0.1)
    shown = []
    for load_g in loads:
        scale.feed(load_g)
        shown.append(scale.read(0.0))
    for n, display in enumerate(shown):
        last = [d.value for d in shown[max(0, n - 7) : n + 1]]
        assert display.still == (n >= 7 and max(last) - min(last) < 0.15)


def test_still_takes_eight_readings_from_switching_on():
    scale = indicator()
    assert [scale.read(n / 10).still for n in range(9)] == [False] * 7 + [True] * 2


@pytest.mark.parametrize(
    ("division", "figure"),
    [(0.1, "12.3"), (0.01, "12.30"), (1.0, "12"), (0.05, "12.30"), (0.2, "12.4"), (0.25, "12.25")],
)
def test_the_figure_is_written_to_the_division(division, figure):
    scale = indicator(filter_s=0.0, division_g=division)
    scale.feed(12.3)
    assert scale.read(0.1).figure == figure


@given(count=st.integers(-5000, 5000), division=st.sampled_from([0.01, 0.1, 1.0, 0.005]))
def test_a_figure_reads_back_as_its_value(count, division):
    display = Display(0.0, count, division, "g", True)
    assert float(display.figure) == display.value == pytest.approx(count * division)


def test_zero_tare_clear_and_unit_keys():
    scale = indicator(filter_s=0.0)
    scale.feed(12.0)
    assert scale.tare()
    assert (scale.read(0.1).figure, scale.read(0.2).tared) == ("0.0", True)
    scale.feed(40.0)
    assert scale.read(0.3).figure == "28.0"
    scale.clear_tare()
    assert (scale.read(0.4).figure, scale.read(0.5).tared) == ("40.0", False)
    assert scale.zero()  # 2 % of 2000 g
    assert scale.read(0.6).figure == "0.0"
    scale.feed(40.0 + 28.349523125)
    scale.next_unit()
    display = scale.read(0.7)  # Source: the avoirdupois ounce, 28.349523125 g.
    assert (display.figure, display.unit) == ("1.000", "oz")
    scale.next_unit()
    assert scale.unit == "g"


def test_keys_that_a_scale_refuses_change_nothing():
    # Source: OIML R 76-1, 4.5.1: zero-setting reaches at most 4 % of capacity in all.
    scale = indicator(filter_s=0.0)
    scale.feed(40.1)
    assert not scale.zero()
    assert not scale.tare(2001.0)
    scale.feed(0.0)
    scale.feed(-1.0)
    assert not scale.tare()
    assert scale.read(0.1).figure == "-1.0"


@pytest.mark.parametrize(
    ("load_g", "over", "under"),
    # Source: OIML R 76-1, 4.2.3: no indication above Max + 9 e.
    [(2000, False, False), (2000.9, False, False), (2001, True, False), (-201, False, True)],
)
def test_over_and_under_capacity(load_g, over, under):
    scale = indicator(filter_s=0.0)
    scale.feed(load_g)
    display = scale.read(0.1)
    assert (display.over, display.under) == (over, under)


def test_zero_tracking_is_off_unless_the_scale_has_it():
    def after_creeping(**given) -> float:
        scale = indicator(filter_s=0.0, **given)
        for n in range(400):  # 0.4 d/s, slower than the half division that is allowed
            scale.feed(0.004 * n)
            scale.read(n / 10)
        return scale.gross_g

    assert after_creeping() == pytest.approx(1.596)
    assert after_creeping(zero_tracking=True) < 0.06


@settings(max_examples=20)
@given(st.floats(0.6, 5))
def test_zero_tracking_never_swallows_what_comes_faster_than_half_a_division_a_second(speed):
    # Source: OIML R 76-1, 4.5.7: tracking corrects at most 0.5 d a second.
    scale = indicator(filter_s=0.0, zero_tracking=True)
    for n in range(300):
        scale.feed(0.1 * speed * n / 10)
        scale.read(n / 10)
    came_g = 0.1 * speed * 29.9
    assert scale.gross_g >= came_g - 0.05 * 30 - 1e-6


@given(st.floats(0.0, 100.0), st.sampled_from([0.2, 0.5, 1.0, 2.0]))
def test_above_its_fine_range_it_counts_by_more_and_shows_as_many_decimals(load_g, coarse_g):
    # Source: OIML R 76-1, T.3.2.6 (two weighing ranges, each with a scale interval of its own;
    # from memory). That the decimals stay is common practice, no source.
    scale = indicator(filter_s=0.0, fine_to_g=50.0, coarse_g=coarse_g)
    scale.feed(load_g)
    shown = scale.read(0.1)
    step_g = coarse_g if load_g > 50 else 0.1
    assert len(shown.figure.partition(".")[2]) == 1
    assert float(shown.figure) == pytest.approx(load_g, abs=step_g / 2 + 1e-9)
    assert float(shown.figure) / step_g == pytest.approx(round(float(shown.figure) / step_g))
    assert shown.weighing_range == (2 if load_g > 50 else 1)


def test_a_coarse_step_that_flickers_is_still():
    scale = indicator(filter_s=0.0, fine_to_g=50.0, coarse_g=0.5)
    for n in range(8):
        scale.feed(60.0 if n % 2 else 60.4)
        shown = scale.read(n / 10)
    assert shown.still


@pytest.mark.parametrize(
    "wrong",
    [
        {"division_g": 0},
        {"readings_per_s": -1},
        {"capacity_g": float("inf")},
        {"filter_s": -0.1},
        {"repeatability_g": -1},
        {"division_g": "a"},
        {"fine_to_g": 0},
        {"coarse_g": 0.25, "fine_to_g": 50},
        {"coarse_g": 0.1, "fine_to_g": 50},
    ],
)
def test_settings_that_no_scale_has_are_refused(wrong):
    with pytest.raises(ValueError, match=next(iter(wrong))):
        ScaleSettings(**wrong)


def test_the_noise_is_half_a_division_unless_given():
    assert ScaleSettings(division_g=0.2).noise_g == 0.1
    assert QUIET.noise_g == 0.0
