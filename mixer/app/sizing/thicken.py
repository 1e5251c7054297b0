"""How much filler for a cup of epoxy, or for a volume that is wanted of it.

Must never pass for a recipe: it is where to begin, and then it goes by consistency.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from mixer import units
from mixer.app.files.cloth import load_filler
from mixer.app.files.profiles import load_cup, load_resin
from mixer.app.sentence import NotDone
from mixer.plan.batches import UG_PER_G
from mixer.plan.cloth import Mix, Range
from mixer.plan.thicken import epoxy_for, epoxy_in, thicken
from mixer.science.laminate import EPOXY_G_ML

START = "Where to begin: loose filler varies by some 30 %, so weigh it in and go by consistency."
STIRRED = "Thicken epoxy that has been stirred, never resin or hardener alone."
DUST = "A dust mask for fillers."


@dataclass(frozen=True, slots=True)
class Asked:
    """As typed; ``None`` is "not said"."""

    filler: str
    mix: str | None = None
    epoxy: str | None = None
    volume: str | None = None
    resin: str | None = None
    cup: str | None = None


def answer(asked: Asked) -> dict[str, Any]:
    """The amounts, ready for JSON, each range as low, value, high. Raises ValueError with
    one sentence.

    >>> answer(Asked("flox", epoxy="46 g"))["filler_g"]
    [4.2, 8.0, 13.0]
    """
    mix = _mix(asked)
    density = load_resin(asked.resin).density_g_per_ml if asked.resin else EPOXY_G_ML
    cup = load_cup(asked.cup) if asked.cup else None
    fits_g = epoxy_in(mix, cup.volume_ml, cup.fill, density) if cup else None
    epoxy = _epoxy(asked, mix, density, fits_g)
    found = thicken(mix, epoxy.value, density)
    notes = [START, STIRRED, DUST]
    if asked.resin is None:
        notes.insert(1, f"No resin was named: epoxy of {EPOXY_G_ML:g} g/mL.")
    if cup is not None and fits_g is not None:
        more = "; this is more" if epoxy.value > fits_g + 0.05 else ""
        notes.insert(
            0,
            f"{cup.name} ({cup.volume_ml:g} mL) has room for {fits_g:.1f} g of clear epoxy, "
            f"thickened and stirred{more}.",
        )
    return {
        "filler": mix.filler,
        "mix": mix.name,
        "epoxy_g": _three(epoxy),
        "filler_g": _three(found.filler_g),
        "volume_ml": _three(found.volume_ml),
        "density_g_ml": _three(found.density_g_ml, 3),
        "fits_g": None if fits_g is None else round(fits_g, 1),
        "notes": notes,
    }


def lines(found: dict[str, Any]) -> list[str]:
    """The same for a person."""
    low, value, high = found["epoxy_g"]
    spread = f" ({low:g} to {high:g} g)" if low < high else ""
    said = [f"{found['mix']}: {value:g} g of mixed epoxy{spread}"]
    for name, key, unit in (
        (found["filler"], "filler_g", "g"),
        ("comes to", "volume_ml", "mL"),
        ("weighs", "density_g_ml", "g/mL"),
    ):
        low, value, high = found[key]
        said.append(f"  {name}  about {value:g} {unit} ({low:g} to {high:g} {unit})")
    return [*said, *found["notes"]]


def _mix(asked: Asked) -> Mix:
    mixes = load_filler(asked.filler)
    if asked.mix is None and len(mixes) == 1:
        return mixes[0]
    for mix in mixes:
        if mix.name == asked.mix:
            return mix
    read = "nothing" if asked.mix is None else units.shown(asked.mix)
    there = ", ".join(repr(mix.name) for mix in mixes)
    raise NotDone(f"mix: {read} was read; give one of {there}")


def _epoxy(asked: Asked, mix: Mix, density: float, fits_g: float | None) -> Range:
    """As much as was said; where nothing was, as much as fits the cup."""
    if asked.epoxy is None and asked.volume is None and fits_g is not None:
        return Range(fits_g, fits_g, fits_g)
    if (asked.epoxy is None) == (asked.volume is None):
        raise NotDone(
            "give --epoxy, such as 40g, or --volume of what is wanted, such as 60mL, or --cup "
            "alone for as much as fits it"
        )
    if asked.epoxy is not None:
        mass_g = units.mass_ug(asked.epoxy, "epoxy") / UG_PER_G
        if not 0 < mass_g <= 10_000:
            raise NotDone(
                f"epoxy: {units.shown(asked.epoxy)} is not above 0 and up to 10 kg; give such "
                "as '40 g'"
            )
        return Range(mass_g, mass_g, mass_g)
    volume_ml = units.volume_ml(asked.volume or "", "volume")
    if not 0 < volume_ml <= 10_000:
        raise NotDone(
            f"volume: {units.shown(asked.volume)} is not above 0 and up to 10 L; give such as "
            "'60 mL'"
        )
    return epoxy_for(mix, volume_ml, density)


def _three(figures: Range, digits: int = 1) -> list[float]:
    return [round(x, digits) for x in (figures.low, figures.value, figures.high)]
