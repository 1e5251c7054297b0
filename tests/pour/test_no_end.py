"""Additions answer one another: however each is poured, they come to an end."""

from __future__ import annotations

from hypothesis import example, given, settings
from hypothesis import strategies as st
from support.pouring import TWO, terms

from mixer.pour.bands import conforms, next_call
from mixer.pour.facts import Accepted, Called, Opened, Tared
from mixer.pour.state import begin, evolve

CUP_UG = 12_000_000
#: By how much each pour goes over its band; it is as much again in the next round.
OVERS_UG = st.lists(st.integers(1, 3_000_000), min_size=1, max_size=6)
LEAST_DIVISIONS = 2  # of a band: an addition that goes over it is more than that


@settings(max_examples=60, deadline=None)
@example(size_g=20, division_ug=1000000, repeats=0, overs_ug=[1, 1, 1, 1, 5901, 171889])
@given(
    st.integers(20, 400),
    st.sampled_from([10_000, 100_000, 1_000_000]),
    st.sampled_from([0, 0.5, 1]),
    OVERS_UG,
)
def test_a_hand_that_pours_over_every_band_is_told_to_add_only_so_often(
    size_g: int, division_ug: int, repeats: float, overs_ug: list[int]
) -> None:
    """Each addition that misses brings more than its whole band, and all together no more than
    the batch that was asked for: that many are the most, and mostly there are far fewer."""
    what = terms(size_g, repeatability_ug=round(repeats * division_ug))
    pour = evolve(begin(Opened(0, what)), Tared(0, CUP_UG, 0, division_ug, "g", False, ""))
    additions, gross_ug = 0, CUP_UG
    narrowest_ug = min(LEAST_DIVISIONS * division_ug, round(TWO.ratio_tolerance * what.size_ug / 4))
    while (call := next_call(pour.cup)) is not None and call.fits:
        additions += call.addition
        assert additions * narrowest_ug <= what.size_ug
        first = call.component == 0 and not call.addition
        over_ug = overs_ug[additions % len(overs_ug)]
        net_ug = call.target_ug if first else call.high_ug + over_ug
        before_ug = gross_ug
        gross_ug += net_ug - call.before_ug
        for fact in (
            Called(
                1, call.component, before_ug, call.before_ug, call.target_ug, call.low_ug,
                call.high_ug, call.addition, False, division_ug,
            ),
            Accepted(1, call.component, net_ug, gross_ug, "", division_ug=division_ug),
        ):  # fmt: skip
            pour = evolve(pour, fact)
    if call is None:  # room had ended its limits, and it is in band all the same
        assert conforms(pour.cup)[0]
        return
    # Too much of one, and no room for the other: parted, or discarded.
    assert pour.added_ug + call.target_ug - call.before_ug > what.size_ug or (
        sum(pour.amounts_ug) + call.target_ug - call.before_ug > 2 * sum(pour.amounts_ug)
    )
