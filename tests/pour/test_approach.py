"""When to ease a stream, when to stop it, and what is learned: each at its limits."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from devices.readings import Reading
from mixer.pour.approach import (
    DRIP_UG,
    EASE_ROOM_UG,
    GENTLE_UG_S,
    LEAD_S,
    Habits,
    Stopped,
    dripped,
    learned,
    line,
    must_ease,
    must_stop,
    pours_at_first,
    seen,
    span_s,
)

G = 1_000_000
SLOW = Habits(lead_s=2.0, fastest_ug_s=4.0 * G)


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
    assert span_s(SLOW, eased_s) == span


# -- the cues ------------------------------------------------------------------------------


def test_a_full_stream_begins_only_where_it_can_be_seen_and_eased() -> None:
    """4 g/s for 2.6 s, and room for the gentle stream."""
    room = 4 * G * 2.6 + EASE_ROOM_UG
    assert pours_at_first(SLOW, round(room) + 1)
    assert not pours_at_first(SLOW, round(room) - 1)
    assert pours_at_first(Habits(), round(12 * G * (LEAD_S + 0.6) + EASE_ROOM_UG) + 1)
    assert not pours_at_first(Habits(), round(11 * G * (LEAD_S + 0.6) + EASE_ROOM_UG))


def test_it_is_eased_while_the_gentle_stream_has_room_left() -> None:
    left = 4 * G * 2.0 + EASE_ROOM_UG
    assert must_ease(SLOW, 4 * G, left)
    assert not must_ease(SLOW, 4 * G, left + 1)
    assert not must_ease(SLOW, 0.0, 0)


def test_it_is_stopped_when_what_is_on_its_way_is_all_that_is_left() -> None:
    assert must_stop(SLOW, 4 * G, 8 * G, None)
    assert not must_stop(SLOW, 4 * G, 8 * G + 1, None)
    assert must_stop(SLOW, 0.0, 0, None)
    assert must_stop(SLOW, 1.5 * G, 3 * G, 2.5)
    assert not must_stop(SLOW, 1.5 * G, 3 * G + 1, 2.5)


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


def test_the_first_approach_tells_the_lead_the_others_mend_it() -> None:
    """At 8 g/s 12.1 g came, 0.1 g of it dripped: 1.5 s."""
    first = learned(Habits(), Stopped(0, 30 * G, 8.0 * G, True), 42_100_000)
    assert (first.lead_s, first.leads) == (1.5, 1)
    second = learned(first, Stopped(0, 30 * G, 2.0 * G, True), 32_100_000)
    assert (second.lead_s, second.leads) == (1.25, 2)


@pytest.mark.parametrize(
    "stopped",
    [Stopped(0, 30 * G, 8.0 * G, False), Stopped(0, 30 * G, 1_499_999.0, True)],
    ids=["a stream that had just begun", "a thin stream"],
)
def test_a_stream_that_tells_little_teaches_nothing(stopped: Stopped) -> None:
    assert learned(Habits(), stopped, 42 * G) == Habits()


@pytest.mark.parametrize(("came_g", "lead_s"), [(-3.0, 0.5), (1.0, 0.5), (99.0, 2.5)])
def test_no_lead_is_believed_that_no_hand_and_scale_have(came_g: float, lead_s: float) -> None:
    stopped = Stopped(0, 30 * G, 8.0 * G, True)
    assert learned(Habits(), stopped, round((30 + came_g) * G)).lead_s == lead_s


def test_the_drips_are_those_after_two_seconds_and_as_many_more_as_fell_before() -> None:
    stopped = Stopped(0, 30 * G, 8.0 * G, True, later_ug=40 * G)
    assert dripped(Habits(), stopped, 40_250_000).drip_ug == DRIP_UG + 450_000
    assert dripped(Habits(), stopped, 39_900_000).drip_ug == DRIP_UG
    assert dripped(Habits(), Stopped(0, 30 * G, 8.0 * G, True), 41 * G) == Habits()
    assert dripped(Habits(), None, 41 * G) == Habits()
