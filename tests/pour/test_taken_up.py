"""What a pour that was cut off starts from: the last weight that the record knows."""

from __future__ import annotations

from dataclasses import replace

import pytest
from support.pouring import terms

from mixer.pour import bands
from mixer.pour.afresh import Shown, first_sight, give_up, last_gross_ug, level, take_up
from mixer.pour.facts import (
    Accepted,
    Begun,
    Called,
    Doubted,
    Ended,
    Fact,
    Held,
    Opened,
    Resumed,
    Stirring,
    Tared,
)
from mixer.pour.state import fold
from mixer.pour.words import HELD

OPENED = Opened(0, terms(60))
TARED = Tared(3_000, 12_000_000, 0, 100_000, "g", False, "12.0 g")
RESIN = Called(3_000, 0, 12_000_000, 0, 44_117_647, 0, 60_000_000, False, False)
FULL = Accepted(20_000, 0, 44_100_000, 56_100_000, "56.1 g")
HARDENER = Called(20_000, 1, 56_100_000, 0, 15_876_000, 15_600_000, 16_200_000, False, True)
DRIPPED = Accepted(21_000, 0, 44_400_000, 56_400_000, "56.4 g")
BEGUN = Begun(22_000, 1)
SILENT = Held(25_000, "silent", 60_000_000, HELD["silent"], pouring=True)
BY_HAND = Held(25_000, "by-hand", 61_000_000, HELD["by-hand"])
SO_FAR = (OPENED, TARED, RESIN, FULL, HARDENER, BEGUN)


def back(how: str, shift_ug: int = 0, reason: str = "silent") -> Resumed:
    return Resumed(30_000, reason, how, shift_ug)


def restarted(at_ms: int, gross_ug: int | None) -> Held:
    return Held(at_ms, "restarted", gross_ug, HELD["restarted"], pouring=True)


# -- the end of the trace ------------------------------------------------------------------


@pytest.mark.parametrize(
    ("readings", "mass_g"),
    [
        ([], None),
        ([(0, 50, True)], 50),
        ([(0, 50, True), (100, 58, True)], 58),
        ([(0, 50, False), (100, 49, True)], 49),
        ([(0, 50, False), (100, 58, False)], 50),
        ([(0, 58, False), (100, 50, False)], 50),
        ([(0, 48, True), (300, 50, False), (700, 49, False), (800, 58, False)], 49),
        ([(0, 48, False), (499, 50, False), (500, 58, False)], 48),
        ([(0, 48, False), (499, 50, False), (501, 58, False)], 50),
    ],
)
def test_it_ends_at_rest_or_at_the_lower_edge_of_its_last_half_second(
    readings: list[tuple[int, float, bool]], mass_g: float | None
) -> None:
    end = level([Shown(at_ms, round(mass * 1e6), still) for at_ms, mass, still in readings])
    assert (None if end is None else end.mass_ug / 1e6) == mass_g


# -- the last weight -----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("facts", "gross_g"),
    [
        ((OPENED,), None),
        ((OPENED, TARED), 12),
        ((OPENED, TARED, RESIN, FULL), 56.1),
        ((*SO_FAR[:5], DRIPPED), 56.4),
        (SO_FAR, 56.1),
        ((*SO_FAR, SILENT), 60),
        ((*SO_FAR, BY_HAND), 56.1),  # held by hand the weight was followed on
        ((*SO_FAR, replace(SILENT, gross_ug=None)), 56.1),
        ((*SO_FAR, SILENT, replace(SILENT, at_ms=27_000, gross_ug=1)), 60),
        ((*SO_FAR, SILENT, back("continuous"), replace(SILENT, gross_ug=63_000_000)), 63),
        ((*SO_FAR, SILENT, back("by-hand", reason="by-hand"), replace(SILENT, gross_ug=1)), 60),
    ],
)
def test_without_a_trace_it_is_the_newest_that_a_fact_tells(
    facts: tuple[Fact, ...], gross_g: float | None
) -> None:
    gross = last_gross_ug(facts, None)
    assert (None if gross is None else gross / 1e6) == gross_g


@pytest.mark.parametrize(
    ("facts", "shown_ms", "gross_g"),
    [
        ((OPENED,), 0, 59),
        ((OPENED,), -5, 59),
        (SO_FAR, 19_999, 56.1),
        (SO_FAR, 20_000, 59),
        ((*SO_FAR, SILENT), 24_999, 60),
        ((*SO_FAR, SILENT), 25_000, 59),
        ((*SO_FAR, SILENT, back("continuous")), 25_000, 59),
        # On trust the scale displays another weight for the same cup: 40 g less from there.
        ((*SO_FAR, SILENT, back("on-trust", 40_000_000)), 29_999, 60),
        ((*SO_FAR, SILENT, back("on-trust", 40_000_000)), 30_000, 99),
        ((*SO_FAR, SILENT, back("by-hand", 5, "by-hand")), 30_000, 59),
    ],
)
def test_what_the_scale_displayed_counts_where_no_fact_is_newer(
    facts: tuple[Fact, ...], shown_ms: int, gross_g: float
) -> None:
    assert last_gross_ug(facts, Shown(shown_ms, 59_000_000, True)) == round(gross_g * 1e6)


# -- what becomes true ---------------------------------------------------------------------


def test_it_starts_in_trouble_at_the_last_weight_as_if_a_stream_had_run_on() -> None:
    shown = Shown(28_000, 59_000_000, True)
    assert take_up(SO_FAR, 60.0, shown) == (restarted(60_000, 59_000_000),)
    assert take_up(SO_FAR, 60.0, None) == (restarted(60_000, 56_100_000),)


def test_before_a_cup_and_in_a_stir_there_is_nothing_to_hold() -> None:
    assert take_up((OPENED,), 60.0, None) == ()
    assert take_up((*SO_FAR, Stirring(40_000, 5_000)), 60.0, None) == ()


def test_of_a_decision_that_was_cut_the_rest_is_made_up_for() -> None:
    """The journal keeps all of one decision or none; what else cuts a record may not."""
    tared = take_up((OPENED, TARED), 60.0, None)
    first = bands.first_call(fold((OPENED, TARED)).cup)  # type: ignore[union-attr]
    asked = Called(
        60_000, 0, 12_000_000, 0, first.target_ug, first.low_ug, first.high_ug, False, False
    )
    assert tared == (asked, restarted(60_000, 12_000_000))

    dripped = take_up((*SO_FAR[:5], DRIPPED), 60.0, None)
    again = replace(HARDENER, at_ms=60_000, base_ug=56_400_000)
    assert dripped == (again, restarted(60_000, 56_400_000))
    assert take_up((OPENED, TARED, RESIN, FULL), 60.0, None) == (restarted(60_000, 56_100_000),)

    on_trust = take_up((*SO_FAR, SILENT, back("on-trust")), 60.0, None)
    why = "the weight was not continuous after: silent"
    assert on_trust == (Doubted(60_000, why), restarted(60_000, 60_000_000))
    assert take_up((*SO_FAR, SILENT, back("continuous")), 60.0, None) == (
        restarted(60_000, 60_000_000),
    )


def test_a_pour_that_is_not_taken_up_ends_with_what_was_in_its_cup() -> None:
    (accepted, doubted, ended) = give_up(SO_FAR, 60.0, Shown(28_000, 59_000_000, True))
    assert accepted == Accepted(60_000, 1, 2_900_000, 59_000_000, "")
    assert isinstance(doubted, Doubted)
    assert isinstance(ended, Ended)
    assert (ended.how, ended.verdict) == ("abandoned", "unproven")
    assert ended.amounts_ug == (44_100_000, 2_900_000)
    (nothing,) = give_up((OPENED,), 60.0, None)
    assert isinstance(nothing, Ended)
    assert nothing.amounts_ug == (0, 0)


# -- when it was last followed -------------------------------------------------------------


def test_it_was_followed_until_the_end_of_the_trace_but_not_in_trouble() -> None:
    shown = Shown(28_000, 59_000_000, True)
    assert first_sight(SO_FAR, shown).followed_s == 28.0
    assert first_sight(SO_FAR, None).followed_s is None
    assert first_sight((*SO_FAR, SILENT), shown).followed_s is None
    assert first_sight((*SO_FAR, SILENT, back("continuous")), shown).followed_s == 28.0


# -- whether a stream may have run on ------------------------------------------------------------


@pytest.mark.parametrize(
    ("facts", "shown_g", "still", "pouring"),
    [
        ((OPENED, TARED, RESIN, Begun(5_000, 0)), 56.1, True, False),  # there is enough of it
        ((OPENED, TARED, RESIN, Begun(5_000, 0)), 56.1, False, True),
        ((OPENED, TARED, RESIN, Begun(5_000, 0)), 50, True, True),  # more was asked for
        (SO_FAR, 72.0, True, False),
        (SO_FAR, 80.0, True, False),  # over: the next step is none of this jug's
        (SO_FAR, 60.0, True, True),
        ((OPENED, TARED, RESIN, FULL, HARDENER), 56.1, True, True),  # it has just been called
    ],
)
def test_what_came_while_nobody_looked_was_asked_for_only_where_there_was_not_enough(
    facts: tuple[Fact, ...], shown_g: float, still: bool, pouring: bool
) -> None:
    (held,) = take_up(facts, 90.0, Shown(60_000, round(shown_g * 1e6), still))
    assert isinstance(held, Held)
    assert held.pouring is pouring


def test_a_weight_that_is_older_than_the_call_tells_nothing_of_it() -> None:
    (held,) = take_up(SO_FAR, 90.0, Shown(21_000, 72_000_000, still=True))
    assert isinstance(held, Held)
    assert held.pouring
