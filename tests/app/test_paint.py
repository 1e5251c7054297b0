"""What the picture says of a pour, and what it leaves empty."""

from __future__ import annotations

import pytest
from support.pouring import HARDENER, RESIN, Guide, hold_at, tared_and_resin, terms

from mixer.app.bench import paint
from mixer.app.picture import Picture
from mixer.pour.inputs import Cut, Key
from mixer.pour.words import Advice


def resin_is_in() -> tuple[Guide, float]:
    guide, now = tared_and_resin(hands_free=False)
    guide.take(Key(now, "go"))
    assert guide.component == HARDENER.name
    return guide, now


def painted(guide: Guide, now_s: float) -> Picture:
    return paint.picture(guide.pour, guide.sight, Advice(guide.cue, guide.say), 1, now_s)


def test_a_component_that_is_settled_keeps_its_target() -> None:
    guide, now = resin_is_in()
    resin, hardener = painted(guide, now).rows
    assert (resin.name, resin.net_ug, resin.settled) == (RESIN.name, 44_100_000, True)
    assert resin.target_ug == 44_117_647  # 60 g x 100 / 136
    assert hardener.target_ug == 15_876_000  # 44.1 g x 0.36


def test_a_component_not_asked_for_yet_has_no_figures() -> None:
    guide = Guide(terms(60))
    now = hold_at(guide, 12, hold_at(guide, 0, 0, 2), 3)
    _, hardener = painted(guide, now).rows
    assert (hardener.net_ug, hardener.target_ug, hardener.settled) == (None, None, False)


def test_while_the_weight_cannot_be_followed_there_is_no_content() -> None:
    guide, now = resin_is_in()
    now = hold_at(guide, 60, now, 2)
    before = painted(guide, now)
    assert (before.net_ug, before.total_ug) == (3_900_000, 48_000_000)
    lifted = painted(guide, hold_at(guide, 0, now, 1))
    assert guide.pour.trouble is not None
    assert (lifted.net_ug, lifted.total_ug, lifted.rows[1].net_ug) == (None, None, None)
    assert lifted.rows[0].net_ug == 44_100_000  # settled: that stands
    hold_at(guide, 60, now + 1, 2)
    back = painted(guide, now + 3)
    assert (back.net_ug, back.total_ug) == (3_900_000, 48_000_000)


@pytest.mark.parametrize("how", ["dropped", "interrupted", "scale-lost"])
def test_a_cup_with_something_in_it_is_said_to_be_no_empty_one(how: str) -> None:
    guide, now = resin_is_in()
    guide.take(Cut(now, how))
    assert painted(guide, now).say == paint.ENDED[how] + paint.NO_EMPTY_CUP
    empty = Guide(terms(60))
    now = hold_at(empty, 12, hold_at(empty, 0, 0, 2), 3)
    empty.take(Cut(now, how))
    assert painted(empty, now).say == paint.ENDED[how]
