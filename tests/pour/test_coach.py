"""What the builder is told where it matters most: over the band, in trouble, at the end."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise
from random import Random

import pytest
from support.pouring import (
    HARDENER,
    RESIN,
    TWO,
    Guide,
    hold_at,
    ramp,
    tared_and_resin,
    terms,
    weighed,
)

from devices.readings import Fault, FaultKind, Reading
from mixer.pour.coach import advise
from mixer.pour.facts import Live, Opened
from mixer.pour.inputs import Cut, Failed, Key, Tick, Weighed
from mixer.pour.plain import from_plain, to_plain
from mixer.pour.recipe import Component, Recipe
from mixer.pour.words import HELD, RESTLESS, Advice


def coarse(mass_g: int, at_s: float) -> Weighed:
    """A scale that counts by a whole gram."""
    mass = mass_g * 1_000_000
    return Weighed(Reading(mass, f"{mass_g} g", "g", 1_000_000, True, at_s=at_s))


@pytest.mark.parametrize(("cup_g", "stage"), [(4, "pour"), (3, "pour"), (2, "cup")])
def test_the_lightest_cup_that_a_coarse_scale_knows(cup_g: int, stage: str) -> None:
    guide = Guide(terms(300))
    for i in range(60):
        guide.take(coarse(0 if i < 20 else cup_g, i / 10))
    assert guide.pour.stage == stage
    if stage == "cup":
        assert guide.cue == "place"
        assert guide.say == (
            "A cup below 3 g is too light for this scale to know it. Take a heavier one."
        )


@pytest.mark.parametrize("hands_free", [True, False])
def test_what_lay_on_the_pan_from_the_start_is_no_empty_cup(hands_free: bool) -> None:
    """It may be the cup of a batch that was cut off, with something in it."""
    guide = Guide(terms(60, hands_free=hands_free))
    now = hold_at(guide, 67.9, 0, 6)
    assert guide.pour.stage == "cup"
    assert (guide.cue, guide.say) == (
        "clear",
        "Clear the scale, and zero it if need be: its empty pan must be seen before the cup.",
    )
    now = hold_at(guide, 0, now, 0.5)
    assert (guide.cue, guide.say) == ("wait", "The empty pan is being looked at.")
    now = hold_at(guide, 0, now, 1)
    assert guide.cue == "place"
    hold_at(guide, 12, now, 3)
    assert guide.pour.stage == "pour"
    assert guide.pour.tared is not None
    assert guide.pour.tared.zero_ug == 0


@pytest.mark.parametrize(
    ("size_g", "most_g", "say"),
    [
        (60, None, ""),
        (40, None, " This scale can prove a ratio from 42 g on: a batch of this size will stay "
         "unproven."),
        (40, 41, " This scale can prove a ratio from 42 g on, more than cup and scale take: a "
         "batch of this size will stay unproven."),
    ],
)  # fmt: skip
def test_what_this_scale_can_prove_is_said_before_the_pour(
    size_g: float, most_g: float | None, say: str
) -> None:
    most_ug = None if most_g is None else round(most_g * 1e6)
    guide = Guide(replace(terms(size_g), cup_most_ug=most_ug))
    hold_at(guide, 0, 0, 2)
    assert guide.say == "Put the empty cup on the scale." + say


def over_by(over_g: float, *, cup_most_g: float | None = None) -> Guide:
    """44.1 g of resin, and so much hardener above the band (15.6 to 16.2 g), at rest."""
    guide, now = tared_and_resin(hands_free=True)
    if cup_most_g is not None:
        guide.pour = replace(
            guide.pour, terms=replace(guide.pour.terms, cup_most_ug=round(cup_most_g * 1e6))
        )
    now = hold_at(guide, 56.1, now, 9)
    assert guide.component == "hardener"
    assert guide.pour.called is not None
    high_g = guide.pour.called.high_ug / 1e6
    end_g = round(56.1 + high_g + over_g, 1)
    hold_at(guide, end_g, ramp(guide, 56.1, end_g, now, 6), 2)
    return guide


def test_over_the_band_the_addition_is_told_in_grams() -> None:
    guide = over_by(2.0)
    assert guide.cue == "over"
    # 18.1 g of hardener want 18.1 / 0.36 = 50.28 g of resin: 6.18 g more than 44.1.
    assert guide.say == "Over the band by 2.0 g: let it drip out, then add 6.2 g of resin."


def test_who_changes_the_jug_for_some_seconds_is_asked_for_no_more_than_at_first() -> None:
    """A gentle cue for a time, and again, until the jug is open: 1.7 g of resin."""
    guide = over_by(0.4)
    cues: list[tuple[str, float]] = []
    now = guide.sight.last.at_s  # type: ignore[union-attr]
    while not cues or now < cues[0][1] + 20:
        now = hold_at(guide, 72.6, now + 0.1, 0.1)
        told = guide.component == "resin" and guide.cue in ("ease", "stop")
        if told and (not cues or cues[-1][0] != guide.cue):
            cues.append((guide.cue, now))
    lasted = [till - since for (cue, since), (_, till) in pairwise(cues) if cue == "ease"]
    early = [s for s, (_, at_s) in zip(lasted, cues[::2], strict=False) if at_s < cues[0][1] + 6]
    assert len(early) >= 2
    assert max(early) - min(early) < 0.25
    assert max(lasted) > 1.5 * min(lasted)  # but a hand that is too weak is asked for more


def test_over_the_band_by_less_than_can_be_shown_is_over_it_barely() -> None:
    guide = over_by(2.0)
    called = guide.pour.called
    assert called is not None
    net_ug = guide.pour.net_ug(guide.sight.last.mass_ug)  # type: ignore[union-attr]
    guide.pour = replace(guide.pour, called=replace(called, high_ug=net_ug - 40_000))
    guide.take(Tick(guide.sight.last.at_s))  # type: ignore[union-attr]
    assert guide.say.startswith("Over the band, barely: let it drip out, then add ")
    guide.pour = replace(guide.pour, called=replace(called, high_ug=net_ug - 50_000))
    guide.take(Tick(guide.sight.last.at_s))  # type: ignore[union-attr]
    assert guide.say.startswith("Over the band by 0.")


@pytest.mark.parametrize("wrong_g", [5.0, 71.7, 120.0])
def test_a_single_frame_that_is_far_off_changes_no_cue(wrong_g: float) -> None:
    """56.1 g of cup and resin, and 15.8 g of hardener, in band and at rest."""
    guide, now = tared_and_resin(hands_free=True)
    now = hold_at(guide, 56.1, now, 9)
    now = hold_at(guide, 71.9, ramp(guide, 56.1, 71.9, now, 6), 3)
    assert guide.cue == "in-band"
    guide.take(weighed(wrong_g, now))
    cues = {guide.cue}
    for i in range(1, 10):
        guide.take(weighed(71.9, now + i / 10))
        cues.add(guide.cue)
    assert cues <= {"in-band", "wait", "stop"}  # no jug is opened for it, none is too full


def test_over_the_band_in_a_full_cup_it_is_to_be_parted_or_discarded() -> None:
    guide = over_by(2.0, cup_most_g=63)
    assert guide.cue == "over"
    assert guide.say == (
        "Over the band by 2.0 g, and no room to put it right: let it drip out and "
        "part it (stir, take 5.0 g out, correct the rest), drop it and discard the cup, or use it "
        "as out of band."
    )


def test_where_there_is_room_but_it_takes_more_than_the_batch_that_is_said() -> None:
    guide = over_by(25.0)
    assert guide.say.startswith(
        "Over the band by 25.0 g, and to put it right takes more than the batch itself: let it drip"
    )


def test_an_addition_that_fits_is_called_when_it_has_dripped_out() -> None:
    guide = over_by(2.0)
    assert guide.sight.last is not None
    at_s, shown_g = guide.sight.last.at_s, guide.sight.last.mass_ug / 1e6
    hold_at(guide, shown_g, at_s + 0.1, 10)
    assert guide.component == "resin"
    assert guide.cue in ("pour", "ease")
    assert guide.say.startswith("Add 6.2 g of resin, 5.5 g at the least: it brings the ratio back.")
    full = over_by(2.0, cup_most_g=63)
    assert full.sight.last is not None
    at_s = full.sight.last.at_s
    hold_at(full, shown_g, at_s + 0.1, 10)
    assert full.component == "hardener"  # nothing is asked for that the cup cannot hold


def test_resin_beyond_what_can_be_mixed_is_to_be_taken_out() -> None:
    guide, now = tared_and_resin(hands_free=False)
    guide.pour = replace(
        guide.pour,
        called=replace(guide.pour.called, high_ug=43_000_000),  # type: ignore[arg-type]
    )
    hold_at(guide, 56.1, now, 1)
    assert guide.cue == "over"
    assert guide.say == (
        "More resin than cup, scale or lots can take with its hardener: lift the cup, take some "
        "out, and put it back."
    )


@pytest.mark.parametrize("hands_free", [True, False])
def test_a_weight_that_sags_out_of_the_band_is_looked_at_again(hands_free: bool) -> None:
    """One step below the band is out of it, however long it was in it before."""
    guide, now = tared_and_resin(hands_free=True)
    now = hold_at(guide, 56.1, now, 9)
    assert guide.pour.called is not None
    terms_now = replace(guide.pour.terms, hands_free=hands_free)
    guide.pour = replace(guide.pour, terms=terms_now)
    low_g = math.ceil(guide.pour.called.low_ug / 1e5) / 10
    now = hold_at(guide, 56.1 + low_g, ramp(guide, 56.1, 56.1 + low_g, now, 6), 2)
    assert guide.cue == "in-band"
    cues = set()
    for _ in range(120 if hands_free else 80):  # hands free the drips are waited out first
        now = hold_at(guide, 56.1 + low_g - 0.1, now, 0.1)
        cues.add(guide.cue)
    assert "trickle" in cues
    assert "next" not in cues


def test_who_pours_while_the_weight_cannot_be_followed_is_told_to_stop() -> None:
    guide, now = tared_and_resin(hands_free=False)
    guide.take(Failed(Fault(FaultKind.OVERLOAD, "?", "Trouble.", now)))
    assert guide.cue == "wait"
    pouring, now = tared_and_resin(hands_free=False)
    now = ramp(pouring, 56.1, 60.1, now, 1)
    pouring.take(Failed(Fault(FaultKind.OVERLOAD, "?", "Trouble.", now)))
    assert pouring.cue == "stop"


def test_a_weight_that_is_back_must_come_to_rest_first() -> None:
    guide, now = tared_and_resin(hands_free=False)
    guide.take(Tick(now + 5))
    guide.take(weighed(70, now + 6, still=False))
    assert guide.say == "Let the weight come to rest."
    hold_at(guide, 70, now + 6.1, 1)
    assert guide.say.startswith("The weight is not what it was.")


@pytest.mark.parametrize(
    ("verdict", "why", "say"),
    [
        ("in-band", None, "The cup is live: use it."),
        ("out-of-band", None,
         "The cup is live, but its weighed ratio is out of band."),
        ("unproven", "a gap", "The cup is live, but not shown to be right: a gap."),
    ],
)  # fmt: skip
def test_a_live_cup_is_said_to_be_what_it_is(verdict: str, why: str | None, say: str) -> None:
    guide, now = tared_and_resin(hands_free=False)
    live = Live(round(now * 1000), 1, verdict, (44_100_000, 15_900_000), 36.0, 36.05, why)
    guide.pour = replace(guide.pour, stage="live", result=live, called=None)
    guide.take(Tick(now + 0.1))
    assert (guide.cue, guide.say) == ("go", say)


def test_a_whole_batch_stands_in_its_last_fact() -> None:
    guide, now = tared_and_resin(hands_free=True)
    now = hold_at(guide, 56.1, now, 9)
    now = hold_at(guide, 72.0, ramp(guide, 56.1, 72.0, now, 6), 9)
    assert guide.pour.stage == "stir"
    for i in range(70):
        guide.take(Tick(now + i / 10))
    assert isinstance(guide.pour.result, Live)
    live = guide.pour.result
    assert live == Live(
        live.at_ms, 1, "in-band", (44_100_000, 15_900_000), 36.0,
        pytest.approx(100 * 15.9 / 44.1), None,
    )  # fmt: skip


def test_the_terms_of_a_batch_come_back_whole_from_the_record() -> None:
    blend = Recipe(
        (Component("resin", "resin", 100, 8), Component("fast", "hardener", 20, 8, 1.01),
         Component("slow", "hardener", 16, 5)),
        ratio_tolerance=0.02, split_tolerance=0.25,
    )  # fmt: skip
    opened = Opened(7, terms(80, recipe=blend), {"operator": "AB", "plies": [1, 2]})
    plain = to_plain(opened)
    assert isinstance(plain["recipe"]["components"], list)
    assert from_plain("opened", 7, plain) == opened
    assert TWO.ratio_target == 36.0


def told(guide: Guide, at_s: float) -> Advice:
    return advise(guide.pour, guide.sight, guide.coach, at_s)[1]


def in_band() -> tuple[Guide, float]:
    """44.1 g of resin and 15.9 g of hardener, stirred from the time that is returned."""
    guide, now = tared_and_resin(hands_free=False)
    guide.take(Key(now, "go"))
    now = hold_at(guide, 72.0, ramp(guide, 56.1, 72.0, now + 1, 5), 12)
    guide.take(Key(now, "go"))
    return guide, now


def test_the_stir_is_counted_down_and_never_below_nothing() -> None:
    guide, now = in_band()
    say = "Stir; scrape the sides and the bottom."
    assert told(guide, now) == Advice("stir", say, pytest.approx(5.0, abs=1e-3))
    assert told(guide, now + 2) == Advice("stir", say, pytest.approx(3.0, abs=1e-3))
    assert told(guide, now + 6) == Advice("stir", say, 0.0)
    guide.pour = replace(guide.pour, unproven_because="a gap")
    assert told(guide, now).say == f"{say} The batch stays unproven."


def test_what_is_told_of_a_live_cup_and_of_an_end() -> None:
    guide, now = in_band()
    guide.take(Tick(now + 6))
    assert told(guide, now + 6) == Advice("go", "The cup is live: use it.")
    guide, now = tared_and_resin(hands_free=False)
    guide.take(Key(now, "drop"))
    assert told(guide, now) == Advice("wait", "The batch has ended.")


def test_before_there_is_a_weight_there_is_nothing_to_do_but_wait() -> None:
    nothing = Advice("wait", "The scale says no weight yet.")
    guide = Guide(terms(60))
    assert told(guide, 0.0) == nothing
    guide.take(weighed(0, 0.0))
    assert told(guide, 0.5) == Advice("wait", "The empty pan is being looked at.")
    assert told(guide, 1.5) == nothing
    guide.take(Failed(Fault(FaultKind.OVERLOAD, "?", "Too much.", 0.1)))
    assert told(guide, 0.5) == nothing


def test_held_by_hand_an_open_jug_is_to_be_shut() -> None:
    guide, now = tared_and_resin(hands_free=False)
    guide.take(Key(now, "hold"))
    assert told(guide, now) == Advice("wait", HELD["by-hand"])
    ramp(guide, 56.1, 66.1, now + 0.1, 2)
    assert told(guide, now + 2) == Advice("stop", HELD["by-hand"])


def test_how_much_is_to_go_is_told_with_each_cue() -> None:
    guide, now = tared_and_resin(hands_free=False)
    now = hold_at(guide, 56.1, now, 6)
    assert (guide.cue, guide.say) == ("next", "Resin is in band. Go on to the next jug.")
    guide.take(Key(now, "go"))
    now = hold_at(guide, 56.1, now + 0.1, 1)
    assert (guide.cue, guide.say) == ("ease", "Gently: 15.9 g of hardener to go.")
    now = ramp(guide, 56.1, 66.1, now, 5)
    assert (guide.cue, guide.say) == ("ease", "Gently: 5.9 g of hardener to go.")
    now = ramp(guide, 66.1, 71.0, now, 3)
    assert (guide.cue, guide.say) == ("stop", "Tip the jug back.")
    hold_at(guide, 72.0, now, 3)
    assert (guide.cue, guide.say) == ("in-band", "Hardener is in band. Let the jug drip out.")
    hold_at(guide, 72.0, now + 3, 9)
    assert (guide.cue, guide.say) == ("next", "Hardener is in band. Go on to the stir.")


def test_the_flicker_of_a_last_digit_is_no_stream_that_is_to_be_stopped() -> None:
    """Of a slow hand whose jug drips long, by whom short cues were missed again and again."""
    guide, now = tared_and_resin(hands_free=False)
    guide.take(Key(now, "go"))
    now = hold_at(guide, 70.2, ramp(guide, 56.1, 70.2, now, 10), 2)
    slow = replace(guide.coach.habits, lead_s=2.5, leads=2, drip_ug=1_200_000)
    guide.coach = guide.coach._replace(phase="look", fruitless=6, habits=slow)
    flicker, cues = Random(5), []
    for i in range(600):
        guide.take(weighed(70.2 + flicker.gauss(0, 0.05), now + i / 10))
        cues.append(guide.cue)
    poured = cues[cues.index("pour") :]
    assert "stop" not in poured


def test_a_short_cue_that_was_missed_teaches_nothing_of_drips_and_is_given_once_more() -> None:
    guide, now = tared_and_resin(hands_free=False)
    guide.take(Key(now, "go"))
    now = hold_at(guide, 71.4, ramp(guide, 56.1, 71.4, now, 10), 10)
    cold = replace(guide.coach.habits, drip_ug=600_000)
    guide.coach = guide.coach._replace(phase="look", fruitless=0, habits=cold, stopped=None)
    lasted, cue = [], ""
    for _ in range(600):
        now = hold_at(guide, 71.4, now, 0.1)
        if (guide.cue, cue) == ("trickle", "trickle"):
            lasted[-1] += 1
        elif guide.cue == "trickle":
            lasted.append(1)
        cue = guide.cue
    assert guide.coach.habits.drip_ug == 600_000
    assert lasted[0] == lasted[1] < lasted[2]


def test_of_much_resin_a_full_stream_is_asked_for() -> None:
    guide = Guide(terms(60))
    now = hold_at(guide, 12, hold_at(guide, 0, 0, 2), 3)
    assert (guide.cue, guide.say) == ("pour", "Pour: 44.1 g of resin to go.")
    now = ramp(guide, 12, 46.0, now, 5)
    assert (guide.cue, guide.say) == ("ease", "Gently: 10.1 g of resin to go.")
    now = ramp(guide, 46.0, 54.5, now, 3)
    assert (guide.cue, guide.say) == ("stop", "Tip the jug back.")
    hold_at(guide, 54.5, now, 2)
    assert (guide.cue, guide.say) == ("wait", "Wait for the weight to settle.")


@pytest.mark.parametrize(("for_s", "told"), [(10.0, False), (15.0, True)])
def test_a_scale_that_does_not_come_to_rest_is_said(for_s: float, told: bool) -> None:
    guide, now = tared_and_resin(hands_free=True)
    for i in range(round(for_s * 10)):
        guide.take(weighed(56.1 + i % 3 / 5, now + i / 10, still=False))
        guide.take(Tick(now + i / 10))
    assert guide.cue in ("wait", "stop", "in-band")
    assert (guide.say == RESTLESS) is told
    hold_at(guide, 56.1, now + for_s, 2)
    assert guide.say != RESTLESS


def test_what_was_ended_in_a_trouble_has_ended() -> None:
    guide, now = tared_and_resin(hands_free=False)
    guide.take(Failed(Fault(FaultKind.LINK, "?", "Trouble.", now)))
    guide.take(Cut(now, "scale-lost"))
    assert (guide.cue, guide.say) == ("wait", "The batch has ended.")


@pytest.mark.parametrize("first_s", [0.0, 0.06, 0.12, 0.18, 0.24])
def test_stop_does_not_wait_for_the_next_reading_of_a_slow_scale(first_s: float) -> None:
    """A gentle gram a second, shown four times a second: wherever the readings fall, `stop` is
    said at the same weight, within what a clock that ticks ten times a second lets it."""
    guide = Guide(terms(20))
    now = hold_at(guide, 12, hold_at(guide, 0, 0, 2), 3)
    assert guide.cue == "ease"
    stopped_g = None
    for i in range(2000):
        there_g, at_s = i / 100, now + i / 100
        if (i - round(first_s * 100)) % 25 == 0:
            mass = round((12 + there_g) * 1e6)
            reading = Reading(mass, f"{mass / 1e6:.2f} g", "g", 10_000, False, at_s=at_s)
            guide.take(Weighed(reading))
        elif i % 10 == 0:
            guide.take(Tick(at_s))
        if guide.cue == "stop":
            stopped_g = there_g
            break
    lead_s = guide.coach.habits.lead_s
    assert stopped_g == pytest.approx(14.706 * 1.01 - lead_s - 0.1, abs=0.08)


@pytest.mark.parametrize(
    ("order", "amounts_g", "say"),
    [
        (
            ("hardener", "pigment"), (36, 5.2),
            "Add 30.0 g of resin, 12.4 g at the least, then 10.8 g of hardener: it brings the "
            "ratio back.",
        ),
        (
            ("pigment", "hardener"), (5.6,),
            "Add 40.0 g of resin, 20.8 g at the least, then 50.4 g of hardener: it brings the "
            "ratio back.",
        ),
    ],
)  # fmt: skip
def test_what_an_addition_makes_necessary_is_told_with_it(
    order: tuple[str, ...], amounts_g: tuple[float, ...], say: str
) -> None:
    more = {"hardener": HARDENER, "pigment": Component("pigment", "additive", 4, 8, tolerance=0.2)}
    recipe = Recipe((RESIN, *(more[name] for name in order)), ratio_tolerance=0.03)
    guide = Guide(terms(140, recipe=recipe))
    now, gross, over = hold_at(guide, 12, hold_at(guide, 0, 0, 2), 3), 12.0, ""
    for more_g in (100, *amounts_g):
        now = ramp(guide, gross, gross + more_g, hold_at(guide, gross, now, 1), max(1, more_g / 6))
        gross += more_g
        now = hold_at(guide, gross, now, 4)
        over = guide.say
        now = hold_at(guide, gross, now, 7)
    assert guide.say == say
    then = say.split("Add ")[1].split(",")[0], say.split("then ")[1].split(":")[0]
    assert over.endswith(f"let it drip out, then add {then[0]}, then {then[1]}.")
