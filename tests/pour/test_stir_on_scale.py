"""Stirred where it stands: what a stick, a hand and a second cup do to the weight means nothing."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st
from support.pouring import Guide, hold_at, over, press, ramp, tared_and_resin, weighed

from mixer.pour import parting
from mixer.pour.cup_facts import Moved
from mixer.pour.facts import Live, Stirring
from mixer.pour.inputs import Tick
from mixer.pour.state import fold

#: A weight, for how many tenths of a second, and whether the scale calls it still.
STIRS = st.lists(
    st.tuples(
        st.one_of(st.sampled_from([0.0, 60.0, 76.1, 79.1, 140.0]), st.floats(-5, 200)),
        st.integers(1, 15),
        st.booleans(),
    ),
    max_size=8,
)


def stir(guide: Guide, stirs: list[tuple[float, int, bool]], now: float, until: float) -> float:
    for grams, tenths, still in stirs:
        for _ in range(tenths):
            if now >= until:
                return now
            now += 0.1
            guide.take(weighed(grams, now, still=still))
            guide.take(Tick(now))
    return now


def in_band() -> tuple[Guide, float]:
    """Resin and hardener are in, and the stir has begun."""
    guide, now = tared_and_resin(hands_free=False)
    press(guide, now, "go")
    now = hold_at(guide, 72, ramp(guide, 56.1, 72, now + 1, 5), 10)
    assert isinstance(press(guide, now, "go")[-1], Stirring)
    return guide, now


@settings(max_examples=12, deadline=None)
@given(STIRS)
def test_the_stir_leaves_nothing_behind(stirs: list[tuple[float, int, bool]]) -> None:
    guide, now = in_band()
    before = len(guide.facts)
    stir(guide, stirs, now, now + 4.9)
    guide.take(Tick(now + 5))
    (live,) = guide.facts[before:]
    assert isinstance(live, Live)
    assert live.verdict == "in-band"


def test_a_second_cup_is_noted_and_casts_no_doubt() -> None:
    guide, now = in_band()
    moved = press(guide, now + 1, "moved")
    assert moved == [Moved(moved[0].at_ms)]
    assert press(guide, now + 2, "moved") == []
    hold_at(guide, 64, now + 2, 4)  # the second cup is a lighter one
    result = guide.pour.result
    assert isinstance(result, Live)
    assert (result.verdict, guide.pour.doubts) == ("in-band", ())


def test_what_is_poured_is_not_moved() -> None:
    guide, now = tared_and_resin(hands_free=False)
    assert press(guide, now, "moved") == []
    assert guide.refusal.startswith("It is moved once it is stirred")


@settings(max_examples=5, deadline=None)
@given(STIRS)
def test_nor_does_the_stir_before_a_part_is_taken_out(
    stirs: list[tuple[float, int, bool]],
) -> None:
    guide, now = over()
    press(guide, now, "part")
    before = guide.facts[:]
    now = stir(guide, stirs, now, now + 4.5)
    now = hold_at(guide, 76.1, now, 8)
    assert guide.facts == before
    assert (guide.cue, guide.say.split(" out")[0]) == ("part", "Take 8.4 g")
    now = hold_at(guide, 0, now, 3)
    hold_at(guide, 60.1, now, 3)
    assert [fact.kind for fact in guide.facts[len(before) :]] == ["held", "resumed", "parted"]
    assert guide.pour.doubts == ()
    assert fold(guide.facts) == guide.pour


def test_a_stick_that_stays_for_a_while_is_nothing_that_came_in() -> None:
    guide, now = over()
    press(guide, now, "part")
    now = hold_at(guide, 79.1, ramp(guide, 76.1, 79.1, now, 0.5), 12)
    assert (guide.cue, guide.pour.doubts) == ("part", ())
    now = hold_at(guide, 0, now, 3)  # it goes with the part that is taken out
    hold_at(guide, 60.1, now, 3)
    assert [fact.kind for fact in guide.facts[-2:]] == ["parting", "parted"]
    assert guide.pour.doubts == ()


def test_what_is_too_much_when_the_builder_goes_on_came_in() -> None:
    for word in ("go", "use"):
        guide, now = over()
        press(guide, now, "part")
        now = hold_at(guide, 79.1, ramp(guide, 76.1, 79.1, now, 0.5), 12)
        press(guide, now, word)
        assert guide.pour.doubts == (parting.CAME_IN,)


def test_what_comes_in_once_the_stick_is_out_came_in() -> None:
    guide, now = over()
    press(guide, now, "part")
    now = hold_at(guide, 76.1, hold_at(guide, 79.1, now, 6), 3)
    hold_at(guide, 79.1, ramp(guide, 76.1, 79.1, now, 3), 3)
    assert guide.pour.doubts == (parting.CAME_IN,)


def test_a_scale_that_falls_silent_in_the_stir_is_noticed() -> None:
    guide, now = over()
    press(guide, now, "part")
    now = hold_at(guide, 140, now, 2)
    guide.take(Tick(now + 3))
    assert guide.pour.trouble is not None
    assert (guide.pour.trouble.reason, guide.pour.trouble.gross_ug) == ("silent", 76_100_000)
    hold_at(guide, 76.1, now + 4, 6)
    assert (guide.pour.trouble, guide.pour.doubts) == (None, ())


def test_a_cup_that_is_off_is_not_all_taken_out() -> None:
    for word in ("go", "use"):
        guide, now = over()
        press(guide, now, "part")
        now = hold_at(guide, 0, now, 7)
        assert guide.cue == "part"
        assert press(guide, now, word) == []
        assert guide.refusal
