"""A batch that was mixed elsewhere, or is typed in later.

It gets a number like any other and is marked in every view: its weights are ``typed``,
its verdict is ``unproven`` whatever its ratio, and it says when it was entered. It is
never live: how old its cup was is for nobody to say now.

The resin need not be confirmed: that guards a pour against a profile with a wrong
ratio, and here nothing is poured any more. The record keeps the source, and whether it
was confirmed.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from mixer import __version__, units
from mixer.app.book.paperwork import fact, open_record
from mixer.app.clock import Clock
from mixer.app.files.confirm import default_store, is_confirmed
from mixer.app.files.profiles import ProfileError, ResinProfile, load_resin
from mixer.app.resolve import Refused, told, words
from mixer.app.sentence import NotDone, sentence
from mixer.pour.recipe import Component
from mixer.pour.typed_why import why_unproven
from mixer.record.corrections import amount_name, grams
from mixer.record.envelope import RecordError

_WHEN = re.compile(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d(:\d\d)?(Z|[+-]\d\d:\d\d)?", re.ASCII)
_GIVE = "give date and time such as 2026-11-01T10:30, or with an offset 2026-11-01T10:30+01:00"


@dataclass(frozen=True, slots=True)
class Late:
    """A late entry as typed; ``None`` is "not said". ``mass`` has words such as
    ``fast=9.6g``, one for each component that has no flag of its own."""

    resin: str
    mixed_at: str
    resin_mass: str | None = None
    hardener_mass: str | None = None
    mass: Sequence[str] = ()
    air: str | None = None
    resin_temp: str | None = None
    surface: str | None = None
    rh: str | None = None
    operator: str | None = None
    layup: str | None = None
    plies: str | None = None
    resin_lot: str | None = None
    hardener_lot: str | None = None
    note: str | None = None


def add(record: Path, late: Late) -> str:
    """Enter the batch, and say so in one sentence. The record is made if it is not there.

    :class:`NotDone` where anything typed is none, or the record cannot be written.
    """
    clock = Clock()
    try:
        resin = load_resin(late.resin)
        mixed_utc = utc_of(late.mixed_at, clock.utc())
        data = _entered(late, resin, mixed_utc)
    except (ProfileError, Refused, units.UnitsError) as error:
        raise NotDone(sentence(error)) from None
    try:
        new = not record.exists()
        with open_record(record) as journal:
            number = journal.open_batch(fact("entered", data, 0, clock))
    except RecordError as error:
        raise NotDone(error.say) from None
    except OSError as error:
        raise NotDone(f"The record {record} cannot be opened: {sentence(error)}") from None
    masses = " : ".join(f"{grams(mass)} g" for mass in data["amounts_ug"])
    actual = data["ratio_actual"]
    return (
        f"Batch {number} is entered{f' in a new record, {record}' if new else ''}: {resin.name}, "
        f"{masses}, ratio 100 : {actual:.2f} (target 100 : {data['ratio_target']:g}), unproven: "
        f"{data['unproven_because']}."
    )


def utc_of(text: str, now_utc: str, what: str = "mixed-at") -> str:
    """The moment that was typed, as UTC; local time unless it has an offset. ``what`` opens
    the sentence of an error.

    >>> utc_of("2026-11-01T10:30+01:00", "2026-11-02T00:00:00.000Z")
    '2026-11-01T09:30:00.000Z'
    """
    read = f"{what}: {units.shown(text)}"
    if not _WHEN.fullmatch(text.strip()):
        raise NotDone(f"{read} was read; {_GIVE}.")
    try:
        typed = datetime.fromisoformat(text.strip())
        when = typed.astimezone(UTC)
        twice = typed.tzinfo is None and typed.replace(fold=1).astimezone(UTC) != when
    except (ValueError, OverflowError, OSError):
        raise NotDone(f"{read} is no date and time that there is; {_GIVE}.") from None
    if twice:  # the clocks were changed then: that hour was twice, or not at all
        raise NotDone(f"{read} is not one moment of local time, as clocks were changed; {_GIVE}.")
    utc = when.isoformat(timespec="milliseconds").replace("+00:00", "Z")
    if utc > now_utc:
        raise NotDone(f"{read} is still to come (it is {now_utc} now); {_GIVE}, of the past.")
    return utc


def ratio(components: Sequence[dict[str, Any]], amounts_ug: Sequence[int]) -> float | None:
    """Hardener per 100 resin by weight; None without resin."""
    by_role = {"resin": 0, "hardener": 0, "additive": 0}
    for component, mass_ug in zip(components, amounts_ug, strict=True):
        by_role[str(component["role"])] += mass_ug
    return 100 * by_role["hardener"] / by_role["resin"] if by_role["resin"] else None


def mass_ug(text: str, what: str) -> int:
    """A typed mass of a component, above zero."""
    found = units.mass_ug(text, what)
    if not found:
        raise NotDone(
            f"{what}: {units.shown(text)} is nothing; give a mass above zero such as '60 g'."
        )
    return found


def _entered(late: Late, resin: ResinProfile, mixed_utc: str) -> dict[str, Any]:
    recipe = resin.recipe()
    components = [asdict(component) for component in recipe.components]
    texts = _masses(late, resin)
    amounts_ug = [mass_ug(text, what) for what, text in texts]
    actual = ratio(components, amounts_ug)
    if late.note is not None and not late.note.strip():
        raise NotDone("note: nothing was given; give the words of the note, or leave it out.")
    return {
        "resin_system": resin.name,
        "resin_source": resin.source,
        "resin_confirmed": is_confirmed(resin, default_store()),
        "recipe": {**asdict(recipe), "components": components},
        "weights": "typed",
        **told(late),
        "program": __version__,
        "profile": {"resin": resin.raw, "scale": None, "cup": None},
        "mixed_at": late.mixed_at.strip(),
        "mixed_utc": mixed_utc,
        "amounts_ug": amounts_ug,
        "texts": [text for _, text in texts],
        "ratio_target": recipe.ratio_target,
        "ratio_actual": actual,
        "verdict": "unproven",
        "unproven_because": why_unproven(actual, recipe.ratio_target, recipe.ratio_tolerance),
        "note": words(late.note, "note"),
    }


def _masses(late: Late, resin: ResinProfile) -> list[tuple[str, str]]:
    """What to call each component's mass and what was typed for it, in recipe order."""
    names = [c.name for c in resin.components]
    given: dict[str, tuple[str, str]] = {}

    def give(name: str, what: str, text: str) -> None:
        if name in given:
            raise NotDone(f"{what}: the mass of {name} was given twice; give it once.")
        given[name] = (what, text)

    for word in late.mass:
        name, is_there, text = word.partition("=")
        if not is_there or name not in names:
            raise NotDone(
                f"mass: {units.shown(word)} was read; give NAME=MASS such as {names[-1]}=28.8g, "
                f"the names of {resin.name} being {', '.join(names)}."
            )
        give(name, f"mass of {name}", text)
    if late.resin_mass is not None:
        give(names[0], "resin-mass", late.resin_mass)
    if late.hardener_mass is not None:
        if len(names) > 2:
            raise NotDone(f"hardener-mass: {resin.name} has several; {_each(resin.components)}.")
        give(names[1], "hardener-mass", late.hardener_mass)
    missing = [name for name in names if name not in given]
    if missing:
        raise NotDone(
            f"The mass of {' and of '.join(missing)} is missing; {_each(resin.components)}."
        )
    return [given[name] for name in names]


def _each(components: Sequence[Component]) -> str:
    plain = [asdict(component) for component in components]
    names = [amount_name(index, plain) for index in range(len(plain))]
    flags = [
        f"--{name[:-2]}-mass 80g" if name in ("resin_g", "hardener_g") else f"--mass {c.name}=10g"
        for name, c in zip(names, components, strict=True)
    ]
    return f"give each such as {' '.join(flags)}"
