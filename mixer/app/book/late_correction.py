"""What was typed of a late entry is corrected, or all of it withdrawn.

Nothing here was weighed by a scale that the program saw: so also the masses, the moment and
the resin may have been typed wrongly, and the batch may have been entered twice.
"""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from mixer import units
from mixer.app.book.late_entry import mass_ug, ratio, utc_of
from mixer.app.files.confirm import default_store, is_confirmed
from mixer.app.files.profiles import load_resin
from mixer.app.sentence import NotDone
from mixer.pour.typed_why import why_unproven
from mixer.record.corrections import Correction, amount_name, grams, told
from mixer.record.row import ENTRY, BatchRow


def fields(row: BatchRow) -> list[str]:
    """What can be corrected of this entry."""
    return [*_amounts(row), "mixed_at", "resin_system", "outcome"]


def correction(row: BatchRow, name: str, value: str, now_utc: str) -> dict[str, Any] | None:
    """As much of the fact's data as is known here; None for a field that is none of these.
    Raises :class:`NotDone`, and what a mass or a profile is refused with."""
    if name == "mass":
        name, value = _named(row, value)
    amounts = _amounts(row)
    if name in amounts:
        return _amount(row, sorted(row.amounts_ug)[amounts.index(name)], name, value)
    match name:
        case "mixed_at":
            return changed(row, name, "mixed_utc", row.mixed_utc, _mixed(row, value, now_utc))
        case "resin_system":
            return _resin(row, value)
        case "outcome" if value.strip() in ENTRY:
            return changed(row, name, name, row.outcome, value.strip())
        case "outcome":
            raise NotDone(
                f"outcome: {units.shown(value)} was read; give withdrawn, where it was entered "
                "twice or never mixed, or entered, which takes that back."
            )
    return None


def changed(row: BatchRow, name: str, stored: str, was: Any, new: Any) -> dict[str, Any]:
    """Field, what stood there and what is true; :class:`NotDone` where that is the same."""
    if new == was:
        shown = told(Correction(stored, was, new, "", ""), new)
        raise NotDone(f"{name} of batch {row.batch} is {shown} already; nothing was changed.")
    return {"field": stored, "was": was, "value": new}


def _mixed(row: BatchRow, value: str, now_utc: str) -> str:
    """When it was mixed, which was before it was entered."""
    utc = utc_of(value, now_utc)
    if row.entered_at is not None and utc > row.entered_at.utc:
        raise NotDone(
            f"mixed_at: {units.shown(value)} is after batch {row.batch} was entered, "
            f"{row.entered_at.utc}; give a moment before that, or add a note."
        )
    return utc


def _amounts(row: BatchRow) -> list[str]:
    return [amount_name(index, row.components) for index in sorted(row.amounts_ug)]


def _named(row: BatchRow, word: str) -> tuple[str, str]:
    """The field and the mass of ``NAME=MASS``, as it was entered."""
    name, is_there, text = word.partition("=")
    names = [component.get("name") for component in row.components]
    if not is_there or name not in names:
        raise NotDone(
            f"mass: {units.shown(word)} was read; give NAME=MASS, the names of batch {row.batch} "
            f"being {', '.join(map(str, names))}."
        )
    return amount_name(names.index(name), row.components), text


def _amount(row: BatchRow, index: int, name: str, value: str) -> dict[str, Any]:
    data = changed(row, name, "amount_ug", row.amounts_ug[index], mass_ug(value, name))
    amounts = {**row.amounts_ug, index: data["value"]}
    if (left_ug := row.left_ug or 0) > sum(amounts.values()):
        raise NotDone(
            f"{name}: with {units.shown(value)} batch {row.batch} would have been "
            f"{grams(sum(amounts.values()))} g, and {grams(left_ug)} g of it are said to be left; "
            "correct left_g first."
        )
    follows = _ratio(row, name, row.opened.get("recipe"), row.ratio_target, amounts)
    return {**data, "component": index, "follows": follows}


def _resin(row: BatchRow, value: str) -> dict[str, Any]:
    """The resin, and with it the terms: the masses stay those of its components, in order."""
    resin = load_resin(value)
    recipe = resin.recipe()
    data = changed(row, "resin_system", "resin_system", row.resin_system, resin.name)
    was = [component.get("role") for component in row.components]
    if [component.role for component in recipe.components] != was:
        raise NotDone(
            f"resin_system: {resin.name} has other components than batch {row.batch} was entered "
            "with; correct its outcome to withdrawn, and enter it anew."
        )
    components = [asdict(component) for component in recipe.components]
    terms = {**asdict(recipe), "components": components}
    follows = {
        "resin_source": resin.source,
        "resin_confirmed": is_confirmed(resin, default_store()),
        "recipe": terms,
        "profile": {"resin": resin.raw, "scale": None, "cup": None},
        "ratio_target": recipe.ratio_target,
        **_ratio(row, "resin_system", terms, recipe.ratio_target, row.amounts_ug),
    }
    return {**data, "follows": follows}


def _ratio(
    row: BatchRow, name: str, recipe: Any, target: float | None, amounts: dict[int, int]
) -> dict[str, Any]:
    """What the ratio comes to by these terms: the batch's, not those of a profile of today."""
    try:
        components = recipe["components"]
        actual = ratio(components, [amounts[i] for i in range(len(components))])
        because = why_unproven(actual, float(target or 0), float(recipe["ratio_tolerance"]))
    except (KeyError, TypeError, ValueError, ZeroDivisionError):
        raise NotDone(
            f"{name} of batch {row.batch} cannot be corrected: its recipe is not known here; "
            "a note is accepted."
        ) from None
    return {"ratio_actual": actual, "unproven_because": because}
