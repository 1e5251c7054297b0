"""By what step a scale counts, learned from what it shows and where it shows it."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from devices.readings import Reading
from mixer.pour.counts_by import KNOWN, MAY_BE, MOST, STEPS, Counted, counted

DIGIT_UG = 100_000


def seen(*counts: int, known: Counted | None = None, weighing_range: int = 1) -> Counted:
    """What is known after these weights, in last digits."""
    known = known or Counted()
    for count in counts:
        shown = Reading(
            count * DIGIT_UG, "", "g", DIGIT_UG, still=True, weighing_range=weighing_range
        )
        known = counted(known, shown)
    return known


def now(known: Counted) -> int:
    return known.now_ug // DIGIT_UG


def may_be(known: Counted, count: int) -> int:
    return known.may_be_ug(count * DIGIT_UG) // DIGIT_UG


def enough(step: int, once_in: int) -> int:
    """So many ways from one multiple to the next come by chance less than once in so many."""
    return math.ceil(math.log(once_in, step) - 1e-9)


LOW = seen(*range(0, 500, 7))  # up to 49.7 g of a last digit of 0.1 g
COARSE = st.sampled_from(STEPS)


@given(COARSE, st.lists(st.integers(1, 9), min_size=31, max_size=60))
def test_a_step_is_known_above_the_fine_range_and_nowhere_below(step: int, by: list[int]) -> None:
    counts, before = [500], 0
    for drawn in by:
        more = drawn % 9 + 1 if drawn == before else drawn  # a stream that is not quite steady
        counts.append(counts[-1] + more * step)
        before = more
    known = seen(*counts[: enough(step, KNOWN) + 2], known=LOW)
    assert now(known) % step == 0
    assert may_be(known, 480) == 1
    assert now(seen(31, known=known)) == 1  # as the cup comes off


@given(COARSE, st.data())
def test_what_may_be_needs_fewer_and_any_weight_that_does_not_fit_takes_it_back(
    step: int, data: st.DataObject
) -> None:
    few = enough(step, MAY_BE)
    counts = [500 + i * step for i in range(few + 2)]
    known = seen(*counts, known=LOW)
    assert may_be(known, counts[-1]) >= step
    wrong = data.draw(st.integers(counts[-1], counts[-1] + 500).filter(lambda c: c % step))
    assert may_be(seen(wrong, known=known), counts[-1]) >= step  # it may be a wrong frame
    assert may_be(seen(wrong, wrong, known=known), counts[-1]) < step


@given(st.lists(st.integers(-500, 5000), min_size=2, max_size=200))
def test_no_step_is_claimed_that_what_was_shown_there_does_not_fit(counts: list[int]) -> None:
    known = seen(*counts)
    for count in {*counts}:
        step = may_be(known, count)
        misfits = [c for c in counts if c >= count and c % step]
        assert len(misfits) <= 1
        ways = {way for way in pairwise(counts) if way[0] != way[1]}
        assert step == 1 or len([w for w in ways if not (w[0] % step or w[1] % step)]) >= 1
    assert len(known.ways) <= MOST


@given(st.integers(400, 700), st.integers(1, 30))
def test_the_flicker_of_a_weight_between_two_digits_speaks_for_no_step(
    count: int, times: int
) -> None:
    known = seen(*(count, count + 1) * times, known=LOW)
    assume(times > 2)
    assert now(known) == 1
    assert may_be(known, count) == 1


def test_jugs_and_cups_of_whole_grams_put_upon_the_empty_pan_speak_for_no_step() -> None:
    known = seen(*(0, 12440, 0, 5120, 0, 120) * 3)
    assert (now(known), may_be(known, 120)) == (1, 1)


def test_a_steady_stream_of_even_steps_speaks_for_none() -> None:
    """4 g a second upon a plain scale, ten readings a second."""
    known = seen(*range(500, 700, 4), known=LOW)
    assert (now(known), may_be(known, 696)) == (1, 1)


@pytest.mark.parametrize("step", [5, 10, 20])
def test_two_weights_at_the_very_end_of_the_fine_range_may_take_turns(step: int) -> None:
    """The lower of the two is below weights that the fine range has shown."""
    edge = 20 * step
    known = seen(*range(edge - 30, edge + 3), *(edge, edge + step) * 12)
    assert now(known) == step
    assert now(seen(0, known=known)) == 1  # the empty pan shows the fine range's zero


@pytest.mark.parametrize(("shown", "step"), [((720,), 20), ((720, 710), 10), ((720, 715), 5)])
def test_where_the_scale_says_that_its_range_is_a_higher_one_less_is_needed(
    shown: tuple[int, ...], step: int
) -> None:
    shown = tuple(count for count in shown for _ in range(2))
    assert may_be(seen(*shown, known=LOW, weighing_range=2), 720) == step
    assert may_be(seen(*shown, known=LOW), 720) == 1
    assert may_be(seen(*shown, weighing_range=2), 720) == 1  # it was never in another
