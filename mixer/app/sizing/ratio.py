"""How much hardener for how much resin: from equivalent weights, or of a profile.

Must never make up a density, nor call a ratio right: what the label says comes first,
and whatever a hardener has in it beside amine, its equivalent weight does not tell.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from mixer import units
from mixer.app.files.profiles import AHEW, EEW, ResinProfile, load_resin
from mixer.app.life.life_asked import amine_share
from mixer.app.sentence import NotDone
from mixer.science.stoichiometry import phr, weight_to_volume

FIRST = "The label's ratio comes first: confirm it there before anything is mixed."


#: Hardeners are labelled up to so far from exact (common practice, no source).
USUAL = (0.8, 1.2)


@dataclass(frozen=True, slots=True)
class Asked:
    """As typed; ``None`` is "not said"."""

    resin: str | None = None
    eew: str | None = None
    ahew: str | None = None
    density_resin: str | None = None
    density_hardener: str | None = None


def answer(asked: Asked) -> dict[str, Any]:
    """The ratio, ready for JSON. ``phr`` is all hardener for 100 of resin by weight; a
    figure that is not known is None. Raises ValueError with one sentence.

    >>> round(answer(Asked(eew="190", ahew="24.4"))["phr"], 2)
    12.84
    """
    if asked.resin is None:
        return _from_equivalents(asked)
    if any((asked.eew, asked.ahew, asked.density_resin, asked.density_hardener)):
        raise NotDone("--resin has its weights and densities in its profile: give it alone")
    return _of_profile(load_resin(asked.resin))


def lines(found: dict[str, Any]) -> list[str]:
    """The same for a person.

    >>> print(*lines(answer(Asked(eew="190", ahew="24.4"))), sep="\\n")
    100 : 12.84 by weight (resin : hardener)
    By volume: not known without the densities of both.
    The label's ratio comes first: confirm it there before anything is mixed.
    """
    parts = found["components"]
    names = " : ".join(part["name"] for part in parts)
    said = [f"{_row(parts, 'by_weight')} by weight ({names})"]
    if found["by_volume"] is None:
        said.append("By volume: not known without the densities of both.")
    else:
        said.append(f"{_row(parts, 'by_volume')} by volume ({names})")
    share = found["of_stoichiometric"]
    if found["resin"] is not None and share is not None:
        said.append(f"Amine hydrogens for each epoxide: {share:.3f} (1 is exact)")
    return [*said, *found["notes"]]


def _row(parts: list[dict[str, Any]], key: str) -> str:
    return " : ".join(f"{round(part[key], 2):g}" for part in parts)


def _from_equivalents(asked: Asked) -> dict[str, Any]:
    if asked.eew is None or asked.ahew is None:
        raise NotDone("give --eew and --ahew, or --resin alone, such as --eew 190 --ahew 24.4")
    eew = _equivalent(asked.eew, "eew", EEW, "190")
    ahew = _equivalent(asked.ahew, "ahew", AHEW, "24.4")
    densities: list[float] | None = None
    if asked.density_resin is not None or asked.density_hardener is not None:
        if asked.density_resin is None or asked.density_hardener is None:
            raise NotDone("a ratio by volume wants both, --density-resin and --density-hardener")
        densities = [
            _density(asked.density_resin, "density-resin"),
            _density(asked.density_hardener, "density-hardener"),
        ]
    by_weight = [("resin", "resin", 100.0), ("hardener", "hardener", phr(eew, ahew))]
    return _view(None, by_weight, densities, 1.0)


def _of_profile(resin: ResinProfile) -> dict[str, Any]:
    first = resin.components[0].parts
    by_weight = [(c.name, c.role, 100 * c.parts / first) for c in resin.components]
    densities = [c.density_g_per_ml for c in resin.components]
    known = [d for d in densities if d is not None]
    whole = known if len(known) == len(densities) else None
    return _view(resin.name, by_weight, whole, amine_share(resin))


def _view(
    resin: str | None,
    by_weight: Sequence[tuple[str, str, float]],
    densities: list[float] | None,
    share: float | None,
) -> dict[str, Any]:
    """``by_volume`` and ``by_weight`` are hardener for 100 of resin, each its own."""
    parts: list[dict[str, Any]] = []
    for i, (name, role, parts_by_weight) in enumerate(by_weight):
        volume = (
            weight_to_volume(parts_by_weight, densities[0], densities[i]) if densities else None
        )
        parts.append(
            {"name": name, "role": role, "by_weight": parts_by_weight, "by_volume": volume}
        )
    hardeners = [part for part in parts if part["role"] == "hardener"]
    hardener = sum(part["by_weight"] for part in hardeners)
    return {
        "resin": resin,
        "phr": hardener,
        "by_weight": hardener,
        "by_volume": sum(part["by_volume"] for part in hardeners) if densities else None,
        "of_stoichiometric": share,
        "components": parts,
        "notes": [*_far_off(share), FIRST],
    }


def _far_off(share: float | None) -> list[str]:
    if share is None or USUAL[0] <= share <= USUAL[1]:
        return []
    return [
        f"That is far off, {share:.2f} times the hardener that the epoxide takes: compare parts "
        "and equivalent weights with the label and the data sheet, as one of them may be a slip."
    ]


def _equivalent(text: str, what: str, span: tuple[float, float], such: str) -> float:
    least, most = span
    try:
        # float() also takes "1_9", "nan" and figures of other alphabets.
        value = float(text) if text.isascii() and "_" not in text else math.nan
    except ValueError:
        value = math.nan
    if not least <= value <= most:
        raise NotDone(
            f"{what}: {units.shown(text)} was read; give grams for each mole as a bare number "
            f"from {least:g} to {most:g}, such as {such}"
        )
    return value


def _density(text: str, what: str) -> float:
    value = units.density_g_per_ml(text, what)
    if not 0.5 <= value <= 3:  # as in a profile
        raise NotDone(f"{what}: {units.shown(text)} is not within 0.5 to 3 g/mL")
    return value
