"""Equivalent weights and mix ratios against formula weights and published examples."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from molmass import Formula

from mixer.science.stoichiometry import (
    equivalent_weight,
    gel_conversion,
    of_mixture,
    of_stoichiometric,
    phr,
    volume_to_weight,
    weight_to_volume,
)

WEIGHT = st.floats(10, 2000)
MASS = st.floats(0.01, 1e4)
DENSITY = st.floats(0.5, 3)
PARTS = st.lists(st.tuples(MASS, WEIGHT), min_size=1, max_size=6)


@pytest.mark.parametrize(
    ("name", "formula", "groups", "expected"),
    # Formula weights: library molmass, from the atomic weights. The figures expected:
    # diethylenetriamine in a published epoxy text; triethylenetetramine and
    # m-phenylenediamine by their formulas; pure DGEBA, 340.41 / 2.
    [
        ("diethylenetriamine", "C4H13N3", 5, 20.6),
        ("triethylenetetramine", "C6H18N4", 6, 24.4),
        ("m-phenylenediamine", "C6H8N2", 4, 27.0),
        ("DGEBA, n = 0", "C21H24O4", 2, 170.2),
    ],
)
def test_equivalent_weights_of_pure_substances(
    name: str, formula: str, groups: int, expected: float
) -> None:
    assert equivalent_weight(Formula(formula).mass, groups) == pytest.approx(expected, abs=0.05)


@pytest.mark.parametrize(
    ("eew", "ahew", "least", "most"),
    [
        (200, 20.6, 10.25, 10.35),  # DETA, 10.3 phr: worked example in a published epoxy text
        # TETA with liquid DGEBA (EEW 182 to 192, practice), about 13 phr: DSC study of
        # DGEBA/TETA at 5, 13 and 20 phr (Iraqi academic journals, article 116078).
        (190, 24.4, 12.5, 13.5),
        (190, 27.0, 14, 15),  # m-PDA, 14 to 15 phr: DSC study of DGEBA/m-PDA at 15 phr
        (209, 43, 20.55, 20.65),  # "Calculating Equivalent Weight of Epoxy Mixtures"
    ],
)
def test_published_mix_ratios(eew: float, ahew: float, least: float, most: float) -> None:
    assert least <= phr(eew, ahew) <= most


def test_a_published_mixture_with_filler() -> None:
    # "Calculating Equivalent Weight of Epoxy Mixtures": 209, then 20.6 phr with AHEW 43.
    eew = of_mixture([(80, 189), (10, 183), (10, None)])
    assert round(eew) == 209
    assert phr(eew, 43) == pytest.approx(20.6, abs=0.05)


@pytest.mark.parametrize(
    ("f", "g", "expected"),
    # Flory 1953; Stockmayer 1952; Macosko and Miller 1976.
    [(2, 4, 1 / math.sqrt(3)), (2, 6, 1 / math.sqrt(5)), (4, 4, 1 / 3)],
)
def test_gel_conversions_of_the_textbook(f: float, g: float, expected: float) -> None:
    assert gel_conversion(f, g) == pytest.approx(expected, abs=1e-12)


@pytest.mark.parametrize(
    ("share", "gels"), [(0.33, False), (0.34, True), (2.99, True), (3.01, False)]
)
def test_a_diamine_gels_a_diepoxide_from_a_third_to_three_times_its_share(
    share: float, gels: bool
) -> None:
    # Macosko and Miller 1976: r between 1/((f-1)(g-1)) and its inverse.
    assert (gel_conversion(2, 4, share) is not None) == gels


@given(st.floats(1.5, 10), st.floats(1.5, 10), st.floats(0.05, 20))
def test_gelation_does_not_ask_which_side_is_called_epoxide(f: float, g: float, s: float) -> None:
    # Turned round, the conversion of the other side: as many groups, another share.
    here, there = gel_conversion(f, g, s), gel_conversion(g, f, 1 / s)
    if here is None or there is None:
        # At the very end of the range rounding may decide either way.
        at = math.sqrt(s / ((f - 1) * (g - 1)))
        assert here == there or at == pytest.approx(min(1, s))
    else:
        assert there == pytest.approx(here / s)
        assert 0 < here <= min(1, s)


@given(WEIGHT, WEIGHT, st.floats(0.01, 100))
def test_off_ratio_is_the_ratio_turned_round(eew: float, ahew: float, share: float) -> None:
    assert of_stoichiometric(phr(eew, ahew, share), eew, ahew) == pytest.approx(share)
    assert of_stoichiometric(0, eew, ahew) == 0


@given(st.floats(0, 1000), DENSITY, DENSITY)
def test_by_volume_and_back(parts: float, resin: float, hardener: float) -> None:
    by_volume = weight_to_volume(parts, resin, hardener)
    assert volume_to_weight(by_volume, resin, hardener) == pytest.approx(parts, abs=1e-9)


def test_by_volume_is_the_volumes_of_what_was_weighed() -> None:
    # 100 g of 1.25 g/mL fill 80 mL, 40 g of 1.0 g/mL fill 40: 50 for each 100.
    assert weight_to_volume(40, 1.25, 1.0) == pytest.approx(50)


@given(PARTS)
def test_a_mixture_lies_between_its_parts(parts: list[tuple[float, float]]) -> None:
    mixed = of_mixture(parts)
    weights = [weight for _, weight in parts]
    assert min(weights) * (1 - 1e-9) <= mixed <= max(weights) * (1 + 1e-9)


@given(PARTS, PARTS, st.floats(0.1, 10))
def test_mixing_in_two_steps_is_mixing_at_once(
    one: list[tuple[float, float]], two: list[tuple[float, float]], factor: float
) -> None:
    steps = [(sum(m for m, _ in some), of_mixture(some)) for some in (one, two)]
    assert of_mixture(steps) == pytest.approx(of_mixture(one + two))
    # How much of it there is does not matter, nor does the order.
    assert of_mixture([(m * factor, w) for m, w in one]) == pytest.approx(of_mixture(one))
    assert of_mixture(one[::-1]) == pytest.approx(of_mixture(one))


@given(PARTS, MASS)
def test_filler_takes_no_hardener(parts: list[tuple[float, float]], filler: float) -> None:
    mass = sum(m for m, _ in parts)
    filled = of_mixture([*parts, (filler, None)])
    # The hardener for the whole cup is the same with the filler in it as without.
    assert phr(filled, 40) * (mass + filler) == pytest.approx(phr(of_mixture(parts), 40) * mass)


@pytest.mark.parametrize("bad", [0, -1, math.nan, math.inf])
def test_outside_its_ranges_it_gives_no_number(bad: float) -> None:
    for call in (
        lambda: equivalent_weight(bad, 2),
        lambda: equivalent_weight(100, bad),
        lambda: phr(bad, 24),
        lambda: phr(190, bad),
        lambda: phr(190, 24, bad),
        lambda: of_stoichiometric(12, bad, 24),
        lambda: of_mixture([(1, bad)]),
        lambda: weight_to_volume(36, bad, 1),
        lambda: weight_to_volume(36, 1, bad),
        lambda: gel_conversion(2, 4, bad),
        lambda: gel_conversion(bad, 4),
        lambda: gel_conversion(2, bad),
    ):
        with pytest.raises(ValueError, match="not above"):
            call()


@pytest.mark.parametrize("bad", [-1, math.nan, math.inf])
def test_a_mass_below_nothing_is_none(bad: float) -> None:
    for call in (
        lambda: of_stoichiometric(bad, 190, 24),
        lambda: of_mixture([(bad, 190)]),
        lambda: weight_to_volume(bad, 1, 1),
    ):
        with pytest.raises(ValueError, match="below 0, or no number"):
            call()


@pytest.mark.parametrize("parts", [[], [(0, 190.0)], [(5, None)]])
def test_what_cannot_react_has_no_equivalent_weight(
    parts: list[tuple[float, float | None]],
) -> None:
    with pytest.raises(ValueError, match="nothing in the mixture can react"):
        of_mixture(parts)
