"""What the campaign of killed programs calls wrong: what is, and no more."""

from __future__ import annotations

from pathlib import Path

from benchmarks.killed import Truth
from benchmarks.kills import EACH, Trial
from support.facts import fact, live, poured

SAME, OTHER = ("invented resin", "60g"), ("invented resin", "45g")
IN_BAND = 15.9 / 44.1
STIRRED = [*poured(), fact("stirring", stir_ms=5_000)]
ENDED = fact("ended", how="abandoned", verdict="unproven")


def test_a_batch_that_something_else_was_asked_for_upon_is_rightly_ended() -> None:
    true = Truth()
    assert not [*true.untrue(poured(), SAME, 0.1)]
    assert not [*true.untrue([*poured(), ENDED], OTHER, 0.1)]
    # What was asked for otherwise was killed before its batch was opened.
    assert not [*true.untrue([*poured(), ENDED, *poured(2)], SAME, IN_BAND)]


def test_a_batch_that_the_same_was_asked_for_upon_is_to_be_carried_on() -> None:
    wrong = "batch 1 could be carried on, and was not"
    assert [*Truth().untrue([*poured(), ENDED], SAME, 0.1)] == [wrong]


def test_a_cup_that_is_exchanged_in_the_stir_says_nothing_of_the_mix() -> None:
    true = Truth()
    assert not [*true.untrue(STIRRED, SAME, IN_BAND)]
    true.other_cup()
    assert not [*true.untrue([*STIRRED, live()], SAME, 0.0)]


def test_a_cup_that_is_exchanged_before_the_stir_is_the_batch_s() -> None:
    true = Truth()
    assert not [*true.untrue(poured(), SAME, IN_BAND)]
    true.other_cup()
    (wrong,) = true.untrue([*STIRRED, live()], SAME, 0.0)
    assert wrong == "batch 1 was called in band, and is truly -100.0%"


def test_a_batch_that_is_left_open_is_wrong() -> None:
    (wrong,) = Truth().untrue([*poured(), *poured(2)], SAME, IN_BAND)
    assert wrong == "batch 1 was left open"


def test_of_what_was_shown_nothing_is_lost_by_kills(tmp_path: Path) -> None:
    """One pour of the campaign (``python -m tests.benchmarks.kills``): this hand lifts the cup as
    it is told, before it was to be lifted besides."""
    came = Trial(77127, EACH, tmp_path).run()
    assert came.wrong == []
    assert came.kills == EACH
