"""The last of a narrow band, poured by the figure (:mod:`mixer.pour.little`)."""

from __future__ import annotations

import pytest
from closed_loop.poured import pour
from closed_loop.settings import SCALES, Setting
from hypothesis import assume, given
from hypothesis import strategies as st
from support.pouring import Guide, hold_at, press, ramp, tared_and_resin, terms

from devices.readings import Reading
from mixer.pour.approach import NOT_SO_GENTLE_UG_S, PULSE_LEAST_S, Habits
from mixer.pour.inputs import Tick, Weighed
from mixer.pour.little import (
    SURE_S,
    Little,
    begun,
    cue_s,
    is_little,
    is_narrow,
    is_wet,
    to_leave_ug,
)

G = 1_000_000
WARM, COLD = Habits(drip_ug=100_000), Habits(drip_ug=600_000)
BAND = 280_000  # 20 g of 100 : 36 within 3 %, on a scale of 0.01 g


@given(st.integers(0, 1_500_000), st.integers(1, 540_000))
def test_what_is_left_for_it_is_little_and_more_than_the_band(drip_ug: int, band_ug: int) -> None:
    left_ug = to_leave_ug(Habits(drip_ug=drip_ug), band_ug)
    assert is_narrow(band_ug)
    assert is_little(left_ug, band_ug)
    assert left_ug > drip_ug + band_ug // 2


def test_a_jug_that_drips_more_than_the_band_is_wide_is_left_room_for_two_cues() -> None:
    assert to_leave_ug(WARM, BAND) < 2 * 350_000
    assert to_leave_ug(COLD, BAND) > 2 * 600_000
    assert not is_wet(WARM, BAND)
    assert is_wet(COLD, BAND)
    careless = Habits(drip_ug=1_200_000)  # two of them would be poured at full stream
    assert to_leave_ug(careless, BAND) == to_leave_ug(Habits(), BAND) + 1_100_000


@given(st.integers(0, 2_500_000), st.integers(0, 400_000), st.integers(200_000, 890_000))
def test_the_first_cue_of_a_jug_that_drips_little_(
    left_ug: int, drip_ug: int, band_ug: int
) -> None:
    """Of 1.5 g/s, which opens as slowly as it closes."""
    habits, high_ug = Habits(drip_ug=drip_ug), left_ug + band_ug // 2
    assume(not is_wet(habits, band_ug))
    told_s = cue_s(Little(True, 0, left_ug), habits, high_ug - band_ug, high_ug)
    assert told_s >= PULSE_LEAST_S
    if told_s > PULSE_LEAST_S:
        assert drip_ug + NOT_SO_GENTLE_UG_S * (told_s - 0.13) <= high_ug + 1


def test_the_first_of_two_cues_is_as_short_as_is_sure_to_be_followed() -> None:
    low_ug, high_ug = round(1.7 * G) - BAND // 2, round(1.7 * G) + BAND // 2
    assert cue_s(Little(True, 0, round(1.7 * G)), COLD, low_ug, high_ug) == SURE_S


@given(st.integers(0, 800_000), st.floats(0.3, 1.5), st.integers(400_000, 2_000_000))
def test_what_a_cue_brought_tells_what_drips_upon_the_next(
    drips_ug: int, lasted_s: float, left_ug: int
) -> None:
    """Of a hand as the bench table has it."""
    flow_g_s = max(0.35, 0.45 * left_ug / G)
    came_ug = drips_ug + round(flow_g_s * G * (lasted_s - 0.13))
    assume(came_ug > 300_000)
    before = Little(True, 3 * G, left_ug, lasted_s)
    after = begun(before, Habits(), 3 * G + came_ug, left_ug - came_ug, 10_000)
    assert after.drip_ug == pytest.approx(drips_ug, abs=2)
    assert (after.on, after.from_ug, after.lasted_s) == (True, 3 * G + came_ug, 0.0)


@pytest.mark.parametrize("came_ug", [-50_000, 0, 30_000, 250_000])
def test_a_cue_that_was_missed_tells_nothing_of_the_drips(came_ug: int) -> None:
    missed = Little(True, 3 * G, 900_000, 0.4, None)
    assert begun(missed, COLD, 3 * G + came_ug, 900_000, 10_000).drip_ug is None
    told = missed._replace(drip_ug=550_000)
    assert begun(told, COLD, 3 * G + came_ug, 900_000, 10_000).drip_ug == 550_000


def test_a_gentle_stream_tells_nothing_of_what_drips_upon_a_short_cue() -> None:
    """It was stopped, and no cue by the figure stood before."""
    assert begun(Little(), COLD, 3 * G, 900_000, 10_000).drip_ug is None


def test_the_second_cue_is_shorter_the_more_drips() -> None:
    told = [
        cue_s(Little(True, 0, 800_000, 0.0, drip_ug), COLD, 660_000, 940_000)
        for drip_ug in (300_000, 500_000, 700_000, 900_000)
    ]
    assert told == sorted(told, reverse=True)
    assert told[-1] == PULSE_LEAST_S


def test_what_was_told_or_drips_too_much_is_poured_for_as_long_as_the_tables_hand_needs() -> None:
    """Half a gram at 0.35 g/s, beside the drips: what a gentle stream may do is feared once, and
    not where there is no room for what would be short of it."""
    first = cue_s(Little(True, 0, 600_000), WARM, 460_000, 740_000)
    second = cue_s(Little(True, 0, 600_000, 0.0, 100_000), WARM, 460_000, 740_000)
    assert first == pytest.approx(0.64 / 1.5 + 0.13)
    assert second == pytest.approx(0.5 / 0.35 + 0.13)
    assert cue_s(Little(True, 0, 1_300_000), COLD, 1_160_000, 1_440_000) == pytest.approx(
        0.7 / (0.45 * 1.3) + 0.13
    )


def test_who_pours_on_in_full_is_stopped_before_the_cue_has_run_out() -> None:
    """A cue by the figure stands for a second and more: a hand that does not look at it is told
    to stop by what is shown."""
    guide, now = tared_and_resin(hands_free=True)
    now = hold_at(guide, 56.1, now, 9)
    now = hold_at(guide, 71.0, ramp(guide, 56.1, 71.0, now, 9), 1)
    while guide.cue != "trickle":
        now = hold_at(guide, 71.0, now, 0.1)
    assert guide.say == "Slowly, by the figure: 1.0 g of hardener to go."
    ramp(guide, 71.0, 71.9, now, 0.3)
    assert guide.cue == "stop"


@pytest.mark.parametrize("how", ["hold", "silence"])
def test_a_cue_that_was_interrupted_tells_nothing_and_is_given_anew(how: str) -> None:
    """What came in it meanwhile, and what dripped, says nothing of how long it stood."""
    guide, now = tared_and_resin(hands_free=True)
    now = hold_at(guide, 56.1, now, 9)
    now = hold_at(guide, 71.0, ramp(guide, 56.1, 71.0, now, 9), 1)
    while guide.cue != "trickle":
        now = hold_at(guide, 71.0, now, 0.1)
    drip_ug = guide.coach.habits.drip_ug
    if how == "hold":
        press(guide, now, "hold")
    for i in range(0 if how == "hold" else 80):
        guide.take(Tick(now + i / 10))
    now = hold_at(guide, 71.4, now + 8, 12)
    if how == "hold":
        press(guide, now, "go")
    while guide.cue != "trickle":
        now = hold_at(guide, 71.4, now, 0.1)
    assert guide.say == "Slowly, by the figure: 0.6 g of hardener to go."
    assert guide.coach.little[3:] == (0.0, None)
    assert guide.coach.habits.drip_ug == drip_ug


def test_a_small_addition_is_asked_for_by_the_figure_too() -> None:
    """Of resin, as the hardener went over its band by a little; on a scale of 0.01 g."""
    guide, said, now, there_g = Guide(terms(20)), set[str](), 0.0, 0.0
    for shown_g, by_g, rests in ((0, 1, 20), (12, 12, 30), (26.71, 0.15, 100), (32.17, 0.15, 300)):
        steps = max(1, round((shown_g - there_g) / by_g))
        ramp_g = [there_g + (shown_g - there_g) * i / steps for i in range(1, steps)]
        for on_it_g in (*ramp_g, *[shown_g] * rests):
            still, ug = on_it_g == shown_g, round(on_it_g * 100) * 10_000
            guide.take(Weighed(Reading(ug, f"{ug / 1e6:.2f} g", "g", 10_000, still, at_s=now)))
            said.add(f"{guide.cue}: {guide.say}")
            now += 0.1
        there_g = shown_g
    assert any(s.startswith("trickle: Slowly, by the figure, add 0.4") for s in said), said


#: Of 20 g on 0.01 g these were over the band while a gentle stream alone poured the hardener.
MISSED = [(9, True), (13, True), (13, False), (14, False)]


@pytest.mark.parametrize(("seed", "warm"), MISSED)
def test_a_small_batch_on_a_fine_scale_comes_in_at_once(seed: int, warm: bool) -> None:
    done = pour(Setting("careful", warm, 0.01, 20, *SCALES[seed % len(SCALES)], seed), True)
    assert done.at_once
    assert not done.false
