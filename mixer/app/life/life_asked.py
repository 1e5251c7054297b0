"""What is asked of ``cupside life``, from what a person typed; or one sentence why not.

Must never fill in a mass, nor a thickness on which it hangs whether foam softens.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import get_args

from mixer import units
from mixer.app.files.profiles import CupProfile, ResinProfile, load_cup, load_resin
from mixer.app.sentence import NotDone
from mixer.science.cure import FUNCTIONS, GEL
from mixer.science.pot_life import HEAT_J_G, HEAT_J_MOL, MASS_G, Label, Point
from mixer.science.shapes import Kind, Shape
from mixer.science.stoichiometry import (
    gel_conversion,
    of_mixture,
    of_stoichiometric,
    reacting_mol_per_g,
)

KINDS: tuple[Kind, ...] = get_args(Kind)
Parts = list[tuple[float, float | None]]

#: How deep, where nobody said so (our choice).
TRAY_M, FILM_M = 0.01, 0.0005

#: Of a hand layup, by weight (common practice, no source).
STACK_SHARE = 0.4

#: From which on a foam may not bear a load, where its data sheet was not asked: what is
#: laid on it must stay bearable to the hand (common practice, no source).
SOFTENS_C = 60.0


@dataclass(frozen=True, slots=True)
class Asked:
    """As typed; ``None`` is "not said"."""

    resin: str
    mass: str
    air: str | None = None
    start: str | None = None
    cup: str | None = None
    shape: str | None = None
    depth: str | None = None
    share: str | None = None
    softens: str | None = None
    lasting: str | None = None


@dataclass(frozen=True, slots=True)
class Case:
    """The same in figures. ``said_air``: its room is not just the label's; ``said_softens`` and
    ``said_share``: these are not just what is usual. ``most_g`` is as much as may be mixed of it;
    ``softens_c`` and ``lasting_min`` are None where that is not asked."""

    resin: ResinProfile
    label: Label
    mass_g: float
    air_c: float
    said_air: bool
    start_c: float
    cup: CupProfile | None
    shape: Shape
    most_g: float
    softens_c: float | None
    lasting_min: float | None
    said_softens: bool = False
    said_share: bool = False


def read(asked: Asked) -> Case:
    """The case that was asked for. Raises ValueError with one sentence."""
    resin = load_resin(asked.resin)
    cup = load_cup(asked.cup) if asked.cup is not None else None
    label = label_of(resin)
    shape = _shape(asked, cup)
    mass_g = _mass_g(asked.mass, resin, cup)
    said_c = temperature_c(asked.air, "air")
    air_c = label.points[0].temp_c if said_c is None else said_c
    start_c = temperature_c(asked.start, "start")
    most_ug = cup.most_ug(resin.density_g_per_ml) if cup else None
    return Case(
        resin=resin,
        label=label,
        mass_g=mass_g,
        air_c=air_c,
        said_air=said_c is not None,
        start_c=air_c if start_c is None else start_c,
        cup=cup,
        shape=shape,
        most_g=MASS_G[1] if most_ug is None else min(MASS_G[1], most_ug / 1e6),
        softens_c=_softens_c(asked.softens) if shape.kind == "stack" else None,
        lasting_min=_lasting_min(asked.lasting),
        said_softens=asked.softens is not None,
        said_share=asked.share is not None,
    )


def label_of(resin: ResinProfile) -> Label:
    """What its profile says of its pot life. Raises :class:`NotDone` where it says nothing."""
    if resin.pot_life is None:
        raise NotDone(
            f"{resin.name} has no pot life in its profile; give it [pot_life] with mass, "
            "temperature, time and ends as its label has them"
        )
    points = tuple(Point(p.mass_ug / 1e6, p.temp_c, p.time_s / 60) for p in resin.pot_life.points)
    heat, share = _heat_j_g(resin), amine_share(resin)
    gels = share is None or (share >= GEL and gel_conversion(*FUNCTIONS, share) is not None)
    pot_life, density = resin.pot_life, resin.density_g_per_ml
    return Label(points, pot_life.ends, density, pot_life.peak_c, heat, gels)


def _heat_j_g(resin: ResinProfile) -> float:
    """From the epoxide in a gram of the mix, where every equivalent weight is known."""
    sides = _sides(resin)
    return HEAT_J_G if sides is None else HEAT_J_MOL * reacting_mol_per_g(*sides)


def amine_share(resin: ResinProfile) -> float | None:
    """Amine hydrogens for each epoxide, where the profile has every equivalent weight."""
    sides = _sides(resin)
    if sides is None:
        return None
    epoxide, amine = sides
    taken = 100 * sum(m for m, _ in amine) / sum(m for m, _ in epoxide)
    return of_stoichiometric(taken, of_mixture(epoxide), of_mixture(amine))


def _sides(resin: ResinProfile) -> tuple[Parts, Parts] | None:
    """Parts and equivalent weights of epoxide and of amine; an additive without one is taken
    for inert: a pigment, a filler."""
    pairs = list(zip(resin.components, resin.equivalents, strict=True))
    if any(e is None for c, e in pairs if c.role != "additive"):
        return None
    epoxide = [(c.parts, e) for c, e in pairs if c.role != "hardener"]
    return epoxide, [(c.parts, e) for c, e in pairs if c.role == "hardener"]


def _shape(asked: Asked, cup: CupProfile | None) -> Shape:
    kind = next((kind for kind in KINDS if kind == (asked.shape or "cup")), None)
    if kind is None:
        raise NotDone(f"shape: {units.shown(asked.shape)} was read; give one of {', '.join(KINDS)}")
    if kind != "cup" and cup is not None:
        raise NotDone(f"cup: epoxy in a {kind} is in no cup; give --cup or --shape {kind}")
    for what, text, where in (
        ("depth", asked.depth, ("tray", "film", "stack")),
        ("share", asked.share, ("stack",)),
        ("softens", asked.softens, ("stack",)),
        ("lasting", asked.lasting, ("cup",)),
    ):
        if text is not None and kind not in where:
            raise NotDone(f"{what}: that is asked for --shape {' or '.join(where)} alone")
    if kind == "cup":
        return Shape(cup_ml=cup.volume_ml if cup else None)
    return Shape(kind, None, _depth_m(asked.depth, kind), _share(asked.share, kind))


def _depth_m(text: str | None, kind: Kind) -> float:
    if text is None:
        if kind == "stack":
            raise NotDone("depth: a stack wants its thickness, such as --depth 12mm")
        return TRAY_M if kind == "tray" else FILM_M
    depth_m = units.length_mm(text, "depth") / 1000
    if depth_m == 0:
        raise NotDone(f"depth: {units.shown(text)} is nothing; give a depth such as '10 mm'")
    return depth_m


def _share(text: str | None, kind: Kind) -> float:
    if kind != "stack":
        return 1.0
    share = STACK_SHARE if text is None else units.fraction(text, "share")
    if share == 0:
        raise NotDone(
            f"share: {units.shown(text)} is nothing; give how much of the stack's weight is "
            "epoxy, such as '40%'"
        )
    return share


def _softens_c(text: str | None) -> float:
    if text is None:
        return SOFTENS_C
    softens_c = units.temperature_c(text, "softens")
    if softens_c < 40:
        raise NotDone(
            f"softens: {units.shown(text)} is not within 40 to 150 degC; give what the foam's "
            "data sheet says, such as '75 degC'"
        )
    return softens_c


def _lasting_min(text: str | None) -> float | None:
    if text is None:
        return None
    lasting_s = units.duration_s(text, "lasting")
    if not 60 <= lasting_s <= 86400:
        raise NotDone(
            f"lasting: {units.shown(text)} is not within 1 min and 24 h; give a time such as "
            "'30 min'"
        )
    return lasting_s / 60


def _mass_g(text: str, resin: ResinProfile, cup: CupProfile | None) -> float:
    mass_ug = units.mass_ug(text, "mass")
    if mass_ug == 0:
        raise NotDone(f"mass: {units.shown(text)} is nothing; give a mass such as '100 g'")
    most_ug = cup.most_ug(resin.density_g_per_ml) if cup else None
    if most_ug is not None and mass_ug > most_ug:
        raise NotDone(
            f"mass: {units.shown(text)} is more than the cup may hold; give up to "
            f"{most_ug // 100_000 / 10:.1f} g"
        )
    return mass_ug / 1e6


def temperature_c(text: str | None, what: str) -> float | None:
    """Of a room or of epoxy, in degC; None was not said."""
    return None if text is None else units.room_c(text, what)
