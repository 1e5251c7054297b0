"""How large a batch may be: against a search that solves the model as often as it likes."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Any

import pytest

from mixer.app.files.profiles import load_resin
from mixer.app.life.life import Asked, answer, label_of
from mixer.app.life.thickenings import sooner
from mixer.app.sizing import batch_plan, size
from mixer.app.sizing.caps import (
    BEARABLE_C,
    MOST_SOLUTIONS,
    SHARE,
    SPAN,
    Lives,
    in_time,
)
from mixer.science import fitting, label
from mixer.science.pot_life import MASS_G, Label, Point


def lives_of(resin: str, air_c: float, cup_ml: float | None = None) -> Lives:
    return Lives(label_of(load_resin(resin)), air_c, cup_ml)


def fits(lives: Lives, mass_g: float, rate_g_min: float, prepare_min: float) -> bool:
    """What the cap promises, said once more."""
    course = lives.course(mass_g)
    used_s = 60 * (2 * prepare_min + mass_g / rate_g_min)
    before = [c for t, c in zip(course.t_s, course.temp_c, strict=True) if t <= used_s]
    before.append(course.temp_at_c(used_s))
    return used_s <= SHARE * (course.reached_s[0] or math.inf) and max(before) <= BEARABLE_C


@pytest.mark.parametrize(
    ("resin", "air_c", "rate", "by"),
    [
        ("sample-36", 25, 10, "working time"),
        ("sample-36", 18, 3, "working time"),
        ("sample-36", 32, 30, "working time"),
        ("sample-28", 38, 10, "heat"),
        ("sample-28", 18, 10, "working time"),
        ("sample-blend", 38, 30, "heat"),
    ],
)
def test_it_is_the_largest_that_can_be_used_up(
    resin: str, air_c: float, rate: float, by: str
) -> None:
    lives = lives_of(resin, air_c)
    cap = in_time(lives, 500, rate, 3)
    assert cap is not None
    assert cap.by == by
    assert len(lives.courses) <= lives.most
    mass_g = cap.most_ug / 1e6
    assert fits(lives, mass_g, rate, 3)
    assert not fits(lives, mass_g * 1.02, rate, 3)


def test_a_usual_cup_at_the_labels_temperature() -> None:
    # Common practice, no source: around 100 g of mixed epoxy is a usual cup.
    cap = in_time(lives_of("sample-36", 25), 500, 10, 3)
    assert cap is not None
    assert 80e6 < cap.most_ug < 150e6


def test_what_was_not_checked_is_never_allowed() -> None:
    lives = lives_of("sample-28", 18)
    cap = in_time(lives, 5000, 1000, 3)
    assert cap is not None
    assert (cap.most_ug, cap.by) == (MASS_G[1] * 1e6, SPAN)
    assert len(lives.courses) == 1
    assert lives.working_min(501) is None
    assert lives.working_min(4.9) is None


@pytest.mark.parametrize("resin", ["sample-28", "sample-blend"])
def test_no_batch_is_larger_in_a_warmer_room_though_it_was_not_checked(resin: str) -> None:
    # "Halves for each 10 degC" (common practice): so from the warmest that was checked on.
    most_ug = []
    for air_c in (30, 39.9, 40, 40.1, 42, 45, 50, 60):
        lives = Lives.near(label_of(load_resin(resin)), air_c, None)
        cap = in_time(lives, 500, 10, 2)
        most_ug.append(0 if cap is None else cap.most_ug)
        assert lives.is_checked == (air_c <= 40)
        assert lives.is_checked or lives.working_min(MASS_G[0]) is None
    assert all(b <= 1.01 * a for a, b in pairwise(most_ug))  # a cap is found to a hundredth
    assert most_ug[3] > 0.9 * most_ug[2] > 0  # and does not fall away at once
    assert most_ug[-1] == 0  # nobody can hold what is no warmer than this room


def test_too_fast_an_epoxy_has_no_cap() -> None:
    assert in_time(lives_of("sample-36", 38), 500, 10, 3) is None
    assert in_time(lives_of("sample-36", 25), 500, 10, 20) is None


def test_less_than_was_checked_goes_by_the_least_that_was() -> None:
    lives = lives_of("sample-36", 25)
    assert in_time(lives, 3, 10, 3) is not None
    assert set(lives.courses) == {MASS_G[0]}
    assert in_time(lives_of("sample-36", 38), 3, 10, 3) is None


@pytest.mark.parametrize("air_c", [15, 25, 35])
def test_between_two_masses_it_is_what_the_command_tells(air_c: float) -> None:
    lives = lives_of("sample-28", air_c, 300)
    lives.look_at(range(20, 151))
    assert len(lives.courses) == lives.most
    assert {20, 150} < set(lives.courses)
    assert 60 not in lives.courses
    told = answer(Asked("sample-28", "60 g", f"{air_c} degC", cup="paper-300"))["working_min"]
    assert lives.working_min(60) == pytest.approx(told, rel=0.005)


def test_at_the_ends_of_what_was_solved() -> None:
    lives = lives_of("sample-28", 25)
    assert lives.working_min(60) is None  # nothing was solved
    lives.look_at([MASS_G[0], 60, MASS_G[1]])
    assert sorted(lives.courses) == [MASS_G[0], 60, MASS_G[1]]
    for mass_g in lives.courses:
        told = (lives.courses[mass_g].reached_s[0] or 0) / 60
        assert lives.working_min(mass_g) == pytest.approx(told)
    few = lives_of("sample-28", 25)
    few.look_at([60])
    assert few.working_min(30) == few.working_min(60)  # a smaller one lives no shorter
    assert few.working_min(61) is None


def counted(monkeypatch: pytest.MonkeyPatch) -> list[Any]:
    """What is solved from now on. A label that is fitted anew, in another room, is solved no
    second time, but counted again."""
    solved: list[Any] = []
    lumped, try_ = label.lumped, fitting._tried
    known: dict[Any, tuple[Any, list[Any]]] = {}

    def tried(*asked: Any) -> Any:
        if asked in known:
            solved.extend(known[asked][1])
        else:
            before = len(solved)
            known[asked] = try_(*asked), solved[before:]
        return known[asked][0]

    for module in (label, fitting):
        monkeypatch.setattr(module, "lumped", lambda *a, **k: solved.append(1) or lumped(*a, **k))
    monkeypatch.setattr(fitting, "_tried", tried)
    return solved


@pytest.mark.parametrize("resin", ["sample-36", "sample-28", "sample-blend"])
@pytest.mark.parametrize("air", ["15 degC", "25 degC", "35 degC"])
def test_a_layup_costs_a_dozen_solutions_at_most(
    resin: str, air: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    # The fit of its label among them, which is kept.
    solved = counted(monkeypatch)
    fitting.fitted.cache_clear()
    for cloth in ({"layup": "demo-panel"}, {"area": "3 m2", "fabric": "300 g/m2", "plies": "5"}):
        size.answer(size.Asked(resin=resin, air=air, **cloth))
        assert 2 <= len(solved) <= MOST_SOLUTIONS
        solved.clear()


#: Of each its points, its heat in J/g and its peak in degC: times that are very short, of hardly
#: any mass, a great heat, peaks from none to far beyond any epoxy, points that contradict.
HARSH = [
    (points, heat_j_g, peak_c)
    for points in (
        [(100, 25, 8)],
        [(5, 10, 240)],
        [(500, 40, 4)],
        [(100, 20, 12), (100, 10, 20)],
        [(200, 30, 60), (20, 20, 180)],
        [(20, 30, 300), (20, 20, 690)],
        [(5, 25, 10), (100, 30, 12)],
    )
    for heat_j_g, peak_c in ((150, 60), (380, None), (450, 120), (540, 230))
]


@pytest.mark.parametrize(("points", "heat_j_g", "peak_c"), HARSH)
def test_no_label_costs_more_than_a_dozen(
    points: list[tuple[float, float, float]],
    heat_j_g: float,
    peak_c: float | None,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    harsh = Label(tuple(Point(*one) for one in points), "gel", 1.1, peak_c, heat_j_g)
    monkeypatch.setattr(batch_plan, "label_of", lambda resin: harsh)
    solved = counted(monkeypatch)
    for air in ("12 degC", "28 degC", "45 degC"):
        for area in ("0.1 m2", "3 m2"):
            fitting.fitted.cache_clear()
            cloth = {"area": area, "fabric": "300 g/m2", "plies": "5"}
            size.answer(size.Asked(resin="sample-36", air=air, **cloth))
            assert len(solved) <= MOST_SOLUTIONS
            solved.clear()


def test_a_fast_label_with_little_time_is_sized_as_well() -> None:
    # From 500 g on down the first guess is far below what can be used up.
    for minutes, air_c, rate in ((35, 13, 3), (20, 20, 10), (15, 17, 10)):
        lives = Lives(Label((Point(100, 25, minutes),), "usable", 1.1), air_c, None)
        cap = in_time(lives, 500, rate, 2)
        assert cap is not None
        assert len(lives.courses) + fitting.fit(lives.label).cups <= MOST_SOLUTIONS
        assert fits(lives, cap.most_ug / 1e6, rate, 2)
        assert not fits(lives, cap.most_ug / 1e6 * 1.02, rate, 2)


@pytest.mark.parametrize("resin", ["sample-36", "sample-28"])
@pytest.mark.parametrize("air_c", [18.0, 25.0, 45.0])
def test_of_cups_that_thickened_sooner_less_is_mixed(resin: str, air_c: float) -> None:
    label, masses = label_of(load_resin(resin)), []
    for seen in ([], [0.8], [0.8] * 12, [0.5] * 12):
        lives = Lives.near(label, air_c, None, 1 / sooner(seen))
        cap = in_time(lives, 500, 10, 3)
        masses.append(0 if cap is None else cap.most_ug)
        if cap is not None and lives.is_checked:
            usual = Lives.near(label, air_c, None)
            usual.course(cap.most_ug / 1e6)
            told = usual.working_min(cap.most_ug / 1e6)
            assert told is not None
            mine = Lives.near(label, air_c, None, 1 / sooner(seen))
            mine.course(cap.most_ug / 1e6)
            assert mine.working_min(cap.most_ug / 1e6) == pytest.approx(told * sooner(seen))
            used_min = 6 + cap.most_ug / 1e7
            assert used_min <= SHARE * told * sooner(seen) * 1.001
    assert masses == sorted(masses, reverse=True)
    assert masses[0] > masses[2] or masses[0] == 0
