"""A scale of two ranges that shows as many decimals in the coarse one as in the fine one.

Its last digit is then no step: 0.1 g up to 50 g on the pan, and 0.5 g or a gram above."""

from __future__ import annotations

import pytest
from support.pouring import TWO, Guide, run, terms
from support.virtual import VirtualBench

from devices.sim.indicator import ScaleSettings
from mixer.pour.words import MAY_BE_COARSER
from mixer.practice.hands import CAREFUL


def poured(
    coarse_g: float, seed: int, *, noise_g: float = 0.0, size_g: float = 60, tells: bool = False,
    fine_to_g: float = 50, rate: float = 10,
) -> tuple[str, float]:  # fmt: skip
    """What a batch on it is called, and by how much of the ratio it is truly off."""
    scale = ScaleSettings(
        repeatability_g=noise_g, fine_to_g=fine_to_g, coarse_g=coarse_g, tells_range=tells,
        readings_per_s=rate,
    )  # fmt: skip
    bench = VirtualBench(CAREFUL, seed=seed, scale=scale)
    guide = run(bench, Guide(terms(size_g)), 300)
    result = guide.pour.result
    off = bench.in_cup_g("hardener") / bench.in_cup_g("resin") / TWO.ratio - 1
    if result is None:
        return f"not ended: {guide.say}", off
    return result.unproven_because or result.verdict, off


@pytest.mark.parametrize("tells", [False, True])
@pytest.mark.parametrize(("coarse_g", "seed"), [(0.5, 3), (1.0, 9), (1.0, 15)])
def test_nothing_is_called_in_band_by_a_step_that_the_scale_does_not_have(
    coarse_g: float, seed: int, tells: bool
) -> None:
    """By the last digit a batch was called in band that was off by 5 %."""
    verdict, off = poured(coarse_g, seed, tells=tells, size_g=60 + seed * 0.13)
    assert not verdict.startswith("not ended")
    assert verdict != "in-band" or abs(off) <= 0.03


@pytest.mark.parametrize(("coarse_g", "rate", "size_g"), [(0.2, 20, 60), (0.5, 10, 100)])
def test_a_batch_ends_where_the_coarse_step_flickers(
    coarse_g: float, rate: float, size_g: float
) -> None:
    verdict, _ = poured(coarse_g, 1, noise_g=coarse_g / 2, rate=rate, size_g=size_g)
    assert not verdict.startswith(("not ended", "in-band"))


def test_what_a_coarse_step_can_prove_is_proven() -> None:
    verdict, off = poured(0.2, 2, noise_g=0.05, size_g=120)
    assert verdict == "in-band"
    assert abs(off) <= 0.03


def test_a_coarse_step_of_which_too_little_was_seen_leaves_the_batch_unproven() -> None:
    """A gram from 71 g on, and the cup ends at 74 g."""
    assert poured(1.0, 0, size_g=62, fine_to_g=71)[0] == MAY_BE_COARSER


def test_that_it_may_be_coarser_is_a_fact_before_the_stir() -> None:
    """A program that is killed in the stir remembers no reading."""
    bench = VirtualBench(CAREFUL, seed=0, scale=ScaleSettings(
        repeatability_g=0.0, fine_to_g=71, coarse_g=1.0, tells_range=False,
    ))  # fmt: skip
    guide = run(bench, Guide(terms(62)), 300)
    kinds = [fact.kind for fact in guide.facts]
    assert kinds.index("doubted") < kinds.index("stirring")


def test_a_quiet_scale_of_one_range_proves_its_batch() -> None:
    """No noise shows the digits beside the weight at rest: only what was passed tells them."""
    assert [poured(1.0, seed, fine_to_g=2000)[0] for seed in range(3)] == ["in-band"] * 3
