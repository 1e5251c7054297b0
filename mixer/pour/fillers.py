"""The fillers that are known at this bench, and how much of one to begin with. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from mixer.pour.state import Pour
from mixer.pour.words import grams
from mixer.science.laminate import EPOXY_G_ML
from mixer.science.thickened import filler_g

MOST_STARTS = 10  # times what there is to begin with: more is a slip (our choice)
MOST_UG = 10_000_000  # which is no slip in any cup (our choice)


@dataclass(frozen=True, slots=True)
class Filler:
    """A filler at one stiffness: ``volumes`` of it, loose, to one of epoxy, and its density so;
    of both the least that there may be, as what is too much cannot be taken out. ``about`` is
    what the record keeps of it."""

    name: str
    volumes: float
    bulk_g_per_ml: float
    about: dict[str, Any] = field(default_factory=dict, hash=False)


def find(fillers: Sequence[Filler], text: str) -> Filler | str:
    """The filler that is meant by its name, by one of its words or by how one begins; else one
    sentence.

    >>> known = [Filler("wet micro", 2, 0.15), Filler("dry micro", 4, 0.15)]
    >>> find(known, "wet").name, find(known, "D").name
    ('wet micro', 'dry micro')
    >>> find(known, "micro")
    'Which filler: wet micro, dry micro?'
    """
    said = text.strip().lower()
    exact = [one for one in fillers if one.name.lower() == said]
    found = exact or [one for one in fillers if said and _means(one.name.lower(), said)]
    if len(found) == 1:
        return found[0]
    names = ", ".join(one.name for one in (found or fillers)) or "none is known"
    if found or not said:
        return f"Which filler: {names}?"
    return f"{text.strip()[:20]!r} is no filler known here: {names}; or keep it as a note."


def _means(name: str, said: str) -> bool:
    return name.startswith(said) or any(word.startswith(said) for word in name.split())


def start_ug(pour: Pour, epoxy_ug: int, filler: Filler) -> int | None:
    """How much of it to begin with in so much of this batch; ``None`` for nothing."""
    if epoxy_ug <= 0:
        return None
    density = density_g_per_ml(pour)
    grams = filler_g(epoxy_ug / 1e6, filler.volumes, filler.bulk_g_per_ml, density)
    return round(grams * 1e6)


def why_not(mass_ug: int, start_ug: int | None, step_ug: int) -> str:
    """Why so much of a filler, typed, cannot have gone into a cup; empty where it can."""
    most_ug = max(MOST_UG, MOST_STARTS * (start_ug or 0))
    if mass_ug <= 0:
        return f"{grams(mass_ug, step_ug)} is no filler: give a mass above zero, or none."
    if mass_ug > most_ug:
        return (
            f"{grams(mass_ug, step_ug)} is more filler than that cup takes: not taken down. Up to "
            f"{grams(most_ug, step_ug)} is accepted at once."
        )
    return ""


def density_g_per_ml(pour: Pour) -> float:
    """Of the mix: the volumes of its components added, as far as each has a density."""
    components = pour.terms.recipe.components
    volume = sum(c.parts / (c.density_g_per_ml or EPOXY_G_ML) for c in components)
    return sum(c.parts for c in components) / volume
