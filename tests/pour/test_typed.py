"""A pour by figures that are typed: totals asked for, what is taken, what is refused."""

from __future__ import annotations

import pytest
from support.typing import Teller

from mixer.pour.afresh import give_up, take_up
from mixer.pour.facts import (
    Accepted,
    Begun,
    Called,
    Ended,
    Fact,
    Kept,
    Live,
    Opened,
)
from mixer.pour.inputs import Cut, Key
from mixer.pour.plain import from_plain, to_plain
from mixer.pour.recipe import Component, Recipe
from mixer.pour.state import fold

RESIN = Component("resin", "resin", 100, 8)
TWO = Recipe((RESIN, Component("hardener", "hardener", 36, 8)), ratio_tolerance=0.03)
BLEND = Recipe(
    (RESIN, Component("fast", "hardener", 24, 8), Component("slow", "hardener", 12, 8)),
    ratio_tolerance=0.03,
)
TINTED = Recipe(
    (RESIN, Component("pigment", "additive", 4, 8, tolerance=0.2),
     Component("hardener", "hardener", 36, 8)),
    ratio_tolerance=0.03,
)  # fmt: skip


def live_of(teller: Teller) -> Live:
    teller.wait(60)
    result = teller.pour.result
    assert isinstance(result, Live)
    assert fold(teller.facts) == teller.pour
    return result


@pytest.mark.parametrize(
    ("word", "slip", "kind"), [("use", "600", "kept"), ("part", "66.1", "parting")]
)
def test_a_slip_is_asked_about_before_it_is_used_or_parted(word: str, slip: str, kind: str) -> None:
    teller = Teller(TWO, 60, cup_g=62)
    for total in ("", "44.1"):
        teller.tell("go", total)
    teller.tell("shows", slip)
    teller.tell(word)
    asked = f"{float(slip):.1f} g is far from the 60.0 g asked for. If it does show that, {word}"
    assert teller.refusal == f"{asked} once more."
    assert teller.amounts_g[1] == 0
    teller.tell(word, slip)
    assert teller.refusal == ""
    assert kind in [fact.kind for fact in teller.facts]


@pytest.mark.parametrize(
    ("division_g", "figure", "near"),
    [(0.1, "44.13", "44.1 g or 44.2 g"), (0.5, "44.1", "44.0 g or 44.5 g")],
)
def test_what_the_display_cannot_show_is_refused(division_g: float, figure: str, near: str) -> None:
    teller = Teller(TWO, 60, division_g=division_g)
    teller.tell("go")
    teller.tell("go", figure)
    shows = f"{division_g} g"
    assert teller.refusal.startswith(f"{figure} is between two steps of {shows}: type {near}.")
    teller.tell("go", near.split()[0])
    assert teller.amounts_g[0] == float(near.split()[0])


def test_what_go_has_refused_is_used_without_another_question() -> None:
    teller = Teller(TWO, 60, cup_g=62)
    for total in ("", "44.1", "66.1"):
        teller.tell("go", total)
    assert "There is no room to put it right" in teller.refusal
    teller.tell("use")
    assert teller.pour.stage == "stir"


def test_a_batch_from_zeroed_cup_to_live_by_totals_alone() -> None:
    teller = Teller(TWO)
    assert teller.cue == "place"
    teller.tell("go")
    assert teller.asked_g[0] == 44.1
    assert "until the scale shows 44.1 g" in teller.say
    teller.shows("44.3")
    # 36 to 100 of 44.3 g is 15.95 g: the display is to show them together.
    assert teller.asked_g == (60.2, 60.0, 60.4)
    assert "60.2 g (60.0 to 60.4 g)" in teller.say
    teller.tell("go")
    assert teller.pour.stage == "stir"
    assert teller.amounts_g == (44.3, 15.9)
    live = live_of(teller)
    assert (live.verdict, live.unproven_because) == ("unproven", "its weights were typed in")
    assert live.ratio_actual == pytest.approx(100 * 15.9 / 44.3)


def test_a_cup_that_is_not_zeroed_counts_with_its_own_weight() -> None:
    teller = Teller(TWO)
    teller.shows("12.3")
    assert teller.asked_g[0] == 56.4
    teller.shows("56.4", "72.3")
    assert teller.amounts_g == (44.1, 15.9)


def test_the_last_is_gone_on_from_by_one_key_and_no_other() -> None:
    teller = Teller(BLEND, 100)
    teller.tell("go")
    for figure in ("73.5", "91.1"):
        assert not teller.ask.as_asked
        teller.tell("go")
        assert teller.refusal == "Type first what the scale shows, then go on."
        teller.shows(figure)
    assert teller.ask.as_asked
    teller.tell("go")
    assert teller.pour.stage == "stir"
    assert sum(teller.amounts_g[1:]) == pytest.approx(0.36 * 73.5, abs=0.05)


def test_an_additive_is_asked_for_in_its_place() -> None:
    teller = Teller(TINTED, 100)
    teller.tell("go")
    teller.shows("71.4")
    assert "pigment" in teller.say
    assert teller.asked_g[0] == 74.3  # 4 to 100 of resin
    teller.shows("74.2")
    assert teller.asked_g[0] == 99.9
    teller.shows("99.8")
    assert teller.amounts_g == (71.4, pytest.approx(2.8), pytest.approx(25.6))


def test_the_hardener_counts_as_open_from_when_it_is_called() -> None:
    teller = Teller(TWO)
    teller.tell("go")
    teller.tell("shows", "44.1")
    assert teller.pour.contact_ms is None
    teller.tell("go")
    called_ms = round(teller.now_s * 1000)
    assert teller.pour.contact_ms == called_ms
    teller.wait(300)
    teller.tell("go")
    assert teller.pour.contact_ms == called_ms


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "Type in grams"), ("about 60", "no weight"), ("6 0", "no weight"),
        ("1e3", "no weight"),
        ("60.0 kg", "no weight"), ("nan", "no weight"), ("٦٠", "no weight"),
        ("60.0.1", "no weight"), ("-3", "showed 44.1 g before"), ("44.0", "showed 44.1 g before"),
        ("2000.1", "no more than 2000.0 g"), ("\x1b[2J60", "no weight"),
    ],
)  # fmt: skip
def test_what_cannot_stand_there_is_refused_with_a_sentence(text: str, said: str) -> None:
    teller = Teller(TWO)
    teller.tell("go")
    teller.shows("44.1")
    before = teller.pour
    teller.tell("shows", text)
    assert said in teller.refusal
    assert teller.refusal.isprintable()
    # Nothing stands in its place: to go on would take the figure that was asked for.
    teller.tell("go")
    assert said in teller.refusal
    assert teller.pour == before
    teller.tell("go", text)
    assert teller.pour == before
    teller.shows("60.0")
    assert teller.pour.stage == "stir"


def test_a_cup_too_heavy_for_the_scale_is_not_taken() -> None:
    teller = Teller(TWO, scale_g=100)
    teller.shows("50")
    assert "take a lighter cup" in teller.refusal
    teller.tell("shows", "-0.4")
    assert "zero it" in teller.refusal
    assert teller.pour.stage == "cup"


def test_go_is_refused_out_of_band_and_says_what_is_accepted() -> None:
    teller = Teller(TWO)
    teller.tell("go")
    teller.shows("44.1", "58.9", "58.9")
    assert teller.refusal == "Not in band: 58.9 g; accepted is 59.8 to 60.2 g."
    assert teller.pour.stage == "pour"
    assert teller.amounts_g[1] == 0


def test_what_is_over_is_asked_about_once_and_then_put_right() -> None:
    teller = Teller(TWO)
    teller.tell("go")
    teller.shows("44.1", "61.0")
    assert "then add resin until it shows 63.8 g" in teller.refusal
    assert teller.amounts_g[1] == 0
    teller.tell("go")
    assert teller.amounts_g == (44.1, 16.9)
    assert teller.asked_g[0] == 63.8
    assert teller.ask.as_asked
    teller.tell("go")
    assert teller.pour.stage == "stir"
    assert teller.amounts_g == (46.9, 16.9)


def test_resin_far_from_what_was_asked_for_is_asked_about_once() -> None:
    teller = Teller(TWO)
    teller.tell("go")
    teller.shows("41.4")  # for 44.1
    assert "far from the 44.1 g" in teller.refusal
    assert teller.pour.contact_ms is None
    teller.shows("44.1")
    assert teller.pour.contact_ms is not None


def test_no_room_is_said_plainly_and_parted_dropped_or_used() -> None:
    def over() -> Teller:
        teller = Teller(TWO, cup_g=62)
        teller.tell("go")
        teller.shows("44.1", "61.5", "61.5")
        assert "There is no room to put it right: part it" in teller.refusal
        assert "drop it and discard the cup, or use it" in teller.refusal
        return teller

    teller = over()
    teller.tell("use")
    live = live_of(teller)
    assert any(isinstance(fact, Kept) for fact in teller.facts)
    assert live.verdict == "unproven"
    assert "off by 9.6 %, more than the 3 % allowed" in (live.unproven_because or "")

    teller = over()
    teller.tell("drop")
    assert isinstance(teller.pour.result, Ended)

    teller = over()
    teller.tell("part")
    assert teller.cue == "stir"
    teller.shows("50")
    assert "Stir on" in teller.refusal
    teller.wait(60)
    assert teller.cue == "part"
    most = teller.asked_g[0]
    teller.shows(most + 0.5)
    assert "take 0.5 g more out" in teller.refusal
    teller.shows(most - 1)
    assert teller.pour.called is not None
    assert teller.pour.called.component == 0
    teller.tell("go")
    live = live_of(teller)
    assert live.unproven_because == "its weights were typed in"
    assert live.ratio_actual == pytest.approx(36, rel=0.03)


def test_more_resin_than_the_cup_takes_is_taken_out_and_typed_anew() -> None:
    teller = Teller(TWO, cup_g=62)
    teller.tell("go")
    teller.shows("47", "47")
    assert "take some out, until it shows 45.5 g or less" in teller.refusal
    teller.shows("45.2")
    assert teller.amounts_g[0] == 45.2


def test_a_pedal_pressed_twice_does_not_say_that_the_hardener_is_in() -> None:
    teller = Teller(TWO)
    teller.tell("go")
    teller.tell("shows", "44.1")
    teller.tell("go")
    teller.take(Key(teller.now_s + 0.3, "go"), True)
    teller.tell("go", after_s=1.5)
    assert "Nobody pours that in so short a time" in teller.refusal
    assert teller.pour.stage == "pour"
    teller.tell("go", after_s=3)
    assert teller.pour.stage == "stir"


def test_a_figure_comes_along_with_go() -> None:
    teller = Teller(TWO)
    teller.tell("go", "12.0")
    teller.tell("go", "56.1")
    teller.tell("go", "71.9 g")
    assert teller.amounts_g == (44.1, 15.8)
    assert [f.text for f in teller.facts if isinstance(f, Accepted)] == ["56.1", "71.9 g"]


def test_words_that_have_no_place_are_refused_with_a_sentence() -> None:
    teller = Teller(TWO)
    for word in ("use", "part", "sing"):
        teller.tell(word)
        assert teller.refusal
    teller.tell("go")
    teller.tell("hold")
    assert teller.cue == "wait"
    teller.tell("shows", "44.1")
    assert "Held" in teller.refusal
    teller.tell("go", "44.1")  # from a hold it only goes on
    assert teller.amounts_g[0] == 0
    teller.shows("44.1")
    for word in ("use", "part"):
        teller.tell(word)
        assert teller.refusal
    teller.tell("use", "44.1")
    assert "no hardener" in teller.refusal
    teller.tell("use", "60.0")
    assert "in band" in teller.refusal
    teller.tell("part", "61.0")
    assert "room" in teller.refusal
    teller.tell("go", "60.0")
    for word in ("use", "part", "go", "hold", "shows"):
        teller.tell(word, after_s=0.1)
        assert teller.refusal, word
    live_of(teller)
    teller.tell("go")
    assert teller.facts[-1].kind == "live"


@pytest.mark.parametrize("word", ["go", "use"])
def test_a_display_too_coarse_for_the_batch_has_a_way_out(word: str) -> None:
    teller = Teller(TWO, 10, division_g=1)
    teller.tell("go")
    teller.shows("8")
    assert "no step of this scale is in band" in teller.say
    teller.tell("go")
    assert teller.refusal
    teller.shows("12", "12")
    assert "no step of this scale is: the nearest will do. If it does show" in teller.refusal
    teller.tell(word, "10" if word == "go" else "")
    assert teller.pour.stage == "stir"


def test_what_was_not_typed_is_said_where_the_batch_ends() -> None:
    teller = Teller(TWO)
    teller.tell("go")
    teller.shows("44.1")
    teller.take(Cut(teller.now_s, "interrupted"))
    ended = teller.pour.result
    assert isinstance(ended, Ended)
    assert ended.verdict == "unproven"
    assert ended.unproven_because == (
        "its weights were typed in, and what came of the hardener was not"
    )


def stored(facts: list[Fact]) -> list[Fact]:
    """As the record gives them back."""
    back = [from_plain(fact.kind, fact.at_ms, to_plain(fact)) for fact in facts]
    return [fact for fact in back if fact is not None]


def test_cut_off_after_any_fact_it_goes_on_to_the_same_end() -> None:
    teller = Teller(BLEND, 100)
    teller.tell("go")
    teller.shows("73.5", "91.1")
    whole = stored(teller.facts)
    assert whole == teller.facts
    for many in range(1, len(whole) + 1):
        again = Teller(BLEND, 100)
        again.facts = whole[:many]
        again.now_s = 1_000.0
        again.facts += take_up(again.facts, again.now_s, None)
        pour = fold(again.facts)
        assert pour is not None
        again.pour = pour
        assert pour.called is not None or pour.stage == "cup"
        if pour.stage == "cup":
            again.tell("go")
        while again.pour.stage == "pour":
            again.shows(again.ask.target_ug / 1e6)
            assert again.refusal == ""
        live = live_of(again)
        assert live.unproven_because == "its weights were typed in"
        begun = [f for f in again.facts if isinstance(f, Begun) and f.component > 0]
        called = [f for f in again.facts if isinstance(f, Called) and f.component > 0]
        assert begun[0].at_ms - begun[0].unseen_ms == called[0].at_ms


def test_cut_off_and_not_taken_up_it_is_abandoned_with_what_is_known() -> None:
    teller = Teller(TWO)
    teller.tell("go")
    teller.shows("44.1")
    (ended,) = give_up(teller.facts, 999.0, None)
    assert isinstance(ended, Ended)
    assert (ended.how, ended.verdict, ended.amounts_ug) == (
        "abandoned",
        "unproven",
        (44_100_000, 0),
    )


def test_terms_of_older_records_are_of_a_scale_that_was_read() -> None:
    plain = to_plain(Opened(0, Teller(TWO).pour.terms))
    del plain["typed_division_ug"]
    opened = from_plain("opened", 0, plain)
    assert isinstance(opened, Opened)
    assert opened.terms.typed_division_ug is None


def test_an_over_pour_is_put_right_out_of_what_is_left_of_the_lots_alone() -> None:
    teller = Teller(TWO, left_g=(45.0, None))
    teller.shows("0", "44.1", "66.0")
    teller.tell("go")
    assert teller.cue == "over"
    assert "What is left of the resin is too little" in teller.say
    assert fold(teller.facts) == teller.pour
    kept = to_plain(teller.facts[0])
    assert kept["left_ug"] == [45_000_000, None]
    assert from_plain("opened", 0, kept) == teller.facts[0]
    enough = Teller(TWO, left_g=(62.0, None))
    enough.shows("0", "44.1", "66.0")
    enough.tell("go")
    assert enough.pour.called is not None
    assert enough.pour.called.component == 0


def test_no_total_is_told_that_leaves_no_room_for_what_follows() -> None:
    """13.4 g of the fast one want more resin; with the least of the slow one, 75 g are full."""
    blend = Recipe(
        (Component("resin", "resin", 100, 8), Component("fast", "hardener", 24, 8),
         Component("slow", "hardener", 12, 8)),
        0.03,
    )  # fmt: skip
    teller = Teller(blend, cup_g=75)
    teller.tell("go")
    teller.tell("go", "44.1")
    teller.tell("go", "57.5")
    teller.tell("go")
    assert teller.asked_g == (68.5, 67.2, 68.5)
    teller.tell("go", "73")
    assert teller.pour.called is not None
    assert teller.pour.called.component == 0
    assert "no room to put it right" in teller.say
    teller.tell("go", "68.5")
    assert teller.asked_g[2] <= 75


def test_a_total_that_was_typed_wrong_is_put_right_and_all_is_asked_for_anew() -> None:
    teller, straight = Teller(TWO, 60), Teller(TWO, 60)
    for one, resin in ((teller, "44.7"), (straight, "42.1")):
        one.tell("go")
        one.tell("go", resin)
    hardener_from_ms = teller.pour.contact_ms
    teller.tell("was", "42.1")
    assert (teller.refusal, teller.amounts_g) == ("", (42.1, 0))
    assert teller.asked_g == straight.asked_g
    assert teller.pour.contact_ms == hardener_from_ms  # it may be in since then
    assert [fact.net_ug for fact in teller.facts if isinstance(fact, Accepted)] == [
        44_700_000, 42_100_000,
    ]  # fmt: skip
    total = teller.asked_g[0]
    teller.tell("go", after_s=20)
    assert live_of(teller).amounts_ug == (42_100_000, round((total - 42.1) * 1e6))


def test_what_is_in_already_counts_when_the_total_before_is_put_right() -> None:
    teller = Teller(TWO, 60)
    for total in ("", "44.1"):
        teller.tell("go", total)
    teller.tell("was", "41.1")
    teller.tell("shows", "60.0")  # poured by the figure that was wrong
    teller.tell("go")
    assert teller.refusal.startswith("Not in band: 60.0 g")
    teller.tell("go")
    assert (teller.amounts_g, teller.pour.called and teller.pour.called.component) == (
        (41.1, 18.9), 0,
    )  # fmt: skip
    teller.tell("was", "59.0")
    assert teller.amounts_g[1] == pytest.approx(17.9)


def test_the_weight_of_the_empty_cup_is_put_right_until_the_first_is_gone_on_from() -> None:
    teller = Teller(TWO, 60)
    teller.tell("go", "13.2")
    before = teller.asked_g[0]
    teller.tell("was", "12.3")
    assert teller.asked_g[0] == pytest.approx(before - 0.9)
    assert teller.pour.doubts == ("its weights were typed in",)
    teller.tell("was", "-1")
    assert teller.refusal.startswith("The scale shows less than nothing")
    teller.tell("was", "1980")
    assert "1980.0" not in teller.say
    assert teller.refusal
    teller.tell("was", "0")
    assert teller.pour.tared is not None
    assert teller.pour.tared.scale_tared


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("resin", "With no cable this cannot be weighed apart"),
        ("", "With no cable"),
        ("44.13", "44.13 is between two steps of 0.1 g: type 44.1 g or 44.2 g."),
        ("56.4", "56.4 g is what was typed"),
        ("12.3", "That leaves no resin"),
        ("9000", "The scale carries no more than 2000.0 g"),
    ],
)
def test_what_cannot_have_been_typed_wrong_is_refused(text: str, why: str) -> None:
    teller = Teller(TWO, 60)
    for total in ("12.3", "56.4"):
        teller.tell("go", total)
    told = len(teller.facts)
    teller.tell("was", text)
    assert teller.refusal.startswith(why)
    assert len(teller.facts) == told


def test_a_total_is_put_right_only_where_one_is_asked_for() -> None:
    teller = Teller(TWO, 60, cup_g=62)
    teller.tell("was", "44.1")
    assert teller.refusal.startswith("No jug is asked for yet")
    for total in ("", "44.1"):
        teller.tell("go", total)
    teller.tell("hold")
    teller.tell("was", "43.1")
    assert teller.refusal.startswith("Held")
    teller.tell("go")
    teller.tell("go", "60.0")
    assert teller.pour.stage == "stir"
    teller.tell("was", "60.4")
    assert teller.refusal.startswith("It is being stirred")


def test_a_lower_figure_than_before_is_told_how_to_be_put_right() -> None:
    teller = Teller(TWO, 60)
    for total in ("", "44.1"):
        teller.tell("go", total)
    teller.tell("go", "41.1")
    assert "If that was typed wrong, say what it did show: was 44.3." in teller.refusal


def test_cut_off_between_a_figure_put_right_and_what_is_asked_for_upon_it() -> None:
    for totals, right in ((("13.2",), "12.3"), (("13.2", "57.3"), "56.6")):
        teller = Teller(TWO, 60)
        for total in totals:
            teller.tell("go", total)
        many = len(teller.facts) + 1
        teller.tell("was", right)
        asked = teller.asked_g
        assert len(teller.facts) > many
        teller.facts = stored(teller.facts)[:many]
        teller.facts += take_up(teller.facts, 1_000.0, None)
        teller.pour = fold(teller.facts) or teller.pour
        assert teller.asked_g == asked
