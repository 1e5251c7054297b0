"""Who does what the cue says, and nothing else, comes to an end.

A cup of 12 g with 44.1 g of resin in it, 56.1 g in all, where readings are given one by one.
"""

from __future__ import annotations

from dataclasses import dataclass

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from support.pouring import Guide, hold_at, press, ramp, tared_and_resin, terms, weighed
from support.virtual import VirtualBench

from devices.readings import Fault, FaultKind
from devices.sim.indicator import ScaleSettings
from mixer.pour.afresh import Shown, first_sight, take_up
from mixer.pour.facts import Ended
from mixer.pour.inputs import Failed, Tick, Weighed
from mixer.pour.state import evolve
from mixer.pour.words import (
    CUP_IS_OFF,
    CUP_OFF,
    CUT_OFF_CUP,
    GOES_ON,
    KEEP_OFF,
    NOT_THE_SAME,
    PAN_NOT_ZERO,
    PAN_RESTLESS,
    pan_otherwise,
)
from mixer.practice.hands import CAREFUL

# -- reading by reading ----------------------------------------------------------------------


def cut_off() -> tuple[Guide, float]:
    """The program was killed with 44.1 g of resin in the cup, and is started again."""
    guide, now = tared_and_resin(hands_free=True)
    guide.sight = first_sight(guide.facts, None)
    shown = Shown(round(now * 1000), 56_100_000, True)
    for fact in take_up(guide.facts, now, shown):
        guide.facts.append(fact)
        guide.pour = evolve(guide.pour, fact)
    return guide, now + 0.1


def heard_again(kind: str) -> tuple[Guide, float]:
    """In trouble after this, and what is shown is not what it was: 70 g."""
    if kind == "cut off":
        guide, now = cut_off()
        return guide, hold_at(guide, 70, now, 2)
    guide, now = tared_and_resin(hands_free=False)
    if kind == "lifted":
        return guide, hold_at(guide, 70, ramp(guide, 30, 20, now, 0.5), 2)
    if kind == "silent":
        guide.take(Tick(now + 3))
    else:
        guide.take(Failed(Fault(FaultKind(kind), "?", "Trouble.", now)))
        guide.take(Tick(now + 3))
    return guide, hold_at(guide, 70, now + 6, 2)


SAID = {"cut off": CUT_OFF_CUP, "lifted": CUP_IS_OFF}  # else the scale may have woken up loaded
KINDS = ["silent", "lifted", "cut off", *map(str, FaultKind)]


@settings(max_examples=20, deadline=None)
@given(
    kind=st.sampled_from(KINDS),
    lift_s=st.sampled_from([0.1, 0.3, 1.0]),
    pan_g=st.sampled_from([-0.1, 0.0, 0.1]),
    off_s=st.integers(1, 20),
)
def test_from_every_trouble_the_empty_pan_at_rest_at_zero_asks_for_the_cup(
    kind: str, lift_s: float, pan_g: float, off_s: int
) -> None:
    guide, now = heard_again(kind)
    assert guide.pour.trouble is not None
    assert guide.cue == "lift"
    now = hold_at(guide, pan_g, ramp(guide, 70, pan_g, now, lift_s), 0.3)
    assert guide.cue == "wait"
    assert KEEP_OFF in guide.say
    now = hold_at(guide, pan_g, now, 0.7)
    for _ in range(off_s):
        assert guide.cue == "place"
        assert guide.say == SAID.get(kind, CUP_OFF)
        now = hold_at(guide, pan_g, now, 1)
    now = hold_at(guide, 56.1 + pan_g, ramp(guide, pan_g, 56.1 + pan_g, now, 0.3), 2)
    assert (guide.pour.trouble, guide.pour.unproven_because) == (None, None)


@pytest.mark.parametrize("kind", ["silent", "cut off"])
def test_of_a_zero_that_came_unseen_the_cup_is_lifted_first_and_then_put_back(kind: str) -> None:
    """It may be an empty pan, or a scale that woke up with the cup on it."""
    guide, now = tared_and_resin(hands_free=True) if kind == "silent" else cut_off()
    guide.take(Tick(now + 1.5))
    now = hold_at(guide, 0, now + 2.5, 4)
    assert guide.cue == "lift"
    now = hold_at(guide, 0, now, 2)
    assert guide.cue == "place"
    now = hold_at(guide, 0, now, 120)
    assert guide.cue == "place"
    hold_at(guide, 56.1, ramp(guide, 0, 56.1, now, 0.3), 3)
    assert (guide.pour.trouble, guide.pour.unproven_because) == (None, None)


def test_a_batch_that_was_cut_off_says_so_until_it_goes_on_or_is_dropped() -> None:
    guide, now = cut_off()
    now = hold_at(guide, 0, now, 60)
    assert (guide.cue, guide.say) == ("place", CUT_OFF_CUP)
    now = hold_at(guide, 12, now, 3)  # another cup
    assert (guide.cue, guide.say) == ("lift", f"{GOES_ON} {NOT_THE_SAME}")
    guide.take(Tick(now + 3))  # trouble upon trouble
    assert guide.say.startswith(GOES_ON)
    (*_, ended) = press(guide, now + 3.1, "drop")
    assert isinstance(ended, Ended)
    assert (ended.how, ended.verdict) == ("dropped", "unproven")
    guide, now = cut_off()
    hold_at(guide, 56.1, now, 3)
    assert guide.pour.trouble is None
    assert "cut off" not in guide.say


def test_the_cup_is_not_asked_for_before_the_pan_rests_at_zero() -> None:
    guide, now = tared_and_resin(hands_free=True)
    now = ramp(guide, 30, 0.9, now, 0.3)
    for i in range(5):
        guide.take(weighed(0.6 - i / 10, now + i / 10, still=False))
        assert (guide.cue, guide.say) == ("wait", KEEP_OFF)
    hold_at(guide, 0, now + 0.5, 1)
    assert (guide.cue, guide.say) == ("place", CUP_IS_OFF)


def test_a_pan_that_never_rests_has_a_way_on_that_is_said() -> None:
    guide, now = tared_and_resin(hands_free=True)
    for i in range(200):
        guide.take(weighed((i % 3) / 5 - 0.2, now + i / 10, still=False))
        guide.take(Tick(now + i / 10))
        if i == 80:
            assert (guide.cue, guide.say) == ("wait", KEEP_OFF)
    assert (guide.cue, guide.say) == ("place", PAN_RESTLESS)
    hold_at(guide, 56.1, ramp(guide, 0, 56.1, now + 20, 0.3), 3)
    assert guide.pour.trouble is None


def test_a_pan_that_rests_beside_its_zero_is_to_be_cleared_after_any_trouble() -> None:
    for kind in ("silent", "lifted", "cut off"):
        guide, now = heard_again(kind)
        now = hold_at(guide, 0.4, ramp(guide, 70, 0.4, now, 0.3), 2)
        assert guide.cue == "clear"
        assert guide.say.endswith(PAN_NOT_ZERO)
        now = hold_at(guide, 0, now, 2)
        assert guide.cue == "place"


def test_a_pan_that_showed_no_zero_before_the_cup_is_not_told_to_be_zeroed() -> None:
    """Zeroed meanwhile, it shows 0.0 g and not the 0.4 g that the cup was tared upon."""
    guide = Guide(terms(60, hands_free=False))
    now = hold_at(guide, 12.4, hold_at(guide, 0.4, 0, 2), 3)
    now = hold_at(guide, 32.4, ramp(guide, 12.4, 32.4, now, 4), 3)
    now = hold_at(guide, 0.4, now, 2)
    assert (guide.cue, guide.say) == ("place", CUP_IS_OFF)
    now = hold_at(guide, 0, now, 2)
    assert (guide.cue, guide.say) == ("clear", pan_otherwise(400_000, 100_000))
    now = hold_at(guide, 32, ramp(guide, 0, 32, now, 0.3), 3)
    assert guide.pour.trouble is not None
    press(guide, now, "go")
    assert guide.pour.trouble is None
    assert guide.pour.unproven_because is not None


# -- a hand that goes by the cues alone ------------------------------------------------------


@dataclass
class Obedient:
    """Lifts the cup and puts it back as the cue says, so many seconds after it."""

    bench: VirtualBench
    hand_s: float
    on: bool = True
    moved_s: float = 0.0
    _cue: str = ""
    _since_s: float = 0.0

    def look(self, cue: str) -> None:
        now_s = self.bench.t_s
        if cue != self._cue:
            self._cue, self._since_s = cue, now_s
        if now_s - self._since_s < self.hand_s:
            return
        if cue in ("lift", "clear") and self.on and now_s > self.moved_s + 2:
            self.move("lift")
        elif cue == "place" and not self.on:
            self.move("return")

    def move(self, do: str) -> None:
        self.bench.plant.act({"do": do})
        self.on, self.moved_s = do == "return", self.bench.t_s


def batch(
    mishap: str, *, hand_s: float, at_g: float = 20, keys: bool = False, filter_s: float = 0.15
) -> tuple[Guide, VirtualBench]:
    """A whole batch with one mishap as so much resin is in, and a hand of this quickness."""
    scale = ScaleSettings(filter_s=filter_s)
    bench = VirtualBench(CAREFUL, seed=1, keys=keys, scale=scale)
    guide, hand = Guide(terms(60, hands_free=not keys)), Obedient(bench, hand_s)
    late_s: float | None = None  # since when the mishap is on
    for said in bench.readings(180):
        guide.take(Failed(said) if isinstance(said, Fault) else Weighed(said))
        guide.take(Tick(said.at_s))
        if late_s is None and bench.in_cup_g("resin") > at_g:
            late_s = bench.t_s
            if mishap == "lift":
                hand.move("lift")
            else:
                bench.plant.act({"do": "fail", "how": mishap, "for_s": 3})
                guide.take(Tick(said.at_s + 1.5))
                bench.show("stop", "resin", None)
                bench.run(1.0)
        if guide.pour.trouble is not None:
            hand.look(guide.cue)
        cue = "wait" if guide.pour.trouble is not None else guide.cue  # this hand has the cup
        bench.show(cue, guide.component, guide.left_g)
        for _ in range(bench.take_presses()):
            press(guide, said.at_s, "go")
        if guide.pour.stage in ("live", "ended"):
            break
    return guide, bench


@pytest.mark.parametrize("filter_s", [0.15, 0.3, 0.6])
def test_what_the_display_had_still_to_show_of_the_resin_is_no_addition(filter_s: float) -> None:
    guide, bench = batch("lift", hand_s=1.0, filter_s=filter_s)
    assert guide.pour.result is not None
    assert guide.pour.result.verdict == "in-band"
    true = bench.in_cup_g("hardener") / bench.in_cup_g("resin")
    assert true == pytest.approx(0.36, rel=0.03)


@pytest.mark.parametrize(("more_g", "proven"), [(0.0, True), (3.0, True), (6.0, False)])
def test_what_is_added_off_the_scale_is_more_than_the_display_was_late(
    more_g: float, proven: bool
) -> None:
    """10 g/s upon a display that is 0.28 s late, and shown every 0.1 s: up to 3.8 g."""
    guide = Guide(terms(60))
    now = hold_at(guide, 12, ramp(guide, 0, 12, hold_at(guide, 0, 0, 2), 0.5), 3)
    now = ramp(guide, 12, 42.4, now, 3)  # nor does it look as a display in whole grams
    now = hold_at(guide, 0, ramp(guide, 42.4, 0, now, 0.5), 2)
    back_g = 42.4 + more_g
    hold_at(guide, back_g, ramp(guide, 0, back_g, now, 0.5), 2)
    assert guide.pour.trouble is None
    assert (guide.pour.unproven_because is None) is proven


@settings(max_examples=8, deadline=None)
@given(
    mishap=st.sampled_from(["silent", "nonsense", "lift"]),
    hand_s=st.floats(0.2, 6.0),
    at_g=st.floats(3, 38),
    keys=st.booleans(),
    filter_s=st.sampled_from([0.15, 0.3]),
)
@example(mishap="silent", hand_s=0.2, at_g=20, keys=False, filter_s=0.15)
@example(mishap="lift", hand_s=0.4, at_g=20, keys=True, filter_s=0.3)
def test_who_obeys_the_cues_comes_to_an_end(
    mishap: str, hand_s: float, at_g: float, keys: bool, filter_s: float
) -> None:
    guide, bench = batch(mishap, hand_s=hand_s, at_g=at_g, keys=keys, filter_s=filter_s)
    result = guide.pour.result
    assert result is not None, (guide.cue, guide.say)
    if result.verdict == "in-band":
        true = bench.in_cup_g("hardener") / bench.in_cup_g("resin")
        assert true == pytest.approx(0.36, rel=0.03)
