"""A label's one number: met at its own conditions, and believable beside them."""

from __future__ import annotations

import contextlib
import math
import subprocess
import sys
from dataclasses import replace

import pytest

from mixer.science import pot_life
from mixer.science.pot_life import (
    LABEL_OFF,
    Contradiction,
    Guess,
    Label,
    Point,
    estimate,
    fit,
    follow,
    unchecked,
)
from mixer.science.shapes import Shape


def steep(cold_min: float) -> Label:
    """30 min at 25 degC, and so many at 15: with 130 of 81 kJ/mol, the most that was checked."""
    return Label((Point(100, 25, 30), Point(100, 15, cold_min)), "usable", 1.1)


FAST = Label((Point(100, 25, 25),), "gel", 1.1)
SLOW = Label((Point(100, 25, 180),), "gel", 1.1)
UNLIKE = Label((Point(5, 23, 232), Point(500, 13, 240)), "usable", 1.1)  # the larger heats itself


def minutes(label: Label, mass_g: float, temp_c: float) -> tuple[float, float]:
    """Working and gel time, minutes."""
    working, gel = follow(fit(label), label, mass_g, temp_c, temp_c).reached_s
    assert working is not None
    assert gel is not None
    return working / 60, gel / 60


@pytest.mark.parametrize("ends", ["gel", "viscosity", "usable"])
@pytest.mark.parametrize("point", [Point(100, 25, 25), Point(150, 20, 90), Point(30, 35, 8)])
def test_it_agrees_with_the_label_at_its_own_conditions(ends: str, point: Point) -> None:
    label = Label((point,), ends, 1.1)
    working, gel = minutes(label, point.mass_g, point.temp_c)
    met = gel if ends == "gel" else working
    assert met == pytest.approx(point.minutes, rel=1e-3)
    assert working < gel


def test_its_range_there_is_that_of_the_label() -> None:
    label = replace(FAST, ends="usable")
    low_s, high_s = estimate(label, 100, 25, 25).range_s or (0, 0)
    # The model meets the label whatever is doubted: only the label is, and, a little,
    # whether its cup is this one, and its middle.
    assert low_s == pytest.approx(25 * 60 / (1 + LABEL_OFF), rel=0.02)
    assert high_s == pytest.approx(25 * 60 * (1 + LABEL_OFF), rel=0.01)


def test_the_range_grows_away_from_the_label() -> None:
    widths = []
    for temp_c in (25, 20, 15):
        found = estimate(SLOW, 100, temp_c, temp_c)
        low_s, high_s = found.range_s or (0, 0)
        assert low_s < (found.working_s or 0) < high_s
        widths.append(math.log(high_s / low_s))
    assert widths == sorted(widths)


def test_two_points_give_the_energy() -> None:
    truth = fit(FAST, Guess(energy_j_mol=60e3))
    cold_s = follow(truth, FAST, 60, 12, 12).reached_s[1] or 0
    both = replace(FAST, points=(*FAST.points, Point(60, 12, cold_s / 60)))
    system = fit(both)
    assert system.guess.energy_j_mol == pytest.approx(60e3, rel=5e-3)
    assert minutes(both, 100, 25)[1] == pytest.approx(25, rel=1e-3)
    assert minutes(both, 60, 12)[1] == pytest.approx(cold_s / 60, rel=5e-3)


def test_a_peak_gives_the_heat() -> None:
    label = replace(FAST, peak_c=150.0)
    system = fit(label)
    course = follow(system, label, 100, 25, 25)
    assert course.peak_c == pytest.approx(150, abs=2)
    assert (course.reached_s[1] or 0) / 60 == pytest.approx(25, rel=1e-3)
    assert system.heat_j_g < fit(FAST).heat_j_g


def test_two_points_and_a_peak_are_met_together() -> None:
    label = Label((Point(100, 25, 25), Point(100, 15, 52)), "gel", 1.1, 160.0)
    assert minutes(label, 100, 25)[1] == pytest.approx(25, rel=1e-3)
    assert minutes(label, 100, 15)[1] == pytest.approx(52, rel=0.01)
    assert follow(fit(label), label, 100, 25, 25).peak_c == pytest.approx(160, abs=3)


@pytest.mark.parametrize(
    ("second", "peak_c", "said"),
    [
        (Point(100, 15, 25), None, "contradict each other (25 min for 100 g at 25 degC and"),
        (Point(100, 15, 20), None, "contradict each other"),
        (Point(100, 35, 30), None, "contradict each other"),
        (Point(100, 15, 500), None, "contradict each other"),
        (Point(100, 25, 20), None, "tell no activation energy"),
        (Point(100, 22, 30), None, "tell no activation energy"),
        (
            Point(200, 25, 15),
            None,
            "two label points at 25 and 25 degC tell no activation energy, of whatever masses: "
            "keep the one whose mass is nearer to what is mixed, leave the other out, and compare "
            "that with what is told of its mass then (25 min for 100 g, 15 min for 200 g); or give "
            "two that are 5 degC or more apart",
        ),
        (None, 30.0, "a peak of 30 degC does not go with"),
        (None, 400.0, "a peak of 400 degC does not go with"),
    ],
)
def test_a_label_that_contradicts_itself_is_refused(
    second: Point | None, peak_c: float | None, said: str
) -> None:
    points = FAST.points if second is None else (*FAST.points, second)
    with pytest.raises(Contradiction) as caught:
        fit(replace(FAST, points=points, peak_c=peak_c))
    assert said in str(caught.value)


def test_a_cup_that_nobody_named_is_filled_as_a_label_s_is() -> None:
    own = Shape().body(100, 1.1, 380)
    assert own == Shape(cup_ml=100 / 1.1 / 0.6).body(100, 1.1, 380)
    assert Shape().body(100, 1.1, 380, exchange=1.5).conductance_w_k > own.conductance_w_k * 1.2


def test_what_is_doubted_is_in_the_system() -> None:
    system = fit(FAST, Guess(energy_j_mol=44e3, start_share=0.5, heat=1.2))
    assert system.heat_j_g == pytest.approx(1.2 * 380)
    assert (system.cure.e1_j_mol, system.cure.e2_j_mol) == (44e3, 44e3)
    assert system.cure.k1_per_s / system.cure.k2_per_s == pytest.approx(0.5)
    # More heat in the label's cup: slower rates give the same time there.
    assert fit(FAST, Guess(heat=1.2)).cure.k2_per_s < fit(FAST).cure.k2_per_s
    assert fit(FAST, Guess(label_exchange=0.75)).cure.k2_per_s < fit(FAST).cure.k2_per_s


def test_the_energies_that_are_doubted_are_those_that_were_found() -> None:
    # 44 to 57 and 55 to 60 kJ/mol: Thermochim. Acta 447 (2006) 167; J. Appl. Polym. Sci.
    # 56 (1995) 1029.
    low, high = pot_life.DOUBTS[0]
    assert (low.energy_j_mol, high.energy_j_mol) == (44e3, 60e3)


@pytest.mark.parametrize("label", [FAST, SLOW], ids=["fast", "slow"])
def test_more_or_warmer_epoxy_lives_shorter(label: Label) -> None:
    by_mass = [minutes(label, mass_g, 20)[0] for mass_g in (5, 20, 80, 320)]
    by_temp = [minutes(label, 60, temp_c)[0] for temp_c in (10, 20, 30, 40)]
    assert by_mass == sorted(by_mass, reverse=True)
    assert by_temp == sorted(by_temp, reverse=True)


@pytest.mark.parametrize("ends", ["gel", "viscosity", "usable"])
@pytest.mark.parametrize("label_min", [8, 25, 60, 240])
def test_it_lives_half_as_long_for_ten_degrees_more_where_no_heat_of_its_own_counts(
    label_min: float, ends: str
) -> None:
    # Practice, no source: within 15 %. A tenth of a millimetre stays as warm as its room.
    label, thin = Label((Point(100, 25, label_min),), ends, 1.1), Shape("film", depth_m=1e-4)
    system = fit(label)
    for temp_c in (10, 20, 30):
        cold, warm = (
            follow(system, label, 20, one_c, one_c, thin).reached_s
            for one_c in (temp_c, temp_c + 10)
        )
        for cold_s, warm_s in zip(cold, warm, strict=True):
            assert (cold_s or 0) / (warm_s or 1) == pytest.approx(2, rel=0.15)


@pytest.mark.parametrize("ends", ["gel", "viscosity", "usable"])
def test_so_does_a_cup_of_five_grams_where_the_epoxy_is_slow(ends: str) -> None:
    label = Label((Point(100, 25, 240),), ends, 1.1)
    cold, warm = (minutes(label, 5, temp_c) for temp_c in (15, 25))
    assert cold[0] / warm[0] == pytest.approx(2, rel=0.15)  # practice, no source
    assert cold[1] / warm[1] == pytest.approx(2, rel=0.15)


def test_a_cup_of_ten_grams_is_not_so_small_that_it_only_halves() -> None:
    # Where the warmer of the two heats itself and the colder does not, or turns to glass first.
    cold, warm = minutes(FAST, 10, 15), minutes(FAST, 10, 25)
    assert cold[0] / warm[0] > 2.5
    assert cold[1] / warm[1] > 3.5
    # Where both run away, it halves again.
    large = minutes(FAST, 100, 20)[0] / minutes(FAST, 100, 30)[0]
    assert large == pytest.approx(2, rel=0.15)


def test_the_range_has_each_doubt_in_quadrature() -> None:
    found = estimate(SLOW, 60, 17, 17)
    working_s, (low_s, high_s) = found.working_s or 0, found.range_s or (0, 0)
    shorter = longer = 0.0
    doubts = [*pot_life.doubted(SLOW, fit(SLOW)), ((pot_life.middle(fit(SLOW)), SLOW),)]
    for pair in doubts:
        times = [follow(s, label, 60, 17, 17).reached_s[0] or 0 for s, label in pair]
        shorter += min(0.0, *(math.log(time_s / working_s) for time_s in times)) ** 2
        longer += max(0.0, *(math.log(time_s / working_s) for time_s in times)) ** 2
    assert math.log(working_s / low_s) == pytest.approx(math.sqrt(shorter), rel=1e-3)
    assert math.log(high_s / working_s) == pytest.approx(math.sqrt(longer), rel=1e-3)
    assert shorter != pytest.approx(longer, rel=0.05)


@pytest.mark.parametrize("air_c", [12, 38])
@pytest.mark.parametrize("second", [Point(100, 20, 34), Point(100, 15, 55)])
def test_two_points_may_each_be_off(second: Point, air_c: float) -> None:
    label = replace(FAST, points=(*FAST.points, second))
    low_s, high_s = estimate(label, 60, air_c, air_c).range_s or (0, 0)
    for factors in ((1.15, 1), (1, 1.15), (1.15, 1 / 1.15), (1 / 1.15, 1.15)):
        points = (
            replace(p, minutes=p.minutes * f) for p, f in zip(label.points, factors, strict=True)
        )
        other = replace(label, points=tuple(points))
        with contextlib.suppress(Contradiction):  # farther off than any epoxy
            working_s = follow(fit(other), other, 60, air_c, air_c).reached_s[0] or 0
            assert low_s < working_s < high_s


def test_the_hottest_is_at_least_that_of_each_doubt() -> None:
    stack = Shape("stack", None, 0.012, 0.4)
    found = estimate(SLOW, 300, 20, 20, stack)
    system = fit(SLOW)
    doubts = [one for pair in pot_life.doubted(SLOW, system) for one in pair]
    peaks = [follow(s, label, 300, 20, 20, stack).peak_c for s, label in doubts]
    assert len(doubts) == 12  # a label that is off, and DOUBTS
    assert found.peak_c < max(peaks) < found.hottest_c
    assert min(peaks) < found.peak_c
    assert found.hottest_c - found.peak_c < sum(max(0, peak - found.peak_c) for peak in peaks)


def test_a_large_warm_cup_runs_away_and_a_small_cool_one_does_not() -> None:
    small, large = estimate(SLOW, 20, 20, 20), estimate(SLOW, 500, 30, 30)
    assert not small.runaway
    assert small.peak_c < 35
    assert large.runaway
    assert large.peak_c > 120


def test_warm_resin_in_a_cool_room_lives_shorter_than_cool_and_longer_than_in_a_warm_one() -> None:
    system = fit(FAST)
    times = [
        follow(system, FAST, 100, air_c, start_c).reached_s[0] or 0
        for air_c, start_c in ((25, 25), (18, 25), (18, 18))
    ]
    assert times == sorted(times)


def test_a_wider_cup_lives_longer_where_heat_matters() -> None:
    system = fit(SLOW)
    narrow, wide = (
        follow(system, SLOW, 100, 25, 25, cup_ml).reached_s[0] or 0 for cup_ml in (150, 1500)
    )
    assert wide > narrow * 1.1


def test_what_never_comes_has_no_time() -> None:
    cold = follow(fit(SLOW), SLOW, 100, -10, -10)
    assert cold.reached_s[1] is None


@pytest.mark.parametrize(
    ("label", "mass_g", "air_c", "start_c", "said"),
    [
        (FAST, 100, 25, 25, None),
        (FAST, 5, 10, 20, None),
        (FAST, 500, 40, 40, None),
        (FAST, 4.9, 25, 25, "5 to 500 g"),
        (FAST, 501, 25, 25, "5 to 500 g"),
        (FAST, 100, 9, 15, "10 to 40 degC"),
        (FAST, 100, 35, 41, "10 to 40 degC"),
        (FAST, 100, 15, 26, "within 10 degC of the room"),
        (replace(FAST, points=(Point(100, 25, 8),)), 100, 25, 25, None),
        (replace(FAST, points=(Point(100, 25, 240),)), 100, 25, 25, None),
        (replace(FAST, points=(Point(100, 25, 7.9),)), 100, 25, 25, "8 to 240 min on the label"),
        (replace(FAST, points=(Point(100, 25, 241),)), 100, 25, 25, "8 to 240 min on the label"),
        (replace(FAST, points=(Point(1000, 25, 25),)), 100, 25, 25, "5 to 500 g"),
        (replace(FAST, points=(Point(100, 5, 25),)), 100, 25, 25, "10 to 40 degC"),
        (steep(130), 100, 25, 25, None),
        (steep(146), 100, 25, 25, "1.6 to 2.9 times as fast when 10 degC warmer"),
        (steep(48), 100, 25, 25, "by the two points of its label this is 1.5"),
        (UNLIKE, 100, 25, 25, "the two points of its label hardly tell how many times"),
        (replace(UNLIKE, points=UNLIKE.points[:1]), 100, 25, 25, None),
    ],
)
def test_where_it_was_not_checked_it_says_so(
    label: Label, mass_g: float, air_c: float, start_c: float, said: str | None
) -> None:
    found = unchecked(label, mass_g, air_c, start_c)
    assert (found is None) if said is None else (said in (found or ""))


@pytest.mark.parametrize("second", [(), (Point(300, 17, 90),)])
def test_a_peak_that_does_not_fit_is_one_reason_among_the_others(second: tuple[Point, ...]) -> None:
    bare = Label((Point(300, 18, 8) if not second else Point(300, 25, 10), *second), "usable", 1.1)
    peaked = replace(bare, peak_c=60)
    found = pot_life.every_unchecked(peaked, 600, 20, 20)
    assert set(pot_life.every_unchecked(bare, 600, 20, 20)) <= set(found)
    assert "the model was checked for 5 to 500 g" in found
    assert any("peak" in why or "contradict" in why for why in found)


def test_scipy_is_not_loaded_before_a_label_is_fitted() -> None:
    code = "import sys, mixer.science.pot_life; assert not {'scipy', 'numpy'} & set(sys.modules)"
    subprocess.run([sys.executable, "-c", code], check=True, timeout=60)


@pytest.mark.parametrize(
    "shape", [None, Shape("tray", depth_m=0.01), Shape("stack", None, 0.012, 0.4)]
)
def test_finer_steps_change_nothing_that_is_shown(shape: Shape | None) -> None:
    for label, mass_g, temp_c in ((FAST, 60, 17), (SLOW, 250, 31), (FAST, 400, 24)):
        shown = set()
        for tolerance in (1e-6, 5e-7, 1e-9):
            found = follow(fit(label), label, mass_g, temp_c, temp_c, shape, tolerance=tolerance)
            minutes = [round(time_s / 60, 1) for time_s in found.reached_s if time_s]
            shown.add((*minutes, round(found.peak_s / 60), round(found.peak_c), found.runaway))
        assert len(shown) == 1
