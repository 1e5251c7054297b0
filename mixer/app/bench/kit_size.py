"""One batch by the dry cloth that lies ready: kits that were scanned, or their weight.

Thought out beside the bench (:mod:`mixer.app.life.elsewhere`), as it looks how long a batch lives.
Must never size one that cannot be used up in time as one that can; of more than one batch it
takes the first, and says which kits are for the next.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from mixer.app.book.looking import reading
from mixer.app.files.cloth import load_method
from mixer.app.files.layup_file import USUAL_METHOD
from mixer.app.files.profiles import load_cup, load_resin, load_scale
from mixer.app.life.thickenings import seen_of
from mixer.app.resolve import LEAST_UG, parsed
from mixer.app.sentence import NotDone
from mixer.app.sizing.batch_plan import Bench, Plan, plan
from mixer.app.sizing.pace import learned
from mixer.app.sizing.size_view import few_plies, shown_g
from mixer.app.sizing.stock import each_said, stock
from mixer.plan.batches import CRUMB_UG, UG_PER_G, Batch, Part
from mixer.plan.cloth import Fabric
from mixer.plan.layup import Layup, Plies, Ply, spoken
from mixer.plan.need import (
    KIT_OTHER,
    Need,
    Portion,
    kit_least_g,
    kit_most_g,
    kit_trouble,
    need,
    plies_missing,
)
from mixer.plan.tags import USUAL_SPREAD, Kit
from mixer.record.envelope import RecordError
from mixer.record.row import part_of
from mixer.record.views import batch_rows
from mixer.science.laminate import GLASS_G_ML

STEP_UG = 100_000  # a size is told to a tenth of a gram, and rounded down: it is a limit too
#: Of the notes of a plan, those that are told before ``go``.
_TOLD = (
    "is not enough",
    "too small for this scale",
    "No temperature was given",
    "No working time",
    "has no pot life",
    "of its label's time",
)
LOOKED_AT = 40  # batches of a day, for those of the same kit (our choice)
PLAIN_G_M2 = 300.0  # of cloth that was weighed and never scanned; no figure hangs on it


@dataclass(frozen=True, slots=True)
class Asked:
    """``kits`` as they were scanned; ``cloth_ug`` what was weighed of them, or of cloth that has
    no tag; the others as typed. ``most_ug`` is what the scale said that it carries, and
    ``left`` what is left of the lots. What was mixed before ``since_utc`` is of other cloth.
    ``typed``: what was weighed does not lie on the scale."""

    kits: tuple[Kit, ...]
    cloth_ug: int | None
    resin: str
    cup: str | None
    scale: str
    air: str | None
    record: Path
    most_ug: int | None = None
    left: str | None = None
    since_utc: str = ""
    typed: bool = False


@dataclass(frozen=True, slots=True)
class Found:
    """``kits`` are those that this batch is for, each with its cloth in micrograms and the
    part of it that the batch is for; one of None is cloth without a tag."""

    size_ug: int
    say: str
    kits: tuple[tuple[Kit | None, int, float], ...]
    weighed: bool = False

    @property
    def layup(self) -> str | None:
        """The names of their layups, as a record has them."""
        names = dict.fromkeys(kit.name for kit, *_ in self.kits if kit is not None)
        return "; ".join(names) or None

    @property
    def plies(self) -> str | None:
        """Their plies, where they are of one layup."""
        kits = [kit for kit, *_ in self.kits if kit is not None]
        numbers = [number for kit in kits for number in kit.plies]
        return spoken(numbers) if kits and len({kit.name for kit in kits}) == 1 else None

    def kept(self) -> list[dict[str, Any]]:
        """As the batch's first fact keeps it."""
        return [
            {
                "layup": None if kit is None else kit.name,
                "plies": None if kit is None else spoken(kit.plies),
                "cloth_ug": cloth_ug,
                "part": round(part, 4),
                "method": (kit.method if kit is not None else "") or USUAL_METHOD,
                "weighed": self.weighed,
            }
            for kit, cloth_ug, part in self.kits
        ]


def size_of(asked: Asked) -> Found:
    """What to mix now. Raises ValueError with one sentence."""
    layup = _layup(asked.kits, asked.cloth_ug)
    kit_g = None if asked.cloth_ug is None else asked.cloth_ug / UG_PER_G
    if kit_g is not None:
        _refuse_other(layup, kit_g, asked)
    resin, method = load_resin(asked.resin), load_method(_method(asked.kits))
    found = need(layup, method, resin.density_g_per_ml, kit_g=kit_g)
    lots = stock(each_said(asked.left), resin)
    seen, too_soon = seen_of(asked.record, resin)
    bench = Bench(
        resin=resin,
        cup=load_cup(asked.cup) if asked.cup else None,
        scale=load_scale(asked.scale),
        method=method,
        air_c=parsed("air_c", asked.air),
        pace=learned(asked.record, method.name, method.rate_g_min, _only_layup(asked.kits)),
        scale_most_ug=asked.most_ug,
        stock=lots,
        thickened=seen,
        too_soon=too_soon,
        at_bench=True,  # go takes one batch, and there is no more for it
    )
    row = plan(found, bench)
    if not row.batches:
        raise NotDone(" ".join(n for n in row.notes if n.startswith(("No working", "No batches"))))
    if lots and row.batches[0].mass_ug > lots.most_ug:  # the first is of a fresh lot
        raise NotDone(
            f"left: what is left of the {lots.name} makes less than {CRUMB_UG / UG_PER_G:g} g of "
            "what is wetted at once: begin a fresh lot, and leave it out"
        )
    return _first(asked, layup, found, row)


def _layup(kits: Sequence[Kit], cloth_ug: int | None) -> Layup:
    """As if it stood in a file: the plies of each kit are wetted together."""
    if not kits:
        area_m2 = (cloth_ug or 0) / UG_PER_G / PLAIN_G_M2
        return Layup("cloth", (Plies("cloth", (Ply(1, 0, _cloth(PLAIN_G_M2), area_m2),)),), "")
    steps = [
        Plies(
            kit.name,
            tuple(
                Ply(number, entry, _cloth(kit.cloth_g_m2, kit.spread), kit.area_m2 / len(kit.plies))
                for number in kit.plies
            ),
            together=len(kit.plies),
        )
        for entry, kit in enumerate(kits)
    ]
    return Layup(kits[0].name, tuple(steps), USUAL_METHOD)


def _refuse_other(layup: Layup, kit_g: float, asked: Asked) -> None:
    """What these kits cannot weigh, and the ways on, in one sentence."""
    trouble, outlines_g = kit_trouble(layup, kit_g), _outlines_g(asked.kits)
    by_outlines = "take off what lies there to go by their outlines"
    if trouble == "light":
        ways = "" if asked.typed else f"lay all of them on the scale, {by_outlines}, "
        raise NotDone(
            f"{kit_g:.1f} g is less than these kits can weigh, from {shown_g(kit_least_g(layup))} "
            f"on, {outlines_g:.0f} g by their outlines: {ways}say what all of them weigh (kit "
            "MASS), or say hold and scan those that are there."
        )
    if trouble == "other":
        ways = "" if asked.typed else f"lay nothing else on the scale, {by_outlines}, "
        raise NotDone(
            f"{kit_g:.0f} g is more than these kits can weigh, up to {kit_most_g(layup):.0f} g, "
            f"{KIT_OTHER:g} times what their roll may have and {outlines_g:.0f} g by their "
            f"outlines: {ways}say what they alone weigh (kit MASS), or scan all that was weighed."
        )


def _only_layup(kits: Sequence[Kit]) -> str | None:
    names = {kit.name for kit in kits}
    return names.pop() if len(names) == 1 else None


def _method(kits: Sequence[Kit]) -> str:
    names = list(dict.fromkeys(kit.method or USUAL_METHOD for kit in kits)) or [USUAL_METHOD]
    if len(names) > 1:
        raise NotDone(
            f"These kits are wetted out by {names[0]} and by {names[1]}: one batch goes by one; "
            "hold begins anew."
        )
    return names[0]


def _cloth(areal_g_m2: float, spread: float = USUAL_SPREAD) -> Fabric:
    # The density of the fibre is that of glass; only a thickness hangs on it, and none is told.
    return Fabric("cloth", "BID", areal_g_m2, spread, GLASS_G_ML, together=1, roll_mm=None)


def _outlines_g(kits: Sequence[Kit]) -> float:
    return math.fsum(kit.cloth_g for kit in kits)


def _first(asked: Asked, layup: Layup, found: Need, row: Plan) -> Found:
    first = row.batches[0]
    factor = found.cloth_g.value / (_outlines_g(asked.kits) or 1.0)
    parts = [_part(first.parts, portion) for portion in found.portions]
    kept: list[tuple[Kit | None, int, float]] = [
        (kit, round(kit.cloth_g * factor * UG_PER_G), part)
        for kit, part in zip(asked.kits, parts, strict=False)  # of cloth without a tag none
        if part
    ]
    size_ug = max(LEAST_UG, first.mass_ug // STEP_UG * STEP_UG)
    said = _said(asked, layup, found, row, size_ug)
    weighed = asked.cloth_ug is not None
    return Found(size_ug, said, tuple(kept or [(None, asked.cloth_ug or 0, parts[0])]), weighed)


def _part(parts: Sequence[Part], portion: Portion) -> float:
    """How much of this portion these are; 0 for nothing of it."""
    of_it_ug = sum(part.mass_ug for part in parts if part.portion is portion)
    return min(1.0, of_it_ug / UG_PER_G / portion.mix_g)


def _said(asked: Asked, layup: Layup, found: Need, row: Plan, size_ug: int) -> str:
    """What go does comes first: nobody reads on with gloves."""
    first, all_g = row.batches[0], found.cloth_g.value
    wanted = {id(part.portion) for part in first.parts}
    cut = {id(part.portion) for part in first.parts if not part.is_whole}
    whole = [kit for kit, one in _each(asked.kits, found) if id(one) in wanted - cut]
    parts = [kit for kit, one in _each(asked.kits, found) if id(one) in cut]
    later = [kit for kit, one in _each(asked.kits, found) if id(one) not in wanted]
    which = " and ".join(
        f"{part}{_plies(kits)}" for part, kits in (("", whole), ("a part of ", parts)) if kits
    )
    many = len(row.batches) > 1
    said = [
        f"go takes {size_ug / UG_PER_G:.1f} g{f' for {which}' if which else ''}"
        f"{f', by {first.decided_by}' if many else ''}.",
        f"{all_g:.0f} g of dry cloth: apply about {found.apply_g.value:.0f} g "
        f"({found.apply_g.low:.0f} to {found.apply_g.high:.0f} g), of which about "
        f"{found.stay_g.value:.0f} g should stay.",
    ]
    if before := _before(asked):
        said.append(before)
    rest = [batch for batch in row.batches[1:] if any(id(p.portion) in cut for p in batch.parts)]
    with_it = _whole_in_one_with(cut, rest)
    if together := [kit for kit, one in _each(asked.kits, found) if id(one) in with_it]:
        later = [kit for kit in later if kit not in together]
        size_g = rest[0].mass_ug // STEP_UG * STEP_UG / UG_PER_G
        said.append(
            f"The next, {size_g:.1f} g, is for what it leaves of {_plies(parts)} and for "
            f"{_plies(together)}: give {size_g:.1f}g in place of kit as its size."
        )
    if later:
        said.append(f"Scan {_plies(later)} for the {'one after' if together else 'next'}.")
    if cut and not together:
        rest_ug = sum(p.mass_ug for b in rest for p in b.parts if id(p.portion) in cut)
        said.append(
            f"What it leaves of {_plies(parts) or 'it'} takes {rest_ug / UG_PER_G:.1f} g more."
        )
    if asked.cloth_ug is not None and kit_trouble(layup, all_g) == "heavy":
        said.append(
            f"The cloth weighs more than the {_outlines_g(asked.kits):.0f} g of its outlines: is "
            "there something else in it?"
        )
    if asked.cloth_ug is not None and (missing := plies_missing(layup, all_g)):
        said.append(few_plies(missing, len(layup.plies)))
    return " ".join([*said, *(n for n in row.notes if any(words in n for words in _TOLD))])


def _whole_in_one_with(cut: set[int], rest: Sequence[Batch]) -> set[int]:
    """Which portions come whole with all that is left of one that is cut; none where more than
    one batch is for that, or where they are divided too."""
    if len(rest) != 1:
        return set()
    others = [part for part in rest[0].parts if id(part.portion) not in cut]
    return {id(part.portion) for part in others} if all(p.is_whole for p in others) else set()


def _before(asked: Asked) -> str:
    """What newer batches took for these kits already. A record that cannot be read says nothing."""
    took: list[tuple[int, Kit, float]] = []
    with suppress(ValueError, RecordError), reading(asked.record) as reader:
        numbers = [n for how in ("live", "closed") for n in reader.batches(how, newest=LOOKED_AT)]
        for row in (row for n in sorted(numbers) for row in batch_rows(reader.entries(n))):
            if row.opened_at is None or row.opened_at.utc < asked.since_utc:
                continue
            wetted = [(one, one["cloth_ug"] * (part_of(one) or 1.0)) for one in row.kits]
            whole = (row.sum_ug() or 0) / sum(ug for _, ug in wetted) if wetted else 0
            said = {f"{one.get('layup')}, {one.get('plies')}": ug * whole for one, ug in wetted}
            both = ((kit, said.get(f"{kit.name}, {spoken(kit.plies)}")) for kit in asked.kits)
            took += [(row.batch, kit, ug / UG_PER_G) for kit, ug in both if ug]
    if not took:
        return ""
    batches, g = {batch for batch, *_ in took}, sum(g for *_, g in took)
    kits = [kit for kit in asked.kits if any(of is kit for _, of, _ in took)]
    which = f"{'Batch' if len(batches) == 1 else 'Batches'} {spoken(batches)}"
    return f"{which} took {g:.1f} g for {_plies(kits)} already."


def _each(kits: Sequence[Kit], found: Need) -> Iterable[tuple[Kit, Portion]]:
    return zip(kits, found.portions, strict=False)  # of cloth without a tag there is no kit


def _plies(kits: Sequence[Kit]) -> str:
    """
    >>> _plies([Kit("rib 3", (1, 2), 1, 300), Kit("rib 3", (4,), 1, 300)])
    'rib 3 plies 1-2, 4'
    """
    by_name: dict[str, list[int]] = {}
    for kit in kits:
        by_name.setdefault(kit.name, []).extend(kit.plies)
    return "; ".join(
        f"{name} {'ply' if len(plies) == 1 else 'plies'} {spoken(plies)}"
        for name, plies in by_name.items()
    )
