"""What earlier batches teach: bounds, medians, what counts, and nothing without a lesson."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.pouring import Guide, hold_at, run, terms, weighed
from support.virtual import VirtualBench

from mixer.pour.approach import (
    DISPLAY_S,
    DRIP_MOST_UG,
    HAND_S,
    LEAD_RANGE_S,
    Habits,
    Stopped,
    at_first,
    learned,
)
from mixer.pour.taught import (
    LEAST,
    LIKE_C,
    NEWEST,
    SPREAD_MS,
    SPREAD_UG,
    Learning,
    Lesson,
    Made,
    Taught,
    begins,
    calls,
    heeded,
    learn,
    medians,
)
from mixer.practice.hands import CAREFUL

G = 1_000_000
NOW = Made("real", "AB", "sample-36", 20.0, ("resin", "hardener"))
FULL = Lesson(1, 560, 90_000)
WHOLE = st.integers(-(2**53), 2**53)
LESSONS = st.lists(
    st.builds(Lesson, st.integers(-3, 3), st.none() | WHOLE, st.none() | WHOLE), max_size=30
)
DELAYS = st.none() | st.floats(0.1, 1.5)


def of_drips(*drips_ug: int) -> list[Lesson]:
    return [Lesson(0, None, drip) for drip in drips_ug]


def stopped(flow_g_s: float, *, steady: bool = True, later_g: float | None = 30) -> Stopped:
    later_ug = None if later_g is None else round(later_g * G)
    return Stopped(0, 30 * G, flow_g_s * G, steady, later_ug)


# -- which lessons count -------------------------------------------------------------------


@pytest.mark.parametrize(
    ("then", "counts"),
    [
        (NOW, FULL),
        (replace(NOW, bench="simulated"), None),
        (replace(NOW, operator="CD"), replace(FULL, hand_ms=None)),
        (replace(NOW, resin_system="sample-28"), Lesson(-1, 560, None)),
        (replace(NOW, components=("resin", "fast")), Lesson(-1, 560, None)),
        (replace(NOW, resin_c=20.0 + LIKE_C), FULL),
        (replace(NOW, resin_c=20.1 + LIKE_C), Lesson(-1, 560, None)),
        (replace(NOW, resin_c=None), Lesson(-1, 560, None)),
        (replace(NOW, operator="", resin_c=None), None),
        (replace(NOW, components=("hardener", "resin")), None),
        (replace(NOW, components=("resin", "pigment", "hardener")), Lesson(-1, 560, None)),
    ],
)
def test_of_another_batch_counts_what_is_the_same_here(then: Made, counts: Lesson | None) -> None:
    lesson = FULL if then.components != ("hardener", "resin") else Lesson(9, 560, 90_000)
    assert heeded(lesson, then, NOW) == counts


def test_neither_simulated_nor_real_teaches_the_other() -> None:
    simulated = replace(NOW, bench="simulated")
    assert heeded(FULL, simulated, simulated) == FULL
    assert heeded(FULL, NOW, simulated) is None


def test_a_component_is_known_by_its_name_wherever_it_stands() -> None:
    then = replace(NOW, components=("resin", "pigment", "hardener"))
    assert heeded(Lesson(2, 560, 90_000), then, NOW) == FULL


def test_where_nobody_said_how_warm_the_resin_is_it_is_taken_for_alike() -> None:
    unsaid = replace(NOW, resin_c=None)
    assert heeded(FULL, unsaid, unsaid) == FULL


# -- medians -------------------------------------------------------------------------------


def test_a_few_lessons_teach_nothing() -> None:
    some = [Lesson(0, 560, 90_000)] * (LEAST - 1)
    assert medians(some, 2) == Taught(None, (None, None))
    assert medians([*some, FULL], 2) == Taught(0.56, (None, None))


def test_one_clumsy_batch_teaches_nothing() -> None:
    assert medians(of_drips(80_000, 1_900_000, 90_000, 85_000, 95_000), 1).drips_ug == (90_000,)


def test_the_newest_count() -> None:
    some = of_drips(*[600_000] * 20, *[90_000] * NEWEST)
    assert medians(some, 1).drips_ug == (90_000,)


def test_lessons_that_do_not_agree_teach_nothing() -> None:
    assert medians(of_drips(100_000, 600_000) * 5, 1) == Taught(None, (None,))
    apart = [Lesson(0, ms) for ms in (500, 500 + 2 * SPREAD_MS)] * 5
    assert medians(apart, 0).hand_s == pytest.approx(0.5 + SPREAD_MS / 1000)
    apart = [Lesson(0, ms) for ms in (500, 502 + 2 * SPREAD_MS)] * 5
    assert medians(apart, 0).hand_s is None
    assert medians(of_drips(0, 2 * SPREAD_UG + 2) * 5, 1) == Taught(None, (None,))


@settings(max_examples=30)
@given(LESSONS, DELAYS)
def test_whatever_stands_in_a_record_the_habits_stay_within_what_can_be(
    lessons: list[Lesson], delay_s: float | None
) -> None:
    learning, habits = begins(Learning(medians(lessons, 2)), delay_s)
    least, most = LEAD_RANGE_S
    assert min(least, at_first(delay_s).lead_s) <= habits.lead_s <= most
    for component in (-1, 0, 1, 2):
        assert 0 <= calls(learning, habits, component).drip_ug <= DRIP_MOST_UG


# -- to begin with -------------------------------------------------------------------------


@settings(max_examples=30)
@given(DELAYS)
def test_without_a_lesson_all_is_as_it_is_without_a_record(delay_s: float | None) -> None:
    learning, habits = begins(Learning(), delay_s)
    assert habits == at_first(delay_s)
    assert calls(learning, habits, 0) == habits
    for one in (stopped(1.0), stopped(8.0, steady=False), stopped(1.0, later_g=None), None):
        assert learn(learning, habits, one, 0, 32 * G)[1] == learned(habits, one, 32 * G)


def test_the_hand_is_taken_from_one_display_to_another() -> None:
    learning, habits = begins(Learning(Taught(0.85)), 0.6)
    assert (habits.lead_s, habits.leads) == (pytest.approx(1.45), 0)  # not seen today
    assert learning.delay_s == 0.6


def test_a_hand_faster_than_the_tables_is_believed_once_it_was_seen() -> None:
    learning, habits = begins(Learning(Taught(0.5, (100_000,))), 0.4)
    assert habits == at_first(0.4)
    _, after = learn(learning, habits, stopped(1.0, later_g=99), 0, 31 * G)
    assert (after.lead_s, after.leads) == (pytest.approx(0.9), 1)
    hasty = stopped(8.0, steady=False)
    assert learn(learning, habits, hasty, 0, 30 * G)[1] == habits


def test_at_a_display_that_nobody_knows_it_is_taken_for_the_usual_one() -> None:
    _, habits = begins(Learning(Taught(0.85)), None)
    assert (habits.lead_s, habits.leads) == (pytest.approx(0.85 + DISPLAY_S), 0)


def test_a_component_begins_with_its_own_drips_or_with_those_seen_last() -> None:
    learning = Learning(Taught(None, (None, 600_000)))
    assert calls(learning, Habits(drip_ug=90_000), 0).drip_ug == 90_000
    assert calls(learning, Habits(drip_ug=90_000), 1).drip_ug == 600_000


# -- within a batch ------------------------------------------------------------------------

TAUGHT = Learning(Taught(0.6, (100_000, 100_000)), delay_s=0.4)
KNOWN = Habits(lead_s=1.0, leads=1, drip_ug=100_000)


@pytest.mark.parametrize("came_ug", [1_000_000, 1_100_000, 1_200_000])
def test_a_batch_like_those_before_is_poured_as_they_taught(came_ug: int) -> None:
    """1.1 g were to be expected of a gram a second."""
    learning, habits = learn(TAUGHT, KNOWN, stopped(1.0, later_g=99), 0, 30 * G + came_ug)
    assert habits == replace(KNOWN, leads=2)
    assert learning.taught == TAUGHT.taught
    assert len(learning.lessons) == 1


@pytest.mark.parametrize("came_ug", [400_000, 1_700_000])
def test_a_batch_that_is_plainly_otherwise_is_poured_by_what_it_shows(came_ug: int) -> None:
    told = stopped(1.0, later_g=99)
    learning, habits = learn(TAUGHT, KNOWN, told, 0, 30 * G + came_ug)
    assert habits == learned(KNOWN, told, 30 * G + came_ug)
    assert learning.taught == Taught()
    assert calls(learning, habits, 1) == habits


def test_a_lesson_is_the_hand_without_the_display_and_the_drips() -> None:
    """1.9 g of 1 g/s, no drips among it that came late: of 0.8 s more than the lead of 1.0 s
    that was thought, 1 / 1.36 is believed."""
    learning, _ = learn(TAUGHT, KNOWN, stopped(1.0, later_g=99), 1, 31_900_000)
    assert learning.lessons == (Lesson(1, 1188, 100_000),)


def test_without_a_steady_stream_or_a_known_display_no_hand_is_learned() -> None:
    hasty, _ = learn(TAUGHT, KNOWN, stopped(8.0, steady=False), 0, 30_200_000)
    assert hasty.lessons == (Lesson(0, None, 380_000),)
    unknown = replace(TAUGHT, delay_s=None)
    assert learn(unknown, KNOWN, stopped(1.0), 0, 31 * G)[0].lessons[0].hand_ms is None
    none = learn(TAUGHT, KNOWN, stopped(1.0, later_g=None), 0, 31 * G)[0]
    assert none.lessons == ()


def test_of_a_jug_that_was_not_given_its_time_there_is_no_lesson() -> None:
    learning, habits = learn(TAUGHT, KNOWN, stopped(1.0), 0, 32 * G, dripped=False)
    assert learning.lessons == ()
    assert habits == learned(KNOWN, stopped(1.0), 32 * G)


def test_there_is_one_lesson_a_component_in_their_order_and_a_top_up_takes_no_hand_away() -> None:
    learning, habits = learn(TAUGHT, KNOWN, stopped(1.0, later_g=99), 1, 31 * G)
    learning, habits = learn(learning, habits, stopped(1.0, later_g=99), 0, 31 * G)
    first = learning.lessons
    assert [one.component for one in first] == [0, 1]
    assert learn(learning, habits, stopped(8.0, steady=False), 0, 30 * G)[0].lessons == first
    again, _ = learn(learning, habits, stopped(1.0, later_g=99), 0, 31_100_000)
    assert [one.component for one in again.lessons] == [0, 1]
    assert again.lessons != first


def test_by_lessons_of_a_slow_hand_the_next_batch_begins_with_it() -> None:
    """0.9 s of hand, at 1.5 g/s on a display that is 0.4 s late; the table's hand takes 0.6."""
    hands = []
    lessons: list[Lesson] = []
    for _ in range(12):
        learning, habits = begins(Learning(medians(lessons, 2)), 0.4)
        hands.append(habits.lead_s - 0.4)
        told = stopped(1.5, later_g=99)
        learning, _ = learn(learning, calls(learning, habits, 0), told, 0, round(32.05e6))
        lessons += learning.lessons
    assert hands[0] == pytest.approx(HAND_S)
    assert hands[-1] > hands[LEAST] > 0.75


# -- by the coach --------------------------------------------------------------------------


def told_at(cue: str, earlier: Taught | None) -> float:
    """At how many grams of resin in a steady stream of 2 g/s this is first told."""
    guide = Guide(terms(60), earlier)
    now = hold_at(guide, 12, hold_at(guide, 0, 0, 2), 3)
    for i in range(1, 260):
        guide.take(weighed(12 + 0.2 * i, now + i / 10, still=False))
        if guide.cue == cue:
            return 0.2 * i
    raise AssertionError(cue)


def test_a_slow_hand_and_a_dripping_jug_are_told_earlier_and_without_lessons_none_is() -> None:
    slow = Taught(0.9, (1_000_000, None))
    for cue, earlier_g in (("ease", 2.0), ("stop", 1.0)):
        assert told_at(cue, slow) <= told_at(cue, None) - earlier_g
        assert told_at(cue, Taught(None, (None, None))) == told_at(cue, None)


def test_a_whole_batch_leaves_a_lesson_of_each_component() -> None:
    guide = run(VirtualBench(CAREFUL, warm=False, seed=3), Guide(terms(60)))
    assert guide.pour.stage == "live"
    first, last = guide.coach.learning.lessons
    assert (first.component, last.component) == (0, 1)
    for one in (first, last):  # its hand takes 0.55 s, and its jug drips 0.6 g
        assert one.hand_ms is None or 350 <= one.hand_ms <= 750
        assert one.drip_ug is not None
        assert 350_000 <= one.drip_ug <= 1_000_000
