"""When a weight may be followed again, at its edges.

A cup of 12 g with 44.1 g of resin in it; 56.1 g in all.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from support.pouring import Guide, begins_to_run, hold_at, ramp, tared_and_resin, terms, weighed

from devices.readings import Fault, FaultKind, Reading
from mixer.pour.facts import Held
from mixer.pour.inputs import Failed, Tick, Weighed
from mixer.pour.words import FAULT_REASON, HELD


def resumed(guide: Guide) -> str | None:
    """How the pour went on, or ``None``."""
    return next((f.how for f in reversed(guide.facts) if f.kind == "resumed"), None)


# -- what is trouble ---------------------------------------------------------------------


@pytest.mark.parametrize("kind", list(FaultKind))
def test_each_fault_holds_the_pour_with_its_reason(kind: FaultKind) -> None:
    guide, now = tared_and_resin(hands_free=False)
    # Frames that cannot be read are trouble where no whole one has come for a second.
    at_s = now + 1.3 if kind is FaultKind.NONSENSE else now + 0.1
    guide.take(Failed(Fault(kind, "?", "Trouble.", at_s)))
    assert guide.pour.trouble is not None
    assert guide.pour.trouble.reason == FAULT_REASON[kind]
    assert guide.say == HELD[FAULT_REASON[kind]]
    assert guide.facts[-1] == Held(
        round(at_s * 1000), FAULT_REASON[kind], 56_100_000, HELD[FAULT_REASON[kind]]
    )


@pytest.mark.parametrize(("gap_s", "held"), [(0.9, False), (1.1, True)])
def test_silence_is_trouble_after_a_second(gap_s: float, held: bool) -> None:
    guide, now = tared_and_resin(hands_free=False)
    guide.take(Tick(now - 0.1 + gap_s))
    assert (guide.pour.trouble is not None) is held


@pytest.mark.parametrize(("mass_g", "held"), [(55.1, False), (55.0, True)])
def test_a_fall_of_more_than_a_gram_is_a_cup_that_was_touched(mass_g: float, held: bool) -> None:
    guide, now = tared_and_resin(hands_free=False)
    hold_at(guide, mass_g, now, 0.2)
    assert (guide.pour.trouble is not None) is held


def test_a_second_trouble_keeps_the_first_ones_weight_and_time() -> None:
    guide, now = tared_and_resin(hands_free=False)
    hold_at(guide, 0, now, 0.2)
    first = guide.pour.trouble
    guide.take(Tick(now + 3))
    second = guide.pour.trouble
    assert first is not None
    assert second is not None
    assert (second.reason, second.gross_ug, second.at_ms) == ("silent", 56_100_000, first.at_ms)


# -- the same weight -----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("mass_g", "goes_on"),
    [(55.7, False), (55.8, True), (56.1, True), (57.0, True), (57.1, False)],
)
def test_after_a_long_silence_the_same_weight_but_for_drips(mass_g: float, goes_on: bool) -> None:
    """0.3 g either way for the scale, 0.6 g of late drips upwards."""
    guide, now = tared_and_resin(hands_free=False)
    guide.take(Tick(now + 5))
    hold_at(guide, mass_g, now + 10, 2)
    assert (resumed(guide) == "continuous") is goes_on
    assert guide.pour.unproven_because is None


@pytest.mark.parametrize(
    ("silent_s", "first_g", "goes_on"),
    [
        (2.0, 56.1 + 15, True),  # 15 g/s is more than any stream
        (2.0, 56.1 + 40, False),
        (3.9, 56.1 + 15, True),
        (4.5, 56.1 + 15, False),  # too long for the same stream
        (2.0, 56.1 - 0.9, False),
    ],
)
def test_after_a_short_silence_what_a_stream_can_have_made_of_it(
    silent_s: float, first_g: float, goes_on: bool
) -> None:
    guide, now = tared_and_resin(hands_free=False)
    now = begins_to_run(guide, now)
    last_s = now - 0.1
    guide.take(Tick(last_s + 1.05))
    back_s = last_s + silent_s
    now = ramp(guide, first_g - 0.1, first_g + 3, back_s - 0.1, 1.0)
    hold_at(guide, first_g + 3, now, 2)
    assert (resumed(guide) == "continuous") is goes_on


@pytest.mark.parametrize("readings", [5, 30])
@pytest.mark.parametrize(("more_g", "goes_on"), [(22.8, True), (22.9, False)])
def test_what_runs_on_while_tare_is_pressed_has_an_end(
    more_g: float, goes_on: bool, readings: int
) -> None:
    """0.3 g for the scale and 15 g/s for 1.5 s: 22.8 g, however long tare was on."""
    guide, now = tared_and_resin(hands_free=False)
    for _ in range(readings):
        tared = replace(weighed(0, now := now + 0.1).reading, scale_tared=True)
        guide.take(Weighed(tared))
    hold_at(guide, 56.1 + more_g, now + 0.1, 2)
    assert (guide.pour.trouble is None) is goes_on


@pytest.mark.parametrize("came_g", [3.0, 20.0])
def test_a_scale_that_was_silent_and_then_shows_another_unit_was_silent_all_the_same(
    came_g: float,
) -> None:
    """What may run on while the scale still weighs is not allowed for after a gap."""
    guide, now = tared_and_resin(hands_free=False)
    guide.take(Tick(now + 5))
    ounces = Reading(2_100_000, "0.07 oz", "oz", 280_000, True, at_s=now + 10)
    guide.take(Weighed(ounces))
    hold_at(guide, 56.1 + came_g, now + 10.1, 2)
    assert resumed(guide) is None


def light_cup(hands_free: bool = False) -> tuple[Guide, float]:
    """A cup of 12 g with 20 g of resin in it; a stream soon weighs as much."""
    guide = Guide(terms(60, hands_free=hands_free))
    now = hold_at(guide, 12, hold_at(guide, 0, 0, 2), 3)
    return guide, hold_at(guide, 32, ramp(guide, 12, 32, now, 2), 4)


def test_a_gap_long_after_the_stream_has_stopped_hides_no_stream() -> None:
    """An overload of ten seconds, and all along the cue was to wait; then a damaged line."""
    guide, now = light_cup()
    for i in range(100):
        guide.take(Failed(Fault(FaultKind.OVERLOAD, "?", "Trouble.", now + i / 10)))
    guide.take(Failed(Fault(FaultKind.NONSENSE, "?", "Trouble.", now + 10)))
    assert guide.pour.trouble is not None
    assert guide.pour.trouble.reason == "nonsense"
    hold_at(guide, 32, now + 12, 2)
    assert resumed(guide) == "continuous"


def test_a_gap_in_a_stream_is_not_forgotten_when_the_trouble_changes() -> None:
    guide, now = light_cup()
    guide.take(Tick(now + 1.1))
    for i in range(100):
        guide.take(Failed(Fault(FaultKind.OVERLOAD, "?", "Trouble.", now + 5 + i / 10)))
    hold_at(guide, 32, now + 16, 2)
    assert resumed(guide) is None


@pytest.mark.parametrize("after_s", [0.3, 1.2])
def test_a_scale_that_falls_silent_in_an_overload_is_silent(after_s: float) -> None:
    """It may have been switched off, in the middle of a stream, and taken the cup for zero."""
    guide, now = light_cup()
    guide.take(Failed(Fault(FaultKind.OVERLOAD, "?", "Trouble.", now + after_s)))
    guide.take(Tick(now + after_s + 2.1))
    assert guide.pour.trouble is not None
    assert guide.pour.trouble.reason == "silent"
    hold_at(guide, 32, now + 30, 2)
    assert resumed(guide) is None


@pytest.mark.parametrize("ticks", [True, False])
def test_a_computer_that_slept_in_a_stream_has_missed_it(ticks: bool) -> None:
    """Whether the clock or the scale is heard first when it wakes up."""
    guide, now = light_cup()
    if ticks:
        guide.take(Tick(now + 600))
    hold_at(guide, 32, now + 600.1, 2)
    assert resumed(guide) is None


# -- a fall, and what comes after ---------------------------------------------------------


@pytest.mark.parametrize(
    ("rise_s", "goes_on"), [(0.1, True), (1.5, True), (2.9, True), (3.2, False)]
)
def test_a_cup_that_was_lifted_comes_back_faster_than_a_stream(
    rise_s: float, goes_on: bool
) -> None:
    """56.1 g in 2.9 s is 19.3 g/s, in 3.2 s it is 17.5: the limit is 18."""
    guide, now = tared_and_resin(hands_free=False)
    now = ramp(guide, 30, 0, now, 0.3)
    now = ramp(guide, 0, 56.1, now, rise_s)
    hold_at(guide, 56.1, now, 0.9)
    assert (resumed(guide) == "continuous") is goes_on
    assert guide.pour.unproven_because is None


def test_a_cup_lifted_out_of_the_stream_comes_back_however_late_it_comes_to_rest() -> None:
    """A display that flickers for long; no rest was seen at the weight before."""
    guide, now = tared_and_resin(hands_free=True)
    now = ramp(guide, 56.1, 64.1, hold_at(guide, 56.1, now, 8), 4)
    assert guide.component == "hardener"
    now = ramp(guide, 40, 0, now, 0.2)
    now = ramp(guide, 10, 64.1, hold_at(guide, 0, now, 3), 0.5)
    for i in range(80):
        guide.take(weighed(64.1 + 0.2 * (i % 2), now := now + 0.1, still=False))
    hold_at(guide, 64.1, now + 0.1, 2)
    assert guide.pour.trouble is None
    assert guide.pour.unproven_because is None


def test_a_unit_with_coarse_steps_moves_no_weight_that_is_trusted() -> None:
    guide, now = tared_and_resin(hands_free=True)
    now = ramp(guide, 56.1, 64.1, hold_at(guide, 56.1, now, 8), 4)
    for _ in range(30):  # 0.05 oz is 1.4 g: what is shown is up to 0.7 g beside it
        oz = Reading(64_800_000, "2.3 oz", "oz", 1_400_000, True, at_s=(now := now + 0.1))
        guide.take(Weighed(oz))
    assert guide.pour.trouble is not None
    assert guide.pour.trouble.gross_ug <= 64_100_000
    hold_at(guide, 64.1, now + 0.1, 2)
    assert resumed(guide) == "continuous"


def test_a_lower_digit_that_was_misread_twice_is_over_at_once() -> None:
    guide, now = tared_and_resin(hands_free=False)
    now = hold_at(guide, 6.1, now, 0.2)
    assert guide.pour.trouble is not None
    hold_at(guide, 56.1, now + 0.1, 1)
    assert resumed(guide) == "continuous"


@pytest.mark.parametrize("pouring", [False, True])
def test_the_same_cup_before_and_after_an_empty_pan_is_believed(pouring: bool) -> None:
    """After a gap that its weight alone does not bridge; but only a stream explains it."""
    guide, now = tared_and_resin(hands_free=False)
    if pouring:
        now = ramp(guide, 56.1, 60.1, now, 2)
    known_g = 60.1 if pouring else 56.1
    guide.take(Tick(now + 5))
    now = hold_at(guide, known_g + 1.9, now + 10, 2)
    assert resumed(guide) is None
    now = hold_at(guide, 0, now, 2)
    hold_at(guide, known_g + 1.9, now, 2)
    assert resumed(guide) == ("empty-seen" if pouring else "heavier")
    assert guide.pour.shift_ug == 0
    assert (guide.pour.unproven_because is None) is pouring


def test_a_pan_that_does_not_show_its_zero_proves_nothing() -> None:
    guide, now = tared_and_resin(hands_free=False)
    guide.take(Tick(now + 5))
    now = hold_at(guide, 58.0, now + 10, 2)
    now = hold_at(guide, 0.9, now, 2)
    hold_at(guide, 58.0, now, 2)
    assert resumed(guide) is None


def test_a_weight_below_the_empty_cup_is_not_that_cup() -> None:
    guide, now = tared_and_resin(hands_free=False)
    guide.take(Tick(now + 5))
    now = hold_at(guide, 11.0, now + 10, 2)
    now = hold_at(guide, 0, now, 2)
    hold_at(guide, 11.0, now, 2)
    assert resumed(guide) is None


def test_a_cup_that_comes_back_lighter_while_it_is_resin_alone_may_be_another() -> None:
    """Resin alone is still resin; but it may be in another cup, whose own weight nobody knows.
    Zero may have been pressed as it came back, too: it is to be seen on either side of the empty
    pan, before it is called unproven."""
    guide, now = tared_and_resin(hands_free=False)
    now = hold_at(guide, 0, now, 2)
    now = hold_at(guide, 46.1, now, 2)
    assert resumed(guide) is None
    hold_at(guide, 46.1, hold_at(guide, 0, now, 2), 2)
    assert resumed(guide) == "lighter"
    assert guide.pour.unproven_because is not None
    assert "another cup" in guide.pour.unproven_because
    assert guide.left_g == pytest.approx(10.0, abs=0.1)


@pytest.mark.parametrize("other_g", [13.0, 24.3, 40.0, 55.0])
def test_another_empty_cup_is_not_the_one_with_resin_in_it(other_g: float) -> None:
    """The first one was thrown away, or its resin poured into this one."""
    guide, now = tared_and_resin(hands_free=False)
    guide.take(Tick(now + 5))
    now = hold_at(guide, other_g, now + 10, 2)
    hold_at(guide, other_g, hold_at(guide, 0, now, 2), 2)
    assert resumed(guide) == "lighter"
    assert guide.pour.unproven_because is not None


def test_a_cup_that_comes_back_lighter_with_both_in_it_is_unproven() -> None:
    guide, now = tared_and_resin(hands_free=True)
    now = hold_at(guide, 56.1, now, 8)
    assert guide.component == "hardener"
    now = hold_at(guide, 64.1, ramp(guide, 56.1, 64.1, now, 4), 2)
    now = hold_at(guide, 0, now, 2)
    hold_at(guide, 60.1, now, 2)
    assert resumed(guide) == "empty-seen"
    assert guide.pour.shift_ug == 4_000_000
    assert guide.pour.unproven_because is not None
    assert guide.left_g == pytest.approx(15.876 - 8.0, abs=0.1)


@pytest.mark.parametrize(("more_g", "proven"), [(0.8, True), (2.0, False), (3.0, False)])
@pytest.mark.parametrize("hardener", [False, True])
def test_a_cup_that_comes_back_heavier_than_it_was_is_unproven(
    more_g: float, proven: bool, hardener: bool
) -> None:
    """A stick left in it, or something poured into it in the hand: nobody saw what."""
    guide, now = tared_and_resin(hands_free=hardener)
    mass_g = 56.1
    now = hold_at(guide, mass_g, now, 9)
    if hardener:
        assert guide.component == "hardener"
        mass_g = 64.1
        now = hold_at(guide, mass_g, ramp(guide, 56.1, mass_g, now, 4), 2)
    now = hold_at(guide, 0, now, 2)
    hold_at(guide, mass_g + more_g, now, 2)
    assert guide.pour.trouble is None
    assert (guide.pour.unproven_because is None) is proven
    if not proven:
        assert resumed(guide) == "heavier"


# -- on trust ------------------------------------------------------------------------------


@pytest.mark.parametrize(("hands_free", "how"), [(True, "on-trust"), (False, None)])
def test_only_hands_free_goes_on_by_itself(hands_free: bool, how: str | None) -> None:
    guide, now = tared_and_resin(hands_free=hands_free)
    guide.take(Tick(now + 2))
    hold_at(guide, 40, now + 10, 40)
    assert resumed(guide) == how


def test_a_pan_that_may_be_empty_is_never_poured_upon() -> None:
    """A scale that was switched off may have lost the cup, or taken it for zero."""
    guide, now = tared_and_resin(hands_free=True)
    guide.take(Tick(now + 2))
    now = hold_at(guide, 0, now + 10, 300)
    assert resumed(guide) is None
    now = hold_at(guide, -56.1, now, 40)  # it had: the cup is lifted, as it was told to be
    assert resumed(guide) is None
    now = hold_at(guide, 0, now, 60)  # zero was pressed: the pan is empty
    assert resumed(guide) is None
    now = hold_at(guide, -56.1, now, 2)
    hold_at(guide, 0, ramp(guide, -56.1, 0, now, 0.3), 12)
    assert resumed(guide) == "on-trust"
    assert guide.pour.shift_ug == 56_100_000


def test_less_than_nothing_from_before_the_trouble_tells_nothing_of_it() -> None:
    """Tare was pressed upon the empty cup, and put right, before it was weighed."""
    guide = Guide(terms(60, hands_free=True))
    now = hold_at(guide, -12, hold_at(guide, 0, 0, 2), 2)
    now = hold_at(guide, 12, hold_at(guide, 0, now, 2), 3)
    assert guide.pour.stage == "pour"
    guide.take(Tick(now + 2))
    hold_at(guide, 0, now + 10, 60)
    assert resumed(guide) is None


def test_hands_free_goes_on_after_half_a_minute_and_not_before() -> None:
    guide, now = tared_and_resin(hands_free=True)
    guide.take(Tick(now + 2))
    trouble = guide.pour.trouble
    assert trouble is not None
    hold_at(guide, 40, now + 10, 21.8)
    assert guide.pour.trouble == trouble
    hold_at(guide, 40, now + 31.8, 0.5)
    assert guide.pour.trouble is None


def test_an_empty_cup_in_the_place_of_a_full_one_is_not_filled_again() -> None:
    """On trust, unproven; and what is asked for counts what was weighed before."""
    guide, now = tared_and_resin(hands_free=True)
    now = hold_at(guide, 56.1, now, 9)
    assert guide.component == "hardener"
    guide.take(Tick(now + 5))
    hold_at(guide, 12, now + 10, 40)
    assert guide.pour.unproven_because is not None
    assert guide.left_g == pytest.approx(15.9, abs=0.1)


@pytest.mark.parametrize("lay_g", [40.0, 7.0])
def test_what_lay_on_the_pan_and_was_weighed_with_the_jug_is_not_reckoned_on(lay_g: float) -> None:
    """8 g of hardener are in, and were at rest before it was laid there, and after."""
    guide, now = tared_and_resin(hands_free=True)
    now = hold_at(guide, 56.1, now, 9)
    now = hold_at(guide, 64.1, ramp(guide, 56.1, 64.1, now, 4), 2)
    now = hold_at(guide, 64.1 + lay_g, now, 5)
    now = hold_at(guide, 0, hold_at(guide, 64.1, now, 2), 2)
    hold_at(guide, 64.1, now, 2)
    assert guide.pour.trouble is None
    assert guide.pour.shift_ug == 0
    assert guide.pour.unproven_because is not None
