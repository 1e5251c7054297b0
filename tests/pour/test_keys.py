"""The builder's words: each in each stage, what it makes true and what it is told."""

from __future__ import annotations

from dataclasses import replace

import pytest
from support.pouring import Guide, hold_at, ramp, tared_and_resin, terms, weighed

from devices.readings import Fault, FaultKind
from mixer.pour.facts import (
    Accepted,
    Called,
    Doubted,
    Ended,
    Fact,
    Held,
    Kept,
    Live,
    Noted,
    Resumed,
    Stirring,
)
from mixer.pour.inputs import Cut, Failed, Key, Tick
from mixer.pour.vocabulary import KNOWN
from mixer.pour.words import CUP_IS_OFF, HELD, JUST_TOLD, LESS_THAN_NOTHING, NOT_THE_SAME


def press(guide: Guide, at_s: float, word: str, text: str = "") -> list[Fact]:
    """The facts that this word makes true."""
    before = len(guide.facts)
    guide.take(Key(at_s, word, text))
    return guide.facts[before:]


def stirring() -> tuple[Guide, float]:
    guide, now = tared_and_resin(hands_free=False)
    press(guide, now, "go")
    now = hold_at(guide, 72.0, now + 1, 12)
    press(guide, now, "go")
    assert guide.pour.stage == "stir"
    return guide, now


def test_a_hold_by_hand_keeps_the_weight_and_go_only_resumes() -> None:
    guide, now = tared_and_resin(hands_free=False)
    at_ms = round(now * 1000)
    assert press(guide, now, "hold") == [Held(at_ms, "by-hand", 56_100_000, HELD["by-hand"])]
    assert guide.say == HELD["by-hand"]
    assert press(guide, now + 1, "hold") == []
    assert guide.refusal == ""  # it is held already
    assert press(guide, now + 2, "go") == [Resumed(at_ms + 2000, "by-hand", "by-hand", 0)]
    assert guide.component == "resin"
    assert not guide.pour.held_by_hand


def test_while_held_by_hand_nothing_is_taken() -> None:
    guide, now = tared_and_resin(hands_free=True)
    press(guide, now, "hold")
    hold_at(guide, 56.1, now, 20)
    assert guide.component == "resin"


def test_a_hold_before_the_tare_takes_no_tare() -> None:
    guide = Guide(terms(60))
    now = hold_at(guide, 0, 0, 2)
    press(guide, now, "hold")
    now = hold_at(guide, 12, now, 5)
    assert guide.pour.stage == "cup"
    press(guide, now, "go")
    hold_at(guide, 12, now, 2)
    assert guide.pour.stage == "pour"


def test_a_cup_that_is_taken_away_again_during_a_hold_is_not_tared() -> None:
    guide = Guide(terms(60))
    now = hold_at(guide, 0, 0, 2)
    press(guide, now, "hold")
    now = ramp(guide, 12, 3, hold_at(guide, 12, now, 5), 1)
    press(guide, now, "go")
    guide.take(Tick(now))
    assert guide.pour.stage == "cup"


def test_a_note_is_kept_in_every_stage() -> None:
    guide, now = tared_and_resin(hands_free=False)
    assert press(guide, now, "note", "cold jug") == [Noted(round(now * 1000), "cold jug")]
    guide, now = stirring()
    assert press(guide, now, "note", "scraped") == [Noted(round(now * 1000), "scraped")]


def test_an_unknown_word_is_named_and_cut() -> None:
    guide, now = tared_and_resin(hands_free=False)
    assert press(guide, now, "x" * 30) == []
    assert guide.refusal == f"'{'x' * 20}' is no word here: {KNOWN}."


def test_go_takes_the_tare_of_a_cup_at_rest_and_of_nothing_else() -> None:
    guide = Guide(terms(60))
    now = hold_at(guide, 0, 0, 2)
    assert press(guide, now, "go") == []
    assert guide.refusal == "No cup is at rest on the scale yet."
    now = hold_at(guide, 12, now + 1, 0.9)
    facts = press(guide, now, "go")
    assert [fact.kind for fact in facts] == ["tared", "called"]
    assert isinstance(facts[1], Called)
    assert facts[1].base_ug == 12_000_000
    assert facts[1].late_drips is False  # no jug has dripped yet
    assert guide.pour.tared is not None
    assert (guide.pour.tared.tare_ug, guide.pour.tared.text) == (12_000_000, "12.0 g")
    assert (guide.pour.tared.zero_ug, guide.pour.tared.division_ug) == (0, 100_000)


@pytest.mark.parametrize(("shown_g", "stage"), [(1.5, "cup"), (1.6, "pour")])
def test_a_cup_is_a_gram_more_than_the_empty_pan_shows(shown_g: float, stage: str) -> None:
    guide = Guide(terms(60))
    hold_at(guide, shown_g, hold_at(guide, 0.6, 0, 2), 3)
    assert guide.pour.stage == stage


def test_go_while_the_weight_moves_waits_for_it() -> None:
    guide, now = tared_and_resin(hands_free=False)
    for i in range(10):
        guide.take(weighed(57 + i, now + i / 10, still=False))
    assert press(guide, now + 1, "go") == []
    assert guide.refusal == "The weight has not come to rest yet: wait."


def test_go_out_of_band_says_what_is_there_and_what_is_accepted() -> None:
    guide, now = tared_and_resin(hands_free=False)
    press(guide, now, "go")
    now = hold_at(guide, 60.0, now + 1, 3)
    assert press(guide, now, "go") == []
    assert guide.refusal == "Not in band: 3.9 g of hardener; accepted is 15.6 g to 16.1 g."


def test_go_in_band_settles_and_asks_for_the_next() -> None:
    guide, now = tared_and_resin(hands_free=False)
    facts = press(guide, now, "go")
    assert [fact.kind for fact in facts] == ["accepted", "called"]
    accepted = Accepted(round(now * 1000), 0, 44_100_000, 56_100_000, "56.1 g")
    assert facts[0] == replace(accepted, division_ug=100_000)
    assert guide.pour.called is not None
    assert guide.pour.called.late_drips is False  # who says go has let it drip out


@pytest.mark.parametrize(
    ("low_ug", "high_ug", "accepted"),
    [
        (44_100_000, 44_100_000, True),
        (44_100_001, 45_000_000, False),
        (43_000_000, 44_099_999, False),
    ],
)
def test_the_limits_themselves_are_in_band(low_ug: int, high_ug: int, accepted: bool) -> None:
    guide, now = tared_and_resin(hands_free=False)
    assert guide.pour.called is not None
    called = replace(guide.pour.called, low_ug=low_ug, high_ug=high_ug)
    guide.pour = replace(guide.pour, called=called)
    facts = press(guide, now, "go")
    assert [fact.kind for fact in facts] == (["accepted", "called"] if accepted else [])


def test_in_the_stir_there_is_nothing_to_hold_or_to_go_on_to() -> None:
    guide, now = stirring()
    assert press(guide, now, "hold") == []
    assert guide.refusal == "The stir runs on: there is nothing to hold."
    assert press(guide, now + 1, "go") == []
    assert guide.refusal == "Stir on until the time is up."


def test_the_stir_ends_by_time_and_the_cup_gets_the_free_number() -> None:
    guide, _ = stirring()
    began_s = (guide.pour.stir_from_ms or 0) / 1000
    guide.take(Tick(began_s + 4.9, free_cup=7))
    assert guide.pour.stage == "stir"
    guide.take(Tick(began_s + 5.0, free_cup=7))
    assert guide.pour.stage == "live"
    assert guide.facts[-1].kind == "live"
    assert getattr(guide.facts[-1], "cup", None) == 7


def test_a_batch_too_small_for_the_scale_is_live_unproven_and_told_why() -> None:
    guide = Guide(terms(20, hands_free=False))
    now = hold_at(guide, 12, hold_at(guide, 0, 0, 2), 3)
    now = ramp(guide, 12, 26.7, now, 3)
    press(guide, now := hold_at(guide, 26.7, now, 9), "go")
    now = ramp(guide, 26.7, 32.0, now + 0.1, 2)
    press(guide, now := hold_at(guide, 32.0, now, 12), "go")
    guide.take(Tick(now + 5))
    live = guide.facts[-1]
    assert isinstance(live, Live)
    assert (live.verdict, live.amounts_ug) == ("unproven", (14_700_000, 5_300_000))
    assert live.unproven_because == "the scale's division is too coarse for so small a batch"


def asleep_and_awake() -> tuple[Guide, float]:
    """44.1 g of resin, a gap, and the loaded scale shows zero."""
    guide, now = tared_and_resin(hands_free=False)
    guide.take(Tick(now + 5))
    return guide, now + 8


def test_go_while_the_trouble_lasts_only_says_it() -> None:
    guide, now = asleep_and_awake()
    assert press(guide, now, "go") == []
    assert guide.refusal == HELD["silent"]
    assert guide.pour.trouble is not None


def test_go_while_the_weight_that_came_back_still_moves_only_says_the_trouble() -> None:
    guide, now = asleep_and_awake()
    for i in range(10):
        guide.take(weighed(20 + i, now + i / 10, still=False))
    assert press(guide, now + 1, "go") == []
    assert guide.refusal == HELD["silent"]
    assert guide.pour.trouble is not None


def test_go_in_a_second_trouble_does_not_take_the_rest_before_it() -> None:
    guide, now = asleep_and_awake()
    now = hold_at(guide, 0, now, 3)
    guide.take(Failed(Fault(FaultKind.OVERLOAD, "?", "Overload.", now)))
    assert guide.sight.recent_rest(now) is not None
    assert press(guide, now, "go") == []
    assert guide.refusal == HELD["overload"]


def test_go_on_a_weight_that_is_not_the_same_goes_on_unproven() -> None:
    guide, now = asleep_and_awake()
    now = hold_at(guide, 0, now, 3)
    assert guide.say == NOT_THE_SAME
    at_ms = round(now * 1000)
    assert press(guide, now, "go") == [
        Resumed(at_ms, "silent", "on-trust", 56_100_000),
        Doubted(at_ms, "the weight was not continuous after: silent"),
    ]
    # What is in the cup still counts: 44.1 g, although the scale shows zero.
    press(guide, now + 1, "go")
    assert guide.component == "hardener"
    assert guide.pour.amounts_ug[0] == 44_100_000
    now = hold_at(guide, 4.0, now + 2, 3)
    assert guide.left_g == pytest.approx(15.876 - 4.0)


def test_on_trust_a_weight_above_the_cup_is_taken_as_it_is() -> None:
    guide, now = asleep_and_awake()
    now = hold_at(guide, 40, now, 3)
    assert press(guide, now, "go")[0] == Resumed(round(now * 1000), "silent", "on-trust", 0)


@pytest.mark.parametrize(("word", "how"), [("drop", "dropped"), ("cut", "interrupted")])
def test_an_end_at_rest_books_what_is_there_without_a_doubt(word: str, how: str) -> None:
    guide, now = tared_and_resin(hands_free=False)
    if word == "drop":
        press(guide, now, "drop")
    else:
        guide.take(Cut(now, how))
    accepted, ended = guide.facts[-2:]
    assert accepted == Accepted(round(now * 1000), 0, 44_100_000, 56_100_000, "56.1 g")
    assert isinstance(ended, Ended)
    assert (ended.how, ended.verdict, ended.amounts_ug) == (how, "out-of-band", (44_100_000, 0))
    assert (ended.ratio_target, ended.ratio_actual) == (36.0, 0.0)
    assert ended.unproven_because is None


def test_an_end_in_trouble_books_the_last_weight_that_was_known() -> None:
    guide, now = tared_and_resin(hands_free=False)
    hold_at(guide, 0, now + 0.1, 0.2)
    assert guide.pour.trouble is not None
    press(guide, now + 1, "drop")
    result = guide.pour.result
    assert result is not None
    assert (result.verdict, result.amounts_ug[0]) == ("unproven", 44_100_000)
    assert result.unproven_because == "the pour was cut short before the weight came to rest"


def test_an_end_while_the_empty_pan_rests_books_the_cup_that_is_off_it() -> None:
    guide, now = tared_and_resin(hands_free=False)
    now = hold_at(guide, 0, now, 2)
    accepted, doubted, _ = press(guide, now, "drop")
    assert accepted == Accepted(round(now * 1000), 0, 44_100_000, 56_100_000, "")
    assert isinstance(doubted, Doubted)


def test_an_end_in_the_stream_books_the_newest_figure_as_the_scale_showed_it() -> None:
    guide, now = tared_and_resin(hands_free=False)
    for i in range(10):
        guide.take(weighed(57 + i, now := now + 0.1, still=False))
    accepted, doubted, _ = press(guide, now, "drop")
    assert accepted == Accepted(round(now * 1000), 0, 54_000_000, 66_000_000, "66.0 g")
    assert isinstance(doubted, Doubted)


def test_an_end_before_the_stream_books_nothing() -> None:
    guide = Guide(terms(60))
    now = hold_at(guide, 12, hold_at(guide, 0, 0, 2), 3)
    assert [fact.kind for fact in press(guide, now, "drop")] == ["ended"]
    guide = Guide(terms(60))
    facts = press(guide, hold_at(guide, 0, 0, 2), "drop")
    assert isinstance(facts[-1], Ended)
    assert (facts[-1].verdict, facts[-1].unproven_because) == ("unproven", "no cup was weighed")


@pytest.mark.parametrize("stage", ["live", "ended"])
def test_after_the_end_no_word_makes_anything_true(stage: str) -> None:
    if stage == "live":
        guide, now = stirring()
        guide.take(Tick(now := now + 10))
    else:
        guide, now = tared_and_resin(hands_free=False)
        press(guide, now, "drop")
    assert guide.pour.stage == stage
    for word in ("go", "hold", "use", "part", "drop", "note"):
        assert press(guide, now + 2, word, "late") == []


@pytest.mark.parametrize(("cup_g", "tared"), [(540.0, True), (540.1, False)])
def test_a_cup_that_leaves_no_room_on_the_scale_is_said_and_not_tared(
    cup_g: float, tared: bool
) -> None:
    guide = Guide(replace(terms(60, hands_free=False), scale_most_ug=600_000_000))
    now = hold_at(guide, cup_g, hold_at(guide, 0, 0, 2), 3)
    assert (guide.pour.stage == "pour") is tared
    if not tared:
        say = (
            "This cup and 60.0 g are more than the scale may carry: take a lighter cup, or drop "
            "this and ask for less."
        )
        assert (guide.cue, guide.say) == ("place", say)
        assert (press(guide, now, "go"), guide.refusal) == ([], say)


# -- use: out of band, and used all the same -------------------------------------------------


def over() -> tuple[Guide, float]:
    """20 g of hardener upon 44.1 g of resin, at rest; no drips are waited out."""
    guide, now = tared_and_resin(hands_free=False)
    press(guide, now, "go")
    return guide, hold_at(guide, 76.1, ramp(guide, 56.1, 76.1, now + 1, 5), 3)


def test_a_batch_out_of_band_is_used_where_the_builder_says_so() -> None:
    guide, now = over()
    at_ms = round(now * 1000)
    accepted, kept, stirs = press(guide, now, "use")
    due = Accepted(at_ms, 1, 20_000_000, 76_100_000, "76.1 g")
    assert accepted == replace(due, division_ug=100_000)
    assert kept == Kept(at_ms)
    assert stirs == Stirring(at_ms, 5_000)
    guide.take(Tick(now + 5.1, free_cup=3))
    result = guide.pour.result
    assert isinstance(result, Live)
    assert (result.cup, result.verdict) == (3, "out-of-band")
    assert result.ratio_actual == pytest.approx(100 * 20 / 44.1)
    assert guide.say == ("The cup is live, but its weighed ratio is out of band.")


def test_too_little_hardener_is_used_as_out_of_band_too() -> None:
    guide, now = tared_and_resin(hands_free=False)
    press(guide, now, "go")
    now = hold_at(guide, 66.1, ramp(guide, 56.1, 66.1, now + 1, 5), 3)
    assert [fact.kind for fact in press(guide, now, "use")] == ["accepted", "kept", "stirring"]


def test_what_is_unproven_stays_so_when_it_is_used() -> None:
    guide, now = over()
    guide.pour = replace(guide.pour, unproven_because="nobody knows")
    press(guide, now, "use")
    guide.take(Tick(now + 5.1))
    assert guide.pour.result is not None
    assert guide.pour.result.verdict == "unproven"


def test_use_is_refused_where_there_is_nothing_to_be_used_or_all_is_well() -> None:
    nothing = "There is no hardener in the cup: nothing here is a batch yet."
    guide = Guide(terms(60))
    guide.take(Key(0.0, "use"))
    assert guide.refusal == nothing
    guide, now = tared_and_resin(hands_free=False)
    assert (press(guide, now, "use"), guide.refusal) == ([], nothing)
    press(guide, now, "go")
    assert (press(guide, now, "use"), guide.refusal) == ([], nothing)
    now = hold_at(guide, 72.0, ramp(guide, 56.1, 72.0, now + 1, 5), 3)
    assert (press(guide, now, "use"), guide.refusal) == ([], "It is in band: go on with go.")
    guide, now = over()
    guide.take(weighed(80, now, still=False))
    waiting = "The weight has not come to rest yet: wait."
    assert (press(guide, now, "use"), guide.refusal) == ([], waiting)
    guide, now = over()
    press(guide, now, "hold")
    assert (press(guide, now, "use"), guide.refusal) == ([], waiting)
    guide, now = stirring()
    assert (press(guide, now, "use"), guide.refusal) == ([], "It is being stirred already.")


# -- go, just after pour was said ------------------------------------------------------------


def resin_short_of_its_target(hands_free: bool) -> tuple[Guide, float]:
    """36 g of 44.1 g, at rest: it could be accepted, and more is asked for."""
    guide = Guide(terms(60, hands_free=hands_free))
    now = ramp(guide, 12, 48, hold_at(guide, 12, hold_at(guide, 0, 0, 2), 3), 5)
    press(guide, now, "hold")
    return guide, hold_at(guide, 48, now, 5)


@pytest.mark.parametrize("hands_free", [True, False])
@pytest.mark.parametrize("later_s", [0.7, 0.9, 1.5, 2.3])
def test_a_second_go_after_a_hold_is_no_answer_to_pour(hands_free: bool, later_s: float) -> None:
    """On a late display the rest of the hold still stands while the stream runs."""
    guide, now = resin_short_of_its_target(hands_free)
    assert press(guide, now, "go")[0].kind == "resumed"
    assert guide.cue in ("pour", "ease")
    now = hold_at(guide, 48, now + 0.1, later_s)
    assert press(guide, now, "go") == []
    assert guide.refusal == JUST_TOLD


@pytest.mark.parametrize("hands_free", [True, False])
def test_go_is_taken_at_once_where_the_weight_stood_although_pour_was_said(
    hands_free: bool,
) -> None:
    """Who has enough of the resin says so by go."""
    guide, now = resin_short_of_its_target(hands_free)
    press(guide, now, "go")
    now = hold_at(guide, 48, now + 0.1, 3)
    assert guide.cue in ("pour", "ease")
    assert [fact.kind for fact in press(guide, now, "go")] == ["accepted", "called"]


def test_go_for_a_hold_that_has_just_ended_by_itself_is_no_answer_to_pour() -> None:
    """It was offered until then, for the cup that was put back."""
    guide, now = resin_short_of_its_target(hands_free=True)
    press(guide, now, "go")
    now = hold_at(guide, 0, now + 0.1, 3)
    while guide.pour.trouble or guide.cue not in ("pour", "ease"):
        guide.take(weighed(48, now := now + 0.1))
    assert press(guide, now + 0.3, "go") == []
    assert guide.component == "resin"


@pytest.mark.parametrize("at_once", [True, False])
def test_an_empty_pan_is_not_taken_for_the_cup(at_once: bool) -> None:
    """It was, with all that is in the cup, and the cup that came back was a great over-pour."""
    guide, now = tared_and_resin(hands_free=False)
    now = hold_at(guide, 0, now if at_once else ramp(guide, 56.1, 0, now, 0.5), 4)
    assert press(guide, now, "go") == []
    assert guide.refusal == guide.say == CUP_IS_OFF
    now = hold_at(guide, 56.1, now + 0.1, 4)
    assert guide.pour.trouble is None
    assert guide.pour.doubts == ()


def test_nor_is_what_shows_less_than_nothing() -> None:
    guide, now = tared_and_resin(hands_free=False)
    now = hold_at(guide, 0, now, 4)  # zero was pressed upon it
    now = hold_at(guide, -56.1, now, 4)
    assert press(guide, now, "go") == []
    assert guide.refusal == LESS_THAN_NOTHING
    now = hold_at(guide, 56.1, hold_at(guide, 0, now, 4), 4)
    assert (guide.pour.trouble, guide.pour.doubts) == (None, ())
