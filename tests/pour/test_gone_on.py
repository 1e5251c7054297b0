"""Nothing is lost, and nothing made up, in the moment in which a pour goes on.

A cup of 12 g with 44.1 g of resin in it; 56.1 g in all.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from support.pouring import Guide, hold_at, ramp, tared_and_resin, terms, weighed

from devices.readings import Fault, FaultKind
from mixer.pour.facts import Accepted, Fact, Held, Resumed
from mixer.pour.inputs import Failed, Key, Tick, Weighed


def press(guide: Guide, at_s: float, word: str) -> list[Fact]:
    before = len(guide.facts)
    guide.take(Key(at_s, word))
    return guide.facts[before:]


def fails(guide: Guide, kind: FaultKind, at_s: float) -> None:
    guide.take(Failed(Fault(kind, "?", "Trouble.", at_s)))


def gone_on() -> tuple[Guide, float]:
    """Unplugged for five seconds, and just gone on with; the pour and the time."""
    guide, now = tared_and_resin(hands_free=False)
    fails(guide, FaultKind.LINK, now)
    now += 5
    while guide.pour.trouble:
        guide.take(weighed(56.1, now := now + 0.1))
    return guide, now + 0.1


# -- go, where it is offered -----------------------------------------------------------------


@pytest.mark.parametrize("later_s", [0, 0.0004, 0.0006])
def test_go_on_a_weight_that_fell_in_one_reading_goes_on_unproven(later_s: float) -> None:
    """The very reading that fell is the first of the new rest."""
    guide, now = tared_and_resin(hands_free=False)
    now = hold_at(guide, 40, now + later_s, 3)
    assert press(guide, now, "go")[0] == Resumed(round(now * 1000), "lifted", "on-trust", 0)


def test_go_on_the_very_weight_from_before_a_gap_in_a_stream_goes_on_unproven() -> None:
    """It may be a stream upon a light cup that was taken for zero; and go is what is told."""
    guide = Guide(terms(60, hands_free=False))
    now = hold_at(guide, 12, hold_at(guide, 0, 0, 2), 3)
    now = hold_at(guide, 32, ramp(guide, 12, 32, now, 2), 4)
    fails(guide, FaultKind.OVERLOAD, now + 0.3)
    guide.take(Tick(now + 2.4))
    now = hold_at(guide, 32, now + 30, 3)
    assert guide.say.endswith("or go on, and the batch stays unproven.")
    assert press(guide, now, "go")[0] == Resumed(round(now * 1000), "silent", "on-trust", 0)


# -- the weight from which it goes on --------------------------------------------------------


def test_a_cable_that_drops_out_again_at_once_holds_at_the_same_weight() -> None:
    guide, now = gone_on()
    fails(guide, FaultKind.LINK, now)
    assert guide.pour.trouble is not None
    assert guide.pour.trouble.gross_ug == 56_100_000
    hold_at(guide, 56.1, now + 5, 2)
    assert guide.pour.trouble is None
    assert guide.pour.unproven_because is None


def test_a_cup_that_is_lifted_at_once_when_the_pour_goes_on_is_noticed() -> None:
    guide, now = gone_on()
    ramp(guide, 0, 0, now, 0.2)
    assert guide.pour.trouble is not None
    assert guide.pour.trouble.gross_ug == 56_100_000


def test_an_end_just_after_the_pour_went_on_books_what_is_in_the_cup() -> None:
    guide, now = gone_on()
    accepted = press(guide, now + 1.7, "drop")[0]
    assert isinstance(accepted, Accepted)
    assert accepted.net_ug == 44_100_000


def test_a_trouble_upon_a_trouble_tells_the_weight_of_the_first() -> None:
    guide, now = tared_and_resin(hands_free=False)
    guide.take(Tick(now + 2))
    fails(guide, FaultKind.OVERLOAD, now + 3)
    held = [(fact.reason, fact.gross_ug) for fact in guide.facts if isinstance(fact, Held)]
    assert held == [("silent", 56_100_000), ("overload", 56_100_000)]


# -- a cup that was put back -----------------------------------------------------------------


@pytest.mark.parametrize("more_g", [0, 0.1])
def test_a_cup_that_is_put_back_is_no_stream(more_g: float) -> None:
    """The age of the cup has not begun."""
    guide, now = tared_and_resin(hands_free=False)
    press(guide, now, "go")
    assert guide.component == "hardener"
    now = hold_at(guide, 56.1 + more_g, hold_at(guide, 0, now + 0.1, 2), 3)
    assert guide.pour.trouble is None
    assert not guide.pour.begun
    assert guide.pour.contact_ms is None


@pytest.mark.parametrize(("spilled_g", "proven"), [(0.1, True), (0.3, False)])
def test_what_was_spilled_on_the_pan_is_no_content(spilled_g: float, proven: bool) -> None:
    """It would come back with the cup, and be counted: the pan has to show its zero."""
    guide, now = tared_and_resin(hands_free=False)
    now = hold_at(guide, spilled_g, now + 0.1, 3)
    now = hold_at(guide, 56.1 + spilled_g, now, 3)
    assert (guide.pour.trouble is None) is proven
    if not proven:
        now = hold_at(guide, 0, now, 2)  # wiped off
        hold_at(guide, 56.1, now, 3)
        assert guide.pour.trouble is None
        assert guide.pour.unproven_because is None


# -- an open jug is told to be shut ----------------------------------------------------------


@pytest.mark.parametrize("kind", [FaultKind.OVERLOAD, FaultKind.LINK, None])
def test_who_was_told_to_pour_is_told_to_stop_until_the_weight_has_rested(
    kind: FaultKind | None,
) -> None:
    """A stream of 0.4 g a second is hardly seen as one, and in a silence no stream is."""
    guide = Guide(terms(60, hands_free=False))
    now = hold_at(guide, 12, hold_at(guide, 0, 0, 2), 3)
    now = ramp(guide, 12, 14, now, 5)
    assert guide.cue == "pour"
    if kind:
        fails(guide, kind, now)
    for i in range(40):
        guide.take(Tick(now + 1.1 + i / 10))
        assert guide.cue == "stop"
    now = hold_at(guide, 14.4, now + 6, 1.9)
    assert guide.pour.trouble is not None or guide.cue != "stop"


def test_once_the_weight_has_rested_noise_tells_nobody_to_stop_again() -> None:
    """The weight of a held pour that flickers by two divisions rests only now and then."""
    guide, now = tared_and_resin(hands_free=True)
    now = hold_at(guide, 56.1, now, 9)
    assert guide.cue == "ease"
    press(guide, now, "hold")
    now = hold_at(guide, 56.1, now, 3)
    cues = set()
    for i in range(100):
        guide.take(weighed(56.1 + 0.1 * (i % 3), now + i / 10))
        cues.add(guide.cue)
    assert cues == {"wait"}


def test_while_the_cup_is_off_it_is_told_to_be_put_back() -> None:
    guide, now = tared_and_resin(hands_free=True)
    now = hold_at(guide, 0.0, hold_at(guide, 56.1, now, 9), 0.1)
    for i in range(60):
        guide.take(weighed(0.0, now + i / 10))
        assert "put it back" in guide.say or "put the cup back" in guide.say


@pytest.mark.parametrize("tared", [True, False])
def test_tare_or_zero_pressed_upon_the_empty_cup_is_told_and_put_right(tared: bool) -> None:
    guide = Guide(terms(60))
    now = hold_at(guide, 12, hold_at(guide, 0, 0, 2), 0.7)
    assert guide.pour.stage == "cup"
    now = shows(guide, 0.0, now, 3, tared)
    assert guide.cue == "place"
    assert ("tare was pressed upon it: take it off" in guide.say) is tared
    now = shows(guide, -12.0, now, 3, tared)
    assert guide.cue == "clear"
    assert "zero it, or clear its tare" in guide.say
    now = shows(guide, 0.0, now, 3, False)
    assert guide.cue == "place"
    shows(guide, 12.0, now, 3, False)
    assert guide.pour.stage == "pour"
    assert guide.pour.tared is not None
    assert (guide.pour.tared.tare_ug, guide.pour.tared.zero_ug) == (12_000_000, 0)


def shows(guide: Guide, mass_g: float, from_s: float, for_s: float, tared: bool) -> float:
    for i in range(round(for_s * 10)):
        at_s = from_s + i / 10
        guide.take(Weighed(replace(weighed(mass_g, at_s).reading, scale_tared=tared)))
    return from_s + for_s


@pytest.mark.parametrize(
    ("more_g", "astray_ug"), [(0.8, (0, 800_000)), (0.5, (0, 500_000)), (0.1, (0, 0))]
)
def test_what_a_lifted_cup_brings_back_may_be_of_either(
    more_g: float, astray_ug: tuple[int, int]
) -> None:
    guide, now = tared_and_resin(hands_free=True)
    now = hold_at(guide, 56.1, now, 9)
    now = hold_at(guide, 61.1, ramp(guide, 56.1, 61.1, now, 3), 3)
    now = hold_at(guide, 61.1 + more_g, hold_at(guide, 0, now, 3), 3)
    assert guide.pour.trouble is None
    assert guide.pour.astray_ug == astray_ug


def test_resin_that_is_added_off_the_scale_is_never_hardener_for_sure() -> None:
    """0.8 g that came with the cup when the hardener had just been called: it was 7 % off."""
    guide, now = tared_and_resin(hands_free=True)
    now = hold_at(guide, 56.1, now, 9)
    assert guide.component == "hardener"
    now = hold_at(guide, 56.9, hold_at(guide, 0, now, 3), 3)
    now = hold_at(guide, 72.2, ramp(guide, 56.9, 72.2, now, 8), 200)
    assert guide.pour.result is None or guide.pour.result.verdict != "in-band"


def test_a_leak_of_resin_is_doubted_once_and_not_at_each_reading() -> None:
    guide, now = tared_and_resin(hands_free=False)
    for i in range(120):
        guide.take(weighed(56.1 - 0.01 * i, now + i / 10))
    assert [fact.kind for fact in guide.facts].count("doubted") == 1


def test_a_leak_that_can_be_seen_at_rest_is_seen() -> None:
    """0.05 g a second while the hardener drips out: no two rests differ by a step."""
    guide, now = tared_and_resin(hands_free=True)
    now = hold_at(guide, 56.1, now, 9)
    now = ramp(guide, 56.1, 71.9, now, 8)
    for i in range(120):
        guide.take(weighed(71.9 - 0.005 * i, now + i / 10))
    assert guide.pour.astray_ug[0] >= 250_000
