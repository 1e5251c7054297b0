"""The ply kits of a layup: the cut cloth that is wetted together, one tag for each. Pure.

A kit's tag carries plies, area and areal weight, so that a batch can be sized by a scan alone.
This file must never put a ply into two kits, nor leave one out.
"""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass

from mixer.plan.layup import Layup, Plies, Ply
from mixer.plan.tags import Kit


@dataclass(frozen=True, slots=True)
class CutKit:
    """A kit with what its card tells a person beside: ``step`` and ``cloth``, its fabrics and
    how they lie."""

    kit: Kit
    step: str
    cloth: str


def kits(layup: Layup, method: str = "") -> tuple[CutKit, ...]:
    """One for each group of plies that is wetted at once, in the order of the work. ``method``
    as in :class:`mixer.plan.tags.Kit`."""
    return tuple(
        _kit(layup.name, step.name, group, method)
        for step in layup.steps
        if isinstance(step, Plies)
        for group in step.groups()
    )


def kit_of(layup: Layup, numbers: Collection[int], method: str = "") -> CutKit:
    """One of these plies. Raises :class:`mixer.plan.layup.NoPly`."""
    chosen = layup.only(numbers)
    return _kit(layup.name, ", ".join(step.name for step in chosen.steps), chosen.plies, method)


def without_cloth(layup: Layup) -> tuple[str, ...]:
    """The steps that no kit is of: slurry, joints, fillets, peel ply."""
    return tuple(step.name for step in layup.steps if not isinstance(step, Plies))


def _kit(name: str, step: str, plies: tuple[Ply, ...], method: str) -> CutKit:
    area_m2 = math.fsum(ply.area_m2 for ply in plies)
    cloth_g = math.fsum(ply.area_m2 * ply.fabric.areal_g_m2 for ply in plies)
    cloth = [f"{p.fabric.name} {p.orientation}".strip() for p in plies]
    numbers = tuple(ply.number for ply in plies)
    off_g = math.fsum(p.area_m2 * p.fabric.areal_g_m2 * p.fabric.areal_spread for p in plies)
    spread = max(0.001, round(off_g / cloth_g, 3))  # as finely as a tag tells it
    kit = Kit(name, numbers, area_m2, cloth_g / area_m2, method, spread)
    return CutKit(kit, step, ", ".join(dict.fromkeys(cloth)))
