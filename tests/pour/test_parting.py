"""An over-pour that has no room to be put right: stirred, parted, and corrected."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.pouring import (
    HARDENER,
    RESIN,
    TWO,
    Guide,
    hold_at,
    over,
    press,
    ramp,
    terms,
    weighed,
)
from support.typing import Teller

from mixer.pour import bands, parting
from mixer.pour.afresh import give_up, last_gross_ug, take_up
from mixer.pour.bands import Cup, hardener_limits, next_call
from mixer.pour.facts import Capped, Live, Parted, Parting
from mixer.pour.inputs import Cut, Key, Tick
from mixer.pour.recipe import Component, Recipe
from mixer.pour.sight import Sight
from mixer.pour.state import evolve, fold


def parted(by_g: float = 16.0) -> tuple[Guide, float]:
    """The same, stirred; a part of it taken out with the cup off the scale."""
    guide, now = over()
    press(guide, now, "part")
    now = hold_at(guide, 76.1, now, 6)
    now = hold_at(guide, 0, now, 3)
    return guide, hold_at(guide, 76.1 - by_g, now, 3)


def test_where_there_is_no_room_parting_is_offered_with_what_to_take_out() -> None:
    guide, _ = over()
    assert guide.cue == "over"
    assert guide.say == (
        "Over the band by 3.9 g, and no room to put it right: let it drip out and "
        "part it (stir, take 8.4 g out, correct the rest), drop it and discard the cup, or use it "
        "as out of band."
    )


def test_it_is_stirred_first_then_parted_then_asked_for_the_resin_that_is_missing() -> None:
    guide, now = over()
    _, begun = press(guide, now, "part")
    assert begun == Parting(round(now * 1000), 76_100_000, 5_000)
    assert (guide.cue, guide.pour.stage) == ("stir", "pour")
    now = hold_at(guide, 76.1, now, 1)
    assert (press(guide, now, "go"), guide.refusal) == ([], parting.NOT_YET_STIRRED)
    now = hold_at(guide, 76.1, now, 6)
    assert (guide.cue, guide.say) == (
        "part",
        "Take 8.4 g out and lay it aside as waste; the cup back on the scale.",
    )
    now = hold_at(guide, 0, now, 3)
    assert guide.cue == "part"
    now = hold_at(guide, 66.1, now, 3)
    assert guide.cue == "next"
    out = guide.facts[-1]
    assert out == Parted(out.at_ms, 76_100_000, 66_100_000, (37_220_125, 16_879_875), "66.1 g")
    (called,) = press(guide, now, "go")
    assert (called.component, called.addition) == (0, True)  # type: ignore[union-attr]
    assert called.target_ug == pytest.approx(16.879875e6 / 0.36, abs=1)  # type: ignore[union-attr]


def test_what_was_parted_and_put_right_is_in_band() -> None:
    guide, now = parted()
    press(guide, now, "go")
    called = guide.pour.called
    assert called is not None
    to_g = 60.1 + (called.target_ug - called.before_ug) / 1e6
    now = hold_at(guide, to_g, ramp(guide, 60.1, to_g, now + 1, 5), 10)
    press(guide, now, "go")
    guide.take(Tick(now + 6))
    result = guide.pour.result
    assert isinstance(result, Live)
    assert result.verdict == "in-band"
    assert result.ratio_actual == pytest.approx(36, abs=0.1)
    assert fold(guide.facts) == guide.pour


def test_a_cup_that_waits_to_be_parted_is_not_searched_anew_with_each_reading() -> None:
    guide, now = parted(5.0)
    parting.to_take_out_ug.cache_clear()
    hold_at(guide, 71.1, now, 3)
    searched = parting.to_take_out_ug.cache_info()
    assert guide.cue == "part"
    assert searched.misses == 1
    assert searched.hits > 20


@pytest.mark.parametrize(
    ("by_g", "said"), [(0.0, "take 8.3 g more out"), (5.0, "take 3.0 g more out")]
)
def test_go_is_refused_until_there_is_room(by_g: float, said: str) -> None:
    guide, now = parted(by_g)
    assert guide.cue == "part"
    assert press(guide, now, "go") == []
    assert said in guide.refusal
    assert guide.pour.unproven_because is None


@pytest.mark.parametrize("lifted", [True, False])
def test_what_comes_in_before_there_is_room_leaves_it_unproven(lifted: bool) -> None:
    """A correction that was begun too early, and then spooned out again with the rest."""
    guide, now = over()
    press(guide, now, "part")
    now = hold_at(guide, 76.1, now, 6)
    now = hold_at(guide, 82.1, ramp(guide, 76.1, 82.1, now, 4), 3)
    assert guide.pour.unproven_because == parting.CAME_IN
    if lifted:
        now = hold_at(guide, 0, now, 3)
    now = hold_at(guide, 62.0, now, 3)
    press(guide, now, "go")
    assert [fact.kind for fact in guide.facts].count("doubted") == 1


def test_a_stick_that_stands_in_it_during_the_stir_is_nothing_that_came_in() -> None:
    guide, now = over()
    press(guide, now, "part")
    now = hold_at(guide, 79.1, ramp(guide, 76.1, 79.1, now, 0.5), 2)
    now = hold_at(guide, 76.0, now, 6)
    assert (guide.cue, guide.pour.unproven_because) == ("part", None)


def test_what_flickers_on_a_scale_that_repeats_badly_is_neither_taken_out_nor_came_in() -> None:
    guide, now = over()
    noisy = replace(guide.pour.terms, repeatability_ug=200_000)
    guide.pour = replace(guide.pour, terms=noisy)
    before = [fact.kind for fact in guide.facts]
    press(guide, now, "part")
    now = hold_at(guide, 76.1, now, 6)
    now = hold_at(guide, 76.5, now, 2)
    hold_at(guide, 75.7, now, 2)
    assert [fact.kind for fact in guide.facts][len(before) :] == ["accepted", "parting"]


def test_what_comes_in_between_two_takings_out_is_seen_too() -> None:
    guide, now = parted(5.0)
    assert guide.pour.unproven_because is None
    hold_at(guide, 73.1, ramp(guide, 71.1, 73.1, now, 3), 3)
    assert guide.pour.unproven_because == parting.CAME_IN


def test_what_is_spooned_out_on_the_scale_is_seen_as_taken_out() -> None:
    guide, now = over()
    press(guide, now, "part")
    now = hold_at(guide, 76.1, now, 6)
    for to_g in (73.0, 70.0, 67.0, 64.0):
        now = hold_at(guide, to_g, ramp(guide, to_g + 3, to_g, now, 0.3), 2)
    assert (guide.cue, guide.pour.trouble, guide.pour.unproven_because) == ("next", None, None)
    assert [fact.kind for fact in press(guide, now, "go")] == ["called"]
    parts = [fact for fact in guide.facts if isinstance(fact, Parted)]
    assert [(part.from_ug, part.gross_ug) for part in parts] == [
        (76_100_000, 73_000_000), (73_000_000, 70_000_000),
        (70_000_000, 67_000_000), (67_000_000, 64_000_000),
    ]  # fmt: skip


def test_a_cup_that_is_parted_is_used_as_it_is_where_the_builder_says_so() -> None:
    guide, now = parted()
    assert [fact.kind for fact in press(guide, now, "use")] == ["kept", "stirring"]
    guide.take(Tick(now + 6))
    assert isinstance(guide.pour.result, Live)
    assert guide.pour.result.verdict == "out-of-band"
    assert sum(guide.pour.amounts_ug) == 48_100_000


def test_part_is_refused_where_nothing_is_stuck() -> None:
    guide, now = over(most_g=200)
    assert guide.component == "resin"  # it is asked for at once
    assert press(guide, now, "part") == []
    assert guide.refusal == "It is not over the band: there is nothing to be parted."
    guide, now = over()
    press(guide, now, "part")
    assert (press(guide, now + 1, "part"), guide.refusal) == ([], "It is being parted already.")
    guide, now = over()
    guide.take(weighed(80, now, still=False))
    assert press(guide, now, "part") == []
    assert guide.refusal == "The weight has not come to rest yet: wait."
    guide = Guide(terms(60))
    guide.take(Key(0.0, "part"))
    assert guide.refusal == parting.NOT_MIXED
    guide, now = parted()
    press(guide, now, "use")
    assert (press(guide, now + 1, "part"), guide.refusal) == ([], "It is being stirred already.")


def test_what_is_too_far_out_is_not_offered_to_be_parted() -> None:
    guide, now = over(hardener_g=60.0)
    assert guide.cue == "over"
    assert "part it" not in guide.say
    assert press(guide, now, "part") == []
    assert guide.refusal == (
        "It is too far out for any part of it to be put right: drop it, or use it."
    )


def test_resin_alone_is_not_parted() -> None:
    guide = Guide(replace(terms(60, hands_free=False), cup_most_ug=66_000_000))
    now = hold_at(guide, 12, hold_at(guide, 0, 0, 2), 3)
    now = hold_at(guide, 72, ramp(guide, 12, 72, now, 5), 4)
    assert guide.cue == "over"
    assert press(guide, now, "part") == []
    assert guide.refusal == parting.NOT_MIXED


def test_where_the_scale_had_lost_its_zero_the_reckoned_weight_is_parted() -> None:
    guide = Guide(replace(terms(60, hands_free=False), cup_most_ug=66_000_000))
    now = hold_at(guide, 12, hold_at(guide, 0, 0, 2), 3)
    guide.pour, guide.sight = replace(guide.pour, shift_ug=5_000_000), Sight()
    now = hold_at(guide, 51.1, ramp(guide, 7, 51.1, hold_at(guide, 7, now, 2), 5), 4)
    press(guide, now, "go")
    now = hold_at(guide, 71.1, ramp(guide, 51.1, 71.1, now + 1, 5), 10)
    accepted, begun = press(guide, now, "part")
    assert (accepted.net_ug, begun.gross_ug) == (20_000_000, 76_100_000)  # type: ignore[union-attr]
    now = hold_at(guide, 71.1, now, 6)
    for to_g in (67.0, 63.0, 61.1):
        now = hold_at(guide, to_g, now, 2)
    assert guide.cue == "next"
    parts = [fact for fact in guide.facts if isinstance(fact, Parted)]
    assert (parts[0].from_ug, parts[-1].gross_ug) == (76_100_000, 66_100_000)
    (called,) = press(guide, now, "go")
    assert (called.base_ug, called.late_drips) == (66_100_000, False)  # type: ignore[union-attr]


def test_too_little_to_be_proven_is_said_before_it_is_parted() -> None:
    """It is weighed once more for what is added."""
    for resin_g in range(20, 90):
        amounts = (resin_g * 1_000_000, round(resin_g * 0.45e6))
        cup = Cup(terms(60), 12_000_000, 100_000, amounts, (True, True), 1)
        left = round(sum(amounts) * 0.9)
        wanted = round(round(amounts[1] * left / sum(amounts)) / 0.36)
        shown = hardener_limits(TWO, wanted, cup.errors, 2)[2]
        assert parting.is_provable(cup, sum(amounts) - left) is shown
    assert not parting.is_provable(cup, sum(amounts) - 20_000_000)


def test_a_scale_that_woke_up_with_the_parted_cup_on_it_is_not_believed() -> None:
    guide, now = over()
    press(guide, now, "part")
    now = hold_at(guide, 76.1, now, 6)
    guide.take(Tick(now + 20))
    now = hold_at(guide, 0, now + 20, 10)
    assert guide.pour.trouble is not None
    press(guide, now, "go")
    assert guide.pour.unproven_because is not None


def test_cut_off_while_it_is_parted_it_goes_on_with_what_is_left() -> None:
    guide, now = over()
    press(guide, now, "part")
    hold_at(guide, 76.1, now, 6)
    facts = [*guide.facts, *take_up(guide.facts, now + 60, None)]
    again = Guide(guide.pour.terms)
    pour = fold(facts)
    assert pour is not None
    again.pour, again.facts = pour, facts
    now = hold_at(again, 64.1, hold_at(again, 0, now + 61, 3), 3)
    assert again.cue == "next"
    assert [fact.kind for fact in press(again, now, "go")] == ["called"]
    assert last_gross_ug(again.facts[:-1], None) == 64_100_000
    (held,) = take_up(again.facts[:-1], now + 1, None)  # and it is still being parted
    assert held.kind == "held"


@pytest.mark.parametrize("how", ["drop", "cut", "given up"])
def test_an_end_while_it_is_parted_books_nothing_twice(how: str) -> None:
    guide, now = parted()
    if how == "given up":
        (ended,) = give_up(guide.facts, now, None)
    else:
        guide.take(Key(now, "drop") if how == "drop" else Cut(now, "interrupted"))
        ended = guide.facts[-1]
    amounts_ug = (33_092_200, 15_007_800)  # as far as it is left
    assert ended.amounts_ug == amounts_ug  # type: ignore[union-attr]


# -- before the hardener --------------------------------------------------------------------

PIGMENT = Component("pigment", "additive", 4, 8, tolerance=0.2)
TINTED = Recipe((RESIN, PIGMENT, HARDENER), 0.03)


def tinted(pigment_g: float = 2.6, *, most_g: float | None = 75) -> tuple[Guide, float]:
    """42.9 g of resin and so much pigment, which wants 1.72 g, in a cup that holds ``most_g``."""
    most_ug = None if most_g is None else round(most_g * 1e6)
    guide = Guide(replace(terms(60, recipe=TINTED, hands_free=False), cup_most_ug=most_ug))
    now = hold_at(guide, 12, hold_at(guide, 0, 0, 2), 3)
    now = hold_at(guide, 54.9, ramp(guide, 12, 54.9, now, 5), 10)
    press(guide, now, "go")
    to_g = 54.9 + pigment_g
    return guide, hold_at(guide, to_g, ramp(guide, 54.9, to_g, now + 1, 2), 16)


def pour_as_asked(guide: Guide, now: float, from_g: float) -> tuple[float, float]:
    """What is asked for, and ``go``; the weight and the time."""
    called = guide.pour.called
    assert called is not None
    to_g = round(from_g + (called.target_ug - called.before_ug) / 1e6, 1)
    now = hold_at(guide, to_g, ramp(guide, from_g, to_g, now + 1, 5), 11)
    press(guide, now, "go")
    return to_g, hold_at(guide, to_g, now, 1)


def test_an_over_pour_of_pigment_is_stirred_into_the_resin_parted_and_put_right() -> None:
    guide, now = tinted()
    assert (guide.cue, guide.component) == ("over", "pigment")
    assert guide.say == (
        "Over the band by 0.7 g, and no room to put it right: let it drip out and part it (stir, "
        "take 6.0 g out, correct the rest), drop it and discard the cup, or use it all the same "
        "and go on with hardener."
    )
    press(guide, now, "part")
    now = hold_at(guide, 57.5, now, 6)
    assert guide.say == "Take 6.0 g out and lay it aside as waste; the cup back on the scale."
    now = hold_at(guide, 51.5, hold_at(guide, 0, now, 3), 3)
    assert guide.cue == "next"
    (called,) = press(guide, now, "go")
    assert (called.component, called.addition) == (0, True)  # type: ignore[union-attr]
    weight_g, now = pour_as_asked(guide, hold_at(guide, 51.5, now, 1), 51.5)
    assert guide.component == "hardener"
    weight_g, now = pour_as_asked(guide, now, weight_g)
    hold_at(guide, weight_g, now, 6)
    assert isinstance(guide.pour.result, Live)
    assert guide.pour.result.verdict == "in-band"
    assert weight_g - 12 <= 75
    assert fold(guide.facts) == guide.pour


def test_used_all_the_same_before_its_hardener_it_goes_on_and_is_out_of_band() -> None:
    guide, now = tinted()
    assert [fact.kind for fact in press(guide, now, "use")] == ["accepted", "kept", "called"]
    assert (guide.component, guide.pour.stage) == ("hardener", "pour")
    weight_g, now = pour_as_asked(guide, hold_at(guide, 57.5, now, 1), 57.5)
    hold_at(guide, weight_g, now, 6)
    assert isinstance(guide.pour.result, Live)
    assert guide.pour.result.verdict == "out-of-band"
    assert fold(guide.facts) == guide.pour


def test_a_part_that_was_taken_out_before_the_hardener_may_be_used_all_the_same() -> None:
    guide, now = tinted()
    press(guide, now, "part")
    now = hold_at(guide, 54.5, hold_at(guide, 0, hold_at(guide, 57.5, now, 6), 3), 3)
    assert [fact.kind for fact in press(guide, now, "use")] == ["kept", "called"]
    assert guide.component == "hardener"


def test_room_that_is_found_out_to_be_none_is_said_before_the_hardener_is_opened() -> None:
    """The cap of heat may be told after resin was added."""
    guide, now = tinted(most_g=None)
    _, now = pour_as_asked(guide, now, 57.5)
    assert guide.component == "hardener"
    capped = Capped(round(now * 1000), 80_000_000)
    guide.pour = evolve(guide.pour, capped)
    weight_g = 12 + sum(guide.pour.amounts_ug) / 1e6
    now = hold_at(guide, weight_g, now, 9)
    assert guide.cue == "over"
    assert guide.say.startswith(
        "Not all that follows fits, and what puts it right may run hot or not last: let it drip "
        "out and part it (stir, take "
    )
    assert [fact.kind for fact in press(guide, now, "part")] == ["parting"]
    now = hold_at(guide, weight_g, now, 6)
    now = hold_at(guide, weight_g - 20, hold_at(guide, 0, now, 3), 3)
    (called,) = press(guide, now, "go")
    assert (called.component, called.addition) == (2, False)  # type: ignore[union-attr]


def test_the_same_where_the_totals_are_typed() -> None:
    for word in ("part", "use"):
        teller = Teller(TINTED, cup_g=75)
        teller.shows("0", "42.9")
        teller.tell(word, "45.5")
        assert teller.refusal == ""
        if word == "use":
            assert (teller.pour.kept, teller.pour.called.component) == (True, 2)  # type: ignore[union-attr]
            continue
        teller.wait(21)
        assert teller.asked_g[2] == 39.5
        teller.shows("39.5")
        while teller.pour.stage == "pour":
            teller.shows(teller.asked_g[0])
        amounts = teller.amounts_g
        assert amounts[2] == pytest.approx(amounts[0] * 0.36, rel=0.03)
        assert amounts[1] == pytest.approx(amounts[0] * 0.04, rel=0.2)
        assert sum(amounts) <= 75


@given(
    resin_g=st.floats(20, 200),
    excess=st.floats(1.3, 4),
    room=st.floats(1.0, 1.6),
    added_part=st.floats(0, 1),
)
def test_what_was_parted_before_the_hardener_comes_truly_into_band_within_the_cup(
    resin_g: float, excess: float, room: float, added_part: float
) -> None:
    """However much of its limits is used of all that is then asked for."""
    amounts = (round(resin_g * 1e6), round(resin_g * 0.04 * excess * 1e6), 0)
    most = round(sum(amounts) * 1.36 * room)
    what = replace(terms(60, recipe=TINTED), cup_most_ug=most, size_ug=sum(amounts))
    poured = (True, True, False)
    cup = Cup(what, 12_000_000, 10_000, amounts, poured, 1, runs=(1, 1, 0))
    call = next_call(cup)
    once_more = replace(cup, switches=2)
    if call is None or call.fits or (out := parting.to_take_out_ug(once_more)) is None:
        return
    cup = parting.without(once_more, out)
    while (call := next_call(cup)) is not None:
        assert call.fits
        low_ug = min(call.target_ug, max(call.low_ug, call.before_ug) + 20_000)
        net_ug = low_ug + int(added_part * (call.high_ug - low_ug))
        cup = bands.poured(cup, replace(call, target_ug=net_ug))
    resin_ug, pigment_ug, hardener_ug = cup.amounts_ug
    assert abs(hardener_ug / (0.36 * resin_ug) - 1) <= 0.03
    assert abs(pigment_ug / (0.04 * resin_ug) - 1) <= 0.2
    assert sum(cup.amounts_ug) <= most


@given(
    resin_g=st.floats(20, 200),
    excess=st.floats(1.04, 1.8),
    room=st.floats(1.0, 1.5),
)
def test_what_is_to_be_taken_out_makes_room_and_hardly_more(
    resin_g: float, excess: float, room: float
) -> None:
    amounts = (round(resin_g * 1e6), round(resin_g * 0.36 * excess * 1e6))
    most = round(sum(amounts) * room)
    what = replace(terms(60), cup_most_ug=most)
    cup = Cup(what, 12_000_000, 100_000, amounts, (True, True), 1)
    call = next_call(cup)
    if call is None or call.fits:
        return
    out = parting.to_take_out_ug(cup)
    assert out is not None

    def after(out_ug: int) -> bool:
        left = 1 - out_ug / sum(amounts)
        less = tuple(round(amount * left) for amount in amounts)
        then = next_call(replace(cup, amounts_ug=less, switches=1))
        if then is None:
            return True
        assert sum(less) - less[0] + then.target_ug <= most or not then.fits
        return then.fits

    assert after(out)
    assert not after(out - round(0.011 * sum(amounts)))
