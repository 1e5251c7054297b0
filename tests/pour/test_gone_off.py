"""Hands free and nobody at the keys: what must not go on by itself, and what need not stop."""

from __future__ import annotations

from dataclasses import replace

import pytest
from support.pouring import Guide, hold_at, ramp, tared_and_resin, terms, weighed

from devices.readings import Reading
from mixer.pour.bands import Cup, next_call
from mixer.pour.facts import Parted
from mixer.pour.inputs import Key, Tick, Weighed
from mixer.pour.state import evolve
from mixer.pour.words import CUP_IS_OFF, NOT_THE_SAME


def half_poured() -> tuple[Guide, float]:
    """20 of 44 g of resin are in a cup of 12 g, in the stream."""
    guide = Guide(terms(60, hands_free=True))
    now = hold_at(guide, 12, hold_at(guide, 0, 0, 2), 3)
    return guide, ramp(guide, 12, 32, now, 4)


def cues_while(guide: Guide, mass_g: float, now: float, for_s: float) -> tuple[set[str], float]:
    cues = set()
    for i in range(round(for_s * 10)):
        guide.take(weighed(mass_g, now + i / 10))
        guide.take(Tick(now + i / 10))
        cues.add(guide.cue)
    return cues, now + for_s


@pytest.mark.parametrize("away_s", [5, 31, 40, 600])
def test_no_jug_is_called_for_while_the_cup_is_off(away_s: float) -> None:
    guide, now = half_poured()
    now = hold_at(guide, 0, now, 0.2)  # a single frame is none
    cues, now = cues_while(guide, 0, now, away_s)
    assert cues <= {"stop", "wait", "place"}
    assert (guide.cue, guide.say) == ("place", CUP_IS_OFF)
    now = hold_at(guide, 32.0, now, 3)
    assert guide.pour.trouble is None
    assert guide.pour.unproven_because is None
    assert guide.component == "resin"


def test_who_lifts_the_cup_late_as_told_has_the_time_for_it() -> None:
    guide, now = half_poured()
    for i in range(6):  # a hand upon the cup, in the stream
        guide.take(weighed(72 if i < 3 else 20, now + i / 10, still=False))
    now = hold_at(guide, 36.0, now + 0.6, 27)
    assert guide.pour.trouble is not None
    assert (guide.cue, guide.say) == ("lift", NOT_THE_SAME)
    cues, now = cues_while(guide, 0, now, 6)
    assert not {"pour", "ease"} & cues
    hold_at(guide, 36.0, now, 3)
    assert guide.pour.trouble is None


def test_what_stands_there_and_is_not_the_same_goes_on_unproven() -> None:
    guide, now = half_poured()
    for i in range(6):
        guide.take(weighed(20, now + i / 10, still=False))
    now = hold_at(guide, 36.0, now + 0.6, 32)
    assert guide.pour.trouble is None
    assert guide.pour.unproven_because is not None


@pytest.mark.parametrize("wrong_g", [0.0, 5.0, 25.0, 60.0])
def test_one_frame_that_is_wrong_stops_no_stream(wrong_g: float) -> None:
    guide, now = half_poured()
    guide.take(weighed(wrong_g, now, still=False))
    now = ramp(guide, 32, 50, now, 3)
    hold_at(guide, 50, now, 4)
    assert not [fact for fact in guide.facts if fact.kind in ("held", "doubted")]


def test_an_answer_that_would_more_than_double_the_batch_is_none() -> None:
    what = replace(terms(200), scale_most_ug=10_000_000_000)
    for hardener_g, fits in ((40.0, True), (60.0, False)):
        amounts = (44_100_000, round(hardener_g * 1e6))
        call = next_call(Cup(what, 12_000_000, 100_000, amounts, (True, True), 1))
        assert call is not None
        assert call.fits is fits


@pytest.mark.parametrize("hardener_g", [20.0, 40.0, 60.0])
def test_where_twice_the_batch_is_too_much_nothing_larger_is_asked_for(hardener_g: float) -> None:
    """In a cup with room for ten times as much."""
    what = replace(terms(60), cup_most_ug=1_000_000_000)
    amounts = (44_100_000, round(hardener_g * 1e6))
    call = next_call(Cup(what, 12_000_000, 100_000, amounts, (True, True), 1))
    assert call is not None
    assert call.target_ug <= round(amounts[1] / 0.36)


def test_the_rising_weight_of_a_light_cup_is_not_taken_for_the_empty_pan() -> None:
    """On a scale of 1 g with slow filters."""
    guide = Guide(terms(450))

    def show(mass_g: int, now: float) -> None:
        reading = Reading(mass_g * 1_000_000, f"{mass_g} g", "g", 1_000_000, True, at_s=now)
        guide.take(Weighed(reading))
        guide.take(Tick(now))

    now = 0.0
    for mass_g, for_s in ((0, 2.0), (1, 0.4), (2, 0.5), (3, 0.5), (4, 3.0)):
        for _ in range(round(for_s * 20)):
            show(mass_g, now := now + 0.05)
    assert guide.pour.tared is not None
    assert guide.pour.tared.zero_ug == 0


def test_additions_that_together_more_than_double_the_batch_asked_for_are_none() -> None:
    """Each by itself would do: 60 g were asked for, and 70 g are in the cup."""
    cup = Cup(terms(60), 12_000_000, 100_000, (50_000_000, 20_000_000), (True, True), 5)
    least = next_call(cup)
    assert least is not None
    more_ug = least.low_ug + 200_000 - 50_000_000  # two divisions above the least
    for added_ug, fits in ((60_000_000 - more_ug, True), (60_000_001 - more_ug, False)):
        call = next_call(replace(cup, added_ug=added_ug))
        assert call is not None
        assert (call.component, call.fits) == (0, fits)


def test_what_was_added_is_counted_and_parted_with_the_rest() -> None:
    guide, now = tared_and_resin(hands_free=True)
    now = hold_at(guide, 56.1, now, 9)
    now = hold_at(guide, 74.1, ramp(guide, 56.1, 74.1, now, 6), 12)  # 18 g of hardener
    assert guide.component == "resin"
    hold_at(guide, 80.0, ramp(guide, 74.1, 80.0, now, 4), 12)  # and 50 g of resin
    assert guide.pour.added_ug == 5_900_000
    half = Parted(0, 80_000_000, 46_000_000, (25_000_000, 9_000_000), "")
    assert evolve(guide.pour, half).added_ug == 2_950_000


def test_a_hold_that_is_taken_back_at_once_is_no_double_press() -> None:
    guide, now = tared_and_resin(hands_free=False)
    guide.take(Key(now, "go"))
    guide.take(Key(now + 0.1, "hold"))
    assert guide.pour.held_by_hand
    guide.take(Key(now + 0.3, "go"))
    assert not guide.pour.held_by_hand


def test_where_nothing_was_poured_nothing_is_out_of_band() -> None:
    guide = Guide(terms(60))
    now = hold_at(guide, 12, hold_at(guide, 0, 0, 2), 3)
    guide.take(Key(now, "drop"))
    ended = guide.pour.result
    assert ended is not None
    assert (ended.verdict, ended.unproven_because) == ("unproven", "nothing was poured")


def test_a_last_digit_at_the_edge_of_the_band_calls_for_no_jug() -> None:
    guide, now = tared_and_resin(hands_free=True)
    now = hold_at(guide, 56.1, now, 9)
    assert guide.component == "hardener"
    called = guide.pour.called
    assert called is not None
    edge_g = 56.1 + -(-called.low_ug // 100_000) / 10  # the first that is in band
    now = ramp(guide, 56.1, edge_g, now, 5)
    cues: list[str] = []
    for i in range(300):  # three seconds on either side of it
        guide.take(weighed(edge_g - (0.1 if i // 30 % 2 else 0.0), now + i / 10))
        guide.take(Tick(now + i / 10))
        cues += [guide.cue] if cues[-1:] != [guide.cue] else []
        if guide.pour.stage != "pour":
            break
    assert guide.pour.stage == "stir"
    assert cues.count("ease") <= 1


def test_a_jug_that_is_long_in_coming_is_called_for_longer_each_time() -> None:
    """The correction of an over-pour, upon drips of the jug before."""
    guide, now = tared_and_resin(hands_free=True)
    now = hold_at(guide, 56.1, now, 9)
    now = hold_at(guide, 72.6, ramp(guide, 56.1, 72.6, now, 6), 9)
    assert guide.component == "resin"
    eased_s: list[float] = []
    since_s = now
    cue = guide.cue
    for i in range(600):
        guide.take(weighed(min(72.8, 72.6 + i // 5 / 10), now + i / 10))
        guide.take(Tick(now + i / 10))
        if guide.cue != cue:
            eased_s += [now + i / 10 - since_s] if cue == "ease" else []
            cue, since_s = guide.cue, now + i / 10
    assert max(eased_s) > 2 * eased_s[0]


@pytest.mark.parametrize("knock_g", [8, 20, 60, 300])
@pytest.mark.parametrize(
    ("for_s", "steady"),
    [(0.2, False), (0.6, False), (1.0, False), (2.0, False), (1.0, True), (3.0, True)],
)
def test_a_knock_in_the_stream_is_not_taken_for_what_is_in_the_cup(
    knock_g: float, for_s: float, steady: bool
) -> None:
    guide, now = tared_and_resin(hands_free=True)
    now = hold_at(guide, 56.1, now, 9)
    assert guide.component == "hardener"
    now = ramp(guide, 56.1, 61.1, now, 3)
    if steady:  # something that is laid on the pan
        hold_at(guide, 61.1 + knock_g, now, for_s)
    else:  # a hand that leans on the cup
        for i in range(round(for_s * 10)):
            guide.take(weighed(61.1 + knock_g + i % 3, now + i / 10, still=False))
    now = hold_at(guide, 61.1, now + for_s, 4)
    assert not [fact for fact in guide.facts if fact.kind in ("held", "doubted", "lost")]
    now = hold_at(guide, 72.0, ramp(guide, 61.1, 72.0, now, 4), 9)
    assert guide.pour.stage == "stir"


def test_a_stream_soon_after_the_cup_was_put_back_is_no_knock() -> None:
    guide, now = half_poured()
    now = hold_at(guide, 32, hold_at(guide, 0, now, 2), 1)
    ramp(guide, 32, 36, now, 1)
    assert guide.pour.trouble is None
    assert guide.sight.level_ug == pytest.approx(34_000_000, abs=200_000)


def test_what_came_at_once_and_stays_is_content_in_the_end() -> None:
    guide, now = half_poured()
    now = hold_at(guide, 72, now, 5)
    hold_at(guide, 32, now, 2)
    assert guide.pour.trouble is not None


def test_a_fast_stream_whose_readings_come_late_is_no_knock() -> None:
    """15 g/s, ten readings a second, each given its time up to 0.15 s late."""
    guide, now = half_poured()
    for i in range(1, 11):
        late_s = 0.15 if i % 3 else 0.0
        guide.take(weighed(32 + 1.5 * i, now + i / 10 + late_s, still=False))
    assert guide.sight.level_ug == pytest.approx(39_500_000, abs=1_600_000)
