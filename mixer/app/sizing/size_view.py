"""Need and batches as they are told: for JSON, and to a person.

This file only words what was found; it must never round a figure before it is shown.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import groupby
from typing import Any

from mixer.app.files.profiles import ResinProfile
from mixer.app.sizing.batch_plan import Plan, is_foremost
from mixer.plan.batches import UG_PER_G, Batch, Part
from mixer.plan.cloth import Range
from mixer.plan.layup import spoken
from mixer.plan.need import Need


def need_view(found: Need, unknown_area: bool) -> dict[str, Any]:
    return {
        "apply_g": three(found.apply_g),
        "stay_g": three(found.stay_g),
        "lines": [
            {
                "what": line.what,
                "area_m2": None if unknown_area or not line.area_m2 else _short(line.area_m2),
                "cloth_g": _short(line.cloth_g),
                "apply_g": _short(line.apply_g.value),
            }
            for line in found.lines
        ],
    }


def batch_view(
    batch: Batch, resin: ResinProfile | None, row: Plan, thickened: Sequence[dict[str, Any]]
) -> dict[str, Any]:
    """``thickened`` is what is made of shares of it."""
    mass_g = batch.mass_ug / UG_PER_G
    recipe = resin.recipe() if resin else None
    working_min = row.working_min(mass_g)
    return {
        "mass_g": mass_g,
        "components": [
            {"name": component.name, "target_g": _short(mass_g * recipe.share(i))}
            for i, component in enumerate(recipe.components)
        ]
        if recipe
        else [],
        "for": _for(batch, {one["step"]: one["cups"] or 1 for one in thickened}),
        "parts": [
            {
                "step": part.portion.step,
                "plies": list(part.portion.plies),
                "whole": part.is_whole,
                "mass_g": part.mass_ug / UG_PER_G,
            }
            for part in batch.parts
        ],
        "mix_at_min": round(batch.mix_at_min, 1),
        "working_min": None if working_min is None else round(working_min, 1),
        "decided_by": batch.decided_by,
    }


def _for(batch: Batch, cups: dict[str, int]) -> str:
    """What it is for, with how much of it: so much is split off where it is thickened, into so
    many ``cups`` of each step."""
    steps: dict[str, list[Part]] = {}
    for part in batch.parts:
        steps.setdefault(part.portion.step, []).append(part)
    said = []
    for step, parts in steps.items():
        many = cups.get(step, 1)
        said.append(_of_step(step, parts) + (f", thicken in {many} cups" if many > 1 else ""))
    return "; ".join(said)


def _of_step(step: str, parts: Sequence[Part]) -> str:
    said = []
    # Of each that is divided it is said how much: one figure for two tells nobody how much of it
    # each is to get.
    for of, found in groupby(parts, key=lambda part: None if part.is_whole else id(part.portion)):
        run, is_whole = list(found), of is None
        plies = {ply for part in run for ply in part.portion.plies}
        what = "" if is_whole else "a part of " + ("" if plies else "it")
        if plies:
            what += f"{'ply' if len(plies) == 1 else 'plies'} {spoken(plies)}"
        mass_g = sum(part.mass_ug for part in run) / UG_PER_G
        said.append(f"{what} ({mass_g:.1f} g)".strip())
    of_plies = any(part.portion.plies or not part.is_whole for part in parts)
    return f"{step}{',' if of_plies else ''} {' and '.join(said)}"


def lines(found: dict[str, Any]) -> list[str]:
    """The same for a person."""
    need_found = found["need"]
    said = [
        *(note for note in found["notes"] if is_foremost(note)),
        f"Apply {_spoken(need_found['apply_g'])}",
        f"Stay  {_spoken(need_found['stay_g'])} in the cloth",
    ]
    for line in need_found["lines"]:
        area = f"{line['area_m2']:.3g} m2, " if line["area_m2"] is not None else ""
        cloth = f"{line['cloth_g']:.0f} g of cloth, " if line["cloth_g"] else ""
        said.append(f"  {line['what']}: {area}{cloth}apply {line['apply_g']:.0f} g")
    if found["thickness_mm"] is not None:
        said.append(f"Cured about {found['thickness_mm']:.2f} mm thick")
    for number, batch in enumerate(found["batches"], 1):
        parts = ", ".join(f"{c['name']} {c['target_g']:.1f} g" for c in batch["components"])
        lives = batch["working_min"]
        said.append(
            f"Batch {number}: {batch['mass_g']:.1f} g"
            + (f" ({parts})" if parts else "")
            + f", mix at {batch['mix_at_min']:.0f} min"
            + (f", works for about {lives:.0f} min" if lives is not None else "")
            + f"; size by {batch['decided_by']}"
        )
        said.append(f"  for {batch['for']}")
    return [*said, *(note for note in found["notes"] if not is_foremost(note))]


def shown_g(least_g: float) -> str:
    """A least mass, so that what is shown is accepted.

    >>> shown_g(92.01), shown_g(670.32)
    ('92.1 g', '671 g')
    """
    step = 0.1 if least_g < 100 else 1.0
    return f"{math.ceil(least_g / step - 1e-9) * step:.{1 if step < 1 else 0}f} g"


def few_plies(missing: int, plies: int) -> str:
    """That a kit is so light that plies may be missing."""
    return f"By its weight alone up to {missing} of the {plies} plies may be missing: count them."


def _spoken(figures: list[float]) -> str:
    low, value, high = figures
    return f"about {value:.0f} g ({low:.0f} to {high:.0f} g)"


def three(figures: Range) -> list[float]:
    """Low, value, high."""
    return [_short(figures.low), _short(figures.value), _short(figures.high)]


def _short(value: float) -> float:
    """To a millionth: no scale has more, and no sum of them shows it."""
    return round(value, 6)
