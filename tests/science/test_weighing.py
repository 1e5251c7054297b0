"""The errors of a scale, carried into the ratio: three independent ways."""

from __future__ import annotations

import math
import random
import statistics

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import ndtr
from uncertainties import ufloat

from mixer.science.weighing import (
    Errors,
    balance_u,
    coverage,
    guard,
    largest_error,
    ratio_u,
    rounding_u,
    smallest_provable,
)

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
    assert balance_u(Errors(division), ratio, switches) == pytest.approx(theirs, rel=1e-9)


ERROR = st.floats(1e-6, 3)


@given(st.builds(Errors, DIVISION, ERROR, ERROR, ERROR, ERROR), RATIO, st.integers(1, 6))
def test_every_error_but_the_span_is_in_the_ratio(
    errors: Errors, ratio: float, switches: int
) -> None:
    """By the library uncertainties, on the quotient H / R itself, each error a variable of
    its own; the span is one variable that all weights share."""
    span = ufloat(1, 0.01, "span")
    third = math.sqrt(3)
    kinds = runs(switches)
    resin, hardener = kinds.count("resin"), kinds.count("hardener")
    steps = [1000 / resin if kind == "resin" else 1000 * ratio / hardener for kind in kinds]
    weights = []
    for n in range(len(steps) + 1):
        own = ufloat(0, errors.division / math.sqrt(12)) + ufloat(0, errors.repeatability)
        own += ufloat(0, errors.linearity / third) + ufloat(0, errors.zero / third)
        own += ufloat(0, errors.drift / third)
        weights.append(span * (20 + sum(steps[:n])) + own)
    parts = {"resin": 0, "hardener": 0}
    for before, after, kind in zip(weights[:-1], weights[1:], kinds, strict=True):
        parts[kind] += after - before
    theirs = (parts["hardener"] / parts["resin"]).std_dev
    assert ratio_u(errors, ratio, 1000, switches) == pytest.approx(theirs, rel=1e-6)
    assert errors.net_u == pytest.approx((weights[1] - weights[0] - span * steps[0]).std_dev)


def test_a_published_example_of_simple_weighing() -> None:
    # University of Tartu, "Uncertainty of Simple Weighing": repeatability 0.17 mg, drift
    # +-0.2 mg rectangular, readability +-0.05 mg rectangular: combined 0.2075 mg.
    assert Errors(0.1, repeatability=0.17, drift=0.2).weight_u == pytest.approx(0.2075, abs=5e-5)


@pytest.mark.parametrize(
    ("accuracy_class", "load_e", "error_e"),
    [
        ("II", 0, 0.5), ("II", 5_000, 0.5), ("II", 5_001, 1), ("II", 20_000, 1),
        ("II", 20_001, 1.5), ("II", 100_000, 1.5), ("III", 500, 0.5), ("III", 501, 1),
        ("III", 2_000, 1), ("III", 2_001, 1.5), ("III", 10_000, 1.5),
    ],
)  # fmt: skip
def test_the_largest_errors_of_a_class(accuracy_class: str, load_e: float, error_e: float) -> None:
    # OIML R 76-1:2006, table 6.
    assert largest_error(load_e * 0.5, 0.5, accuracy_class) == error_e * 0.5


@given(DIVISION, RATIO)
def test_the_weight_between_two_hardeners_drops_out(division: float, ratio: float) -> None:
    weights = [ufloat(w, division / math.sqrt(12)) for w in (20.0, 80.0, 95.0, 101.0)]
    theirs = balance(weights, ["resin", "hardener", "hardener"], ratio).std_dev
    assert balance_u(Errors(division), ratio, 1) == pytest.approx(theirs, rel=1e-9)


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
    u = balance_u(Errors(division), ratio, switches)
    assert statistics.fmean(errors) == pytest.approx(0, abs=4 * u / math.sqrt(20_000))
    assert statistics.pstdev(errors) == pytest.approx(u, rel=0.02)
    # JCGM 106:2012 8.3: beyond the guard on one side at most 2.3 % (normal); the sum
    # of a few rectangular errors has thinner tails than that.
    beyond = sum(e > guard(Errors(division), ratio, switches) for e in errors) / len(errors)
    assert 0.005 < beyond <= 0.025


@pytest.mark.parametrize("ratios", range(1, 12))
def test_all_that_are_judged_are_out_with_five_in_a_hundred_at_most(ratios: int) -> None:
    # A normal distribution's tail, by SciPy; of two, 2 u each, as JCGM 106:2012 8.3 has them.
    assert ratios * ndtr(-coverage(ratios)) == pytest.approx(
        0.05 if ratios > 2 else ratios * ndtr(-2)
    )
    assert guard(Errors(0.1), 0.36, 1, ratios) == pytest.approx(
        coverage(ratios) * balance_u(Errors(0.1), 0.36)
    )
    with pytest.raises(ValueError, match="at least one"):
        coverage(ratios - 12)


@given(DIVISION, RATIO, st.integers(1, 5))
def test_it_scales_with_the_division_and_grows_with_each_switch(
    division: float, ratio: float, switches: int
) -> None:
    u = balance_u(Errors(division), ratio, switches)
    assert balance_u(Errors(2 * division), ratio, switches) == pytest.approx(2 * u)
    assert balance_u(Errors(division), ratio, switches + 1) > u
    assert guard(Errors(division), ratio, switches) == pytest.approx(2 * u)


@given(
    DIVISION, RATIO, st.floats(0.005, 0.2), st.integers(1, 4), st.floats(0, 5), st.floats(0.01, 0.9)
)
def test_the_smallest_provable_batch_is_the_smallest(
    division: float, ratio: float, tolerance: float, switches: int, left: float, part: float
) -> None:
    def side_left(resin: float) -> float:
        return tolerance * ratio * resin - guard(Errors(division), ratio, switches)

    resin = smallest_provable(Errors(division), ratio, tolerance, switches, left)
    assert side_left(resin) == pytest.approx(left * division, abs=1e-6 * resin)
    assert side_left(resin * (1 - part)) < left * division


def test_small_figures_are_within_the_range() -> None:
    """A unit may be a kilogram."""
    assert ratio_u(Errors(0.0001), 0.36, 0.5) > 0
    assert largest_error(0, 0.0001, "II") == 0.00005
    assert smallest_provable(Errors(0.1), 0.36, 0.03, 1, 0) > 0


@pytest.mark.parametrize(
    "call",
    [
        lambda: rounding_u(0),
        lambda: rounding_u(-0.1),
        lambda: rounding_u(math.nan),
        lambda: rounding_u(math.inf),
        lambda: Errors(0.0),
        lambda: Errors(math.inf),
        lambda: ratio_u(Errors(0.1), 0.36, math.inf),
        lambda: smallest_provable(Errors(0.1), 0.36, math.inf),
        lambda: smallest_provable(Errors(0.1), 0.36, 0.03, 1, math.inf),
        lambda: largest_error(1, math.inf, "II"),
        lambda: largest_error(100_001, 1, "II"),
        lambda: balance_u(Errors(0.1), 0),
        lambda: balance_u(Errors(0.1), math.inf),
        lambda: balance_u(Errors(0.1), 0.36, 0),
        lambda: smallest_provable(Errors(0.1), 0.36, 0),
        lambda: smallest_provable(Errors(0.1), 0.36, 0.03, 1, -1),
        lambda: Errors(0.1, -0.1),
        lambda: Errors(0.1, linearity=math.nan),
        lambda: Errors(0.1, drift=math.inf),
        lambda: ratio_u(Errors(0.1), 0.36, 0),
        lambda: largest_error(1, 0, "II"),
        lambda: largest_error(-1, 1, "II"),
        lambda: largest_error(10_001, 1, "III"),
        lambda: largest_error(1, 1, "IV"),
    ],
)
def test_outside_its_range_it_gives_no_number(call) -> None:
    with pytest.raises(ValueError, match=r"not above 0|at least one|below 0|can carry|none of"):
        call()
