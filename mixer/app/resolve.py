"""From what a person typed to the terms of a batch, or one sentence why not.

Must never let a resin that is not confirmed onto a real scale, nor an order through
that the record could not keep.
"""

from __future__ import annotations

import math
import shlex
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Protocol

from mixer import __version__, units
from mixer.app.bench import damp
from mixer.app.files.confirm import default_store, is_confirmed, store_trouble
from mixer.app.files.profiles import (
    CupProfile,
    ProfileError,
    ResinProfile,
    ScaleProfile,
    load_cup,
    load_resin,
    load_scale,
)
from mixer.app.files.toml_table import LONGEST_TEXT
from mixer.app.request import TYPED, USUAL_SCALE, Request
from mixer.app.sentence import NotDone, sentence
from mixer.pour.recipe import Terms

_FLAGS = {"air_c": "air", "resin_c": "resin-temp", "surface_c": "surface"}
NO_CABLE = "no-cable"  # the name of its profile
USUAL_DIVISION_UG = 100_000  # of most such scales (common practice, no source)
FRESH = "begin with a fresh lot and leave out what is left"
LEAST_UG = 1_000_000  # common practice, no source: some twenty drops


class Refused(ValueError):
    """What was asked for cannot be done; the message is one sentence for a person."""


class Told(Protocol):
    """The words beside the masses, as typed; None is "not said"."""

    @property
    def air(self) -> str | None: ...
    @property
    def resin_temp(self) -> str | None: ...
    @property
    def surface(self) -> str | None: ...
    @property
    def rh(self) -> str | None: ...
    @property
    def operator(self) -> str | None: ...
    @property
    def layup(self) -> str | None: ...
    @property
    def plies(self) -> str | None: ...
    @property
    def resin_lot(self) -> str | None: ...
    @property
    def hardener_lot(self) -> str | None: ...


@dataclass(frozen=True, slots=True)
class Order:
    """A batch that can be begun. ``about`` is what the record keeps beside the terms;
    ``size`` the size as it was asked for; ``cup_ug`` what the cup itself should weigh."""

    terms: Terms
    about: dict[str, Any]
    scale: ScaleProfile
    port: str
    simulated: bool
    size: str
    cup_ug: int

    @property
    def typed(self) -> bool:
        """Whether its weights are typed in, off a scale with no cable."""
        return self.terms.typed_division_ug is not None

    def on_scale_of(self, capacity_ug: int) -> Order:
        """The same where the scale itself says that it weighs up to this.

        The least that is known counts. Raises :class:`Refused` where the size is too much.
        """
        most_ug = min(capacity_ug, self.terms.scale_most_ug or capacity_ug)
        _fit(self.size, self.terms.size_ug, self.terms.cup_most_ug, most_ug - self.cup_ug)
        return replace(self, terms=replace(self.terms, scale_most_ug=most_ug))


def resolve(request: Request, *, store: Path | None = None) -> Order:
    """The order for this request. Raises :class:`Refused`."""
    try:
        return _resolve(request, store or default_store())
    except (NotDone, ProfileError, units.UnitsError) as error:
        raise Refused(sentence(error)) from None


def _resolve(request: Request, store: Path) -> Order:
    resin = load_resin(request.resin)
    typed = request.port.startswith(TYPED)
    scale = load_scale(scale_of(request))
    cup = load_cup(request.cup) if request.cup else None
    simulated = request.port.startswith("sim:")
    if simulated and request.port != "sim:":
        raise Refused(
            f"port: {units.shown(request.port)} was read; the simulated bench is sim: alone."
        )
    if not simulated and not is_confirmed(resin, store):
        raise Refused(_not_confirmed(request.resin, resin, store))
    _fit_together(request, scale)
    cup_most = cup.most_ug(resin.density_g_per_ml) if cup else None
    cup_ug = cup.mass_ug if cup else 0
    size_ug = units.mass_ug(request.size, "size")
    _fit(request.size, size_ug, cup_most, scale.capacity_ug - cup_ug)
    left_ug = () if request.left is None else _fit_lots(request, size_ug, resin)
    terms = Terms(
        recipe=resin.recipe(),
        size_ug=size_ug,
        cup_most_ug=cup_most,
        scale_most_ug=scale.capacity_ug,
        stir_ms=round(_stir_s(request.stir, resin) * 1000),
        hands_free=request.hands_free,
        repeatability_ug=scale.repeatability_ug,
        linearity_ug=scale.linearity_ug,
        drift_ug=scale.drift_ug,
        typed_division_ug=division_ug(request.port, scale) if typed else None,
        left_ug=left_ug,
    )
    about = _about(request, resin, scale, cup, simulated)
    about["weights"] = "typed" if typed else "scale"
    return Order(terms, about, scale, request.port, simulated, request.size, cup_ug)


def scale_of(request: Request) -> str:
    """The name of its scale's profile: the usual one has a cable."""
    usual = request.port.startswith(TYPED) and request.scale == USUAL_SCALE
    return NO_CABLE if usual else request.scale


def division_ug(port: str, scale: ScaleProfile) -> int:
    """One step of the display of a scale with no cable: as said with the port, else by its
    profile, else a tenth of a gram."""
    said = port.removeprefix(TYPED).strip()
    if not said:
        return scale.division_ug or USUAL_DIVISION_UG
    step = units.mass_ug(said, "port typed:")
    if not 1_000 <= step <= 100_000_000:
        raise Refused(
            f"port: {units.shown(port)} was read; give typed: with one step of the display, from "
            "0.001 g to 100 g, such as typed:0.1g."
        )
    return step


def _fit_together(request: Request, scale: ScaleProfile) -> None:
    typed = request.port.startswith(TYPED)
    if scale.dialect == "none" and not typed:
        raise Refused(f"scale: {scale.name} has no cable; give --port typed: for it.")
    if typed and request.hands_free:
        raise Refused(
            "hands-free: at a scale with no cable each figure is typed; leave hands-free out."
        )


def _not_confirmed(asked: str, resin: ResinProfile, store: Path) -> str:
    # The figures must come from the label: to print the profile's own would invite
    # the reader to confirm the profile with itself.
    on_label = [c.name for c in resin.components if c.role != "additive"]
    ratio = ":".join("ABCDEF"[: len(on_label)])
    order = " : ".join(on_label)
    trouble = store_trouble(store)
    return (
        f"{resin.name} is not confirmed: read the ratio {order} off its label as {ratio}, then "
        f"run cupside resin confirm {shlex.quote(asked)} --ratio {ratio} --by weight|volume"
        f"{f' ({trouble})' if trouble else ''}."
    )


def _stir_s(text: str | None, resin: ResinProfile) -> float:
    if text is None:
        return resin.stir_s
    stir_s = units.duration_s(text, "stir")
    if not 1 <= stir_s <= 3600:  # as in a profile
        raise Refused(f"stir: {units.shown(text)} is not within 1 s and 1 h; give such as '120 s'.")
    return stir_s


def _fit(asked: str, size_ug: int, cup_most_ug: int | None, scale_left_ug: int) -> None:
    """Refuse a size that cup or scale cannot take.

    ``scale_left_ug`` is without the cup, which stands on the scale too; what it really
    weighs is known once it is there.
    """
    read = f"size: {units.shown(asked)}"
    if size_ug <= 0:
        raise Refused(f"{read} is nothing; give a mass above zero such as '60 g'.")
    if size_ug < LEAST_UG:
        raise Refused(f"{read} is less than can be poured; give 1 g or more.")
    if cup_most_ug is not None and size_ug > cup_most_ug:
        raise Refused(f"{read} is more than the cup may hold; {_up_to(cup_most_ug)}.")
    if size_ug > scale_left_ug:
        raise Refused(f"{read} is more than the scale may carry; {_up_to(scale_left_ug)}.")


def _fit_lots(request: Request, size_ug: int, resin: ResinProfile) -> tuple[int | None, ...]:
    """What is left of each component. Refuses a size of which one would have to come out of two
    lots."""
    # the first weight need not wait for it
    from mixer.app.sizing.stock import each_left_ug, each_said, stock

    left = stock(each_said(request.left), resin)
    if left is not None and left.most_ug < LEAST_UG:
        raise Refused(f"left: what is left of the {left.name} is not enough for a batch; {FRESH}.")
    if left is not None and size_ug > left.most_ug:
        raise Refused(
            f"size: {units.shown(request.size)} takes more {left.name} than is left; "
            f"{_up_to(left.most_ug)}, or {FRESH}."
        )
    each_ug = each_left_ug(each_said(request.left), resin)
    return tuple(each_ug.get(component.name) for component in resin.recipe().components)


def _up_to(most_ug: int) -> str:
    if most_ug < 100_000:
        return "take a lighter cup or another scale"
    # Rounded down, so that what is offered is accepted.
    return f"give up to {math.floor(most_ug / 1e5) / 10:.1f} g"


def words(text: str | None, what: str) -> str | None:
    """As typed, or :class:`Refused`. The record keeps one line that can be written as UTF-8."""
    if text is not None and not (text.isprintable() and len(text) <= LONGEST_TEXT):
        raise Refused(
            f"{what}: {units.shown(text)} was read; give one line of printable text, up to "
            f"{LONGEST_TEXT} characters."
        )
    return text


def _lot(text: str | None, what: str) -> str | None:
    """As typed; no list by lot would find an empty one."""
    if text is not None and not text.strip():
        raise Refused(
            f"{what}: nothing was given; give the lot as it stands on the label, or leave it out."
        )
    return words(text, what)


def plies(text: str | None) -> str | None:
    """As typed: numbers and ranges, such as 1-4 or 2, 5-7; or :class:`Refused`.

    >>> plies("1-4"), plies(None)
    ('1-4', None)
    """
    if text is not None:
        from mixer.plan.layup import numbered  # the first weight need not wait for it

        try:
            numbered(text)
        except ValueError:
            raise Refused(
                f"plies: {units.shown(text)} was read; give their numbers from 1 on, such as 1-4 "
                "or 2, 5-7."
            ) from None
    return text


def _about(
    request: Request,
    resin: ResinProfile,
    scale: ScaleProfile,
    cup: CupProfile | None,
    simulated: bool,
) -> dict[str, Any]:
    return {
        "resin_system": resin.name,
        "resin_source": resin.source,
        "cup_name": cup.name if cup else None,
        "scale_name": scale.name,
        "bench": "simulated" if simulated else "real",
        **told(request),
        "program": __version__,
        "asked": request.words(),
        "profile": {"resin": resin.raw, "scale": scale.raw, "cup": cup.raw if cup else None},
        "pot_life": resin.raw.get("pot_life"),
    }


def told(asked: Told) -> dict[str, Any]:
    """What a person said beside the masses, by its names in the record."""
    room = {
        "air_c": parsed("air_c", asked.air),
        "resin_c": parsed("resin_c", asked.resin_temp),
        "surface_c": parsed("surface_c", asked.surface),
        "rh_pct": parsed("rh_pct", asked.rh),
    }
    return {
        "operator": words(asked.operator, "operator"),
        "layup": words(asked.layup, "layup"),
        "plies": plies(asked.plies),
        **room,
        **damp.follows(room),
        "resin_lot": _lot(asked.resin_lot, "resin-lot"),
        "hardener_lot": _lot(asked.hardener_lot, "hardener-lot"),
    }


def parsed(name: str, text: str | None) -> float | None:
    """A figure of the room, by its name in the record; raises :class:`UnitsError`.

    >>> parsed("rh_pct", "55%"), parsed("air_c", None)
    (55.0, None)
    """
    if text is None:
        return None
    if name == "rh_pct":
        rh_pct = round(100 * units.fraction(text, "rh"), 3)
        if not rh_pct:
            raise units.UnitsError(
                f"rh: {units.shown(text)} is air without any water, which has no dew point; give "
                "what the hygrometer shows, above 0 and up to 100 %, or leave it out"
            )
        return rh_pct
    return units.room_c(text, _FLAGS[name])
