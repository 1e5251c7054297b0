"""What the last few readings show, each rule at its limits. A division is 0.1 g."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import pytest

from devices.readings import Fault, FaultKind, Reading
from mixer.pour.inputs import Failed, Key, Tick, Weighed
from mixer.pour.observe import observe, shown
from mixer.pour.rests import Rest
from mixer.pour.sight import Sight, fall_ug, lightest_cup_ug

D = 100_000
GRAM = ("g", False)


def reading(
    at_s: float, g: float, *, still: bool = True, unit: str = "g", d_ug: int = D
) -> Reading:
    return Reading(round(g * 1e6), f"{g} {unit}", unit, d_ug, still, at_s=at_s)


def seen(
    shown_: Iterable[tuple[float, float]], *, following: bool = False, sight: Sight | None = None,
    still: bool = True, d_ug: int = D,
) -> Sight:  # fmt: skip
    sight = sight or Sight()
    for at_s, g in shown_:
        what = Weighed(reading(at_s, g, still=still, d_ug=d_ug))
        sight = observe(sight, what, following=following)
    return sight


def held(g: float, from_s: float, for_s: float, every_s: float = 0.1) -> list[tuple[float, float]]:
    return [(round(from_s + i * every_s, 3), g) for i in range(round(for_s / every_s) + 1)]


def rest(g: float, since_s: float, at_s: float) -> Rest:
    return Rest(round(g * 1e6), "", since_s, at_s, GRAM)


# -- rest ------------------------------------------------------------------------------------


def test_a_rest_is_four_readings_over_six_tenths_of_a_second_within_a_division() -> None:
    assert seen([(0, 10), (0.2, 10), (0.4, 10), (0.6, 10)]).resting
    assert not seen([(0, 10), (0.3, 10), (0.6, 10)]).resting
    assert not seen(held(10, 0, 0.5)).resting
    assert seen([(0, 10), (0.2, 10.1), (0.4, 10), (0.6, 10.1)]).resting
    assert not seen([(0, 10), (0.2, 10.1), (0.4, 10.2), (0.6, 10.1)]).resting
    assert not seen(held(10, 0, 2), still=False).resting
    assert not seen([*held(10, 0, 2), (2.1, 10.2)]).resting


def test_it_is_the_middle_one_of_the_last_second_and_a_half() -> None:
    sight = seen([(0, 9.8), *held(10.0, 0.5, 1.5)])
    assert sight.rest is not None
    assert (sight.rest.mass_ug, sight.rest.since_s, sight.rest.at_s) == (10_000_000, 0.5, 2.0)
    mixed = seen([(0, 10.0), (0.2, 10.1), (0.4, 10.1), (0.6, 10.0), (0.8, 10.1)])
    assert mixed.rest is not None
    assert (mixed.rest.mass_ug, mixed.rest.text) == (10_100_000, "10.1 g")


def test_of_a_scale_that_speaks_twice_a_second_the_last_four_are_a_rest() -> None:
    sight = seen([(0, 10.0), (0.5, 10.0), (1.0, 10.1), (1.6, 10.0)])
    assert sight.rest is not None
    assert (sight.rest.mass_ug, sight.rest.since_s, sight.resting) == (10_000_000, 0, True)
    assert not seen([(0, 10.0), (0.9, 10.0), (1.8, 10.0), (2.5, 10.0)]).resting


def test_the_same_level_is_one_rest_and_four_are_kept() -> None:
    sight = seen([*held(10, 0, 2), *held(10.1, 2.1, 2)])
    assert [r.since_s for r in sight.rests] == [0.0]
    for i, g in enumerate((20, 30, 40, 50)):
        sight = seen(held(g, 5 + 3 * i, 2), sight=sight)
    assert [r.mass_ug // 1_000_000 for r in sight.rests] == [20, 30, 40, 50]
    other = observe(sight, Weighed(reading(20, 1, unit="oz")), following=False)
    assert (other.rests, other.rest) == ((), None)
    assert Sight().rests == ()


@pytest.mark.parametrize(
    ("now_s", "last_g", "streaming", "stands"),
    [
        (11.5, 10.2, False, True),
        (11.51, 10.2, False, False),
        (11.5, 10.21, False, False),
        (11.5, 9.8, False, True),
        (11.0, 10.0, True, False),
    ],
)
def test_a_recent_rest_is_fresh_near_and_before_no_stream(
    now_s: float, last_g: float, streaming: bool, stands: bool
) -> None:
    one = rest(10, 8, 10)
    sight = Sight(last=reading(10.5, last_g), all_rests=(one,), streaming=streaming)
    assert sight.recent_rest(now_s) == (one if stands else None)
    assert Sight(last=reading(10.5, 10)).recent_rest(11) is None


def test_a_rest_that_creeps_is_not_taken_for_one_that_stands() -> None:
    creeping = seen([(i * 0.1, 10 + 0.1 * (i // 7)) for i in range(40)])
    assert creeping.rest is not None
    assert not creeping.rest.stands
    standing = seen(held(10, 0, 3))
    assert standing.rest is not None
    assert standing.rest.stands


# -- lumps and dabs --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rise_g", "d_ug", "lump"),
    [(0.15, D, False), (0.151, D, True), (1.0, 1_000_000, False), (1.1, 1_000_000, True)],
)
def test_a_lump_is_more_than_drops_or_a_division(rise_g: float, d_ug: int, lump: bool) -> None:
    before, now = rest(10, 0, 2), rest(10 + rise_g, 3, 5)
    sight = Sight(last=reading(5, 10 + rise_g, d_ug=d_ug), all_rests=(before, now), resting=True)
    assert sight.lump() == (before if lump else None)
    assert sight._replace(resting=False).lump() is None
    assert sight._replace(all_rests=(now,)).lump() is None


@pytest.mark.parametrize(
    ("rise_g", "in_s", "since_s", "dabbed"),
    [
        (0.15, 0.1, 0.0, False),
        (0.16, 0.1, 0.0, True),
        (0.4, 2.0, 0.0, False),  # 0.2 g a second: as fast as drips
        (0.41, 2.0, 0.0, True),
        (0.4, 1.0, 3.0, False),  # it fell before
        (0.4, 1.0, 2.99, True),
    ],
)
def test_a_dab_came_faster_than_drips(
    rise_g: float, in_s: float, since_s: float, dabbed: bool
) -> None:
    before, now = rest(10, 0, 3.0 - in_s), rest(10 + rise_g, 3.0, 5)
    sight = Sight(last=reading(5, 10), all_rests=(before, now))
    assert sight.dabbed(since_s) is dabbed
    assert not sight._replace(all_rests=(now,)).dabbed(0.0)


# -- streams ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rise_g", "d_ug", "stream"),
    [(0.4, D, True), (0.39, D, False), (0.3, 10_000, True), (0.29, 10_000, False)],
)
def test_a_stream_is_what_drips_do_not_reach_in_a_second(
    rise_g: float, d_ug: int, stream: bool
) -> None:
    sight = seen([*held(10, 0, 0.8), *held(10 + rise_g, 1.2, 0.3)], d_ug=d_ug)
    assert sight.streaming is stream


def test_nothing_pours_since_the_first_rest_after_the_stream() -> None:
    sight = seen(held(10, 0, 1))
    assert (sight.quiet_since_s, sight.quiet_ug) == (0.6, 10_000_000)
    poured = seen([(1 + i / 10, 10 + 0.97 * i) for i in range(10)], sight=sight, still=False)
    assert poured.streaming
    assert poured.quiet_since_s is None
    again = seen(held(19, 2, 3), sight=poured)
    assert again.quiet_ug == 19_000_000
    assert again.quiet_since_s is not None
    assert again.quiet_since_s > 2.5


@pytest.mark.parametrize(("step_g", "anew"), [(0.1, False), (0.2, True)])
def test_a_lump_begins_the_quiet_anew_and_drops_do_not(step_g: float, anew: bool) -> None:
    sight = seen([*held(10, 0, 2), *held(10 + step_g, 2.1, 2)])
    assert (sight.quiet_since_s != 0.6) is anew


def test_a_creep_of_more_than_a_gram_is_a_stream_in_the_end() -> None:
    slow = [(i / 10, 10 + 0.1 * (i // 20)) for i in range(230)]  # 0.05 g a second
    sight = seen(slow)
    assert sight.quiet_ug == 11_100_000
    assert sight.quiet_since_s is not None
    assert sight.quiet_since_s > 20


def test_who_is_told_to_pour_may_have_poured() -> None:
    for cue in ("pour", "ease"):
        assert shown(Sight(), cue, 5.0).told_to_pour_s == 5.0
    for cue in ("stop", "wait", "in-band"):
        assert shown(Sight(told_to_pour_s=1.0), cue, 5.0).told_to_pour_s == 1.0


def test_it_is_told_to_pour_from_the_first_cue_to_pour_after_another() -> None:
    sight = Sight()
    for at_s, cue in enumerate(("wait", "pour", "ease", "pour", "stop", "ease", "ease")):
        sight = shown(sight, cue, float(at_s))
    assert (sight.told_from_s, sight.told_to_pour_s) == (5.0, 6.0)
    assert shown(sight, "stop", 7.0).told_from_s == 5.0


# -- the level -------------------------------------------------------------------------------


def test_the_level_is_the_rest_or_the_lower_edge_of_half_a_second() -> None:
    sight = seen(held(10, 0, 1), following=True)
    assert sight.level_ug == 10_000_000
    pouring = seen([(1 + i / 10, 10 + i) for i in range(1, 11)], following=True, sight=sight,
                   still=False)  # fmt: skip
    assert pouring.level_ug == 15_000_000
    bumped = seen([(2.1, 60.0)], following=True, sight=pouring, still=False)
    assert bumped.level_ug == 16_000_000
    assert bumped.followed_ug == 20_000_000


@pytest.mark.parametrize(("g", "kept"), [(8.9, True), (9.0, False)])
def test_a_fall_of_more_than_a_gram_leaves_the_level_where_it_was(g: float, kept: bool) -> None:
    sight = seen(held(10, 0, 1), following=True)
    fallen = seen(held(g, 1.1, 1), following=True, sight=sight)
    assert fallen.level_ug == (10_000_000 if kept else 9_000_000)


def test_a_bump_upon_a_quiet_weight_moves_no_level() -> None:
    sight = seen(held(10, 0, 1), following=True)
    bumped = seen([(1.1, 10.2), (1.2, 10.2)], following=True, sight=sight, still=False)
    assert bumped.level_ug == 10_000_000


def test_how_far_a_weight_may_fall_and_how_light_a_cup_may_be() -> None:
    assert (fall_ug(D), fall_ug(200_000), fall_ug(300_000)) == (1_000_000, 1_000_000, 1_500_000)
    assert (lightest_cup_ug(D), lightest_cup_ug(1_000_000)) == (1_000_000, 3_000_000)


def test_the_empty_pan_is_remembered_while_no_cup_is_followed() -> None:
    assert seen(held(0.3, 0, 1)).pan_zero_ug == 300_000
    assert seen(held(-0.9, 0, 1)).pan_zero_ug == -900_000
    assert seen(held(1.0, 0, 1)).pan_zero_ug is None
    assert seen(held(0.3, 0, 1), following=True).pan_zero_ug is None
    assert seen(held(12, 2, 1), sight=seen(held(0.3, 0, 1))).pan_zero_ug == 300_000


# -- gaps and faults -------------------------------------------------------------------------


@pytest.mark.parametrize(("gap_s", "missed"), [(1.0, False), (1.01, True)])
def test_a_gap_of_more_than_a_second_is_missed_where_the_cup_was_followed(
    gap_s: float, missed: bool
) -> None:
    sight = seen(held(10, 0, 1), following=True)
    later = seen([(1.0 + gap_s, 10.0)], following=True, sight=sight)
    assert later.missed is missed
    assert later.followed_s == (1.0 if missed else 1.0 + gap_s)
    assert (len(later.recent) == 1) is missed
    assert (later.quiet_since_s is None) is missed
    assert not seen([(1.0 + gap_s, 10.0)], sight=seen(held(10, 0, 1))).missed


def test_what_came_since_the_cup_was_last_followed() -> None:
    sight = seen(held(10, 0, 1), following=True)
    back = seen([(4.0, 30.0), (4.1, 29.0), (4.2, 31.0)], sight=sight)
    assert back.back is not None
    assert (back.back.at_s, back.gap_s, back.lowest_ug) == (4.0, 3.0, 29_000_000)
    assert back.leapt_ug == 2_000_000
    assert (back.level_ug, back.following) == (None, False)
    again = seen([(4.3, 31.0)], following=True, sight=back)
    assert (again.back, again.lowest_ug, again.leapt_ug) == (None, None, 0)
    assert Sight().gap_s == float("inf")


@pytest.mark.parametrize(("rise_g", "leapt_g"), [(1.8, 1.8), (1.7, 0.0), (9.0, 9.0)])
def test_a_leap_is_faster_than_any_stream(rise_g: float, leapt_g: float) -> None:
    sight = seen([(0, 10.0), (0.1, 10 + rise_g)])
    assert sight.leapt_ug == round(leapt_g * 1e6)


def test_a_fault_stands_until_the_next_whole_reading() -> None:
    sight = seen(held(10, 0, 1))
    fault = Fault(FaultKind.OVERLOAD, "?", "Too much.", 1.1)
    faulty = observe(sight, Failed(fault), following=False)
    assert faulty.fault_now(3.1) is fault
    assert faulty.fault_now(3.11) is None
    healed = seen([(1.2, 10.0)], sight=faulty)
    assert healed.fault is None
    assert len(healed.recent) == 1
    gone = sight._replace(fault=Fault(FaultKind.LINK, "?", "Out.", 1.1))
    assert gone.fault_now(99.0) is gone.fault
    assert sight.fault_now(1.0) is None


def test_a_damaged_frame_among_whole_ones_is_no_fault() -> None:
    sight = seen(held(10, 0, 1))
    damaged = Fault(FaultKind.NONSENSE, "?", "Nonsense.", 1.9)
    assert observe(sight, Failed(damaged), following=False) is sight
    late = replace(damaged, at_s=2.1)
    assert observe(sight, Failed(late), following=False).fault is late


def test_silence_counts_from_the_beginning_too() -> None:
    sight = observe(Sight(), Tick(5.0), following=False)
    assert sight.since_s == 5.0
    assert not sight.silent(6.0)
    assert sight.silent(6.01)
    assert not sight.hears(5.5)
    assert seen([(6.0, 1.0)], sight=sight).since_s == 5.0
    assert not Sight().silent(9.0)


def test_what_is_counted_otherwise_begins_anew_and_keeps_the_level() -> None:
    sight = seen(held(10, 0, 1), following=True)
    other = observe(sight, Weighed(reading(1.1, 1, unit="oz")), following=True)
    assert len(other.recent) == 1
    assert (other.level_ug, other.quiet_since_s) == (10_000_000, None)


def test_no_more_is_remembered_than_two_and_a_half_seconds_and_so_many() -> None:
    sight = seen([(0, 10.0), (0.5, 10.0), (1.0, 10.0), (1.5, 10.0), (2.0, 10.0), (2.5, 10.0)])
    assert [r.at_s for r in sight.recent] == [0, 0.5, 1.0, 1.5, 2.0, 2.5]
    assert next(r.at_s for r in seen([(2.6, 10.0)], sight=sight).recent) == 0.5
    assert len(seen(held(10, 0, 2, every_s=0.01)).recent) == 128


def test_the_time_of_a_go_is_remembered() -> None:
    assert observe(Sight(), Key(3.0, "go"), following=False).last_go_s == 3.0
    assert observe(Sight(), Key(3.0, "hold"), following=False).last_go_s is None
