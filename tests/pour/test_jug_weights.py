"""A jug is weighed before and after: what left it is what came into the cup, or it is said."""

from __future__ import annotations

from dataclasses import replace

import pytest
from support.pouring import Guide, hold_at, over, press, ramp, terms

from mixer.pour.cup_facts import JugWeight
from mixer.pour.facts import Fact, Live
from mixer.pour.inputs import Key, Tick
from mixer.pour.jug_weights import is_wrong
from mixer.pour.shows import Entry
from mixer.pour.state import fold
from mixer.pour.typed import decide as decide_typed

RESIN_G, HARDENER_G = 1_244.0, 512.0


def say(guide: Guide, at_s: float, text: str, mass_g: float | None = None) -> list[Fact]:
    before = len(guide.facts)
    mass_ug = None if mass_g is None else round(mass_g * 1e6)
    guide.take(Key(at_s, "weigh", text, mass_ug))
    return guide.facts[before:]


def weigh(guide: Guide, text: str, grams: float, now: float) -> float:
    """The jug upon the empty pan, and off it again."""
    now = hold_at(guide, 0, now, 1.5)
    say(guide, now, text)
    assert "jug on the empty scale" in guide.say
    return hold_at(guide, 0, hold_at(guide, grams, now, 2), 1.5)


def begun() -> tuple[Guide, float]:
    """Both jugs weighed, then a cup of 12 g."""
    guide = Guide(replace(terms(60, hands_free=False), stir_ms=60_000))
    now = weigh(guide, "resin", RESIN_G, 0)
    now = weigh(guide, "hard", HARDENER_G, now)
    assert [fact.kind for fact in guide.facts[1:]] == ["weighing", "jug-weight"] * 2
    return guide, hold_at(guide, 12, now, 3)


def stirring(guide: Guide, now: float) -> float:
    """44.1 g and 15.9 g in the cup, whatever the jugs were."""
    now = hold_at(guide, 56.1, ramp(guide, 12, 56.1, now, 5), 9)
    press(guide, now, "go")
    now = hold_at(guide, 72, ramp(guide, 56.1, 72, now + 1, 5), 10)
    press(guide, now, "go")
    assert guide.pour.stage == "stir"
    return now


def end(guide: Guide, now: float) -> Live:
    guide.take(Tick(now + 60))
    result = guide.pour.result
    assert isinstance(result, Live)
    assert fold(guide.facts) == guide.pour
    return result


@pytest.mark.parametrize(
    ("resin_g", "hardener_g", "verdict"),
    [
        (44.5, 16.2, "in-band"),  # some ran down the jugs
        (60.2, 0.0, "unproven"),  # resin twice
        (44.1, 10.0, "unproven"),  # the rest of it came out of another jug
        (0.0, 15.9, "unproven"),  # another resin
    ],
)
def test_what_left_the_jugs_tells_the_wrong_one(
    resin_g: float, hardener_g: float, verdict: str
) -> None:
    guide, now = begun()
    now = stirring(guide, now)
    for name, there_g in (("resin", RESIN_G - resin_g), ("hardener", HARDENER_G - hardener_g)):
        now = hold_at(guide, 0, now, 1.5)
        say(guide, now, name)
        now = hold_at(guide, there_g, now, 2)
    assert [one.weights for one in guide.pour.jugs_after] == ["scale", "scale"]
    result = end(guide, now)
    assert result.verdict == verdict
    why = result.unproven_because or ""
    assert why.startswith("what left the jug of the ") == (verdict != "in-band")


def test_the_last_weight_counts_and_one_alone_says_nothing() -> None:
    guide, now = begun()
    now = stirring(guide, now)
    (wrong,) = say(guide, now + 1, "resin", 1_100)
    assert wrong == JugWeight(
        wrong.at_ms, 0, 1_100_000_000, "typed", "", True, 144_000_000, 44_100_000
    )
    assert guide.alarm
    assert (
        guide.notice
        == "Wrong jug? 144.0 g left the resin's, and 44.1 g of it should be in the cup."
    )
    say(guide, now + 2, "resin", 1_200)
    assert guide.notice == "Resin's jug is right: 44.0 g left it."
    assert end(guide, now + 2).verdict == "in-band"


def test_no_jug_is_taken_for_the_cup() -> None:
    guide = Guide(terms(60))
    now = hold_at(guide, 0, 0, 2)
    say(guide, now, "resin")
    now = hold_at(guide, RESIN_G, now, 6)
    assert (guide.pour.stage, guide.cue) == ("cup", "lift")
    now = hold_at(guide, 12, hold_at(guide, 0, now, 2), 3)
    assert guide.pour.tared is not None
    assert guide.pour.tared.tare_ug == 12_000_000


def test_a_jug_weighs_what_it_adds_to_the_pan_once_it_stands() -> None:
    guide = Guide(terms(60))
    now = hold_at(guide, 0.4, 0, 2)
    say(guide, now, "resin")
    now = hold_at(guide, RESIN_G, now, 0.9)
    assert guide.facts[-1].kind == "weighing"
    hold_at(guide, RESIN_G, now, 1.5)
    (weight,) = guide.pour.jug_weights
    assert weight.mass_ug == 1_243_600_000
    assert weight.text == "1244.0 g"


def test_what_is_near_enough_is_right_and_little_tells_nothing() -> None:
    for left_ug, due_ug, wrong in (
        (18_900_000, 15_900_000, False),
        (19_000_000, 15_900_000, True),
        (105_000_000, 100_000_000, False),
        (105_100_000, 100_000_000, True),
    ):
        one = JugWeight(0, 1, 1, "scale", "", True, left_ug, due_ug)
        assert is_wrong(one) == wrong
    assert not is_wrong(JugWeight(0, 1, 1, "scale", "", True))


def test_a_jug_that_is_not_weighed_after_all_keeps_nobody_waiting() -> None:
    guide = Guide(terms(60))
    now = hold_at(guide, 0, 0, 2)
    say(guide, now, "resin")
    assert [fact.kind for fact in press(guide, now + 1, "go")] == ["weighing"]
    hold_at(guide, 12, hold_at(guide, 0, now + 1, 2), 3)
    assert guide.pour.stage == "pour"


def test_the_cup_that_stands_there_in_the_stir_is_no_jug() -> None:
    guide, now = begun()
    now = stirring(guide, now)
    say(guide, now, "resin")
    hold_at(guide, 72, now, 5)
    assert guide.facts[-1].kind == "weighing"


def test_when_it_cannot_be_told_it_is_not() -> None:
    guide, now = begun()
    now = hold_at(guide, 20, ramp(guide, 12, 20, now, 3), 1)
    assert say(guide, now, "resin", 1_200) == []
    assert guide.refusal.startswith("It is being poured")
    assert say(guide, now, "hardener") == []
    assert guide.refusal.startswith("The cup is on the scale")
    assert say(guide, now, "tin") == []
    assert guide.refusal == "Weigh which jug: resin, hardener?"
    parted, at_s = over()
    say(parted, at_s, "hardener", HARDENER_G)  # in the pour: it is the weight before, too late
    assert parted.refusal.startswith("It is being poured")


def test_with_no_cable_its_mass_is_typed() -> None:
    pour = Guide(replace(terms(60, hands_free=False), typed_division_ug=100_000)).pour
    _, refused = decide_typed(pour, Entry(), Key(1.0, "weigh", "resin"))
    assert refused.refusal == "Type its mass along: weigh resin 1234.5g."
    _, taken = decide_typed(pour, Entry(), Key(2.0, "weigh", "resin", 1_244_000_000))
    assert taken.facts == (JugWeight(2_000, 0, 1_244_000_000, "typed"),)
