"""When to ease a stream, when to stop it, and what is learned: each at its limits."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from devices.readings import Reading
from mixer.pour.approach import (
    DRIP_MOST_UG,
    DRIP_UG,
    DRIPS_IN_ALL,
    GENTLE_UG_S,
    HAND_S,
    LEAD_S,
    LONG_S,
    LONGEST_S,
    OPENING_S,
    PULSE_LEAST_S,
    SLOWER_S,
    Habits,
    Stopped,
    at_first,
    learned,
    line,
    must_ease,
    must_stop,
    pours_at_first,
    pulse_s,
    seen,
    shortest_ug,
    shown_part,
    span_s,
    steady_s,
    unshown_s,
)

G = 1_000_000
SLOW = Habits(lead_s=2.0, leads=1, fastest_ug_s=4.0 * G, drip_ug=0)


def readings(*shown: tuple[float, float]) -> tuple[Reading, ...]:
    return tuple(
        Reading(round(g * G), f"{g} g", "g", 100_000, False, at_s=at_s) for at_s, g in shown
    )


# -- weight and flow -----------------------------------------------------------------------


@given(st.floats(-5, 5), st.floats(0, 100), st.sampled_from([0.05, 0.1, 0.25]), st.floats(0.5, 1.5))
def test_of_a_straight_line_it_finds_weight_and_flow(
    flow: float, start: float, every_s: float, span: float
) -> None:
    shown = readings(*((i * every_s, start + flow * i * every_s) for i in range(40)))
    weight, slope = line(shown, span)
    assert weight == pytest.approx(shown[-1].mass_ug, abs=2)
    assert slope == pytest.approx(flow * G, abs=50)


def test_it_reads_so_many_seconds_and_at_least_three_readings() -> None:
    bent = readings((0, 0), (1, 0), (2, 0), (2.5, 1), (3, 2))
    assert line(bent, 1.0) == pytest.approx((2 * G, 2 * G))
    assert line(bent, 0.1) == pytest.approx((2 * G, 2 * G))
    assert line(bent, 3.0)[1] < 1 * G


def test_of_less_than_three_readings_nobody_knows_a_flow() -> None:
    assert line(readings((0, 5), (1, 9)), 1.5) == (9 * G, 0.0)
    assert line(readings((1, 5), (1, 6), (1, 7)), 1.5) == (7 * G, 0.0)


@pytest.mark.parametrize(
    ("eased_s", "span"), [(None, 0.5), (0.0, 0.5), (2.5, 0.5), (3.0, 1.0), (9.0, 1.5)]
)
def test_a_gentle_stream_is_read_for_longer_once_it_is_shown(
    eased_s: float | None, span: float
) -> None:
    assert span_s(SLOW, eased_s, LONG_S) == span


@pytest.mark.parametrize(("per_s", "long_s"), [(20, LONG_S), (10, LONG_S), (4, LONGEST_S)])
def test_a_slow_scale_is_read_for_longer_and_eased_as_much_sooner(
    per_s: int, long_s: float
) -> None:
    assert steady_s(1 / per_s) == long_s
    assert span_s(SLOW, 9.0, steady_s(1 / per_s)) == long_s
    more = SLOW.ease_room_ug(long_s) - SLOW.ease_room_ug(LONG_S)
    assert more == pytest.approx(2 * G * (long_s - LONG_S))


# -- the cues ------------------------------------------------------------------------------


def test_a_full_stream_begins_only_where_it_can_be_seen_and_eased() -> None:
    """4 g/s for 2.6 s, and room for the gentle stream."""
    room = round(4 * G * 2.6 + SLOW.ease_room_ug(LONG_S))
    assert pours_at_first(SLOW, room + 1, LONG_S, free=True)
    assert not pours_at_first(SLOW, room - 1, LONG_S, free=True)


def test_a_hardener_may_run_twice_as_fast_as_its_resin_and_no_faster_than_any() -> None:
    fast = Habits(lead_s=2.0, leads=1, fastest_ug_s=9.0 * G, drip_ug=0)
    for habits, fastest in ((SLOW, 8 * G), (fast, 12 * G)):
        room = round(fastest * 2.6 + habits.ease_room_ug(LONG_S))
        assert pours_at_first(habits, room + 1, LONG_S, free=False)
        assert not pours_at_first(habits, room - 1, LONG_S, free=False)


@pytest.mark.parametrize(("free", "fastest"), [(True, 6 * G), (False, 12 * G)])
def test_of_a_hand_that_was_not_seen_the_fastest_is_feared_where_there_is_a_band(
    free: bool, fastest: int
) -> None:
    room = round(fastest * (LEAD_S + SLOWER_S + 0.6) + Habits().ease_room_ug(LONG_S))
    assert pours_at_first(Habits(), room + 1, LONG_S, free=free)
    assert not pours_at_first(Habits(), room - 1, LONG_S, free=free)


def test_it_is_eased_while_the_gentle_stream_has_room_left() -> None:
    left = 4 * G * 2.0 + SLOW.ease_room_ug(LONG_S)
    assert must_ease(SLOW, 4 * G, left, LONG_S)
    assert not must_ease(SLOW, 4 * G, left + 1, LONG_S)
    assert not must_ease(SLOW, 0.0, 0, LONG_S)
    unseen = Habits(lead_s=1.0)  # a hand that may be slower than it is thought to be
    left = 4 * G * (1.0 + SLOWER_S) + unseen.ease_room_ug(LONG_S)
    assert must_ease(unseen, 4 * G, left, LONG_S)
    assert not must_ease(unseen, 4 * G, left + 1, LONG_S)


def test_the_gentle_stream_gets_the_room_to_be_seen_steady_and_its_drips() -> None:
    """2 g/s for the lead and the 1.5 s from which a steady flow is read."""
    assert SLOW.ease_room_ug(LONG_S) == 7 * G
    assert Habits(lead_s=1.0, drip_ug=600_000).ease_room_ug(LONG_S) == 5_600_000


def test_it_is_stopped_when_what_is_on_its_way_is_all_that_is_left() -> None:
    assert must_stop(SLOW, 4 * G, 8 * G, None)
    assert not must_stop(SLOW, 4 * G, 8 * G + 1, None)
    assert must_stop(SLOW, 0.0, 0, None)
    assert must_stop(SLOW, 1.5 * G, 3 * G, 2.5)
    assert not must_stop(SLOW, 1.5 * G, 3 * G + 1, 2.5)


def test_what_will_drip_is_left_for_the_drips() -> None:
    cold = Habits(lead_s=2.0, leads=1, drip_ug=600_000)
    assert must_stop(cold, 1.5 * G, 3_600_000, 2.5)
    assert not must_stop(cold, 1.5 * G, 3_600_001, 2.5)
    assert not must_stop(cold, 0.0, 600_000, None)  # nothing pours that could drip
    assert must_stop(cold, 0.0, 0, None)


def test_a_little_is_poured_by_time_and_never_for_less_than_a_hand_needs() -> None:
    cold = Habits(drip_ug=600_000)
    assert pulse_s(cold, 1_600_000, 0, 9 * G) == pytest.approx(1.13)
    assert pulse_s(cold, 2_600_000, 0, 9 * G) == pytest.approx(2.13)
    assert pulse_s(cold, 500_000, 0, 9 * G) == PULSE_LEAST_S
    assert shortest_ug(cold) == pytest.approx(600_000 + 1_500_000 * (PULSE_LEAST_S - OPENING_S))
    assert pulse_s(cold, 770_000, 0, 9 * G) == pytest.approx(PULSE_LEAST_S)


def test_a_little_is_poured_for_no_longer_than_the_strongest_gentle_stream_may_run() -> None:
    """2.5 g/s, and what drips, beneath 2 g; the band is 0.6 g wide, and the shortest stream
    brings up to 0.525 g: what is short of it finds room."""
    warm = Habits(drip_ug=100_000)
    assert pulse_s(warm, 1_700_000, 1_400_000, 2_000_000) == pytest.approx(1.9 / 2.5 + 0.13)


def test_what_may_end_short_of_a_narrow_band_leaves_room_for_the_shortest_stream() -> None:
    """That brings up to 1.025 g with the drips of a cold jug, and the band is 0.6 g wide."""
    cold = Habits(drip_ug=600_000)
    assert pulse_s(cold, 1_700_000, 1_400_000, 2_000_000) == PULSE_LEAST_S
    assert pulse_s(cold, 2_400_000, 2_000_000, 2_800_000) == pytest.approx(1.175 / 2.5 + 0.13)
    lands = pulse_s(cold, 1_500_000, 650_000, 1_500_000)  # by the faintest of 0.5 g/s too
    assert lands == pytest.approx(0.9 / 2.5 + 0.13)
    too_near = pulse_s(cold, 1_200_000, 1_100_000, 1_500_000)  # for two of them
    assert too_near == pytest.approx(0.9 / 2.5 + 0.13)


def test_a_stream_that_was_just_eased_is_taken_for_gentle_once_the_rest_has_run_off() -> None:
    """1.5 s of 4 g/s are still on their way, and then 2 s of a gentle gram a second."""
    left = 1.5 * 4 * G + 2.0 * GENTLE_UG_S
    assert must_stop(SLOW, 4 * G, left, 0.5)
    assert not must_stop(SLOW, 4 * G, left + 1, 0.5)
    assert must_stop(SLOW, 4 * G, 2.0 * GENTLE_UG_S, 2.4)
    assert not must_stop(SLOW, 4 * G, 2.0 * GENTLE_UG_S + 1, 2.4)
    assert must_stop(SLOW, 0.5 * G, 1 * G, 2.4)
    assert not must_stop(SLOW, 0.5 * G, 1 * G + 1, 2.4)


# -- what is learned -----------------------------------------------------------------------


def test_the_fastest_stream_is_remembered() -> None:
    assert seen(SLOW, 5.0 * G).fastest_ug_s == 5.0 * G
    assert seen(SLOW, 3.0 * G) is SLOW


def stopped(flow_g_s: float, *, steady: bool = True, later_g: float | None = 31) -> Stopped:
    later_ug = None if later_g is None else round(later_g * G)
    return Stopped(0, 30 * G, flow_g_s * G, steady, later_ug)


def test_at_first_the_hand_is_as_the_table_has_it_and_the_scale_as_the_cup_showed_it() -> None:
    assert at_first(None) == Habits()
    assert at_first(1.2) == Habits(lead_s=HAND_S + 1.2)


def test_drips_are_told_apart_from_the_lead_and_from_a_reaction_that_was_late() -> None:
    """Whatever the stream, and however long the hand took, 0.3 g came late."""
    drips = DRIP_UG + round(DRIPS_IN_ALL * 300_000)
    for flow in (0.5, 1.0, 1.5, 2.5):
        for lead_s in (0.8, 0.95, 1.2):
            came_g = flow * lead_s + drips / G
            told = stopped(flow, later_g=30 + came_g - 0.3)
            after = learned(Habits(), told, round((30 + came_g) * G))
            assert (after.drip_ug, after.leads) == (pytest.approx(drips, abs=3), 1)
            assert abs(after.lead_s - lead_s) <= abs(LEAD_S - lead_s) + 1e-6  # never farther off


def test_the_stronger_the_stream_the_more_its_lead_is_believed() -> None:
    """It was 1.5 s, beside the drips; 0.95 s was thought at first."""
    leads = []
    for flow in (0.3, 0.6, 1.2):
        came_ug = round(flow * 1.5 * G) + DRIP_UG
        after = learned(Habits(), stopped(flow, later_g=99), 30 * G + came_ug)
        leads.append(after.lead_s)
    assert leads == pytest.approx([0.95 + 0.2 * 0.55, 0.95 + 0.5 * 0.55, 0.95 + 0.8 * 0.55])


@pytest.mark.parametrize("time_s", [0.15, 0.3, 0.6])
@given(st.floats(0.0, 4.0), st.floats(0.5, 2.0))
def test_what_a_slow_display_still_shows_of_a_stream_is_known(
    time_s: float, since_s: float, flow: float
) -> None:
    """Two filters of first order, stepped: an independent answer to a stream that ends."""
    step_s, fade = 0.005, math.exp(-0.005 / time_s)
    first, second = -flow * time_s, -2 * flow * time_s  # below what is in the cup, as it ends
    for _ in range(round(since_s / step_s)):
        first *= fade
        second = first + (second - first) * fade
    assert flow * unshown_s(2 * time_s, since_s) == pytest.approx(-second, abs=0.02 * flow)


def test_drips_are_those_that_came_late_and_as_many_more_as_fell_before() -> None:
    hasty = stopped(8.0, steady=False, later_g=40)  # its lead tells nothing
    after = learned(Habits(), hasty, 40_250_000)
    assert after == Habits(drip_ug=DRIP_UG + round(DRIPS_IN_ALL * 250_000))
    assert learned(Habits(), hasty, 39_900_000) == Habits()


@pytest.mark.parametrize("told", [None, stopped(8.0, later_g=None)], ids=["none", "no drips yet"])
def test_what_was_not_seen_to_the_end_teaches_nothing(told: Stopped | None) -> None:
    assert learned(Habits(), told, 42 * G) == Habits()


@pytest.mark.parametrize(("came_g", "found_s"), [(-3.0, 0.5), (0.3, 0.5), (99.0, 2.5)])
def test_no_lead_is_believed_that_no_hand_and_scale_have(came_g: float, found_s: float) -> None:
    after = learned(Habits(), stopped(1.0, later_g=200), round((30 + came_g) * G))
    assert after.lead_s == pytest.approx((0.36 * LEAD_S + found_s) / 1.36)
    assert after.drip_ug == DRIP_UG


def test_what_was_poured_on_after_stop_is_not_all_taken_for_drips() -> None:
    """Or more would be left for them than is asked for, and nothing be poured ever again."""
    after = learned(Habits(), stopped(1.0, later_g=31), 40 * G)
    assert after.drip_ug == DRIP_MOST_UG


@pytest.mark.parametrize("time_s", [0.15, 0.3, 0.6])
@given(st.floats(0.5, 6.0), st.floats(0.5, 2.0))
def test_of_a_stream_that_has_just_begun_the_whole_flow_is_told(
    time_s: float, since_s: float, flow: float
) -> None:
    """Two filters of first order, stepped: an independent answer to a stream from nothing."""
    habits = Habits(lead_s=0.6 + 2 * time_s)
    eased_s = habits.lead_s + since_s
    true_g, first, second, shown = 0.0, 0.0, 0.0, []
    step_s, fade = 0.01, math.exp(-0.01 / time_s)
    for i in range(round(eased_s / step_s) + 1):
        true_g += flow * step_s * (i * step_s > 0.6)
        first = true_g + (first - true_g) * fade
        second = first + (second - first) * fade
        shown.append((i * step_s, second))
    _, seen = line(readings(*shown), span_s(habits, eased_s, LONG_S))
    told = seen / shown_part(habits, 2 * time_s, eased_s, LONG_S)
    assert told == pytest.approx(flow * G, rel=0.06)
    assert shown_part(habits, 2 * time_s, 60.0, LONG_S) == pytest.approx(1.0)
