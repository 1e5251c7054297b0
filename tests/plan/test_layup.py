"""Ply numbers as they are written, and back."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mixer.plan.layup import numbered, spoken


@given(st.sets(st.integers(1, 9999), min_size=1, max_size=40), st.sampled_from([",", ", "]))
def test_numbers_that_are_written_are_read_again(numbers: set[int], between: str) -> None:
    said = spoken(numbers, between)
    assert numbered(said) == tuple(sorted(numbers))
    # Each once, and by itself: read by hand.
    spans = [[int(end) for end in run.split("-")] for run in said.split(",")]
    assert [n for span in spans for n in range(span[0], span[-1] + 1)] == sorted(numbers)


@pytest.mark.parametrize("text", ["", "0", "1,", "4-1", "1-", "-1", "1--2", "one", "12345", "1;2"])
def test_what_is_no_list_of_numbers_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="is no list of numbers"):
        numbered(text)
