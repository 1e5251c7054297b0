"""Half the step of the solver shows the same: of all that is told of a cup, to the last digit."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import scipy.integrate

from mixer.app.files.profiles import load_resin
from mixer.app.life import foretelling
from mixer.app.life.life import of_case
from mixer.app.life.life_asked import Case
from mixer.science.fitting import fit, fitted
from mixer.science.label import Label, Point, follow
from mixer.science.shapes import Shape

FAST = Label((Point(100, 25, 25),), "gel", 1.1)
SLOW = Label((Point(100, 25, 90), Point(100, 15, 190)), "usable", 1.1)
HOT = Label((Point(150, 22, 40),), "viscosity", 1.1, 170)

#: Of each a shape, grams, the room, the epoxy. A film heats itself by hundredths of a degree.
CASES = [
    (FAST, Shape("film", None, 0.0001), 103.7, 21.5, 21.5),
    (FAST, Shape("tray", None, 0.003), 80.0, 12.0, 20.0),
    (SLOW, Shape("film", None, 0.0001), 500.0, 10.0, 10.0),
    (SLOW, Shape("tray", None, 0.015), 700.0, 18.0, 13.0),
    (HOT, Shape("film", None, 0.001), 60.0, 15.0, 15.0),
    (HOT, Shape(cup_ml=400), 160.0, 23.0, 28.0),
]
LIVE = [
    (FAST, 61.0, ((0.0, 20.0), (600.0, 23.0), (1500.0, 21.0)), 22.0),
    (HOT, 5.0, ((0.0, 30.0),), 30.0),
    (SLOW, 333.3, ((0.0, 24.0), (900.0, 27.0)), 19.0),
]


class Finer(scipy.integrate.LSODA):  # type: ignore[misc]
    """Each step a thousandth as far off, which takes half as many again."""

    def __init__(self, *args: Any, rtol: float, atol: Any, **rest: Any) -> None:
        finer = {"rtol": rtol / 1000, "atol": np.asarray(atol) / 1000}
        super().__init__(*args, **finer, **rest)


def shown() -> list[dict[str, Any]]:
    fitted.cache_clear()
    foretelling.answer.cache_clear()
    resin = load_resin("sample-36")
    case = Case(resin, FAST, 1, 20, True, 20, None, Shape(), 500.0, None, None)
    asked = [
        replace(
            case,
            label=label,
            shape=shape,
            mass_g=mass_g,
            air_c=air_c,
            start_c=start_c,
        )
        for label, shape, mass_g, air_c, start_c in CASES
    ]
    told = [of_case(one) for one in asked]
    assert [one["notes"] for one in told if one["working_min"] is None] == []
    return told + [
        foretelling.answer(
            foretelling.Question(label, round(mass_g * 1e6), air, start_c, None, assumed=False)
        )
        for label, mass_g, air, start_c in LIVE
    ]


def test_half_the_step_shows_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    once = shown()
    monkeypatch.setattr(scipy.integrate, "LSODA", Finer)
    assert shown() == once


def test_these_are_more_and_shorter_steps(monkeypatch: pytest.MonkeyPatch) -> None:
    steps = len(follow(fit(FAST), FAST, 100, 20, 20).t_s)
    monkeypatch.setattr(scipy.integrate, "LSODA", Finer)
    assert len(follow(fit(FAST), FAST, 100, 20, 20).t_s) >= 1.5 * steps
