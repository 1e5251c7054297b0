"""How long epoxy of this resin lives: this mass, in this cup or shape, in this room.

Must never give a figure without its range, nor one where the model was not checked, nor
stand before the maker's data sheet.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from mixer.app.life import life_words as words
from mixer.app.life.life_asked import TRAY_M, Asked, Case, label_of, read, temperature_c
from mixer.app.life.life_words import FIRST, HOT, MIDDLE, RULE, lines
from mixer.app.sentence import NotDone
from mixer.science.label import Contradiction
from mixer.science.largest import Largest, calm_g, lasting_g, thickest_mm
from mixer.science.pot_life import (
    APART_C,
    DEPTH_MM,
    MASS_G,
    TEMP_C,
    WIDE_G,
    Life,
    estimate,
    unchecked,
)
from mixer.science.shapes import Shape

__all__ = [
    "FIRST",
    "HOT",
    "MIDDLE",
    "RULE",
    "Asked",
    "answer",
    "label_of",
    "lines",
    "of_case",
    "read",
    "temperature_c",
]


def answer(asked: Asked) -> dict[str, Any]:
    """How long it lives, ready for JSON; a figure that may not be given, or that does not
    come within a week, is None. Raises ValueError with one sentence.

    ``largest`` has pairs: to be sure of it, and by the best estimate; None where even the
    smallest that the model was checked for is too much. ``tray`` is what one would buy.
    ``runaway`` and ``peak_c`` are by the best estimate, ``may_run_away`` and ``hottest_c`` by
    what is doubted.

    >>> found = answer(Asked("sample-36", "100g", "25 degC"))
    >>> found["gel_min"], found["range_min"][0] < found["working_min"] < found["range_min"][1]
    (25.0, True)
    >>> found["tray"]["peak_c"] < found["peak_c"]
    True
    """
    return of_case(read(asked))


def of_case(case: Case) -> dict[str, Any]:
    """The same of a case that was read."""
    shape, label = case.shape, case.label
    found: dict[str, Any] = {
        "resin": case.resin.name,
        "mass_g": case.mass_g,
        "cup": case.cup.name if case.cup else None,
        "shape": shape.kind,
        "depth_mm": None if shape.depth_m is None else round(shape.depth_m * 1000, 3),
        "share": shape.share,
        "air_c": case.air_c,
        "start_c": case.start_c,
    }
    notes = words.first(case)
    try:
        why = unchecked(label, case.mass_g, case.air_c, case.start_c, shape)
        if why is not None:
            more = _more(case) if _is_but_much(case) else {}
            figures, foam = {**_figures(None, case), **more}, _foam_of_less(case)
            beside = words.unchecked(why, case, figures, foam)
            return {**found, **figures, "notes": [*notes, *beside]}
        life = estimate(label, case.mass_g, case.air_c, case.start_c, shape)
        more = _more(case)
    except Contradiction as error:
        raise NotDone(f"{case.resin.path}: pot_life: {error}") from None
    figures = {**_figures(life, case), **more}
    return {**found, **figures, "notes": [*notes, *words.of_life(case, life, figures)]}


def _figures(life: Life | None, case: Case) -> dict[str, Any]:
    if life is None:
        contract = ("working_min", "gel_min", "peak_c", "peak_min", "runaway", "range_min")
        names = (*contract, "hottest_c", "may_run_away")
        return {**dict.fromkeys(names), "foam": None, "largest": None, "tray": None}
    return {
        "working_min": _minutes(life.working_s),
        "gel_min": _minutes(life.gel_s),
        "peak_c": round(life.peak_c),
        "peak_min": _minutes(life.peak_s),
        "runaway": life.runaway,
        "range_min": [_minutes(s) for s in life.range_s] if life.range_s else None,
        "hottest_c": round(life.hottest_c),
        "may_run_away": life.may_run_away,
        "foam": _foam(life, case),
    }


def _foam(life: Life, case: Case) -> dict[str, Any] | None:
    """How hot the foam gets by the best estimate, and by what is doubted; ``softens`` is
    None where that hangs on the doubts."""
    if case.softens_c is None:
        return None
    foam_c = case.shape.foam_c(life.peak_c, case.air_c)
    most_c = case.shape.foam_most_c(life.hottest_c, case.air_c)
    softens = True if foam_c >= case.softens_c else None if most_c >= case.softens_c else False
    return {
        "peak_c": round(foam_c),
        "hottest_c": round(most_c),
        "softens_c": case.softens_c,
        "softens": softens,
    }


def _foam_of_less(case: Case) -> tuple[Case, dict[str, Any]] | None:
    """What the foam gets under the nearest stack that the model was checked for, which heats it
    no more than this one; None where there is none, or no stack."""
    shape = case.shape
    if case.softens_c is None or shape.depth_m is None:
        return None
    air_c = min(case.air_c, TEMP_C[1])
    less = replace(
        case,
        mass_g=min(case.mass_g, WIDE_G[1]),
        air_c=air_c,
        start_c=min(case.start_c, TEMP_C[1], air_c + APART_C),
        shape=replace(shape, depth_m=min(shape.depth_m, DEPTH_MM["stack"][1] / 1000)),
    )
    if unchecked(less.label, less.mass_g, less.air_c, less.start_c, less.shape) is not None:
        return None
    life = estimate(less.label, less.mass_g, less.air_c, less.start_c, less.shape)
    foam = _foam(life, less)
    return None if foam is None else (less, foam)


def _is_but_much(case: Case) -> bool:
    """Whether it is the mass of a cup, or the thickness of a stack, alone that is more than the
    model was checked for: then how much would do, and what a tray would buy, can be told."""
    shape, mass_g = case.shape, case.mass_g
    if shape.kind == "stack":
        shape = replace(shape, depth_m=DEPTH_MM["stack"][1] / 1000)
    elif shape.kind == "cup" and mass_g >= MASS_G[1]:
        mass_g = MASS_G[1]
    else:
        return False
    return unchecked(case.label, mass_g, case.air_c, case.start_c, shape) is None


def _more(case: Case) -> dict[str, Any]:
    label, air_c, start_c, shape = case.label, case.air_c, case.start_c, case.shape
    largest: dict[str, Any] = {"lasting_min": case.lasting_min}
    tray = None
    if shape.kind == "cup":
        largest["calm_g"] = _pair(calm_g(label, air_c, start_c, shape, case.most_g))
        tray = _tray(case)
        if case.lasting_min is not None:
            found = lasting_g(label, case.lasting_min, air_c, start_c, shape, case.most_g)
            largest["lasting_g"] = _pair(found)
    if case.softens_c is not None:
        found = thickest_mm(label, case.mass_g, air_c, start_c, shape, case.softens_c)
        largest["thickest_mm"] = _pair(found)
    return {"largest": largest, "tray": tray}


def _tray(case: Case) -> dict[str, Any] | None:
    tray = Shape("tray", depth_m=TRAY_M)
    if unchecked(case.label, case.mass_g, case.air_c, case.start_c, tray) is not None:
        return None
    life = estimate(case.label, case.mass_g, case.air_c, case.start_c, tray)
    figures = _figures(life, case)
    del figures["foam"]
    return {"depth_mm": TRAY_M * 1000, **figures}


def _pair(found: Largest) -> dict[str, Any]:
    return {"sure": _short(found.least), "about": _short(found.most), "open": found.open}


def _short(value: float | None) -> float | None:
    """Two figures, rounded down: no more of it is known, and what is offered is in it."""
    if value is None:
        return None
    step = 10 ** (len(str(int(value))) - 2) if value >= 10 else 0.1
    return round(int(value / step + 1e-9) * step, 1)


def _minutes(seconds: float | None) -> float | None:
    return None if seconds is None else round(seconds / 60, 1)
