"""The caps of a label that the model was not checked for: never more than the nearest that was."""

from __future__ import annotations

from itertools import pairwise

import pytest

from mixer.app.sizing.caps import BEARABLE_C, Lives, in_time
from mixer.app.sizing.unchecked_label import LABEL, by_label, caps, nearest
from mixer.science.pot_life import Label, Point, every_unchecked

ROOMS_C = (15, 25, 36, 40, 44, 48, 52, 60)


def least_g(label: Label, air_c: float, rate: float = 10, prepare: float = 3) -> float:
    found = caps(label, air_c, None, 500, rate, prepare)
    return min((cap.most_ug / 1e6 for cap in found), default=0.0)


def checked_g(label: Label, air_c: float) -> float:
    assert not every_unchecked(label, 100, 25, 25)
    cap = in_time(Lives.near(label, air_c, None), 500, 10, 3)
    return 0.0 if cap is None else cap.most_ug / 1e6


def test_a_label_that_was_not_checked_allows_what_it_says_itself() -> None:
    def most_g(minutes: float, air_c: float, ends: str = "usable", mass_g: float = 80) -> float:
        cap = by_label(Label((Point(mass_g, 25, minutes),), ends, 1.1), air_c, 10, 3)
        assert cap is None or cap.by == LABEL
        return 0.0 if cap is None else cap.most_ug / 1e6

    assert most_g(300, 25) == most_g(300, 5) == 80  # its own mass
    assert most_g(18, 25) == pytest.approx(10 * (2 / 3 * 18 - 6))
    assert most_g(36, 35) == pytest.approx(10 * (2 / 3 * 18 - 6))  # 10 degC warmer: half
    assert most_g(18, 25, "gel") == pytest.approx(10 * (2 / 3 * 16.2 - 6))
    assert most_g(6, 25) == most_g(300, 60 + 25) == 0  # gelled before it could be used
    two = Label((Point(80, 15, 90), Point(70, 25, 300)), "usable", 1.1)
    assert by_label(two, 35, 10, 3) is not None
    assert (by_label(two, 25, 1, 3) or by_label(two, 25, 10, 3)).most_ug < 70e6  # the sooner one


@pytest.mark.parametrize(("mass_g", "ends"), [(100, "gel"), (500, "viscosity")])
def test_a_minute_more_on_a_label_allows_no_larger_batch(mass_g: float, ends: str) -> None:
    for air_c in ROOMS_C:
        near = checked_g(Label((Point(mass_g, 25, 240),), ends, 1.1), air_c)
        for minutes in (241, 400):
            far = least_g(Label((Point(mass_g, 25, minutes),), ends, 1.1), air_c)
            assert far <= near
        if air_c > BEARABLE_C:
            assert near == 0


def test_a_label_that_is_faster_or_colder_or_larger_than_was_checked_allows_no_more() -> None:
    for air_c in ROOMS_C[:4]:
        assert least_g(Label((Point(600, 25, 30),), "gel", 1.1), air_c) <= checked_g(
            Label((Point(500, 25, 30),), "gel", 1.1), air_c
        )
        cap = in_time(
            Lives.near(Label((Point(100, 25, 8),), "gel", 1.1), air_c, None), 500, 100, 0.5
        )
        near = cap.most_ug / 1e6 if cap else 0
        for minutes in (3, 7.9):
            assert least_g(Label((Point(100, 25, minutes),), "gel", 1.1), air_c, 100, 0.5) <= near
        # 60 min at 5 degC are no more than 60 at 10.
        assert least_g(Label((Point(100, 5, 60),), "gel", 1.1), air_c) <= checked_g(
            Label((Point(100, 10, 60),), "gel", 1.1), air_c
        )


def steep(times: float, minutes: float = 60, mass_g: float = 100) -> Label:
    return Label((Point(mass_g, 25, minutes), Point(mass_g, 15, minutes * times)), "gel", 1.1)


def test_a_steeper_label_allows_less_in_a_warm_room() -> None:
    for air_c in (30, 36, 40, 45):
        row = [least_g(steep(times), air_c) for times in (4.3, 5, 6, 8)]
        assert all(b <= a for a, b in pairwise(row))
        one = checked_g(Label((Point(100, 25, 60),), "gel", 1.1), air_c)
        assert row[0] < one or one == 0
    cap = by_label(steep(4), 35, 10, 1)  # 60 min are 15 there, of which 13.5 before it gels
    assert cap is not None
    assert cap.most_ug / 1e6 == pytest.approx(10 * (2 / 3 * 13.5 - 2))
    # Beyond what was checked one that was goes by its own two points too.
    assert Lives.near(steep(3.3), 45, None).steeper > 2.5


def test_a_flat_label_allows_no_more_in_a_cool_room() -> None:
    flat = steep(1.02)
    assert every_unchecked(flat, 100, 20, 20)
    cool, own = (in_time(nearest(flat, air_c, None), 500, 3, 3) for air_c in (12, 15))
    usual = in_time(Lives.near(Label(flat.points[1:], "gel", 1.1), 12, None), 500, 3, 3)
    assert cool is not None
    assert own is not None
    assert usual is not None
    assert own.most_ug < usual.most_ug  # which would live longer there
    assert cool.most_ug <= 1.05 * own.most_ug


def test_one_that_contradicts_itself_has_a_cap_all_the_same() -> None:
    label = Label((Point(50, 20, 60), Point(50, 10, 108)), "gel", 1.1)
    [why] = every_unchecked(label, 50, 20, 20)
    assert "contradict each other" in why
    found = caps(label, 20, None, 500, 10, 3)
    assert {cap.by for cap in found} >= {LABEL}
    assert 5 <= least_g(label, 20) <= 50


@pytest.mark.parametrize(("minutes", "rate"), [(7.5, 60.0), (300.0, 1.0)])
def test_what_was_seen_to_go_sooner_allows_less_by_both(minutes: float, rate: float) -> None:
    """By the label itself, and by the nearest that was checked."""
    label = Label((Point(400, 25, minutes),), "gel", 1.1)
    usual, sooner = (caps(label, 18, None, 500, rate, 0.5, faster) for faster in (1.0, 1.5))
    assert len(usual) == len(sooner) == 2
    assert all(ours.most_ug < most.most_ug for ours, most in zip(sooner, usual, strict=True))
