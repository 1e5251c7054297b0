"""A layup afterwards: how much resin its cloth can hold, by what the record has of its cups.

Reads only. It must never say that cloth is wetted: a balance of cups and rags says how much is
in it at most, not where.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from mixer import units
from mixer.app.book.laminate import layups_of, layups_of_cup, of_layup
from mixer.app.book.looking import reading
from mixer.app.files.cloth import load_method
from mixer.app.files.folders import names
from mixer.app.files.layup_file import load_layup
from mixer.app.sentence import NotDone
from mixer.plan.afterwards import Balance, Cloth, KitPart, Share, Span, balance, cloth_of, laid_g
from mixer.plan.batches import UG_PER_G
from mixer.plan.cloth import NOTHING, Method
from mixer.plan.layup import Bead, Coat, Layup, NoPly, numbered, spoken
from mixer.plan.need import cloth_range
from mixer.plan.thicken import epoxy_for
from mixer.record.row import part_of
from mixer.record.views import BatchRow
from mixer.science.laminate import EPOXY_G_ML

NOT_SHOWN = (
    "Not shown to be dry: that is the most that cups and rags can tell. Look for pale spots and "
    "tap it."
)
DRY = (
    "Dry in places: even with all that can be in it the cloth has less resin than the {least:.0%} "
    "that {method} should leave."
)
NOT_YET = (
    "Not enough yet: with all that can be in it the cloth has less resin than the {least:.0%} "
    "that {method} should leave, but a cup is not closed: more may be to come."
)
HEAVY = "Above 50 % of resin by weight a laminate is heavy (common practice)."
TO_COME = "A part of the kits may be in no batch yet: it may still be dry."
CLOTH_SPREAD = 0.05  # of cloth that was not weighed: what a roll differs (common practice)


@dataclass(frozen=True, slots=True)
class Asked:
    """As typed; ``None`` is "not said"."""

    file: str | None = None
    layup: str | None = None
    cloth: str | None = None


def answer(asked: Asked, record: Path) -> dict[str, Any]:
    """The balance, ready for JSON, each range as its least and its most. Raises ValueError with
    one sentence."""
    if asked.file is None and asked.layup is None:
        raise NotDone("Give the layup's file, or --layup with its name in the record.")
    file = load_layup(asked.file) if asked.file is not None else None
    name = asked.layup or (file.name if file is not None else "")
    with reading(record) as journal:
        rows = of_layup(journal, name)
    if not rows:
        raise NotDone(
            f"layup: no batch of {units.shown(name)} is in the record {record}; cupside record "
            "list shows those that are."
        )
    notes: list[str] = []
    laid_up = _of_the_batches(file, rows, notes) if file is not None else None
    ways = _ways(file, rows, name, notes)
    kits = _of_kits(rows, name, ways)
    cloth_g = _cloth_g(asked, laid_up, rows, kits, name)
    if kits is not None and kits.to_come_g:
        notes.append(TO_COME)
    lost = min(way.lost.low for way in ways), max(way.lost.high for way in ways)
    each = [(row, _laid(row, name, lost, notes)) for row in rows]
    laid = sum(low for _, (low, _) in each), sum(high for _, (_, high) in each)
    wiped = _wiped(rows, name)
    if wiped is None:
        notes.append(
            "Nobody weighed what was wiped or squeegeed off, so that as little as nothing may have "
            'stayed: cupside record wiped --layup "..." --mass 12g.'
        )
    elif wiped[0] > laid[1]:
        raise NotDone(
            f"{wiped[0]:.1f} g was wiped off {name}, and {laid[1]:.1f} g at the most went upon it: "
            "one of the weights is wrong; record correct puts right what was typed."
        )
    whole = file is not None and laid_up is not None and laid_up.plies == file.plies
    took = _elsewhere(file, rows, whole=whole)
    if took is None:
        notes.append("Without the layup's file it is not known what core and joints took.")
    found = balance(cloth_g, laid, wiped, took)
    return {
        "layup": name,
        "methods": [way.name for way in ways],
        "batches": [{"batch": row.batch, "laid_g": _two(span)} for row, span in each],
        "cloth_g": _two(cloth_g),
        "laid_g": _two(laid),
        "wiped_g": None if wiped is None else _two(wiped),
        "elsewhere_g": None if took is None else _two(took),
        "resin_g": _two(found.resin_g),
        "resin_fraction": [round(part, 4) for part in found.fraction],
        "says": _says(found, ways, NOT_YET if any(map(_is_open, rows)) else DRY),
        "notes": notes,
    }


def lines(found: dict[str, Any]) -> list[str]:
    """The same for a person."""
    low, high = found["resin_fraction"]
    said = [f"{found['layup']}: resin {low:.0%} to {high:.0%} by weight.", found["says"]]
    for what, key in (
        ("dry cloth", "cloth_g"),
        ("laid on", "laid_g"),
        ("wiped off", "wiped_g"),
        ("core, joints, peel ply", "elsewhere_g"),
        ("in the cloth", "resin_g"),
    ):
        if found[key] is not None:
            said.append(f"  {what}: {_grams(found[key])}")
    said.append(f"  wetted out by: {' or '.join(found['methods'])}")
    for one in found["batches"]:
        said.append(f"  batch {one['batch']}: {_grams(one['laid_g'])} laid on")
    return [*said, *found["notes"]]


def _says(found: Balance, ways: Sequence[Method], too_little: str) -> str:
    low, high = found.fraction
    method = min(ways, key=lambda way: way.resin_fraction.low)
    if high < method.resin_fraction.low:
        return too_little.format(least=method.resin_fraction.low, method=method.name)
    return f"{NOT_SHOWN} {HEAVY}" if low > 0.5 else NOT_SHOWN


def _cloth_g(
    asked: Asked, laid_up: Layup | None, rows: Sequence[BatchRow], kits: Cloth | None, name: str
) -> Span:
    """All that was to be wetted, at the least without what no batch may have been for yet."""
    if asked.cloth is not None:
        low = high = units.mass_ug(asked.cloth, "cloth") / UG_PER_G
        if low <= 0:
            raise NotDone(f"cloth: {units.shown(asked.cloth)} is nothing; give such as '720 g'")
    elif laid_up is not None:
        span = cloth_range(laid_up)
        if span.value <= 0:
            raise NotDone(f"{laid_up.name} has no plies: there is no cloth to hold resin")
        low, high = span.low, span.high
    elif kits is None or any(not row.kits for row in rows):
        raise NotDone(
            f"It is not known how much cloth {name} has: give its file, or --cloth with its dry "
            "weight such as 720g."
        )
    else:
        low, high = kits.laid_g
    if kits is not None:
        low = min(low, max(low - kits.to_come_g, kits.laid_g[0]))
    return low, high


def _ways(
    file: Layup | None, rows: Sequence[BatchRow], name: str, notes: list[str]
) -> list[Method]:
    """By what it was wetted out: what its kits and its file say; all that is known here where
    neither does, or one is not known."""
    said = {str(kit["method"]) for kit in _kits(rows, name) if kit.get("method")}
    known = names("methods")
    if file is not None:
        said.discard(Path(file.method).stem.lower())  # as a tag has one that is given by path
        said.add(file.method)
        known = sorted({*known, file.method})
    ways = [load_method(one) for one in (known if said - {*known} or not said else sorted(said))]
    if len(ways) > 1:
        each = " or ".join(way.name for way in ways)
        notes.append(f"Wetted out by {each}: it may be any of these, and the range holds all.")
    return ways


def _of_kits(rows: Sequence[BatchRow], name: str, ways: Sequence[Method]) -> Cloth | None:
    """The cloth that the batches were sized by, None where none was."""
    kits = [
        KitPart(
            str(kit.get("plies") or ""),
            kit["cloth_ug"] / UG_PER_G,
            0.0 if kit.get("weighed") else CLOTH_SPREAD,
            _part(row, kit, ways),
        )
        for row in rows
        for kit in _kits([row], name)
    ]
    return cloth_of(kits) if kits else None


def _kits(rows: Sequence[BatchRow], name: str) -> list[dict[str, Any]]:
    """Those of this layup, and cloth without a tag."""
    of = (None, _key(name))
    return [k for row in rows for k in row.kits if (k.get("layup") and _key(str(k["layup"]))) in of]


def _part(row: BatchRow, kit: dict[str, Any], ways: Sequence[Method]) -> Span:
    """Of this kit; where the batch does not say it, from what so much epoxy wets at the least."""
    if (told := part_of(kit)) is not None:
        return told, told
    wets_ug = (row.sum_ug() or 0) * min((1 - way.lost.high) / way.apply.high for way in ways)
    return min(1.0, wets_ug / sum(one["cloth_ug"] for one in row.kits)), 1.0


def _of_the_batches(file: Layup, rows: Sequence[BatchRow], notes: list[str]) -> Layup:
    """The plies that the batches were for, where each says so; else all of them."""
    said = [row.about("plies") for row in rows]
    try:
        plies = {number for text in said for number in numbered(str(text or ""))}
        chosen = file.only(plies)
    except NoPly as error:
        notes.append(f"The batches are of other plies than the file's ({error}): all are counted.")
        return file
    except ValueError:  # of one nobody said
        notes.append("Not each batch says its plies: all of the file's are counted.")
        return file
    if missing := {ply.number for ply in file.plies} - plies:
        notes.append(f"No batch is for plies {spoken(missing)}: they are not counted.")
    return replace(file, steps=chosen.steps)


def _is_open(row: BatchRow) -> bool:
    return any(cup.closed_at is None for cup in row.cups)


def _laid(row: BatchRow, name: str, lost: Span, notes: list[str]) -> Span:
    """What of this batch went upon the layup."""
    whole_g = (row.sum_ug() or 0) / UG_PER_G  # without what was taken out of the stirred mix
    cups = tuple(
        Share(
            most_g=cup.most_ug / UG_PER_G,
            known=cup.mass_ug is not None,
            left_g=None if left_ug is None else left_ug / UG_PER_G,
            used_up=cup.closed_how == "used-up",
            elsewhere=bool(cup.fills) or _key(name) not in layups_of_cup(row, cup),
        )
        for cup in row.cups
        for left_ug in [row.left_ug if len(row.cups) == 1 else cup.left_ug]
    )
    least, most = laid_g(whole_g, cups, lost)
    if open_ones := [str(cup.number) for cup in row.cups if cup.closed_at is None]:
        notes.append(f"Cup {', '.join(open_ones)} of batch {row.batch} is not closed yet.")
    if not cups:
        notes.append(f"Batch {row.batch} was typed in: what was left of it is not known.")
    together = [layups_of_cup(row, cup) for cup in row.cups] or [layups_of(row)]
    served = [one for names in together if _key(name) in names for one in names]
    if others := [one for one in dict.fromkeys(served) if one != _key(name)]:
        notes.append(
            f"Batch {row.batch} served {', '.join(others)} too: how much of it, nobody weighed."
        )
        least = 0.0
    return least, most


def _wiped(rows: Sequence[BatchRow], name: str) -> Span | None:
    """What was weighed of it; where a batch served other layups too, perhaps not of this one."""
    low = high = 0.0
    found = False
    for row in rows:
        for one in row.later:
            of = one.what.lower()
            if one.kind != "wiped" or type(one.value) is not int or of not in ("", _key(name)):
                continue
            found = True
            high += one.value / UG_PER_G
            low += one.value / UG_PER_G if of or len(layups_of(row)) < 2 else 0.0
    return (low, high) if found else None


def _key(name: str) -> str:
    return name.strip().lower()


def _elsewhere(file: Layup | None, rows: Sequence[BatchRow], *, whole: bool) -> Span | None:
    """What core, joints and peel ply took of the clear epoxy. Where filler was logged, what was
    thickened is known by its cups; else nobody knows from which batch it came. Where the layup
    is not ``whole`` they may be still to come."""
    if file is None:
        return None
    told = any(cup.fills for row in rows for cup in row.cups)
    took = NOTHING
    for step in file.steps:
        if isinstance(step, Coat):
            one = step.surface.uptake_g_m2 * step.area_m2
        elif isinstance(step, Bead):
            one = epoxy_for(step.mix, step.volume_ml, EPOXY_G_ML)
        else:
            continue
        if isinstance(step, Coat) and step.mix is None:
            took += one
        elif not told:
            took += replace(one, low=0.0)
    return took.low if whole else 0.0, took.high


def _two(span: Span) -> list[float]:
    return [round(mass, 3) for mass in span]


def _grams(span: Sequence[float]) -> str:
    low, high = (f"{mass:.{0 if span[1] >= 100 else 1}f}" for mass in span)
    return f"{low} g" if low == high else f"{low} to {high} g"
