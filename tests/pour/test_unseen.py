"""What came while the weight could not be followed: whose it is, and since when.

A cup of 12 g with 44.1 g of resin in it, at 20 s; the hardener has been called.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from support.pouring import terms

from devices.readings import Reading
from mixer.pour import turns
from mixer.pour.draft import Draft
from mixer.pour.facts import Accepted, Begun, Called, Opened, Tared
from mixer.pour.rests import Rest
from mixer.pour.sight import Sight
from mixer.pour.state import Pour, Trouble, fold

HARDENER = Called(20_000, 1, 56_100_000, 0, 15_876_000, 15_600_000, 16_200_000, False, True)
NOW_MS = 60_000


def cup(called: Called | None = HARDENER, *, begun: bool = False, shift_ug: int = 0) -> Pour:
    facts = [
        Opened(0, terms(60)),
        Tared(3_000, 12_000_000, 0, 100_000, "g", False, "12.0 g"),
        Called(3_000, 0, 12_000_000, 0, 44_117_647, 0, 60_000_000, False, False),
        Accepted(20_000, 0, 44_100_000, 56_100_000, "56.1 g"),
    ]
    pour = fold(facts)
    assert pour is not None
    return replace(pour, called=called, begun=begun, shift_ug=shift_ug)


def found(
    pour: Pour, before_ug: int, after_ug: int, *, restarted: bool = False, pouring: bool = False,
    division_ug: int = 100_000, followed_s: float | None = 25.0, rests: bool = True,
) -> list[tuple[object, ...]]:  # fmt: skip
    """What becomes true: of accepted what is booked and what may be of either, of a call
    its base, of a stream how long ago it may have begun."""
    mass = after_ug - pour.shift_ug
    reading = Reading(mass, "shown", "g", division_ug, True, at_s=60.0)
    rest = Rest(mass, "shown", 59.0, 60.0, ("g", False))
    sight = Sight(last=reading, all_rests=(rest,) if rests else (), followed_s=followed_s)
    draft = Draft(pour, sight, NOW_MS / 1000)
    trouble = Trouble("silent", before_ug, 26_000, pouring=pouring, restarted=restarted)
    turns.came_unseen(draft, trouble)
    told: list[tuple[object, ...]] = []
    for fact in draft.facts:
        match fact:
            case Accepted():
                assert fact.net_ug - 44_100_000 == fact.gross_ug - 56_100_000
                told.append(("booked", fact.component, fact.gross_ug, fact.text, fact.astray_ug))
            case Called():
                told.append(("called", fact.component, fact.base_ug))
            case Begun():
                told.append(("begun", fact.component, fact.unseen_ms))
        assert fact.at_ms == NOW_MS
    return told


BASE = 56_100_000
BEGUN = ("begun", 1, 35_000)


@pytest.mark.parametrize("restarted", [False, True])
@pytest.mark.parametrize("pouring", [False, True])
def test_nothing_came(restarted: bool, pouring: bool) -> None:
    assert found(cup(), BASE, BASE, restarted=restarted, pouring=pouring) == []


@pytest.mark.parametrize(("came_ug", "either"), [(150_000, False), (150_001, True)])
def test_more_than_drops_but_no_more_than_a_jug_drips_may_be_of_either(
    came_ug: int, either: bool
) -> None:
    booked = [("booked", 0, BASE + came_ug, "shown", came_ug), ("called", 1, BASE + came_ug)]
    assert found(cup(), BASE, BASE + came_ug) == (booked if either else [])
    assert found(cup(), BASE, BASE + came_ug, restarted=True) == booked


@pytest.mark.parametrize(("rise_ug", "stream"), [(600_000, False), (600_001, True)])
def test_more_than_a_jug_drips_is_the_stream_that_was_asked_for(rise_ug: int, stream: bool) -> None:
    either = [("booked", 0, BASE + rise_ug, "shown", rise_ug), ("called", 1, BASE + rise_ug)]
    assert found(cup(), BASE, BASE + rise_ug) == ([BEGUN] if stream else either)


@pytest.mark.parametrize("restarted", [False, True])
@pytest.mark.parametrize("pouring", [False, True])
def test_what_had_dripped_before_is_booked_first(restarted: bool, pouring: bool) -> None:
    told = found(cup(), BASE + 300_000, BASE + 900_000, restarted=restarted, pouring=pouring)
    drips = ("booked", 0, BASE + 300_000, "", 300_000)
    # What may have been hardener may have come since it was called for.
    assert told == [drips, ("called", 1, BASE + 300_000), ("begun", 1, 40_000)]


def test_what_was_seen_to_come_before_needs_a_restart_to_be_doubted() -> None:
    """It lies there, and was watched; the rules for what is watched are not these."""
    assert found(cup(), BASE + 900_000, BASE + 900_000) == []
    assert found(cup(), BASE + 900_000, BASE + 900_000, restarted=True) == [BEGUN]
    assert found(cup(), BASE + 400_000, BASE + 400_000) == []


@pytest.mark.parametrize(
    ("rise_ug", "division_ug", "begun"),
    [(600_000, 100_000, False), (600_001, 100_000, True), (2_000_000, 1_000_000, False),
     (2_000_001, 1_000_000, True)],
)  # fmt: skip
def test_after_a_restart_more_than_drips_has_begun_whoever_was_waited_for(
    rise_ug: int, division_ug: int, begun: bool
) -> None:
    first = replace(HARDENER, late_drips=False)
    after = BASE + rise_ug
    told = found(cup(first), after, after, restarted=True, division_ug=division_ug)
    assert told == ([BEGUN] if begun else [])
    assert found(cup(first), after, after, division_ug=division_ug) == []


@pytest.mark.parametrize(("came_ug", "begun"), [(150_000, False), (150_001, True)])
@pytest.mark.parametrize(
    "called",
    [
        replace(HARDENER, late_drips=False),
        replace(HARDENER, addition=True),
        replace(HARDENER, target_ug=2_399_999),
    ],
    ids=["no drips are waited for", "an addition", "of little"],
)
def test_where_drops_are_soon_too_much_a_dab_is_a_stream(
    called: Called, came_ug: int, begun: bool
) -> None:
    assert found(cup(called), BASE, BASE + came_ug) == ([BEGUN] if begun else [])


@pytest.mark.parametrize("target_ug", [2_400_000, 15_876_000])
def test_where_much_is_asked_for_it_is_none_yet(target_ug: int) -> None:
    called = replace(HARDENER, target_ug=target_ug)
    (first, *_) = found(cup(called), BASE, BASE + 200_000)
    assert first[0] == "booked"


@pytest.mark.parametrize(("came_ug", "begun"), [(1_000_000, False), (1_000_001, True)])
def test_a_coarse_scale_must_show_more_than_a_division(came_ug: int, begun: bool) -> None:
    told = found(cup(), BASE, BASE + came_ug, division_ug=1_000_000)
    assert told == ([BEGUN] if begun else [])


@pytest.mark.parametrize(
    ("followed_s", "unseen_ms"), [(25.0, 35_000), (None, 40_000), (10.0, 40_000), (20.5, 39_500)]
)
def test_it_may_have_begun_as_soon_as_nobody_saw_but_not_before_it_was_called(
    followed_s: float | None, unseen_ms: int
) -> None:
    told = found(cup(), BASE, BASE + 5_000_000, followed_s=followed_s)
    assert told == [("begun", 1, unseen_ms)]


def test_a_scale_that_displays_otherwise_since_is_counted_with_its_shift() -> None:
    assert found(cup(shift_ug=40_000_000), BASE, BASE + 5_000_000) == [BEGUN]
    told = found(cup(shift_ug=40_000_000), BASE + 300_000, BASE + 5_000_000)
    drips = ("booked", 0, BASE + 300_000, "", 300_000)
    assert told == [drips, ("called", 1, BASE + 300_000), ("begun", 1, 40_000)]


def test_a_stream_that_has_begun_begins_no_more() -> None:
    assert found(cup(begun=True), BASE, BASE + 5_000_000) == []
    assert found(cup(), BASE, BASE + 5_000_000, rests=False) == []
    assert found(cup(None), BASE, BASE + 5_000_000) == []
