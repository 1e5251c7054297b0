"""Which jug was taken, as its tag says: what is said at once, and what is doubted."""

from __future__ import annotations

from dataclasses import replace

import pytest
from support.pouring import HARDENER, RESIN, TWO, Guide, hold_at, ramp, terms
from support.typing import Teller

from mixer.pour.facts import Begun, Doubted, Fact, Held, Jug, Opened
from mixer.pour.inputs import Cut, Key
from mixer.pour.jugs import HELD_BY_HAND, NONE_ASKED
from mixer.pour.plain import from_plain, to_plain
from mixer.pour.recipe import Component, Recipe
from mixer.pour.state import fold
from mixer.pour.words import HELD

TAGGED = replace(
    TWO, components=(replace(RESIN, tag="R-17"), replace(HARDENER, tag="4006381333931"))
)
BLEND = Recipe(
    (replace(RESIN, tag="R-17"), Component("fast", "hardener", 20, 8, tag="F 1"),
     Component("slow", "hardener", 16, 8, tag="S 1")),
    ratio_tolerance=0.03,
)  # fmt: skip
WRONG = "That is the resin's jug, and hardener is asked for: put it down."
WHY = "the jug that was scanned last is not that of the hardener"


class Scanning(Guide):
    """Keeps what was answered at once."""

    def scan(self, at_s: float, tag: str) -> list[Fact]:
        before = len(self.facts)
        self.take(Key(at_s, "jug", tag))
        return self.facts[before:]


def tared(recipe: Recipe = TAGGED, *, hands_free: bool = False) -> tuple[Scanning, float]:
    guide = Scanning(terms(60, recipe=recipe, hands_free=hands_free))
    now = hold_at(guide, 0, 0, 2)
    return guide, hold_at(guide, 12, now, 3)


def with_resin(recipe: Recipe = TAGGED, *, scanned: bool = True) -> tuple[Scanning, float]:
    """The resin is in the cup, from its own jug, and the next is asked for."""
    guide, now = tared(recipe)
    if scanned:
        guide.scan(now, "R-17")
    now = hold_at(guide, 56.1, ramp(guide, 12, 56.1, now, 5), 10)
    guide.take(Key(now, "go"))
    assert guide.component != "resin"
    return guide, hold_at(guide, 56.1, now, 1)


def with_hardener(guide: Scanning, now: float) -> Scanning:
    return with_hardener_from(guide, 56.1, now)


def with_hardener_from(guide: Scanning, from_g: float, now: float) -> Scanning:
    now = hold_at(guide, 72, ramp(guide, from_g, 72, now, 4), 10)
    guide.take(Key(now, "go"))
    hold_at(guide, 72, now, 6)
    assert guide.pour.stage == "live"
    return guide


def test_each_jug_is_the_right_one() -> None:
    guide, now = tared()
    (fact,) = guide.scan(now, "r-17")
    assert fact == Jug(round(now * 1000), 0, 0, 12_000_000)
    assert guide.notice == "That is the resin: pour."
    guide, now = with_resin()
    assert guide.scan(now, "4006381333931")[0].kind == "jug"
    assert (guide.notice, guide.alarm) == ("That is the hardener: pour.", False)
    result = with_hardener(guide, now).pour.result
    assert result is not None
    assert result.verdict == "in-band"


def test_a_jug_that_is_taken_twice_is_said_and_never_in_band() -> None:
    guide, now = with_resin()
    (fact,) = guide.scan(now, "R-17")
    assert (fact.kind, guide.notice, guide.alarm) == ("jug", WRONG, True)
    assert guide.say.endswith(" The jug scanned last is the resin's.")
    assert guide.cue in ("pour", "ease")  # nothing is poured yet: nothing is held
    guide = with_hardener(guide, now)
    kinds = [fact.kind for fact in guide.facts]
    assert kinds[kinds.index("doubted") - 1] == "begun"
    assert guide.pour.result is not None
    assert (guide.pour.result.verdict, guide.pour.result.unproven_because) == ("unproven", WHY)


def test_the_right_one_before_the_stream_clears_it() -> None:
    guide, now = with_resin()
    guide.scan(now, "R-17")
    guide.scan(now + 0.2, "4006381333931")
    result = with_hardener(guide, now + 0.3).pour.result
    assert result is not None
    assert result.verdict == "in-band"


@pytest.mark.parametrize(("before", "is_doubted"), [("", True), ("4006381333931", False)])
def test_a_wrong_one_after_the_stream_has_begun_doubts_what_is_in(
    before: str, is_doubted: bool
) -> None:
    """But where the right one was scanned before that stream. No later tag clears it."""
    guide, now = with_resin()
    if before:
        guide.scan(now, before)
    now = hold_at(guide, 61.1, ramp(guide, 56.1, 61.1, now, 3), 10)
    guide.scan(now, "R-17")
    assert guide.notice == f"{WRONG} If it has been poured from, say: was resin."
    assert guide.pour.doubts == ((WHY,) if is_doubted else ())
    now = hold_at(guide, 61.1, now, 2)
    guide.scan(now, "4006381333931")
    assert guide.pour.doubts == ((WHY,) if is_doubted else ())
    assert guide.pour.result is None
    result = with_hardener_from(guide, 61.1, now).pour.result
    assert result is not None
    assert result.verdict == ("unproven" if is_doubted else "in-band")


def test_what_came_after_a_wrong_one_is_not_cleared_by_the_right_one() -> None:
    guide, now = with_resin()
    guide.scan(now, "4006381333931")
    now = hold_at(guide, 61.1, ramp(guide, 56.1, 61.1, now, 3), 10)
    guide.scan(now, "R-17")
    now = hold_at(guide, 63.1, ramp(guide, 61.1, 63.1, now, 2), 10)
    guide.scan(now, "4006381333931")
    assert guide.pour.doubts == (WHY,)


@pytest.mark.parametrize("recipe", [TWO, TAGGED])
def test_where_none_is_scanned_nothing_changes(recipe: Recipe) -> None:
    guide, now = with_resin(recipe, scanned=False)
    result = with_hardener(guide, now).pour.result
    assert result is not None
    assert result.verdict == "in-band"
    assert not any(isinstance(fact, Jug) for fact in guide.facts)


def test_a_jug_of_another_resin_and_none_at_all() -> None:
    guide, now = tared()
    assert guide.scan(now, "x") == []
    assert (guide.refusal, guide.alarm) == ("This tag is none of this resin's.", True)
    guide.pour = replace(guide.pour, system="sample-36")
    guide.scan(now, "x")
    assert guide.refusal == "This tag is none of sample-36's."
    guide.scan(now, " ")
    assert (guide.refusal, guide.alarm) == ("A jug needs its tag: jug TAG.", False)
    guide, now = tared(TWO)
    assert guide.scan(now, "R-17") == []
    assert guide.refusal.endswith("names no tags: nothing is known of this jug.")


def test_one_scan_that_is_read_twice_counts_once() -> None:
    guide, now = with_resin()
    assert len(guide.scan(now, "R-17")) == 1
    assert guide.scan(now + 1.4, "R-17") == []
    assert (guide.notice, guide.alarm) == (WRONG, False)
    assert len(guide.scan(now + 1.6, "R-17")) == 1


def test_the_next_jug_may_be_taken_up_before_it_is_called() -> None:
    guide, now = tared(BLEND)
    now = hold_at(guide, 56.1, ramp(guide, 12, 56.1, now, 5), 10)
    guide.scan(now, "S 1")
    assert guide.notice.startswith("That is the slow's jug, and resin is asked for: put it down.")
    assert isinstance(fact := guide.scan(now, "F 1")[0], Jug)
    assert (fact.component, fact.called) == (1, 1)
    assert (guide.notice, guide.alarm) == (
        "That is the fast, which comes next: go on first.",
        False,
    )
    guide.take(Key(now, "go"))
    assert guide.pour.jug == fact
    assert guide.pour.unproven_because is None
    now = hold_at(guide, 65, ramp(guide, 56.1, 65, now, 3), 10)
    guide.take(Key(now, "go"))
    assert (guide.component, guide.pour.jug) == ("slow", None)
    guide.scan(now, "F 1")
    assert guide.notice == "That is the fast's jug, and slow is asked for: put it down."


def test_the_other_jug_poured_upon_a_stream_that_had_begun_is_doubted() -> None:
    guide, now = tared()
    guide.scan(now, "R-17")
    now = hold_at(guide, 40, ramp(guide, 12, 40, now, 5), 10)
    guide.scan(now, "4006381333931")
    assert guide.notice.startswith("That is the hardener's jug, and resin is asked for: put it")
    assert guide.pour.unproven_because is None
    now = hold_at(guide, 56.1, ramp(guide, 40, 56.1, now, 4), 10)
    guide.take(Key(now, "go"))
    assert guide.pour.unproven_because == WHY.replace("hardener", "resin")


def test_a_batch_that_is_dropped_in_the_wrong_stream_is_doubted() -> None:
    guide, now = tared()
    guide.scan(now, "R-17")
    now = hold_at(guide, 40, ramp(guide, 12, 40, now, 5), 10)
    guide.scan(now, "4006381333931")
    ramp(guide, 40, 50, now, 4)
    guide.take(Cut(now + 5, "interrupted"))
    assert guide.pour.unproven_because == WHY.replace("hardener", "resin")


def test_what_is_said_of_the_right_jug_never_asks_for_too_much() -> None:
    guide, now = tared()
    now = hold_at(guide, 56.1, ramp(guide, 12, 56.1, now, 5), 10)
    guide.scan(now, "R-17")
    assert guide.notice == "That is the resin."
    guide, now = with_resin()
    guide.pour = replace(guide.pour, begun=True)
    guide.scan(now, "4006381333931")
    assert guide.notice == "That is the hardener."


def test_where_no_jug_is_asked_for() -> None:
    guide = Scanning(terms(60, recipe=TAGGED))
    assert guide.scan(1, "R-17") == []
    assert guide.refusal == NONE_ASKED["cup"]
    guide, now = with_resin()
    guide.take(Key(now, "hold"))
    assert guide.scan(now, "R-17") == []
    assert guide.refusal == HELD_BY_HAND
    guide.take(Key(now + 1, "go"))
    now = hold_at(guide, 72, ramp(guide, 56.1, 72, now + 1, 4), 10)
    guide.take(Key(now, "go"))
    assert guide.scan(now, "R-17") == []
    assert guide.refusal == NONE_ASKED["stir"]
    hold_at(guide, 72, now, 6)
    assert guide.scan(now + 7, "R-17") == []


def test_in_trouble_a_jug_is_looked_at_and_nobody_told_to_pour() -> None:
    guide, now = with_resin()
    held = Held(round(now * 1000), "silent", 56_100_000, HELD["silent"])
    guide.facts.append(held)
    guide.pour = fold(guide.facts) or guide.pour
    assert len(guide.scan(now, "4006381333931")) == 1
    assert guide.notice == f"That is the hardener. {HELD['silent']}"
    guide.scan(now, "R-17")
    assert guide.notice == WRONG


def typed(*scans: str) -> Teller:
    """Resin said and gone on from; then these are scanned."""
    teller = Teller(TAGGED)
    teller.tell("go")
    teller.tell("jug", "R-17")
    assert teller.notice == "That is the resin: pour."
    teller.shows(44.1)
    for tag in scans:
        teller.tell("jug", tag)
    return teller


def test_at_a_scale_with_no_cable_a_wrong_jug_is_said_and_told_of_at_the_end() -> None:
    teller = typed("R-17")
    assert teller.say.endswith(" The jug scanned last is the resin's.")
    teller.shows(60)
    teller.wait(30)
    assert teller.pour.result is not None
    because = teller.pour.result.unproven_because
    assert because == f"its weights were typed in; {WHY}"
    assert [fact.why for fact in teller.facts if isinstance(fact, Doubted)][1:] == [WHY]


def test_at_a_scale_with_no_cable_the_right_jug_changes_nothing() -> None:
    teller = typed("R-17", "4006381333931")
    teller.shows(60)
    teller.wait(30)
    assert teller.pour.result is not None
    assert teller.pour.result.unproven_because == "its weights were typed in"


def test_at_a_scale_with_no_cable_a_scan_leaves_the_figure_as_it_is() -> None:
    teller = Teller(TAGGED)
    teller.tell("go")
    teller.tell("shows", "44.1")
    before = teller.entry
    teller.tell("jug", "4006381333931")
    assert teller.entry == before
    assert isinstance(fact := teller.facts[-1], Jug)
    assert (fact.component, fact.called) == (1, 1)  # taken up early
    for figure in ("44.1", "400"):  # enough, and too much
        teller.tell("shows", figure)
        teller.tell("jug", "R-17")
        assert teller.notice == "That is the resin."


def test_an_old_record_has_no_tags_and_folds_as_it_did() -> None:
    opened = to_plain(Opened(0, terms(60, recipe=TAGGED)))
    for component in opened["recipe"]["components"]:
        del component["tag"]
    back = from_plain("opened", 0, opened)
    assert back == Opened(0, terms(60, recipe=TWO))
    assert from_plain("jug", 3, {"component": 1, "called": 0}) == Jug(3, 1, 0)
    assert isinstance(from_plain("begun", 3, {"component": 0}), Begun)


@pytest.mark.parametrize("moving", [True, False])
def test_what_follows_a_wrong_tag_in_mid_stream_is_doubted_however_it_was_read(
    moving: bool,
) -> None:
    guide, now = with_resin()
    guide.scan(now, "4006381333931")
    now = ramp(guide, 56.1, 61.1, now, 3)
    if not moving:
        now = hold_at(guide, 61.1, now, 8)
    guide.scan(now, "R-17")
    now = hold_at(guide, 63.1, ramp(guide, 61.1, 63.1, now, 2), 8)
    now = hold_at(guide, 72, ramp(guide, 63.1, 72, now, 4), 10)
    guide.take(Key(now, "go"))
    assert guide.pour.unproven_because == WHY
