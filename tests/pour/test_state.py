"""What each fact makes of the state: one fact, the state before it and after it."""

from __future__ import annotations

from dataclasses import replace

import pytest
from support.pouring import HARDENER, RESIN, terms

from mixer.pour.facts import (
    Accepted,
    Begun,
    Called,
    Doubted,
    Ended,
    Fact,
    Held,
    Kept,
    Live,
    Lost,
    Noted,
    Opened,
    Resumed,
    Stirring,
    Tared,
)
from mixer.pour.recipe import Component, Recipe
from mixer.pour.state import Pour, Trouble, begin, evolve, fold

BLEND = Recipe((RESIN, HARDENER, Component("slow", "hardener", 12, 8)), ratio_tolerance=0.03)
OPENED = Opened(0, terms(60, recipe=BLEND))
NEW = begin(OPENED)
TARED = Tared(3_000, 12_000_000, 0, 100_000, "g", False, "12.0 g")
LIVE = Live(9_000, 1, "in-band", (1, 2, 3), 48.0, 48.0, None)
ENDED = Ended(9_000, "dropped", "unproven", (1, 2, 3), 48.0, None, "no cup was weighed")


def called(component: int, target_ug: int = 5_000_000) -> Called:
    return Called(4_000, component, 12_000_000, 0, target_ug, 1, 9_000_000, False, True)


def accepted(component: int, net_ug: int, astray_ug: int = 0) -> Accepted:
    return Accepted(5_000, component, net_ug, 12_000_000 + net_ug, "", astray_ug)


def held(reason: str, gross_ug: int | None, at_ms: int, pouring: bool = False) -> Held:
    return Held(at_ms, reason, gross_ug, "", pouring)


def test_a_new_pour_has_nothing_in_it() -> None:
    assert Pour(OPENED.terms, stir_ms=5_000, amounts_ug=(0, 0, 0), poured=(False,) * 3,
                targets_ug=(None,) * 3, strayed_ug=(0, 0, 0)) == NEW  # fmt: skip
    assert (NEW.stage, NEW.called, NEW.contact_ms, NEW.trouble) == ("cup", None, None, None)


@pytest.mark.parametrize(
    ("fact", "after"),
    [
        (TARED, {"stage": "pour", "tared": TARED}),
        (called(1), {"called": called(1), "targets_ug": (None, 5_000_000, None)}),
        (Begun(4_500, 0), {"begun": True, "begun_ms": 4_500}),
        (Begun(4_500, 1, 500), {"begun": True, "begun_ms": 4_500, "contact_ms": 4_000}),
        (held("by-hand", 1, 6_000), {"held_by_hand": True}),
        (Doubted(6_000, "why"), {"unproven_because": "why"}),
        (Stirring(8_000, 7_000), {"stage": "stir", "stir_from_ms": 8_000, "stir_ms": 7_000}),
        (LIVE, {"stage": "live", "result": LIVE}),
        (ENDED, {"stage": "ended", "result": ENDED}),
        (Noted(6_000, "warm"), {}),
        (Kept(6_000), {"kept": True}),
        (Resumed(6_000, "silent", "on-trust", 40), {"shift_ug": 40}),
        (
            accepted(0, 44_000_000),
            {
                "amounts_ug": (44_000_000, 0, 0),
                "poured": (True, False, False),
                "last_accepted": 0,
                "runs": (1, 0, 0),
            },
        ),
    ],
    ids=lambda value: getattr(value, "kind", ""),
)  # fmt: skip
def test_one_fact_upon_a_new_pour(fact: Fact, after: dict[str, object]) -> None:
    assert evolve(NEW, fact) == replace(NEW, **after)  # type: ignore[arg-type]


def test_what_was_true_before_stays_so() -> None:
    pour = replace(NEW, called=called(1), begun=True, contact_ms=4_000, unproven_because="first",
                   held_by_hand=True, shift_ug=5)  # fmt: skip
    assert evolve(pour, called(2)).begun is False
    assert evolve(pour, Begun(9_000, 2)).contact_ms == 4_000
    assert evolve(pour, Begun(9_000, 0)).contact_ms == 4_000
    assert evolve(pour, Doubted(9_000, "second")).unproven_because == "first"
    assert evolve(pour, Resumed(9_000, "by-hand", "by-hand", 0)) == replace(
        pour, held_by_hand=False
    )
    assert evolve(pour, Resumed(9_000, "silent", "on-trust", 7)).shift_ug == 12
    assert evolve(pour, Stirring(9_000, 1)).called is None
    assert evolve(pour, ENDED).called is None


@pytest.mark.parametrize(
    ("before", "component", "switches"), [(None, 0, 0), (0, 0, 0), (0, 1, 1), (2, 0, 1), (1, 2, 1)]
)
def test_each_change_of_the_jug_counts(before: int | None, component: int, switches: int) -> None:
    pour = replace(NEW, last_accepted=before)
    assert evolve(pour, accepted(component, 1)).switches == switches


def test_what_is_booked_to_the_jug_before_since_the_next_was_called() -> None:
    pour = evolve(evolve(NEW, accepted(0, 44_000_000)), called(1))
    late = evolve(pour, accepted(0, 44_200_000))
    assert late.late_ug == 200_000
    assert evolve(late, accepted(0, 44_500_000)).late_ug == 500_000
    assert evolve(late, accepted(1, 15_000_000)).late_ug == 0
    assert evolve(replace(late, called=None), accepted(0, 44_500_000)).late_ug == 0


@pytest.mark.parametrize(
    ("calls", "books", "astray_ug"),
    [
        (1, 0, (350, 40)),  # booked to the resin while a hardener is called
        (0, 1, (50, 340)),
        (0, 0, (50, 40)),
        (1, 1, (50, 40)),
        (2, 1, (50, 40)),  # between two hardeners nothing goes astray that the ratio feels
        (None, 0, (50, 40)),
    ],
)
def test_what_may_be_of_either_jug(
    calls: int | None, books: int, astray_ug: tuple[int, int]
) -> None:
    pour = replace(NEW, called=None if calls is None else called(calls), astray_ug=(50, 40))
    assert evolve(pour, accepted(books, 1_000, 300)).astray_ug == astray_ug


PIGMENT = Component("pigment", "additive", 4, 8, tolerance=0.2)
TINTED = begin(Opened(0, terms(60, recipe=Recipe((RESIN, PIGMENT, HARDENER), 0.03))))


@pytest.mark.parametrize(
    ("calls", "books", "astray_ug"),
    [
        (2, 1, (300, 0)),  # booked to the additive, and may be hardener
        (1, 2, (0, 300)),
        (1, 0, (300, 0)),
        (0, 1, (0, 300)),
        (2, 0, (300, 0)),
    ],
)
def test_what_may_be_an_additive_is_reckoned_with_in_the_ratio(
    calls: int, books: int, astray_ug: tuple[int, int]
) -> None:
    pour = replace(TINTED, called=called(calls))
    assert evolve(pour, accepted(books, 1_000, 300)).astray_ug == astray_ug


@pytest.mark.parametrize(
    ("calls", "begun", "last", "contact_ms", "amounts", "astray_ug"),
    [
        (1, False, 0, None, (43_300, 2_000, 9_000), (0, 0)),  # only resin is there
        (2, False, 1, None, (44_100, 1_200, 9_000), (800, 0)),
        (2, True, 1, 5_000, (44_100, 2_000, 9_000), (800, 0)),
        (0, True, 2, 5_000, (44_100, 2_000, 9_000), (0, 800)),
        (1, True, 2, 5_000, (44_100, 2_000, 9_000), (800, 800)),
    ],
)
def test_what_is_gone_is_taken_from_the_last_jug_and_may_have_been_of_another(
    calls: int, begun: bool, last: int, contact_ms: int | None,
    amounts: tuple[int, ...], astray_ug: tuple[int, int],
) -> None:  # fmt: skip
    pour = replace(
        TINTED, called=called(calls), begun=begun, last_accepted=last, contact_ms=contact_ms,
        amounts_ug=(44_100, 2_000, 9_000),
    )  # fmt: skip
    after = evolve(pour, Lost(9_000, 60_800, 60_000, "60 g"))
    assert (after.amounts_ug, after.astray_ug, after.lost_ms) == (amounts, astray_ug, 9_000)


def test_a_trouble_keeps_the_first_ones_weight_and_time_and_what_was_ever_missed() -> None:
    heard = evolve(NEW, held("overload", 50, 6_000, pouring=True))
    assert heard.trouble == Trouble("overload", 50, 6_000, pouring=True)
    gone = evolve(heard, held("silent", 70, 8_000, pouring=False))
    assert gone.trouble == Trouble("silent", 50, 6_000, pouring=False, missed=True)
    again = evolve(gone, held("overload", 90, 9_000, pouring=True))
    assert again.trouble == Trouble("overload", 50, 6_000, pouring=False, missed=True)
    cut = evolve(NEW, held("restarted", None, 6_000, pouring=True))
    assert cut.trouble == Trouble("restarted", 0, 6_000, pouring=True, missed=True, restarted=True)
    assert evolve(cut, held("silent", 1, 7_000)).trouble == replace(cut.trouble, reason="silent")  # type: ignore[type-var]
    assert evolve(cut, Resumed(9_000, "silent", "continuous", 0)).trouble is None


def test_a_fold_begins_with_the_opening() -> None:
    assert fold([]) is None
    assert fold([TARED]) is None
    assert fold([TARED, OPENED]) == NEW
    assert fold([OPENED, TARED]) == evolve(NEW, TARED)


def test_without_a_cup_or_a_call_there_is_nothing_to_reckon() -> None:
    with pytest.raises(ValueError, match="no cup"):
        _ = NEW.cup
    with pytest.raises(ValueError, match="no component"):
        NEW.net_ug(1)


def test_late_drips_are_not_shown_as_the_next_components() -> None:
    pour = evolve(NEW, replace(called(1), before_ug=7))
    assert pour.net_ug(12_000_500) == 507
    assert pour.shown_net_ug(12_000_500) == 7
    assert replace(pour, begun=True).shown_net_ug(12_000_500) == 507
    dry = evolve(NEW, replace(called(1), before_ug=7, late_drips=False))
    assert dry.shown_net_ug(12_000_500) == 507
