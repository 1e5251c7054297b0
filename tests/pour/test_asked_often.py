"""A display that is asked more often than it is renewed says the same again: what rises between
two of its figures rose in its own time, and is no leap."""

from __future__ import annotations

import pytest
from closed_loop.poured import happened
from support.pouring import Guide, terms
from support.virtual import VirtualBench

from devices.sim.indicator import ScaleSettings
from mixer.practice.hands import CAREFUL, CARELESS, Hand

ASKED_S = 0.05


def poured(hand: Hand, filter_s: float, readings_per_s: float, seed: int) -> Guide:
    scale = ScaleSettings(filter_s=filter_s, readings_per_s=readings_per_s)
    bench = VirtualBench(hand, seed=seed, scale=scale, asked_every_s=ASKED_S)
    guide = Guide(terms(100))
    for said in bench.moments(300):
        guide.take(happened(said, bench.t_s))
        if guide.pour.stage in ("live", "ended"):
            break
        bench.show(guide.cue, guide.component, guide.left_g)
    return guide


@pytest.mark.parametrize("hand", [CAREFUL, CARELESS], ids=["careful", "careless"])
@pytest.mark.parametrize("readings_per_s", [4, 5, 20])
@pytest.mark.parametrize("filter_s", [0.05, 0.15])
def test_a_stream_is_no_leap_however_often_it_is_asked_for(
    hand: Hand, filter_s: float, readings_per_s: float
) -> None:
    guide = poured(hand, filter_s, readings_per_s, 1)
    assert guide.pour.doubts == ()
    assert guide.pour.result is not None
