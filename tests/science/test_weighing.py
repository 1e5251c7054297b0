"""The rounding of a display, carried into the ratio: three independent ways."""

from __future__ import annotations

import doctest
import math
import random
import statistics

import pytest
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import ufloat

from mixer.science import weighing
from mixer.science.weighing import balance_u, guard, rounding_u, smallest_provable

DIVISION = st.floats(1e-3, 10)
RATIO = st.floats(0.05, 2)


def balance(weights, kinds, ratio):
    """H - r R from the weights at rest and what was poured between them."""
    total = 0.0
    for before, after, kind in zip(weights[:-1], weights[1:], kinds, strict=True):
        total = total + (after - before) * (1.0 if kind == "hardener" else -ratio)
    return total


def runs(switches: int) -> list[str]:
    return [("resin", "hardener")[i % 2] for i in range(switches + 1)]


def test_the_examples_in_the_docstrings_run() -> None:
    result = doctest.testmod(weighing)
    assert result.attempted >= 4
    assert result.failed == 0


def test_rounding_of_a_display() -> None:
    # JCGM 100:2008 (GUM) F.2.2.1: u = 0.29 d.
    assert rounding_u(1.0) == pytest.approx(0.29, abs=0.005)
    assert rounding_u(0.1) == pytest.approx(0.029, abs=0.0005)


@given(DIVISION, RATIO, st.integers(1, 6))
def test_agrees_with_the_library_uncertainties(
    division: float, ratio: float, switches: int
) -> None:
    # uncertainties differentiates the formula of the ratio itself, term by term.
    weights = [ufloat(20.0 + 30 * i, division / math.sqrt(12), str(i)) for i in range(switches + 2)]
    theirs = balance(weights, runs(switches), ratio).std_dev
    assert balance_u(division, ratio, switches) == pytest.approx(theirs, rel=1e-9)


@given(DIVISION, RATIO)
def test_the_weight_between_two_hardeners_drops_out(division: float, ratio: float) -> None:
    weights = [ufloat(w, division / math.sqrt(12)) for w in (20.0, 80.0, 95.0, 101.0)]
    theirs = balance(weights, ["resin", "hardener", "hardener"], ratio).std_dev
    assert balance_u(division, ratio, 1) == pytest.approx(theirs, rel=1e-9)


@pytest.mark.parametrize("switches", [1, 2, 3])
def test_agrees_with_really_rounded_weights(switches: int) -> None:
    # Monte Carlo, the way of JCGM 101:2008; 20 000 draws give the spread to 0.5 %.
    ratio, division, seeded = 0.36, 0.1, random.Random(20)
    errors = []
    for _ in range(20_000):
        true = [seeded.uniform(5, 40)]
        for _ in runs(switches):
            true.append(true[-1] + seeded.uniform(5, 60))
        read = [round(w / division) * division for w in true]
        kinds = runs(switches)
        errors.append(balance(read, kinds, ratio) - balance(true, kinds, ratio))
    u = balance_u(division, ratio, switches)
    assert statistics.fmean(errors) == pytest.approx(0, abs=4 * u / math.sqrt(20_000))
    assert statistics.pstdev(errors) == pytest.approx(u, rel=0.02)
    # JCGM 106:2012 8.3: beyond the guard on one side at most 2.3 % (normal); the sum
    # of a few rectangular errors has thinner tails than that.
    beyond = sum(e > guard(division, ratio, switches) for e in errors) / len(errors)
    assert 0.005 < beyond <= 0.025


@given(DIVISION, RATIO, st.integers(1, 5))
def test_it_scales_with_the_division_and_grows_with_each_switch(
    division: float, ratio: float, switches: int
) -> None:
    u = balance_u(division, ratio, switches)
    assert balance_u(2 * division, ratio, switches) == pytest.approx(2 * u)
    assert balance_u(division, ratio, switches + 1) > u
    assert guard(division, ratio, switches) == pytest.approx(2 * u)


@given(
    DIVISION, RATIO, st.floats(0.005, 0.2), st.integers(1, 4), st.floats(0, 5), st.floats(0.01, 0.9)
)
def test_the_smallest_provable_batch_is_the_smallest(
    division: float, ratio: float, tolerance: float, switches: int, left: float, part: float
) -> None:
    def side_left(resin: float) -> float:
        return tolerance * ratio * resin - guard(division, ratio, switches)

    resin = smallest_provable(division, ratio, tolerance, switches, left)
    assert side_left(resin) == pytest.approx(left * division, abs=1e-6 * resin)
    assert side_left(resin * (1 - part)) < left * division


@pytest.mark.parametrize(
    "call",
    [
        lambda: rounding_u(0),
        lambda: rounding_u(-0.1),
        lambda: rounding_u(math.nan),
        lambda: balance_u(0.1, 0),
        lambda: balance_u(0.1, math.inf),
        lambda: balance_u(0.1, 0.36, 0),
        lambda: smallest_provable(0.1, 0.36, 0),
        lambda: smallest_provable(0.1, 0.36, 0.03, 1, -1),
    ],
)
def test_outside_its_range_it_gives_no_number(call) -> None:
    with pytest.raises(ValueError, match=r"not above 0|at least one|below 0"):
        call()
