"""From what a person typed to the terms of a batch, or one sentence why not."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from mixer import __version__, units
from mixer.app.confirm import default_store, is_confirmed
from mixer.app.profiles import (
    CupProfile,
    ProfileError,
    ResinProfile,
    ScaleProfile,
    load_cup,
    load_resin,
    load_scale,
)
from mixer.app.request import Request
from mixer.pour.recipe import Terms
from mixer.science.humidity import dew_point_c


class Refused(ValueError):
    """What was asked for cannot be done; the message is one sentence for a person."""


@dataclass(frozen=True, slots=True)
class Order:
    """A batch that can be begun. ``about`` is what the record keeps beside the terms."""

    terms: Terms
    about: dict[str, Any]
    scale: ScaleProfile
    port: str
    simulated: bool


def resolve(request: Request, *, store: Path | None = None) -> Order:
    """The order for this request. Raises :class:`Refused`."""
    try:
        return _resolve(request, store or default_store())
    except (ProfileError, units.UnitsError) as error:
        raise Refused(str(error)) from None


def _resolve(request: Request, store: Path) -> Order:
    resin = load_resin(request.resin)
    scale = load_scale(request.scale)
    cup = load_cup(request.cup) if request.cup else None
    simulated = request.port.startswith("sim:")
    if not simulated and not is_confirmed(resin, store):
        raise Refused(
            f"{resin.name} is not confirmed: compare its ratio with the label, then run "
            f"cupside resin confirm {request.resin} --ratio A:B --by weight|volume."
        )
    cup_most = cup.most_ug(resin.density_g_per_ml) if cup else None
    stir_s = resin.stir_s if request.stir is None else units.duration_s(request.stir, "stir")
    terms = Terms(
        recipe=resin.recipe(),
        size_ug=_size_ug(request.size, cup_most, scale.capacity_ug),
        cup_most_ug=cup_most,
        scale_most_ug=scale.capacity_ug,
        stir_ms=round(stir_s * 1000),
        hands_free=request.hands_free,
    )
    about = _about(request, resin, scale, cup, simulated)
    return Order(terms, about, scale, request.port, simulated)


def _size_ug(text: str, cup_most_ug: int | None, scale_most_ug: int) -> int:
    size = units.mass_ug(text, "size")
    if size <= 0:
        raise Refused(f"size: {units.shown(text)} is nothing; give a mass above zero, as '60 g'.")
    if cup_most_ug is not None and size > cup_most_ug:
        raise Refused(
            f"size: {units.shown(text)} is above what the cup may hold, {cup_most_ug / 1e6:.0f} g."
        )
    if size > scale_most_ug:
        raise Refused(
            f"size: {units.shown(text)} is above what the scale carries, {scale_most_ug / 1e6:g} g."
        )
    return size


def _about(
    request: Request,
    resin: ResinProfile,
    scale: ScaleProfile,
    cup: CupProfile | None,
    simulated: bool,
) -> dict[str, Any]:
    air = None if request.air is None else units.temperature_c(request.air, "air")
    resin_c = request.resin_temp
    rh = None if request.rh is None else 100 * units.fraction(request.rh, "rh")
    return {
        "resin_system": resin.name,
        "resin_source": resin.source,
        "cup_name": cup.name if cup else None,
        "scale_name": scale.name,
        "bench": "simulated" if simulated else "real",
        "weights": "scale",
        "operator": request.operator,
        "layup": request.layup,
        "plies": request.plies,
        "air_c": air,
        "resin_c": None if resin_c is None else units.temperature_c(resin_c, "resin-temp"),
        "rh_pct": None if rh is None else round(rh, 3),
        "dew_point_c": _dew_point(air, rh),
        "resin_lot": request.resin_lot,
        "hardener_lot": request.hardener_lot,
        "program": __version__,
        "profile": {"resin": resin.raw, "scale": scale.raw, "cup": cup.raw if cup else None},
        "pot_life": resin.raw.get("pot_life"),
    }


def _dew_point(air_c: float | None, rh_pct: float | None) -> float | None:
    if air_c is None or rh_pct is None:
        return None
    try:
        return round(dew_point_c(air_c, rh_pct), 1)
    except ValueError:
        return None  # outside the formula's range: nothing, rather than a made-up number
