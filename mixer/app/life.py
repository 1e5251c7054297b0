"""How long a cup of this resin lives: this mass, in this cup, in this room.

Must never give a figure without its range, nor one where the model was not checked, nor
stand before the maker's data sheet.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from mixer import units
from mixer.app.profiles import CupProfile, ResinProfile, load_cup, load_resin
from mixer.app.sentence import NotDone
from mixer.science.pot_life import (
    FILLED,
    HEAT_J_G,
    HEAT_J_MOL,
    Contradiction,
    Label,
    Life,
    Point,
    estimate,
    unchecked,
)
from mixer.science.stoichiometry import reacting_mol_per_g

COLDEST_C, WARMEST_C = -10.0, 60.0

FIRST = "An estimate. The maker's data sheet comes first."
MIDDLE = (
    "The times are of the whole cup: its hot middle may be sooner, at worst after half of them, "
    "and some 25 degC hotter."
)
HOT = (
    "A cup that is warming: spread it out, use it, or set it outdoors on something that does "
    "not burn, early. A cup too hot to hold or smoking: do not lift, pour or breathe it; "
    "ventilate and keep clear."
)
RULE = "Common practice: warmer by 10 degC, or a much larger mass, about halves it."

_ENDS = {"gel": "it gels", "viscosity": "it is twice as thick", "usable": "it is hard to use"}
_WORKING = {
    "gel": "until it is five times as thick (common practice, no source)",
    "viscosity": "until it is twice as thick",
    "usable": "until it is hard to use, as on the label",
}


@dataclass(frozen=True, slots=True)
class Asked:
    """As typed; ``None`` is "not said"."""

    resin: str
    mass: str
    air: str | None = None
    start: str | None = None
    cup: str | None = None


def answer(asked: Asked) -> dict[str, Any]:
    """How long it lives, ready for JSON; a figure that may not be given, or that does not
    come within a week, is None. Raises ValueError with one sentence.

    >>> found = answer(Asked("sample-36", "100g", "25 degC"))
    >>> found["gel_min"], found["range_min"][0] < found["working_min"] < found["range_min"][1]
    (25.0, True)
    """
    resin = load_resin(asked.resin)
    cup = load_cup(asked.cup) if asked.cup is not None else None
    label = label_of(resin)
    mass_g = _mass_g(asked.mass, resin, cup)
    said_c = _temperature_c(asked.air, "air")
    air_c = label.points[0].temp_c if said_c is None else said_c
    start_c = _temperature_c(asked.start, "start")
    start_c = air_c if start_c is None else start_c
    found: dict[str, Any] = {
        "resin": resin.name,
        "mass_g": mass_g,
        "cup": cup.name if cup else None,
        "air_c": air_c,
        "start_c": start_c,
    }
    notes = [FIRST, _on_label(label)]
    if said_c is None:
        notes.append(f"No temperature was given: the label's {air_c:g} degC.")
    why = unchecked(label, mass_g, air_c, start_c)
    if why is not None:
        return {**found, **_figures(None), "notes": [*notes, f"No figure: {why}.", RULE, HOT]}
    try:
        life = estimate(label, mass_g, air_c, start_c, cup.volume_ml if cup else None)
    except Contradiction as error:
        raise NotDone(f"{resin.path}: pot_life: {error}") from None
    notes.append(f"Working time: {_WORKING[label.ends]}.")
    if cup is None:
        notes.append(f"No cup was named: one that this fills to {FILLED:.0%}.")
    if life.gel_s is None:
        notes.append("It does not gel within a week.")
    if life.runaway:
        notes.append("It runs away: its heat feeds on itself.")
    return {**found, **_figures(life), "notes": [*notes, MIDDLE, HOT]}


def lines(found: dict[str, Any]) -> list[str]:
    """The same for a person."""
    cup = f" in a cup {found['cup']}" if found["cup"] else ""
    said = [
        f"{found['mass_g']:g} g of {found['resin']}{cup}, air {found['air_c']:g} degC, epoxy "
        f"{found['start_c']:g} degC as it is mixed"
    ]
    if found["working_min"] is not None:
        low, high = found["range_min"]
        said.append(f"  working time  about {_spoken(found['working_min'])}")
        said[-1] += f" ({_spoken(low)} to {_spoken(high)})"
    if found["gel_min"] is not None:
        said.append(f"  gel           about {_spoken(found['gel_min'])}")
    if found["peak_c"] is not None:
        said.append(
            f"  hottest       about {found['peak_c']:.0f} degC after {_spoken(found['peak_min'])}"
        )
    return [*said, *found["notes"]]


def _spoken(minutes: float) -> str:
    if minutes < 120:
        return f"{minutes:.0f} min"
    hours, rest = divmod(round(minutes), 60)
    return f"{hours} h {rest} min"


def _figures(life: Life | None) -> dict[str, Any]:
    if life is None:
        names = ("working_min", "gel_min", "peak_c", "peak_min", "runaway", "range_min")
        return dict.fromkeys(names)
    return {
        "working_min": _minutes(life.working_s),
        "gel_min": _minutes(life.gel_s),
        "peak_c": round(life.peak_c),
        "peak_min": _minutes(life.peak_s),
        "runaway": life.runaway,
        "range_min": [_minutes(s) for s in life.range_s] if life.range_s else None,
    }


def _minutes(seconds: float | None) -> float | None:
    return None if seconds is None else round(seconds / 60, 1)


def label_of(resin: ResinProfile) -> Label:
    """What its profile tells of its pot life. Raises :class:`NotDone` where it tells nothing."""
    if resin.pot_life is None:
        raise NotDone(
            f"{resin.name} has no pot life in its profile; give it [pot_life] with mass, "
            "temperature, time and ends as its label has them"
        )
    points = tuple(Point(p.mass_ug / 1e6, p.temp_c, p.time_s / 60) for p in resin.pot_life.points)
    heat = _heat_j_g(resin)
    return Label(points, resin.pot_life.ends, resin.density_g_per_ml, resin.pot_life.peak_c, heat)


def _heat_j_g(resin: ResinProfile) -> float:
    """From the epoxide in a gram of the mix, where every equivalent weight is known."""
    pairs = list(zip(resin.components, resin.equivalents, strict=True))
    if any(e is None for c, e in pairs if c.role != "additive"):
        return HEAT_J_G
    epoxide = [(c.parts, e) for c, e in pairs if c.role != "hardener"]
    amine = [(c.parts, e) for c, e in pairs if c.role == "hardener"]
    return HEAT_J_MOL * reacting_mol_per_g(epoxide, amine)


def _on_label(label: Label) -> str:
    points = " and ".join(
        f"{p.minutes:g} min for {p.mass_g:g} g at {p.temp_c:g} degC" for p in label.points
    )
    return f"The label: {points}, until {_ENDS[label.ends]}."


def _mass_g(text: str, resin: ResinProfile, cup: CupProfile | None) -> float:
    mass_ug = units.mass_ug(text, "mass")
    if mass_ug == 0:
        raise NotDone(f"mass: {units.shown(text)} is nothing; give a mass such as '100 g'")
    most_ug = cup.most_ug(resin.density_g_per_ml) if cup else None
    if most_ug is not None and mass_ug > most_ug:
        raise NotDone(
            f"mass: {units.shown(text)} is more than the cup may hold; give up to "
            f"{most_ug // 100_000 / 10:.1f} g"
        )
    return mass_ug / 1e6


def _temperature_c(text: str | None, what: str) -> float | None:
    if text is None:
        return None
    temp_c = units.temperature_c(text, what)
    if not COLDEST_C <= temp_c <= WARMEST_C:
        raise NotDone(
            f"{what}: {units.shown(text)} is not within {COLDEST_C:g} to {WARMEST_C:g} degC; give "
            "a temperature such as '22 degC'"
        )
    return round(temp_c, 3)
