"""What comes upon the scale at once, or goes off it, and is nothing that was poured; and a
stream upon a cup that the scale took for nothing. A cup of 12 g, on a display of 0.1 g."""

from __future__ import annotations

from dataclasses import replace

import pytest
from support.pouring import Guide, hold_at, ramp, tared_and_resin, terms, weighed

from mixer.pour.inputs import Key, Weighed
from mixer.pour.more_cup import AS_IF_PUT, LEAPT, MAY_BE_RESIN
from mixer.pour.plain import from_plain, to_plain
from mixer.pour.state import fold
from mixer.pour.words import CUP_IS_OFF, HELD, MORE_CUP, PAN_NOT_ZERO


def tared_at(mass_g: float) -> tuple[Guide, float]:
    guide = Guide(terms(60))
    now = hold_at(guide, mass_g, hold_at(guide, 0, 0, 2), 2.5)
    assert guide.pour.stage == "pour"
    return guide, now


def tare_g(guide: Guide) -> float:
    assert guide.pour.tared is not None
    return guide.pour.tared.tare_ug / 1e6


@pytest.mark.parametrize("cup_g", [3, 5, 12, 80])
def test_a_cup_that_is_set_upon_what_was_tared_is_no_resin(cup_g: float) -> None:
    """Nor is it proven: a scoop of resin that falls in at once looks the same."""
    guide, now = tared_at(20)
    now = hold_at(guide, 20 + cup_g, now, 0.4)
    assert cup_g < 12 or (guide.cue, guide.say) == ("wait", MORE_CUP)
    now = hold_at(guide, 20 + cup_g, now, 2)
    assert tare_g(guide) == 20 + cup_g
    assert guide.pour.amounts_ug == (0, 0)
    assert guide.left_g == pytest.approx(44.1, abs=0.1)
    assert guide.pour.unproven_because == MAY_BE_RESIN


def test_what_leapt_and_was_poured_upon_at_once_leaves_the_batch_unproven() -> None:
    guide, now = tared_at(20)
    now = ramp(guide, 20, 32, now, 0.2)
    hold_at(guide, 62, ramp(guide, 32, 62, now, 5), 3)
    assert guide.pour.unproven_because == LEAPT


@pytest.mark.parametrize(
    ("by_g", "why"), [((0.4, 0.8, 1.2, 1.6, 2.0), AS_IF_PUT), ((6, 6), MAY_BE_RESIN)]
)
def test_on_a_slow_display_it_is_as_sudden_as_the_cup_was(
    by_g: tuple[float, ...], why: str
) -> None:
    """A cup that is shown to come in 0.4 s; upon it a few grams that come no slower."""
    guide = Guide(terms(60))
    now = ramp(guide, 0, 12, hold_at(guide, 0, 0, 2), 0.4)
    now = hold_at(guide, 12, now, 2.5)
    for more_g in by_g:
        guide.take(weighed(12 + more_g, now, still=False))
        now += 0.1
    hold_at(guide, 12 + by_g[-1], now, 2)
    assert guide.pour.unproven_because == why
    assert tare_g(guide) == (12 if why == AS_IF_PUT else 18)


@pytest.mark.parametrize("rate_g_s", [2, 6, 12, 15])
@pytest.mark.parametrize("resin_g", [4, 20])
def test_a_stream_that_stops_soon_is_resin(rate_g_s: float, resin_g: float) -> None:
    guide, now = tared_at(12)
    now = ramp(guide, 12, 12 + resin_g, now, max(0.6, resin_g / rate_g_s))
    hold_at(guide, 12 + resin_g, now, 5)
    assert tare_g(guide) == 12
    assert guide.pour.unproven_because is None


def test_a_pump_is_a_stream_however_fast() -> None:
    guide, now = tared_at(12)
    hold_at(guide, 54, ramp(guide, 12, 54, now, 1.7), 6)
    assert tare_g(guide) == 12
    assert guide.pour.unproven_because is None


def test_what_leaps_into_the_cup_in_mid_pour_and_stays_is_of_no_jug() -> None:
    guide, now = tared_and_resin(hands_free=True)
    hold_at(guide, 63.1, now, 6)
    assert guide.pour.unproven_because == LEAPT


def test_a_hand_on_the_cup_before_the_stream_is_soon_forgotten() -> None:
    guide, now = tared_at(12)
    now = hold_at(guide, 30, now, 0.8)
    now = hold_at(guide, 12, now, 3)
    hold_at(guide, 56, ramp(guide, 12, 56, now, 6), 4)
    assert (tare_g(guide), guide.pour.unproven_because) == (12, None)


@pytest.mark.parametrize("lifted", [False, True])
def test_what_lay_on_the_cup_at_its_tare_and_is_taken_off_has_it_taken_anew(lifted: bool) -> None:
    guide, now = tared_at(15)
    if lifted:
        now = hold_at(guide, 0, now, 3)
    hold_at(guide, 12, now, 3)
    assert guide.pour.trouble is None
    assert (tare_g(guide), guide.pour.unproven_because) == (12, None)


def test_a_stream_upon_a_cup_that_was_zeroed_is_no_lighter_cup() -> None:
    guide, now = tared_at(12)
    now = hold_at(guide, 0, now, 1)
    hold_at(guide, 9, ramp(guide, 0, 9, now, 1.5), 4)
    assert guide.pour.trouble is not None
    assert tare_g(guide) == 12


@pytest.mark.parametrize("at_g", [4.5, 6, 9])
@pytest.mark.parametrize("every_s", [0.1, 0.25])
def test_zero_that_is_pressed_in_the_first_of_the_stream_is_noticed(
    at_g: float, every_s: float
) -> None:
    """12 g/s into a cup of 4 g: a second later all is as if nothing had been."""
    guide, now = tared_at(4)
    mass_g, zeroed = 4.0, False
    for _ in range(round(3 / every_s)):
        mass_g += 12 * every_s
        if not zeroed and mass_g >= at_g:
            zeroed, mass_g = True, 12 * every_s / 2
        guide.take(weighed(mass_g, now, still=False))
        now += every_s
    assert guide.pour.trouble is not None
    assert guide.pour.trouble.reason == "lifted"


def test_a_scale_that_was_off_for_less_than_a_second_in_the_stream_is_noticed() -> None:
    guide, now = tared_at(4)
    for mass_g in (5.0, 6.2, 7.4):
        guide.take(weighed(mass_g, now, still=False))
        now += 0.1
    guide.take(weighed(7.6, now + 0.5, still=False))
    assert guide.pour.trouble is not None
    assert guide.pour.trouble.missed


def test_one_wrong_frame_in_the_first_of_a_stream_is_no_press_of_zero() -> None:
    guide, now = tared_at(12)
    for mass_g in (12.5, 13.5, 0.4, 15.5, 16.5):
        guide.take(weighed(mass_g, now, still=False))
        now += 0.1
    assert guide.pour.trouble is None


def test_a_pan_that_shows_no_zero_is_zeroed_before_the_cup_comes_back() -> None:
    guide, now = tared_and_resin(hands_free=True)
    now = hold_at(guide, -0.3, now, 2)  # zero was pressed while it was still settling
    assert (guide.cue, guide.say) == ("clear", PAN_NOT_ZERO)
    now = hold_at(guide, 0, now, 2)
    assert (guide.cue, guide.say) == ("place", CUP_IS_OFF)
    hold_at(guide, 56.1, now, 3)
    assert (guide.pour.trouble, guide.pour.unproven_because) == (None, None)


def shows(guide: Guide, mass_g: float, from_s: float, for_s: float, tared: bool) -> float:
    for i in range(round(for_s * 10)):
        at_s = from_s + i / 10
        guide.take(Weighed(replace(weighed(mass_g, at_s).reading, scale_tared=tared)))
    return from_s + for_s


def test_a_tare_of_the_scales_own_that_is_cleared_before_the_resin_has_the_cups_taken_anew() -> (
    None
):
    guide = Guide(terms(60))
    now = shows(guide, 12, shows(guide, 0, 0, 2, True), 3, True)
    now = shows(guide, 17, now, 3, False)
    assert (guide.pour.trouble, guide.pour.unproven_because) == (None, None)
    assert tare_g(guide) == 17


def test_a_tare_of_the_scales_own_that_is_cleared_in_mid_pour_can_be_gone_on_from() -> None:
    guide = Guide(terms(60))
    now = shows(guide, 12, shows(guide, 0, 0, 2, True), 3, True)
    for i in range(20):
        now = shows(guide, 12 + i, now, 0.1, True)
    now = shows(guide, 31, now, 3, True)
    now = shows(guide, 36, now, 3, False)
    assert guide.say == HELD["untared"] or guide.cue == "lift"
    guide.take(Key(now, "go"))
    now = shows(guide, 36, now + 0.1, 1, False)
    assert guide.pour.trouble is None
    assert guide.pour.unproven_because is not None
    assert guide.left_g == pytest.approx(25.1, abs=0.1)


def test_what_counts_is_the_coarsest_step_that_the_batch_was_weighed_in() -> None:
    """0.1 g up to 50 g on the scale, and 1 g above."""
    guide = Guide(terms(60))
    now = hold_at(guide, 12, hold_at(guide, 0, 0, 2), 3)
    for i in range(240):
        said = weighed(min(56, 12 + i), now, still=i > 46).reading
        guide.take(Weighed(replace(said, division_ug=1_000_000 if i > 38 else 100_000)))
        now += 0.1
    assert guide.component == "hardener"
    assert guide.pour.cup.division_ug == 1_000_000
    plain = [from_plain(fact.kind, fact.at_ms, to_plain(fact)) for fact in guide.facts]
    assert fold(fact for fact in plain if fact is not None) == guide.pour


def test_a_scale_that_counts_by_five_is_found_out_before_the_verdict() -> None:
    guide = Guide(terms(60))
    now = hold_at(guide, 12, hold_at(guide, 0, 0, 2), 3)
    assert guide.pour.cup.division_ug == 100_000
    for i in range(88):
        guide.take(weighed(12 + i / 2, now + i / 10, still=False))
    hold_at(guide, 56, now + 8.8, 12)
    assert guide.component == "hardener"
    assert guide.pour.cup.division_ug == 500_000
