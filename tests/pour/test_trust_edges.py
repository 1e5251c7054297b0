"""When a weight may be followed again, at the very edge: the last that counts, and the
first that does not. What each rule is for stands in test_trust.py.

A cup of 12 g with 44.1 g of resin in it; 56.1 g in all, on a display of 0.1 g. The scale
is allowed 0.3 g either way, late drips 0.6 g, a stream 15 g/s.
"""

from __future__ import annotations

import pytest
from support.pouring import Guide, begins_to_run, hold_at, ramp, tared_and_resin, terms, weighed

from devices.readings import Fault, FaultKind
from mixer.pour.afresh import Shown, take_up
from mixer.pour.facts import Begun, Held, Lost, Resumed
from mixer.pour.inputs import Failed, Key, Tick
from mixer.pour.sight import Sight
from mixer.pour.state import evolve
from mixer.pour.trust import ANOTHER, ANOTHER_MEANWHILE
from mixer.pour.words import HELD

UP_S = 2.0**20  # twelve days: the age clock counts from when the computer was started


def resumed(guide: Guide) -> str | None:
    """How the pour went on, or ``None``."""
    return next((f.how for f in reversed(guide.facts) if isinstance(f, Resumed)), None)


def fails(guide: Guide, kind: FaultKind, at_s: float) -> None:
    guide.take(Failed(Fault(kind, "?", "Trouble.", at_s)))


def resin(resin_g: float, *, start_s: float = 0, hands_free: bool = False) -> tuple[Guide, float]:
    """A cup of 12 g and so much resin in it, at rest, on a clock that began at this time."""
    guide = Guide(terms(60, hands_free=hands_free))
    now = hold_at(guide, 12, hold_at(guide, 0, start_s, 2), 3)
    return guide, hold_at(guide, 12 + resin_g, ramp(guide, 12, 12 + resin_g, now, 4), 4)


def with_hardener(hands_free: bool = True) -> tuple[Guide, float]:
    """8 g of hardener upon the resin, at rest: 64.1 g in all."""
    guide, now = tared_and_resin(hands_free)
    if hands_free:
        now = hold_at(guide, 56.1, now, 8)
    else:
        guide.take(Key(now, "go"))
    assert guide.component == "hardener"
    return guide, hold_at(guide, 64.1, ramp(guide, 56.1, 64.1, now, 4), 2)


def restart(guide: Guide, at_s: float, shown_g: float) -> None:
    """The program is gone, and begins again having seen nothing."""
    shown = Shown(round(at_s * 1000), round(shown_g * 1e6), still=True)
    for fact in take_up(guide.facts, at_s, shown):
        guide.facts.append(fact)
        guide.pour = evolve(guide.pour, fact)
    guide.sight = Sight()


# -- what is trouble -----------------------------------------------------------------------


def test_a_trouble_that_lasts_is_told_once() -> None:
    guide, now = tared_and_resin(hands_free=False)
    for i in range(50):
        guide.take(Tick(now + i / 10))
    assert sum(isinstance(f, Held) for f in guide.facts) == 1


def test_a_cup_that_is_lifted_in_another_trouble_does_not_take_its_place() -> None:
    guide, now = tared_and_resin(hands_free=False)
    guide.take(Tick(now + 2))
    fails(guide, FaultKind.UNDERLOAD, now + 3)
    assert guide.pour.trouble is not None
    assert guide.pour.trouble.reason == "silent"
    assert sum(isinstance(f, Held) for f in guide.facts) == 1


def test_a_fault_just_after_the_tare_holds_at_the_cup_alone() -> None:
    guide = Guide(terms(60))
    now = hold_at(guide, 0, 0, 2)
    while guide.pour.stage == "cup":
        guide.take(weighed(12, now := now + 0.1))
    fails(guide, FaultKind.LINK, now + 0.1)
    assert guide.pour.trouble is not None
    assert guide.pour.trouble.gross_ug == 12_000_000


def test_a_scale_that_says_nothing_after_a_restart_is_silent() -> None:
    guide, now = tared_and_resin(hands_free=False)
    restart(guide, now + 10, 56.1)
    guide.take(Tick(now + 10))
    assert guide.pour.trouble is not None
    assert guide.pour.trouble.reason == "restarted"
    guide.take(Tick(now + 11.1))
    assert guide.pour.trouble.reason == "silent"
    assert guide.pour.trouble.gross_ug == 56_100_000


@pytest.mark.parametrize(
    ("masses_g", "still", "pouring"),
    [
        ([56.1], True, False),
        ([56.1, 56.2], False, True),  # too slow to be seen as a stream, but no rest
        ([58.1] * 8, True, True),  # a squirt a moment ago, though the scale is still again
    ],
)
def test_a_stream_may_have_run_on_unless_the_weight_was_at_rest_and_for_long(
    masses_g: list[float], still: bool, pouring: bool
) -> None:
    guide, now = tared_and_resin(hands_free=False)
    for mass_g in masses_g:
        guide.take(weighed(mass_g, now := now + 0.1, still=still))
    guide.take(Tick(now + 1.1))
    assert guide.pour.trouble is not None
    assert guide.pour.trouble.pouring is pouring


# -- the same weight, or what a stream has made of it --------------------------------------


@pytest.mark.parametrize(
    ("first_g", "goes_on"),
    [(55.7, False), (55.8, True), (56.1, True), (86.4, True), (86.5, False)],
)
def test_what_a_stream_can_have_brought_in_two_seconds(first_g: float, goes_on: bool) -> None:
    """0.3 g less, to 0.3 g and 30 g more; what comes later has been seen to come."""
    guide, now = tared_and_resin(hands_free=False)
    now = begins_to_run(guide, now)
    guide.take(Tick(now + 1))
    assert guide.sight.followed_s is not None
    guide.take(weighed(first_g, now := guide.sight.followed_s + 2, still=False))
    hold_at(guide, first_g + 3, ramp(guide, first_g, first_g + 3, now, 1), 2)
    assert (resumed(guide) == "continuous") is goes_on


def test_hardener_that_came_in_a_gap_may_have_come_since_the_weight_was_last_followed() -> None:
    guide, now = tared_and_resin(hands_free=False)
    guide.take(Key(now, "go"))
    now = hold_at(guide, 56.1, now, 2)
    guide.take(Tick(now + 1))
    hold_at(guide, 61.1, now + 2, 2)
    begun = guide.facts[-1]
    assert isinstance(begun, Begun)
    assert begun.component == 1
    assert begun.at_ms - begun.unseen_ms == guide.pour.contact_ms == round((now - 0.1) * 1000)


@pytest.mark.parametrize(
    ("kind", "goes_on"),
    [(FaultKind.NONSENSE, True), (FaultKind.OVERLOAD, True), (FaultKind.SCALE_ERROR, False)],
)
def test_after_an_error_of_its_own_a_scale_must_show_the_same_weight(
    kind: FaultKind, goes_on: bool
) -> None:
    """It may have set its zero anew: 10 g more are then no stream."""
    guide, now = tared_and_resin(hands_free=False)
    now = begins_to_run(guide, now)
    fails(guide, kind, now + 1.1)
    hold_at(guide, 66.1, now + 2, 2)
    assert (resumed(guide) == "continuous") is goes_on


@pytest.mark.parametrize(("cup_g", "goes_on"), [(37.5, False), (37.6, True)])
def test_no_more_than_a_stream_can_weigh_is_no_proof_of_the_cup(
    cup_g: float, goes_on: bool
) -> None:
    """2.5 s of 15 g/s upon a cup that was taken for zero would show the same."""
    guide, now = resin(cup_g - 12)
    ramp(guide, cup_g, cup_g, now, 0.5)  # in motion: a stream may be in the air
    guide.take(Tick(now + 2))
    hold_at(guide, cup_g, now + 10, 2)
    assert (resumed(guide) == "continuous") is goes_on


# -- a fall, and what comes after -----------------------------------------------------------


@pytest.mark.parametrize(("lowest_g", "goes_on"), [(55.1, True), (55.0, False)])
def test_what_crept_back_from_a_gram_less_had_not_fallen(lowest_g: float, goes_on: bool) -> None:
    guide, now = tared_and_resin(hands_free=False)
    guide.take(Tick(now + 5))
    now = ramp(guide, lowest_g, lowest_g, now + 10, 0.5)
    hold_at(guide, 56.1, ramp(guide, lowest_g, 56.1, now, 2), 2)
    assert (resumed(guide) == "continuous") is goes_on


@pytest.mark.parametrize(("leap_g", "goes_on"), [(44.7, False), (44.8, True)])
def test_four_fifths_of_the_way_in_one_piece_will_do(leap_g: float, goes_on: bool) -> None:
    """Four fifths of 56 g; the rest of it comes as slowly as a stream."""
    guide, now = tared_and_resin(hands_free=False)
    now = ramp(guide, 0, 0, now, 0.3)
    now = ramp(guide, leap_g, leap_g, now, 3)
    hold_at(guide, 56.0, ramp(guide, leap_g, 56.0, now, 2), 2)
    assert (resumed(guide) == "continuous") is goes_on


@pytest.mark.parametrize(("rise_s", "goes_on"), [(0.1, True), (3, False)])
def test_from_half_its_weight_a_cup_comes_back_as_it_does_from_none(
    rise_s: float, goes_on: bool
) -> None:
    """Somebody leant on the cup's rim: it never showed zero."""
    guide, now = tared_and_resin(hands_free=False)
    now = ramp(guide, 30, 30, now, 0.3)
    hold_at(guide, 56.1, ramp(guide, 30, 56.1, now, rise_s), 2)
    assert (resumed(guide) == "continuous") is goes_on


@pytest.mark.parametrize(
    ("after_g", "goes_on"),
    [(54.6, False), (54.7, True), (55.0, True), (55.3, True), (55.4, False)],
)
def test_put_down_slowly_it_must_be_the_cup_that_was_seen_before(
    after_g: float, goes_on: bool
) -> None:
    """1.1 g is missing after a gap, so that it may be another; and it comes back at less than
    10 g/s."""
    guide, now = tared_and_resin(hands_free=False)
    guide.take(Tick(now + 5))
    now = hold_at(guide, 0, hold_at(guide, 55.0, now + 10, 2), 2)
    hold_at(guide, after_g, ramp(guide, 0, after_g, now, 6), 2)
    assert resumed(guide) == ("lighter" if goes_on else None)
    assert (guide.pour.unproven_because is not None) is goes_on


@pytest.mark.parametrize(
    ("pan_g", "empty"), [(-0.2, False), (-0.1, True), (0.1, True), (0.2, False)]
)
def test_a_pan_is_empty_where_it_shows_its_zero_but_for_a_division(
    pan_g: float, empty: bool
) -> None:
    guide, now = tared_and_resin(hands_free=False)
    guide.take(Tick(now + 5))
    now = hold_at(guide, pan_g, hold_at(guide, 55.0, now + 10, 2), 2)
    hold_at(guide, 55.0, now, 2)
    assert resumed(guide) == ("lighter" if empty else None)


@pytest.mark.parametrize(("cup_g", "believed"), [(11.6, False), (11.7, True), (12.0, True)])
def test_an_emptied_cup_is_still_the_cup_and_a_lighter_one_is_another(
    cup_g: float, believed: bool
) -> None:
    guide, now = tared_and_resin(hands_free=False)
    for _ in range(2):
        now = hold_at(guide, cup_g, hold_at(guide, 0, now, 2), 2)
    assert resumed(guide) == ("empty-seen" if believed else None)
    assert guide.pour.unproven_because is None


@pytest.mark.parametrize("after_g", [63.8, 64.1, 64.4])
def test_the_same_cup_with_both_in_it_has_lost_nothing(after_g: float) -> None:
    """It is put down slowly, so that only the empty pan proves it."""
    guide, now = with_hardener()
    now = ramp(guide, 0, after_g, hold_at(guide, 0, now, 2), 8)
    hold_at(guide, after_g, now, 2)
    assert resumed(guide) == "empty-seen"
    assert guide.pour.shift_ug == 0
    assert guide.pour.unproven_because is None


def test_more_than_the_scale_is_allowed_is_lost_with_both_in_it() -> None:
    guide, now = with_hardener()
    hold_at(guide, 63.7, hold_at(guide, 0, now, 2), 2)
    assert resumed(guide) == "empty-seen"
    assert guide.pour.shift_ug == 400_000
    assert guide.pour.unproven_because is not None


def test_resin_that_was_weighed_cannot_be_taken_out_again_unseen() -> None:
    """The hardener was called for all of it, though none has come yet."""
    guide, now = tared_and_resin(hands_free=False)
    guide.take(Key(now, "go"))
    assert guide.component == "hardener"
    hold_at(guide, 52.1, hold_at(guide, 0, now + 0.1, 2), 2)
    assert guide.pour.shift_ug == 4_000_000
    assert guide.pour.unproven_because is not None
    assert guide.pour.contact_ms is None


# -- how much heavier ------------------------------------------------------------------------


def how_it_comes_back(guide: Guide, mass_g: float, now: float) -> str | None:
    """The cup rests at this, is lifted until the empty pan shows zero, and is put back."""
    now = hold_at(guide, mass_g, now, 2)
    assert guide.pour.trouble is not None
    hold_at(guide, mass_g, hold_at(guide, 0, now, 2), 2)
    return resumed(guide)


@pytest.mark.parametrize(
    ("gap_s", "mass_g", "how"),
    [
        (1.5, 79.5, "empty-seen"),  # 0.9 g, and 1.5 s of 15 g/s: 23.4 g
        (1.5, 79.6, "heavier"),
        (9.0, 94.5, "empty-seen"),  # 0.9 g, and no more than 2.5 s of it: 38.4 g
        (9.0, 94.6, "heavier"),
    ],
)
def test_what_a_stream_may_have_brought_in_a_gap_before_the_cup_was_lifted(
    gap_s: float, mass_g: float, how: str
) -> None:
    guide, now = tared_and_resin(hands_free=False)
    ramp(guide, 56.1, 56.1, now, 0.5)  # in motion: a stream may be in the air
    assert guide.sight.followed_s is not None
    guide.take(Tick(guide.sight.followed_s + 1.2))
    assert how_it_comes_back(guide, mass_g, guide.sight.followed_s + gap_s) == how
    heavier = "the cup came back heavier than it can have become by what was poured on the scale"
    assert guide.pour.unproven_because == (heavier if how == "heavier" else None)


@pytest.mark.parametrize(("mass_g", "how"), [(57.0, "continuous"), (57.1, "heavier")])
def test_of_a_leap_just_before_the_cup_was_lifted_nothing_is_believed(
    mass_g: float, how: str
) -> None:
    """20 g at once are the hand that takes it; 0.9 g are allowed besides."""
    guide, now = tared_and_resin(hands_free=False)
    guide.take(weighed(76.1, now, still=False))
    now = hold_at(guide, 0, now + 0.1, 2)
    hold_at(guide, mass_g, now, 2)
    assert resumed(guide) == how


def test_what_had_just_come_is_counted_as_it_was_shown_after_something_was_lost() -> None:
    """3 g/s: of the last half second 1.5 g are not yet in the weight that is held."""
    guide, now = with_hardener()
    now = hold_at(guide, 60.1, hold_at(guide, 0, now, 2), 2)
    assert guide.pour.shift_ug == 4_000_000
    now = ramp(guide, 60.1, 66.1, now, 2)
    now = hold_at(guide, 67.0, hold_at(guide, 0, now, 2), 2)
    assert guide.pour.trouble is None
    assert resumed(guide) == "empty-seen"


# -- after a restart ------------------------------------------------------------------------


def test_after_a_restart_the_empty_pan_and_the_cup_are_all_that_must_be_seen() -> None:
    guide, now = tared_and_resin(hands_free=False)
    restart(guide, now + 10, 56.1)
    hold_at(guide, 56.1, hold_at(guide, 0, now + 10, 2), 2)
    assert resumed(guide) == "empty-seen"
    assert guide.pour.unproven_because is None


def test_after_a_restart_a_light_cup_may_be_put_back_slowly() -> None:
    """The same one before and after the empty pan; nothing else was ever seen."""
    guide, now = resin(20)
    restart(guide, now + 10, 32)
    now = hold_at(guide, 32, now + 10, 2)
    assert guide.pour.trouble is not None
    hold_at(guide, 32, ramp(guide, 0, 32, hold_at(guide, 0, now, 2), 6), 2)
    assert resumed(guide) == "empty-seen"


def test_the_half_minute_begins_when_the_program_can_say_it() -> None:
    """The trouble is an hour old; the builder sees it only now."""
    guide, now = tared_and_resin(hands_free=True)
    guide.take(Tick(now + 2))
    now += 3600
    restart(guide, now, 56.1)
    hold_at(guide, 40, now, 29.8)
    assert resumed(guide) is None
    hold_at(guide, 40, now + 29.8, 0.5)
    assert resumed(guide) == "on-trust"


# -- on trust, and a clock that has run for days ---------------------------------------------


@pytest.mark.parametrize(
    ("mass_g", "shift_ug"), [(55.9, 8_200_000), (56.0, 0), (56.1, 0), (60.0, 0)]
)
def test_less_than_was_weighed_into_it_is_another_zero(mass_g: float, shift_ug: int) -> None:
    """56.1 g were weighed, and 64.1 g were there; a division less may be rounding."""
    guide, now = with_hardener(hands_free=False)
    guide.take(Tick(now + 5))
    now = hold_at(guide, mass_g, now + 10, 2)
    guide.take(Key(now, "go"))
    assert resumed(guide) == "on-trust"
    assert guide.pour.shift_ug == shift_ug


def test_nothing_goes_on_by_itself_while_the_weight_moves() -> None:
    guide, now = tared_and_resin(hands_free=True)
    guide.take(Tick(now + 2))
    now = ramp(guide, 40, 45, hold_at(guide, 40, now + 10, 20), 15)
    assert resumed(guide) is None
    now = hold_at(guide, 45, now, 9)
    assert resumed(guide) is None  # nor as soon as it has come to rest
    hold_at(guide, 45, now, 2)
    assert resumed(guide) == "on-trust"


def test_half_a_minute_is_no_shorter_on_a_clock_that_has_run_for_days() -> None:
    guide, now = resin(44.1, start_s=UP_S, hands_free=True)
    guide.take(Tick(now + 2))
    hold_at(guide, 40, now + 10, 21.7)
    assert resumed(guide) is None
    hold_at(guide, 40, now + 31.7, 0.6)
    assert resumed(guide) == "on-trust"


@pytest.mark.parametrize("start_s", [0, UP_S])
def test_an_empty_pan_from_before_the_trouble_proves_nothing_after_it(start_s: float) -> None:
    """A light cup after a gap in which it may have been poured into; zero only flickers."""
    guide = Guide(terms(60, hands_free=False))
    now = hold_at(guide, 12, hold_at(guide, 0, start_s, 2), 3)
    guide.take(Tick(now + 5))
    hold_at(guide, 12, ramp(guide, 0, 0, now + 10, 0.3), 2)
    assert [rest.mass_ug for rest in guide.sight.rests] == [0, 12_000_000]
    assert resumed(guide) is None


@pytest.mark.parametrize("start_s", [0, UP_S])
def test_go_does_not_take_a_rest_from_before_the_trouble(start_s: float) -> None:
    """The cup is only just back, and swings through the weight that it had."""
    guide, now = resin(44.1, start_s=start_s)
    now = ramp(guide, 0, 0, now, 0.2) - 0.1
    guide.take(weighed(56.1, now + 0.1, still=False))
    assert guide.sight.recent_rest(now + 0.2) is not None
    guide.take(Key(now + 0.2, "go"))
    assert guide.refusal == HELD["lifted"]
    assert resumed(guide) is None


LEANT = {
    "a finger": [3, 8, 10, 8, 3, 1, 0.1],
    "a wrist": [2, 4.5, 4.9, 5, 4.9, 5, 4.9, 5, 5, 4.9, 2.4, 0.9, 0.2],
    "a jug's lip": [6, 16, 19, 20, 20, 20, 20, 20, 20, 14, 4, 1, 0.1],
}


@pytest.mark.parametrize("hands_free", [False, True])
@pytest.mark.parametrize("leant", LEANT)
@pytest.mark.parametrize("with_hardener_in", [False, True])
def test_a_hand_that_leant_on_the_cup_at_rest_has_brought_nothing_and_taken_nothing(
    hands_free: bool, leant: str, with_hardener_in: bool
) -> None:
    """A filtered display rises as in a stream, and falls again to what rested before."""
    guide, now = (with_hardener if with_hardener_in else tared_and_resin)(hands_free)
    rested_g = 64.1 if with_hardener_in else 56.1
    now = hold_at(guide, rested_g, now, 2)
    for more_g in LEANT[leant]:
        guide.take(weighed(rested_g + more_g, now, still=False))
        guide.take(Tick(now))
        now += 0.1
    hold_at(guide, rested_g, now, 3)
    assert guide.pour.trouble is None
    assert guide.pour.unproven_because is None
    assert not any(isinstance(fact, Lost) for fact in guide.facts)
    assert guide.pour.shift_ug == 0


def test_who_lifts_the_cup_as_told_after_leaning_on_it_is_asked_for_no_addition() -> None:
    guide, now = with_hardener()
    now = hold_at(guide, 64.1, now, 2)
    for more_g in LEANT["a jug's lip"]:
        guide.take(weighed(64.1 + more_g, now, still=False))
        now += 0.1
    now = hold_at(guide, 0, now, 2)
    hold_at(guide, 64.1, now, 3)
    assert guide.pour.trouble is None
    assert guide.pour.unproven_because is None
    assert guide.pour.shift_ug == 0


@pytest.mark.parametrize("more_g", [-0.2, 0.0, 0.8])
def test_what_comes_back_out_of_the_first_stream_may_be_a_heavier_cup(more_g: float) -> None:
    guide, now = Guide(terms(60)), 2.0
    hold_at(guide, 0, 0, 2)
    now = ramp(guide, 12, 18, hold_at(guide, 12, now, 3), 1.5)
    now = hold_at(guide, 0, now, 2)
    hold_at(guide, 18 + more_g, now, 3)
    assert guide.pour.trouble is None
    assert guide.pour.unproven_because == ANOTHER


def test_a_cup_that_is_lifted_to_look_while_nothing_runs_is_the_same_cup() -> None:
    guide, now = Guide(terms(60)), 2.0
    hold_at(guide, 0, 0, 2)
    now = ramp(guide, 12, 18, hold_at(guide, 12, now, 3), 1.5)
    now = hold_at(guide, 0, hold_at(guide, 18, now, 4), 2)
    hold_at(guide, 18, now, 3)
    assert guide.pour.trouble is None
    assert guide.pour.unproven_because is None


@pytest.mark.parametrize("shown_g", [12.0, 12.1, 18.0])
@pytest.mark.parametrize("came_g", [6.0, 12.7, 23.0])
@pytest.mark.parametrize("on_pan", [True, False])
def test_a_cup_that_came_while_the_program_was_gone_may_be_a_heavier_one(
    shown_g: float, came_g: float, on_pan: bool
) -> None:
    """It was cut off in the first stream, or a moment before: nothing tells resin from a cup."""
    guide, now = Guide(terms(60)), 2.0
    hold_at(guide, 0, 0, 2)
    now = hold_at(guide, 12, now, 3)
    if shown_g > 12:
        now = ramp(guide, 12, shown_g, now, 1.5)
    restart(guide, now, shown_g)
    now += 24
    if on_pan:
        now = hold_at(guide, shown_g + came_g, now, 3)
    now = hold_at(guide, 0, now, 3)
    now = hold_at(guide, shown_g + came_g, now, 4)
    assert guide.pour.trouble is None
    assert guide.pour.unproven_because == ANOTHER_MEANWHILE


def test_much_resin_that_came_while_the_program_was_gone_is_no_cup() -> None:
    guide, now = Guide(terms(60)), 2.0
    hold_at(guide, 0, 0, 2)
    now = ramp(guide, 12, 42, hold_at(guide, 12, now, 3), 4)
    restart(guide, now, 42)
    now = hold_at(guide, 52, now + 24, 3)
    hold_at(guide, 52, hold_at(guide, 0, now, 3), 4)
    assert guide.pour.trouble is None
    assert guide.pour.unproven_because is None
