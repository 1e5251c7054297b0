"""How much epoxy a layup needs, in two figures that are never mixed.

*Apply* is what has to be mixed: for the cloth its own weight by the method of working, for
a core its slurry, for peel ply what it takes up, for joints and fillets the epoxy in them,
and for all of it what stays in cup and brush. *Stay* is what should be in the cloth
afterwards, by its resin fraction. Each has a range. Masses are in grams; this file must
never give one figure for the other.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import groupby

from mixer.plan.cloth import NOTHING, Method, Mix, Range
from mixer.plan.layup import Bead, Coat, Layup, Plies, Ply, spoken
from mixer.plan.thicken import epoxy_for
from mixer.science.laminate import fibre_volume_fraction, ply_thickness_mm, resin_for

CUP_AND_BRUSH = "stays in cup and brush"
#: A kit may be this much lighter than the lightest that its roll may be: plies are cut a
#: millimetre or two short, and fray (our choice: 2 mm all round half a metre square are
#: 1.6 %). What is lighter is not all of it.
CUT_SHORT = 0.02
#: So much heavier than the heaviest that its roll may be, it has something else in it (our
#: choice).
KIT_HEAVY = 0.10
#: So many times the heaviest that its roll may be, it is other cloth, or not cloth alone (our
#: choice: a ply of 20 cm square that is cut 25 mm too large all round has half as much again).
KIT_OTHER = 2.0


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the need. ``apply_g`` is without what stays in cup and brush, which has a
    line of its own; ``area_m2`` is None where it has none."""

    what: str
    area_m2: float | None
    cloth_g: float
    apply_g: Range


@dataclass(frozen=True, slots=True)
class Portion:
    """What is wetted at once, as a rule from one batch. ``mix_g`` is all that has to be mixed for
    it; ``plies`` are their numbers, none where it is no cloth; ``thickened`` is what it is made
    into, if it is."""

    step: str
    plies: tuple[int, ...]
    mix_g: float
    thickened: Mix | None = None


@dataclass(frozen=True, slots=True)
class Need:
    """``cloth_g`` is the dry cloth; ``thickness_mm`` that of all its plies one upon another."""

    lines: tuple[Line, ...]
    apply_g: Range
    stay_g: Range
    cloth_g: Range
    portions: tuple[Portion, ...]
    thickness_mm: float


def need(
    layup: Layup,
    method: Method,
    epoxy_g_ml: float,
    *,
    resin_fraction: float | None = None,
    kit_g: float | None = None,
) -> Need:
    """The need of this layup, or of the plies that were chosen of it.

    Parameters
    ----------
    method : how it is wetted out.
    epoxy_g_ml : density of the mixed epoxy, above 0.
    resin_fraction : what should stay, by weight, instead of the method's own, from 0 to
        below 1. What is applied is never less than what should stay.
    kit_g : the dry cloth of these plies on the scale, above 0, instead of what their
        outlines come to.
    """
    stays = staying(method, resin_fraction)
    applied = method.apply.at_least(stays)
    cloth_of = _cloth(layup, kit_g)
    mixed = _mixed(method.lost)
    lines: list[Line] = []
    portions: list[Portion] = []
    for step in layup.steps:
        if isinstance(step, Plies):
            lines += _ply_lines(step, cloth_of, applied)
            for group in step.groups():
                takes = sum((cloth_of(ply).by(applied) for ply in group), NOTHING)
                numbers = tuple(ply.number for ply in group)
                portions.append(Portion(step.name, numbers, mixed(takes).value))
        else:
            line = _other_line(step, epoxy_g_ml)
            lines.append(line)
            portions.append(Portion(step.name, (), mixed(line.apply_g).value, step.mix))
    laid = sum((line.apply_g for line in lines), NOTHING)
    cloth = sum((cloth_of(ply) for ply in layup.plies), NOTHING)
    lost = _minus(mixed(laid), laid)
    if laid.high > 0:
        lines.append(Line(CUP_AND_BRUSH, None, 0.0, lost))
    fraction = method.resin_fraction.value if resin_fraction is None else resin_fraction
    return Need(
        lines=tuple(lines),
        apply_g=mixed(laid),
        stay_g=cloth.by(stays),
        cloth_g=cloth,
        portions=tuple(portions),
        thickness_mm=_thickness_mm(layup, cloth_of, fraction, epoxy_g_ml),
    )


def staying(method: Method, resin_fraction: float | None = None) -> Range:
    """Epoxy that should stay, by the weight of the cloth. Where a fraction is asked for, its
    range is as wide as the method's, in proportion."""
    usual = method.resin_fraction
    by_method = Range(*(resin_for(1.0, w) for w in (usual.low, usual.value, usual.high)))
    if resin_fraction is None:
        return by_method
    stays = resin_for(1.0, resin_fraction)
    if not by_method.value:  # dry cloth is in proportion to nothing
        return Range(stays, stays, max(stays, by_method.high))
    return by_method * (stays / by_method.value)


def cloth_range(layup: Layup) -> Range:
    """Its dry cloth in grams, by its outlines and as its rolls have it."""
    return sum((_roll(ply) for ply in layup.plies), NOTHING)


def kit_least_g(layup: Layup) -> float:
    """The lightest that these plies can be, by their rolls and cut a little short."""
    return cloth_range(layup).low * (1 - CUT_SHORT)


def kit_most_g(layup: Layup) -> float:
    """What is heavier has other cloth in it than that of these plies."""
    return cloth_range(layup).high * KIT_OTHER


def kit_trouble(layup: Layup, kit_g: float) -> str | None:
    """``light`` where these plies cannot weigh so little, ``heavy`` where they should not weigh
    so much, ``other`` where they cannot."""
    if kit_g < kit_least_g(layup):
        return "light"
    if kit_g > kit_most_g(layup):
        return "other"
    return "heavy" if kit_g > cloth_range(layup).high * (1 + KIT_HEAVY) else None


def plies_missing(layup: Layup, kit_g: float) -> int:
    """How many of its plies may be missing by this weight alone, the lightest of a roll that is
    as heavy as it may be; 0 where the kit lacks less than its lightest ply."""
    plies = sorted((_roll(ply) for ply in layup.plies), key=lambda cloth: cloth.value)
    if not plies or cloth_range(layup).value - kit_g < plies[0].value * (1 - 1e-9):
        return 0
    missing, left_g = 0, cloth_range(layup).high
    for cloth in plies[:-1]:
        left_g -= cloth.high
        if left_g < kit_g:
            break
        missing += 1
    return missing


def _roll(ply: Ply) -> Range:
    """Its cloth as the roll has it."""
    cloth_g, off = ply.area_m2 * ply.fabric.areal_g_m2, ply.fabric.areal_spread
    return Range(cloth_g * (1 - off), cloth_g, cloth_g * (1 + off))


def _cloth(layup: Layup, kit_g: float | None) -> Callable[[Ply], Range]:
    if kit_g is None:
        return _roll
    factor = kit_g / math.fsum(_roll(ply).value for ply in layup.plies)

    def weighed(ply: Ply) -> Range:
        share = _roll(ply).value * factor
        return Range(share, share, share)

    return weighed


def _mixed(lost: Range) -> Callable[[Range], Range]:
    """From what is laid to what is mixed for it: a part of the latter is lost."""
    times = Range(1 / (1 - lost.low), 1 / (1 - lost.value), 1 / (1 - lost.high))
    return times.by


def _minus(one: Range, other: Range) -> Range:
    return one + other * -1.0


def _ply_lines(step: Plies, cloth_of: Callable[[Ply], Range], applied: Range) -> Sequence[Line]:
    lines = []
    for _, run in groupby(step.plies, key=lambda ply: ply.entry):
        plies = tuple(run)
        cloth = sum((cloth_of(ply) for ply in plies), NOTHING)
        fabric, angle = plies[0].fabric.name, plies[0].orientation
        numbers = spoken([ply.number for ply in plies])
        what = f"{step.name}: {'plies' if len(plies) > 1 else 'ply'} {numbers}, {fabric}"
        lines.append(
            Line(
                f"{what} at {angle}" if angle else what,
                math.fsum(ply.area_m2 for ply in plies),
                cloth.value,
                cloth.by(applied),
            )
        )
    return lines


def _other_line(step: Coat | Bead, epoxy_g_ml: float) -> Line:
    if isinstance(step, Coat):
        what = f"{step.name}: {step.surface.name}"
        return Line(what, step.area_m2, 0.0, step.surface.uptake_g_m2 * step.area_m2)
    takes = epoxy_for(step.mix, step.volume_ml, epoxy_g_ml)
    what = f"{step.name}: {step.volume_ml:.0f} mL of {step.mix.name}"
    return Line(what, None, 0.0, takes)


def _thickness_mm(
    layup: Layup, cloth_of: Callable[[Ply], Range], fraction: float, epoxy_g_ml: float
) -> float:
    total = 0.0
    for ply in layup.plies:
        areal_g_m2 = cloth_of(ply).value / ply.area_m2
        volume = fibre_volume_fraction(fraction, ply.fabric.fibre_g_ml, epoxy_g_ml)
        total += ply_thickness_mm(areal_g_m2, volume, ply.fabric.fibre_g_ml)
    return total
