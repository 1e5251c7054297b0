"""How much to mix for a layup, for some of its plies, or for a piece of cloth; and in which
batches.

Must never mix up what is applied with what should stay, nor give a batch that cannot be
used up in time as one that can; nor stand before the plans and the maker's data sheet.
"""

from __future__ import annotations

import math
import re
import shlex
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from mixer import units
from mixer.app.files.cloth import RESIN_MOST, load_fabric, load_method, plain_fabric
from mixer.app.files.folders import is_path, names
from mixer.app.files.layup_file import USUAL_METHOD, load_layup
from mixer.app.files.outline import LEAST_MM2
from mixer.app.files.profiles import load_cup, load_resin, load_scale
from mixer.app.life.thickenings import seen_of
from mixer.app.request import USUAL_SCALE
from mixer.app.resolve import Refused
from mixer.app.resolve import plies as written_plies
from mixer.app.sentence import NotDone
from mixer.app.sizing.batch_plan import Bench, cups_of, is_foremost, plan
from mixer.app.sizing.pace import learned
from mixer.app.sizing.size_view import batch_view, few_plies, need_view, shown_g, three
from mixer.app.sizing.stock import stock
from mixer.app.sizing.thicken import DUST
from mixer.plan.batches import UG_PER_G, Batch
from mixer.plan.cloth import Fabric
from mixer.plan.layup import Layup, NoPly, Plies, Ply, numbered
from mixer.plan.need import (
    CUT_SHORT,
    KIT_OTHER,
    Need,
    kit_least_g,
    kit_most_g,
    kit_trouble,
    need,
    plies_missing,
)
from mixer.plan.thicken import thicken
from mixer.science.laminate import EPOXY_G_ML

FIRST = "An estimate. The designer's plans and the maker's data sheet come first."
TWO = "Apply is what to mix; stay is what should be in the cloth once the rest is squeegeed off."
#: From so thick on a wet stack on foam may soften it, of a fast resin in a warm room (our choice).
THICK_MM = 4.0
#: What is less is told as 0.0 g, and makes no batch at the least (our choice).
LEAST_G = 0.05
ALONE = "layup"  # what is sized without a file is called
SUCH = "such as --area 0.6m2 --fabric '300 g/m2' --plies 4"


@dataclass(frozen=True, slots=True)
class Asked:
    """As typed; ``None`` is "not said"."""

    layup: str | None = None
    ply: str | None = None
    resin: str | None = None
    cup: str | None = None
    scale: str | None = None
    air: str | None = None
    kit: str | None = None
    area: str | None = None
    fabric: str | None = None
    plies: str | None = None
    resin_fraction: str | None = None
    method: str | None = None
    left: tuple[str, ...] | list[str] = ()


def answer(asked: Asked, record: Path | None = None) -> dict[str, Any]:
    """Need and batches, ready for JSON; a figure that is not known is None. The usual method
    goes by the builder's own pace, where the record has taught it. Raises ValueError with one
    sentence.

    >>> found = answer(Asked(area="0.5m2", fabric="300 g/m2", plies="4"))
    >>> round(found["need"]["apply_g"][1]), round(found["need"]["stay_g"][1])
    (625, 400)
    """
    layup = _layup(asked)
    kit_g = _kit_g(asked, layup)
    method = load_method(asked.method or layup.method)
    resin_name, cup_name = asked.resin or layup.resin, asked.cup or layup.cup
    resin = load_resin(resin_name) if resin_name else None
    cup = load_cup(cup_name) if cup_name else None
    scale = load_scale(asked.scale or USUAL_SCALE)
    density = resin.density_g_per_ml if resin else EPOXY_G_ML
    fraction = _fraction(asked.resin_fraction)
    found = need(layup, method, density, resin_fraction=fraction, kit_g=kit_g)
    named = layup.name if asked.layup and not asked.method else None
    pace = learned(record, method.name, method.rate_g_min, named) if record else None
    air_c = None if asked.air is None else units.room_c(asked.air, "air")
    seen, too_soon = seen_of(record, resin) if record and resin else ([], 0)
    bench = Bench(resin, cup, scale, method, air_c, pace, thickened=seen, too_soon=too_soon)
    row = plan(found, replace(bench, stock=stock(asked.left, resin)))
    thickened = _thickened(found, row.batches, bench)
    no_area = asked.layup is None and asked.area is None and asked.fabric is None
    return {
        "need": need_view(found, no_area),
        "batches": [
            batch_view(batch, resin, row, [one for one in thickened if one["batch"] == number])
            for number, batch in enumerate(row.batches, 1)
        ],
        "thickened": thickened,
        "thickness_mm": None if no_area else round(found.thickness_mm, 3) or None,
        "notes": [
            *(note for note in row.notes if is_foremost(note)),
            *_notes(layup, asked, kit_g, found.apply_g.value),
            *_stack(found, resin_name),
            *_of_thickened(thickened),
            *(note for note in row.notes if not is_foremost(note)),
        ],
    }


def _layup(asked: Asked) -> Layup:
    if asked.layup is None:
        return _without_a_file(asked)
    if asked.area is not None or asked.fabric is not None or asked.plies is not None:
        raise NotDone("a layup has its own cloth: leave out --area, --fabric and --plies")
    layup = load_layup(asked.layup)
    if asked.ply is None:
        return layup
    try:
        written_plies(asked.ply)  # refuses what is no list of plies
        return layup.only(numbered(asked.ply))
    except (NoPly, Refused) as error:
        raise NotDone(f"{asked.layup}: --ply: {error}") from None


def _without_a_file(asked: Asked) -> Layup:
    if asked.ply is not None:
        raise NotDone("--ply chooses from a layup: give its file, or --plies for how many")
    kit_alone = asked.kit is not None and asked.area is None
    if not kit_alone and (asked.area is None or asked.fabric is None):
        raise NotDone(f"give a layup, or --area and --fabric, {SUCH}; or --kit, such as --kit 412g")
    count = _count(asked.plies)
    fabric = plain_fabric("300 g/m2")
    if asked.fabric is not None:
        fabric = _fabric(asked.fabric)
    if asked.area is not None:
        try:
            area_m2 = units.area_m2(asked.area)
        except units.OutOfSpan:
            area_m2 = 0.0
        if not LEAST_MM2 / 1e6 <= area_m2 <= 1000:
            raise NotDone(
                f"area: {units.shown(asked.area)} is not from {LEAST_MM2:g} mm2 to 1000 m2; "
                "give the area of one ply such as '0.6 m2'"
            )
    else:
        area_m2 = _mass_g(asked.kit or "") / fabric.areal_g_m2 / count
    plies = tuple(Ply(i, 1, fabric, area_m2) for i in range(1, count + 1))
    return Layup(ALONE, (Plies("cloth", plies),), USUAL_METHOD)


def _fabric(text: str) -> Fabric:
    """Of a profile, or of an areal weight; or one sentence of what would be accepted."""
    if _is_weight(text):
        return plain_fabric(text)
    if text not in (known := names("fabrics")) and not (is_path(text) and Path(text).exists()):
        raise NotDone(
            f"fabric: {units.shown(text)} was read; give one of {', '.join(known)}, the path of a "
            ".toml file that is there, or an areal weight such as '300 g/m2'"
        )
    return load_fabric(text)


def _is_weight(fabric: str) -> bool:
    """Whether an areal weight was given, and not the name or the path of a profile.

    >>> _is_weight("300 g/m2"), _is_weight("bid-300"), _is_weight("2025/mine.toml")
    (True, False, False)
    >>> _is_weight("-3 g/m2"), _is_weight("./mine"), _is_weight("../300/mine")
    (True, False, False)
    """
    begins = re.match(r"\s*[-+\N{MINUS SIGN}]?\s*\.?[0-9]", fabric) is not None
    return begins and "/" in fabric and not fabric.endswith(".toml")


def _count(text: str | None) -> int:
    if text is None:
        return 1
    if not (text.isascii() and text.isdigit() and 1 <= int(text[:5]) <= 1000 and len(text) < 5):
        raise NotDone(f"plies: {units.shown(text)} was read; give how many, from 1 to 1000")
    return int(text)


def _mass_g(text: str) -> float:
    mass_ug = units.mass_ug(text, "kit")
    if mass_ug == 0:
        raise NotDone(f"kit: {units.shown(text)} is nothing; give a mass such as '412 g'")
    return mass_ug / UG_PER_G


def _kit_g(asked: Asked, layup: Layup) -> float | None:
    """The dry cloth on the scale, or one sentence why it cannot be these plies."""
    if asked.kit is None:
        return None
    kit_g = _mass_g(asked.kit)
    if not layup.plies:
        raise NotDone(f"kit: {layup.name} has no plies that could be weighed")
    trouble = kit_trouble(layup, kit_g)
    if trouble == "light":
        others = "--plies or --area" if asked.layup is None else "--ply"
        raise NotDone(
            f"kit: {units.shown(asked.kit)} is lighter than its cloth can be; accepted: from "
            f"{shown_g(kit_least_g(layup))} on, {_cloth_g(layup):.0f} g being that of its "
            f"outlines, less what the roll may differ and {CUT_SHORT:.0%} for cut edges; weigh all "
            f"of it, or name with {others} what is there"
        )
    if trouble == "other":
        raise NotDone(
            f"kit: {units.shown(asked.kit)} is heavier than its cloth can be; accepted: up to "
            f"{kit_most_g(layup):.0f} g, {KIT_OTHER:g} times what the roll may have, "
            f"{_cloth_g(layup):.0f} g being that of its outlines; weigh its cloth alone, and all "
            "plies that lie there"
        )
    return kit_g


def _cloth_g(layup: Layup) -> float:
    return math.fsum(ply.area_m2 * ply.fabric.areal_g_m2 for ply in layup.plies)


def _fraction(text: str | None) -> float | None:
    if text is None:
        return None
    try:
        fraction = units.fraction(text, "resin-fraction")
    except units.UnitsError:
        fraction = math.inf
    if fraction > RESIN_MOST:
        raise NotDone(
            f"resin-fraction: {units.shown(text)} is not within 0 and {RESIN_MOST}; give such as "
            "'40%' or '0.4'"
        )
    return fraction


def _notes(layup: Layup, asked: Asked, kit_g: float | None, apply_g: float) -> list[str]:
    notes = [FIRST, TWO]
    if apply_g < LEAST_G:
        notes.append(f"All of it is below {LEAST_G:g} g of epoxy: are its dimensions meant so?")
    if asked.ply is not None:
        notes.append("These plies alone: no slurry, joint, fillet or peel ply is counted.")
    if kit_g is not None and kit_trouble(layup, kit_g) == "heavy":
        notes.append(
            f"The kit is heavier than the {_cloth_g(layup):.0f} g of its outlines: is there "
            "something else in it?"
        )
    if kit_g is not None and (missing := plies_missing(layup, kit_g)):
        notes.append(few_plies(missing, len(layup.plies)))
    if sum(isinstance(step, Plies) for step in layup.steps) > 1:
        notes.append("The thickness is that of all plies as if they lay one upon another.")
    if asked.fabric is not None and _is_weight(asked.fabric):
        notes.append("The cloth is taken for glass.")
    if (_fraction(asked.resin_fraction) or 0) > 0.5:
        notes.append("Above 50 % of resin by weight a laminate is heavy (common practice).")
    return notes


def _stack(found: Need, resin: str | None) -> list[str]:
    """Where all of it wet may be thick enough to heat itself: what tells how hot."""
    if found.thickness_mm < THICK_MM:
        return []
    return [
        f"Wet upon another all plies are {found.thickness_mm:.1f} mm, which may heat itself and "
        f"the foam under it: cupside life --resin {shlex.quote(resin or 'NAME')} --shape stack "
        f"--depth {found.thickness_mm:.1f}mm --mass {found.stay_g.value:.0f}g tells how hot."
    ]


def _thickened(found: Need, batches: Sequence[Batch], bench: Bench) -> list[dict[str, Any]]:
    """What goes into the epoxy that is split off, into how many cups, and what comes out of all:
    one a step, and of a step that is divided over several batches one for each, with its
    number."""
    rows = []
    for portion in found.portions:
        if portion.thickened is None:
            continue
        parts: list[tuple[int | None, float]] = [
            (number, part.mass_ug / UG_PER_G)
            for number, batch in enumerate(batches, 1)
            for part in batch.parts
            if part.portion is portion
        ]
        for number, mix_g in parts or [(None, portion.mix_g)]:
            made = thicken(portion.thickened, mix_g, bench.epoxy_g_ml)
            rows.append(
                {
                    "step": portion.step,
                    "batch": number,
                    "mix": portion.thickened.name,
                    "filler": portion.thickened.filler,
                    "epoxy_g": round(mix_g, 6),
                    "cups": cups_of(portion.thickened, mix_g, bench),
                    "filler_g": three(made.filler_g),
                    "volume_ml": three(made.volume_ml),
                    "density_g_ml": three(made.density_g_ml),
                }
            )
    return rows


def _of_thickened(rows: Sequence[dict[str, Any]]) -> list[str]:
    notes = []
    for row in rows:
        several = sum(one["step"] == row["step"] for one in rows) > 1
        which = f", batch {row['batch']}" if several else ""
        cups = row["cups"] or 1
        filler, volume = ([g / cups for g in row[key]] for key in ("filler_g", "volume_ml"))
        density, each_g = row["density_g_ml"], row["epoxy_g"] / cups
        into = f"into its {each_g:.1f} g of stirred epoxy"
        if cups > 1:
            into = f"split its stirred epoxy into {cups} cups of {each_g:.1f} g, and into each"
        notes.append(
            f"{row['step']}{which}: {into} about "
            f"{filler[1]:.1f} g of {row['filler']} to begin with ({filler[0]:.1f} to "
            f"{filler[2]:.1f} g), then to consistency; about "
            f"{volume[1]:.0f} mL ({volume[0]:.0f} to {volume[2]:.0f} mL) of {density[1]:.2f} g/mL "
            f"({density[0]:.2f} to {density[2]:.2f}) come out{' of each' if cups > 1 else ''}."
        )
    return [*notes, DUST] if notes else []
