"""A pour that was cut off, and is taken up where the record ends.

Whole batches on a bench without noise, killed after each of their facts in turn.
"""

from __future__ import annotations

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from support.cut import Blow, CutBench
from support.quiet import Mishap

from mixer.pour.recipe import Component, Recipe

RESIN = Component("resin", "resin", 100, 4)
TWO = Recipe((RESIN, Component("hardener", "hardener", 36, 4)), ratio_tolerance=0.03)
BLEND = Recipe(
    (RESIN, Component("fast", "hardener", 20, 4), Component("slow", "hardener", 16, 4)),
    ratio_tolerance=0.03,
)
TURNS = 14


def poured(
    recipe: Recipe, hands_free: bool, blow: Blow | None, *, first: float = 1.0,
    mishap: Mishap | None = None, mends: bool = True, rate_g_s: float = 4.0,
) -> CutBench:  # fmt: skip
    """A whole batch by a hand that pours what is asked for; the first time, so much of it."""
    bench = CutBench(recipe, hands_free, blow)
    part = first
    for turn in range(TURNS):
        if bench.over:
            break
        name = bench.guide.component
        if name:
            wanted_ug = max(300_000, round((bench.guide.left_g or 0) * 1e6 * part))
            bench.stream(name, wanted_ug, rate_g_s)
            bench.drip(name, 3, 0.5)
            part = 1.0
        if mishap is not None and turn == 1:
            bench.suffer(mishap)
        bench.rest(11.0)
        if mends and bench.guide.pour.trouble is not None:
            settle(bench)
        if not hands_free and not bench.over:
            bench.press("go")
    return bench


def settle(bench: CutBench) -> None:
    """As the sentence says: the cup off until the scale shows zero, and on again."""
    bench.mend(lifted=True)
    bench.rest(3.0)


BATCHES = {
    "keys": (TWO, False, 1.0, None),
    "too much at first": (TWO, True, 1.2, None),
    "a blend, hands free": (BLEND, True, 1.15, None),
    "woken up": (TWO, False, 1.0, Mishap("wake", 3.0, True)),
}
BLOWS = {
    "a moment in the stream": {"gap_s": 2.0, "ran_on_ug": 6_000_000},
    "a little in the stream": {"gap_s": 20.0, "ran_on_ug": 400_000},
    "a power cut": {"gap_s": 60.0, "boot": True, "wake": True},
    "a boot, no trace": {"gap_s": 60.0, "boot": True, "trace_s": None},
}


@pytest.mark.parametrize("blow", BLOWS)
@pytest.mark.parametrize("batch", BATCHES)
def test_whatever_fact_was_the_last_the_batch_is_poured_to_an_end_that_is_true(
    batch: str, blow: str
) -> None:
    recipe, hands_free, first, mishap = BATCHES[batch]
    whole = poured(recipe, hands_free, None, first=first, mishap=mishap)
    assert whole.over
    of = list(BLOWS).index(blow) % 2  # each fact has half of the blows
    for count in range(2 + of, len(whole.guide.facts), 2):
        struck = Blow(count, **BLOWS[blow])  # type: ignore[arg-type]
        bench = poured(recipe, hands_free, struck, first=first, mishap=mishap)
        assert bench.over, (count, bench.guide.facts[-3:])
        bench.check()


CUTS = st.builds(
    Blow,
    reading=st.integers(1, 300),
    gap_s=st.one_of(st.floats(0.3, 5.0), st.floats(5.0, 20_000.0)),
    ran_on_ug=st.one_of(st.just(0), st.integers(0, 1_000_000), st.integers(0, 12_000_000)),
    boot=st.booleans(),
    trace_s=st.one_of(st.none(), st.floats(0, 2.5)),
    wake=st.booleans(),
)


@settings(max_examples=15, deadline=None)
@given(
    cut=CUTS,
    recipe=st.sampled_from([TWO, BLEND]),
    hands_free=st.booleans(),
    first=st.sampled_from([0.6, 1.0, 1.2]),
    mends=st.booleans(),
    rate_g_s=st.floats(0.5, 8.0),
)
@example(  # hardener that ran on into a hold which only trust ended had no clock
    cut=Blow(reading=145, gap_s=1.0, trace_s=None, wake=True), recipe=TWO, hands_free=False,
    first=1.0, mends=False, rate_g_s=3.0,
)  # fmt: skip
@example(  # nor had so little of it that it may as well have been the resin's drips
    cut=Blow(reading=214, gap_s=1.0, trace_s=None), recipe=TWO, hands_free=True,
    first=1.2, mends=False, rate_g_s=1.84375,
)  # fmt: skip
@example(  # and a long gap makes no difference
    cut=Blow(reading=214, gap_s=600.0, trace_s=None), recipe=TWO, hands_free=True,
    first=1.2, mends=False, rate_g_s=1.84375,
)  # fmt: skip
def test_wherever_it_is_cut_off_it_is_in_band_only_if_it_truly_is(
    cut: Blow, recipe: Recipe, hands_free: bool, first: float, mends: bool, rate_g_s: float
) -> None:
    bench = poured(recipe, hands_free, cut, first=first, mends=mends, rate_g_s=rate_g_s)
    bench.check()
    contact_ms, truth_ms = bench.guide.pour.contact_ms, bench.contact_ms
    if truth_ms is not None and contact_ms is not None:
        assert contact_ms <= truth_ms + 3000  # the cup is never taken for much younger
