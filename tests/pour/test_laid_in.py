"""A stick or another thing that is laid into the cup, on displays of every kind: what is
weighed with it is nothing that was called, and the batch is never called in band."""

from __future__ import annotations

import pytest
from closed_loop.poured import happened
from support.pouring import TWO, Guide, terms
from support.virtual import VirtualBench

from devices.sim.indicator import ScaleSettings
from mixer.pour.more_cup import LAID_IN

DISPLAYS = [(0.15, 4), (0.15, 10), (0.3, 20), (0.6, 4), (0.6, 10)]
FREE_S = 4.0  # in which who lays it in has no jug in hand


def batch(filter_s: float, readings_per_s: float, laid_g: float, when: str) -> Guide:
    """A careful batch of 60 g, with so much laid into it: as a jug drips out, or before the
    hardener's stream."""
    scale = ScaleSettings(filter_s=filter_s, readings_per_s=readings_per_s)
    bench = VirtualBench(seed=1, jugs=("resin", "hardener", "stick"), scale=scale)
    guide = Guide(terms(60, repeatability_ug=50_000))
    laid_s: float | None = None
    for said in bench.moments(240):
        guide.take(happened(said, bench.t_s))
        if guide.pour.stage in ("live", "ended"):
            break
        rests = guide.cue in ("wait", "in-band") and guide.pour.begun
        drips = rests and when == f"{guide.component} drips"
        called = guide.cue in ("pour", "ease") and when == f"{guide.component} is called"
        if laid_s is None and (drips or called):
            laid_s = bench.t_s + 1.0
        if laid_s is not None and laid_g and bench.t_s >= laid_s:
            bench.plant.act({"do": "add", "jug": "stick", "mass_g": laid_g})
            laid_g = 0.0
        if laid_s is None or bench.t_s > laid_s + FREE_S:
            bench.show(guide.cue, guide.component, guide.left_g)
        else:
            bench.show("wait", guide.component, None)
    assert laid_s is not None
    return guide


@pytest.mark.parametrize("when", ["resin drips", "hardener drips", "hardener is called"])
@pytest.mark.parametrize(("filter_s", "readings_per_s"), DISPLAYS)
@pytest.mark.parametrize("laid_g", [2.5, 8.0])
def test_what_is_laid_in_is_never_called_in_band(
    filter_s: float, readings_per_s: float, laid_g: float, when: str
) -> None:
    guide = batch(filter_s, readings_per_s, laid_g, when)
    assert guide.pour.result is not None
    assert guide.pour.result.verdict != "in-band"
    assert LAID_IN in guide.pour.doubts


@pytest.mark.parametrize(("filter_s", "readings_per_s"), DISPLAYS)
def test_where_nothing_is_laid_in_nothing_is_doubted(
    filter_s: float, readings_per_s: float
) -> None:
    guide = batch(filter_s, readings_per_s, 0.0, "hardener is called")
    assert guide.pour.result is not None
    assert guide.pour.result.verdict == "in-band"
    assert abs(guide.pour.amounts_ug[1] / guide.pour.amounts_ug[0] / TWO.ratio - 1) < 0.03
